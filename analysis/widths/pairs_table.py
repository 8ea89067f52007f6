"""How much of a plus-minus is a run's own, made by `python -m tests.benchmarks.pairs --write`; not written by hand.

By class: the factor of the run's own part, and the pairs and answers that it was found from.

Public: `FACTORS`, `ELAPSED`, `COST`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

MADE_OF = "seeds 1..2, the first 11 cars"
"""Seeds, cars and pairs."""
ROWS: Mapping[str, tuple[float, int, int]] = {
    "compare cost, gear": (2.67, 33, 302),
    "compare cost, launch": (1.0, 33, 66),
    "compare cost, shift": (3.62, 33, 240),
    "compare elapsed, gear": (1.28, 33, 302),
    "compare elapsed, launch": (1.0, 33, 66),
    "compare elapsed, shift": (2.51, 33, 240),
    "peak_w": (2.02, 33, 66),
    "peak_w/quick": (2.38, 21, 42),
    "rpm_after": (1.0, 33, 120),
    "rpm_after/quick": (1.15, 21, 78),
    "rpm_before": (1.43, 33, 120),
    "rpm_before/quick": (1.52, 21, 78),
    "rpm_drop": (1.0, 33, 120),
    "rpm_drop/quick": (1.0, 21, 78),
    "splits": (1.0, 33, 330),
    "splits/no slip": (1.0, 33, 165),
    "splits/no slip/undriven wheel": (1.0, 24, 120),
    "splits/no slip/undriven wheel/felt": (1.0, 21, 105),
    "splits/slip": (1.0, 33, 165),
    "splits/slip/undriven wheel": (1.0, 24, 120),
    "splits/slip/undriven wheel/felt": (1.0, 21, 105),
    "traps": (1.01, 33, 132),
    "traps/no slip": (1.04, 33, 66),
    "traps/no slip/undriven wheel": (1.09, 24, 48),
    "traps/no slip/undriven wheel/felt": (1.09, 21, 42),
    "traps/slip": (1.0, 33, 66),
    "traps/slip/undriven wheel": (1.02, 24, 48),
    "traps/slip/undriven wheel/felt": (1.0, 21, 42),
}
"""Class: factor, pairs, answers."""

FACTORS: Mapping[str, float] = {name: row[0] for name, row in ROWS.items()}
"""By class, as `classes_of` names them, and `compare elapsed, KIND`, `compare cost, KIND`. [-]"""
_PARTS = ("launch", "gear", "shift")
ELAPSED: Mapping[str, float] = {kind: FACTORS.get(f"compare elapsed, {kind}", 1.0) for kind in _PARTS}
"""Of the time that went by on a part of a comparison, by the part's kind. [-]"""
COST: Mapping[str, float] = {kind: FACTORS.get(f"compare cost, {kind}", 1.0) for kind in _PARTS}
"""Of what happened there made of the finish. [-]"""
