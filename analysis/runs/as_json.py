"""What runs say of each other as plain values, by the names that other programs rely on.

Public: `costs_as_json`.
"""

from __future__ import annotations

from passband.analysis.results.codec import Plain, plain
from passband.analysis.runs.cost import CostPart, PairCosts


def costs_as_json(costs: PairCosts) -> dict[str, Plain]:
    """What one run lost against another, as plain values.

    Parameters
    ----------
    costs : PairCosts
        Any.

    Returns
    -------
    dict
        ``label``, ``difference_s``, ``at_m``, ``parts``, ``findings``; what stands beside a part is ``with``.
    """
    return {
        "label": costs.label,
        "difference_s": plain(costs.difference_s),
        "at_m": costs.at_m,
        "parts": [_part(part) for part in costs.parts],
        "findings": plain(costs.findings),
    }


def _part(part: CostPart) -> Plain:
    written = plain(part)
    if not isinstance(written, dict):
        raise TypeError("a part becomes keys and values")
    written["with"] = written.pop("beside")
    return written
