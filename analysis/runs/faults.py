"""What went wrong in a run beyond its engine: such a run is no witness of how quick the car is.

Public: `faults_of`, `is_clean`.
"""

from __future__ import annotations

from passband.analysis.results.review import Review
from passband.analysis.results.shifts import ShiftKind
from passband.analysis.results.unknown import known
from passband.analysis.results.window import Outcome

SPUN_S, SPUN_SLIP = 0.3, 0.15
"""Tires that spin longer and further than this in all cost the run. [s], [-]"""
SPIN_OR_CLUTCH = "wheelspin-or-clutch"
"""The finding that no sensor shows the driven tires: a clutch that slips as it should looks the same: no fault."""
SPUN_THE_TIRES = "spun the tires"
HELD_BACK = {"lift-in-gear": "lifted in a gear", "limiter-in-gear": "stood on the limiter"}
"""Findings that say what held a pull back."""
BAD_SHIFTS = {
    ShiftKind.MISSED: "missed", ShiftKind.DOUBLE: "skipped a gear", ShiftKind.LIFTED: "lifted for",
}  # fmt: skip
"""Kinds of shifts that are faults; early and late ones are named, and no more than that."""


def faults_of(review: Review) -> tuple[str, ...]:
    """What went wrong, in words.

    Parameters
    ----------
    review : Review
        Any.

    Returns
    -------
    tuple of str
        ``missed shift 2-3``; empty for a clean run.
    """
    faults = [] if review.window.outcome.finish_ft is not None else [_ended(review.window.outcome)]
    distance = known(review.distance)
    spins = distance.wheelspin if distance is not None else ()
    spun = [one for one in spins if one.peak_slip is None or one.peak_slip > SPUN_SLIP]
    seen = all(one.code != SPIN_OR_CLUTCH for one in review.findings)
    if seen and sum(one.end_s - one.start_s for one in spun) > SPUN_S:
        faults.append(SPUN_THE_TIRES)
    faults += [
        f"{BAD_SHIFTS[one.kind]} shift {one.from_gear}-{one.to_gear}" for one in review.shifts if one.kind in BAD_SHIFTS
    ]
    return (*faults, *dict.fromkeys(HELD_BACK[one.code] for one in review.findings if one.code in HELD_BACK))


def _ended(outcome: Outcome) -> str:
    return "no time" if outcome is Outcome.UNKNOWN else outcome.value


def is_clean(review: Review) -> bool:
    """Whether nothing went wrong.

    Parameters
    ----------
    review : Review
        Any.

    Returns
    -------
    bool
        True for a run to its finish line without a fault found.
    """
    return not faults_of(review)
