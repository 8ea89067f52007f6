"""Whether two runs may be held against each other, and what must be said where they are not quite alike.

Public: `tell_pair`, `tell_places`, `cars_unlike`, `apart_of`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.quantities import FOOT_M
from passband.analysis.results.estimate import CAR, DAY, DEVICE
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import known
from passband.analysis.results.window import Outcome
from passband.analysis.runs.compare import ShiftZone
from passband.analysis.runs.compared_run import ComparedRun

SAME_SHIFT_M = 1.5
"""Shifts that begin this close were made at the same place: a hundredth of a second at the first of them. [m]"""
SAME_TIRE = 0.003
"""Tires that differ by less in circumference are the same tire measured twice. [-]"""
SAME_AIR = 0.005
"""Air whose density differs by less is the same air. [-]"""


def cars_unlike(base: ComparedRun, other: ComparedRun) -> frozenset[str]:
    """What the two runs do not share: `CAR` and `DEVICE` where they are of another car.

    Parameters
    ----------
    base, other : ComparedRun
        The runs.

    Returns
    -------
    frozenset of str
        As `difference` takes it.
    """
    return frozenset() if base.review.car == other.review.car else frozenset({CAR, DEVICE})


def apart_of(runs: Sequence[ComparedRun]) -> frozenset[str]:
    """What several runs do not all share.

    Parameters
    ----------
    runs : sequence of ComparedRun
        Any.

    Returns
    -------
    frozenset of str
        `CAR` and `DEVICE` for several cars, `DAY` for several meetings.
    """
    cars, events = {run.review.car.name for run in runs}, {run.review.run.event for run in runs}
    return (frozenset({CAR, DEVICE}) if len(cars) > 1 else frozenset()) | (
        frozenset({DAY}) if len(events) > 1 else frozenset()
    )


def tell_pair(base: ComparedRun, other: ComparedRun, end_m: float) -> tuple[Finding, ...]:
    """Say in what two runs are unlike beside what is compared.

    Parameters
    ----------
    base, other : ComparedRun
        The runs.
    end_m : float
        How far they are compared. [m]

    Returns
    -------
    tuple of Finding
        Empty where nothing need be said.
    """
    found = [_other_end(base, other, end_m), _other_car(base, other), _other_air(base, other), _one_slip(base, other)]
    return tuple(finding for finding in found if finding is not None)


def _other_end(base: ComparedRun, other: ComparedRun, end_m: float) -> Finding | None:
    outcomes = base.review.window.outcome, other.review.window.outcome
    if outcomes[0] is outcomes[1] and outcomes[0].finish_ft is not None:
        return None
    short = min((base, other), key=lambda run: run.under_power_to_m)
    why = "was lifted from for good" if short.review.window.outcome is Outcome.ABORTED else "ends"
    text = (
        f"The two runs are compared to {end_m / FOOT_M:.0f} ft, the last place that both reached under power: "
        f"{short.label} {why} there. What came after is left out."
    )
    return Finding("compared-to-last-common-place", "note", text)


def _other_car(base: ComparedRun, other: ComparedRun) -> Finding | None:
    if cars_unlike(base, other):
        text = (
            f"{base.label} is a run of {base.review.car.name} and {other.label} one of {other.review.car.name}: "
            "what the car's facts leave open does not cancel."
        )
        return Finding("runs-of-two-cars", "caution", text)
    tires = [run.tire_circumference_m for run in (base, other)]
    if None not in tires and abs(tires[1] / tires[0] - 1.0) > SAME_TIRE:  # type: ignore[operator]
        text = (
            f"The driven tires measure {tires[0]:.3f} m around in {base.label} and {tires[1]:.3f} m in {other.label}: "
            "the gearing is another, and gear by gear the two are not alike."
        )
        return Finding("runs-on-other-tires", "caution", text)
    return None


def _other_air(base: ComparedRun, other: ComparedRun) -> Finding | None:
    airs = base.review.air, other.review.air
    if airs[0] is None or airs[1] is None:
        return None
    share = airs[1].density_kgpm3.value / airs[0].density_kgpm3.value - 1.0
    if abs(share) < SAME_AIR:
        return None
    text = (
        f"The air was {100 * abs(share):.1f} % {'denser' if share > 0 else 'thinner'} in {other.label} than in "
        f"{base.label}: what that did to power and drag is spread over all parts."
    )
    return Finding("runs-in-other-air", "note", text)


def _one_slip(base: ComparedRun, other: ComparedRun) -> Finding | None:
    if bool(base.slip_s) == bool(other.slip_s):
        return None
    with_slip, without = (base, other) if base.slip_s else (other, base)
    text = (
        f"{with_slip.label} has a timing slip and {without.label} has none: the difference holds the plus-minus of the "
        "clock's start as the logs show it. Add the slip."
    )
    return Finding("slip-of-one-run-only", "note", text)


def tell_places(base: ComparedRun, other: ComparedRun, zones: Sequence[ShiftZone]) -> tuple[Finding, ...]:
    """Say which shifts were made at other places.

    Parameters
    ----------
    base, other : ComparedRun
        The runs.
    zones : sequence of ShiftZone
        Their shifts by place.

    Returns
    -------
    tuple of Finding
        One where a shift begins elsewhere: shift and following gear together are then to blame.
    """
    elsewhere = []
    for zone in zones:
        base_m, other_m = (_where(run, zone.names[0]) for run in (base, other))
        if base_m is not None and other_m is not None and abs(other_m - base_m) >= SAME_SHIFT_M:
            elsewhere.append(f"{zone.names[0]} ({base_m:.0f} m in {base.label}, {other_m:.0f} m in {other.label})")
    if not elsewhere:
        return ()
    text = (
        f"Shifts began at other places: {'; '.join(elsewhere)}. Between the two one car pulls in a gear that the other "
        "has left: take the cost of such a shift and of the gear after it together."
    )
    return (Finding("shift-at-another-place", "note", text),)


def _where(run: ComparedRun, name: str) -> float | None:
    shift = next((one for one in run.review.shifts if name == f"{one.from_gear}-{one.to_gear}"), None)
    return known(shift.distance_m) if shift is not None else None
