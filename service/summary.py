"""A review in one line of a list: what it was, how quick, how strong, and whether anything was wrong.

Public: `summarise`.
"""

from __future__ import annotations

from typing import Any

FINISHES = {"quarter": 1320, "thousand": 1000, "eighth": 660}
"""Outcome of a run that reached its finish line, and where that is. [ft]"""


def summarise(review: dict[str, Any]) -> dict[str, Any]:
    """What a list of runs shows of a review.

    Parameters
    ----------
    review : dict
        As `analysis.results.codec.as_json` gives it.

    Returns
    -------
    dict
        Figures are the review's own, null where it has none.
    """
    distance = review.get("distance") or {}
    splits = {split["at_ft"]: split for split in distance.get("splits") or []}
    traps = {trap["at_ft"]: trap for trap in distance.get("traps") or []}
    finish_ft = FINISHES.get(review["window"]["outcome"])
    return {
        "log_names": review["run"]["log_names"],
        "car_name": review["car"]["name"],
        "outcome": review["window"]["outcome"],
        "at_ft": finish_ft,
        "elapsed_time_s": (splits.get(finish_ft) or {}).get("time_s"),
        "trap_speed_mps": (traps.get(finish_ft) or {}).get("speed_mps"),
        "sixty_ft_s": (splits.get(60) or {}).get("time_s"),
        "average_w": (review.get("power") or {}).get("average_w"),
        "share_in_band": (review.get("band") or {}).get("share_in"),
        "share_on_boost": (review.get("boost") or {}).get("share_above"),
        "shifts": len(review.get("shifts") or []),
        "limits": _count(review.get("limits") or [], "verdict", ("inside", "outside", "no data")),
        "findings": _count(review.get("findings") or [], "level", ("stop", "caution", "note")),
    }


def _count(rows: list[dict[str, Any]], key: str, values: tuple[str, ...]) -> dict[str, int]:
    return {value.replace(" ", "_"): sum(row[key] == value for row in rows) for value in values}
