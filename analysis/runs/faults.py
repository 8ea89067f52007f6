"""What went wrong in a run beyond its engine: such a run is no witness of how quick the car is.

Public: `faults_of`, `one_line`, `faults_named`, `is_clean`, `USUAL_FAULTS`, `most_have`, `usual_faults`,
`beyond_usual`, `leading_number`.
"""

from __future__ import annotations

from collections.abc import Sequence

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
"""Findings that say what held a pull back; a lift that began before the clock is how the launch was driven."""
BAD_SHIFTS = {
    ShiftKind.MISSED: "missed", ShiftKind.DOUBLE: "skipped a gear", ShiftKind.LIFTED: "lifted for",
}  # fmt: skip
"""Kinds of shifts that are faults; early and late ones are named, and no more than that."""
BETWEEN = "; "
"""What parts faults in one line."""
USUAL_FAULTS = (SPUN_THE_TIRES, *HELD_BACK.values(), BAD_SHIFTS[ShiftKind.LIFTED])
"""How faults begin that a car may have in all its runs, at whatever shift, and still reach the finish under power."""


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
    held = (one for one in review.findings if one.code in HELD_BACK and (leading_number(one.where) or 0.0) >= 0)
    return (*faults, *dict.fromkeys(HELD_BACK[one.code] for one in held))


def leading_number(text: str) -> float | None:
    """The ET that a finding's place begins with; None where it begins otherwise."""
    try:
        return float(text.split()[0])
    except (ValueError, IndexError):
        return None


def _ended(outcome: Outcome) -> str:
    return "no time" if outcome is Outcome.UNKNOWN else outcome.value


def one_line(faults: Sequence[str]) -> str:
    """Faults as one cell of a sheet holds them."""
    return BETWEEN.join(faults)


def faults_named(line: object) -> tuple[str, ...]:
    """The same read back; none of an empty cell."""
    return tuple(str(line).split(BETWEEN)) if line else ()


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


def most_have(fault: str, runs: Sequence[Sequence[str]]) -> bool:
    """Whether more than half of some runs have a fault.

    Parameters
    ----------
    fault : str
        How its name begins.
    runs : sequence of sequence of str
        Faults of each, as `faults_of` names them.
    """
    return 2 * sum(any(name.startswith(fault) for name in named) for named in runs) > len(runs)


def usual_faults(runs: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Faults that most of a car's runs have, where none is without one: how it was run, and no reason to set one apart.

    Parameters
    ----------
    runs : sequence of sequence of str
        Faults of each run that reached its finish, as `faults_of` names them.

    Returns
    -------
    tuple of str
        How they begin; empty where a run is clean.

    Examples
    --------
    >>> usual_faults([("spun the tires",), ("spun the tires", "missed shift 2-3")])
    ('spun the tires',)
    >>> usual_faults([("spun the tires",), ()])
    ()
    """
    if not all(runs):
        return ()
    return tuple(name for name in USUAL_FAULTS if most_have(name, runs))


def beyond_usual(faults: Sequence[str], usual: Sequence[str]) -> tuple[str, ...]:
    """What is left of a run's faults without those that are usual.

    Parameters
    ----------
    faults : sequence of str
        As `faults_of` names them.
    usual : sequence of str
        How those begin that are usual.
    """
    return tuple(one for one in faults if not one.startswith(tuple(usual)))
