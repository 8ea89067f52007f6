"""What a change did to the engine speed after each shift, and what few shifts prove of the band's low end.

Public: `ShiftGroup`, `ShiftChange`, `compare_shifts`, `tell_shift_points`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.faults import BAD_SHIFTS
from passband.analysis.runs.two_groups import TwoGroups
from passband.analysis.statistics.groups import share_at_least, student_half_width, tolerance_factor

LEAST_FREEDOM = 3
"""Fewer figures beyond the two means show no slope. [-]"""
OTHER_FALL = 0.1
"""95 % of what reading makes of a difference that no shift point explains, as a share of it: another converter or ratio
makes another fall, and what a sensor's lag and the log's rate take of it is another then. Of two looser converters'
four shifts, 235 to 311 rpm other, two were off by 8 and 10 %. Chosen. [-]"""
LENT_FREEDOM, UNLIKE = 4, 3.0
"""How many figures' worth the other shifts lend a shift's scatter, and how many times as far it may scatter to be of
their kind. Chosen. [-]"""


@dataclass(frozen=True, slots=True)
class ShiftGroup:
    """Engine speed after one shift over the runs of a group."""

    mean: float
    """[rpm]"""
    sd: float | None
    """Standard deviation; None for a single run. [rpm]"""
    lowest: float
    """Of the runs made. [rpm]"""
    under_band: int | None
    """How many fell below the band's low end; None where no band is given."""
    runs: int
    """How many."""
    in_band_at_least: float | None
    """Of all such shifts at least this share stays above the band's low end, 95 % sure, by counting. [-]"""
    falls_no_lower: float | None
    """95 % of all such shifts stay above this, 95 % sure, if they scatter normally; None for a single run. [rpm]"""


@dataclass(frozen=True, slots=True)
class ShiftChange:
    """One change of gear before and after."""

    shift: str
    """``2-3``"""
    before: ShiftGroup
    """Before the change."""
    after: ShiftGroup
    """After it."""
    difference: Estimate
    """Mean after less mean before, of the runs made. What scatters with where the driver shifted is known of each run,
    and is not in the plus-minus. [rpm]"""
    by_shift_point: float | None
    """What of it is because the gear was left at another engine speed; None where that explains none of the scatter.
    [rpm]"""
    share_in_band_at_least: float | None
    """Of the shifts after the change: none below of thirty proves nine tenths, no more. [-]"""


def compare_shifts(groups: TwoGroups) -> tuple[ShiftChange, ...]:
    """Compare the engine speed after each shift.

    Parameters
    ----------
    groups : TwoGroups
        The runs.

    Returns
    -------
    tuple of ShiftChange
        Shifts that both groups made, by the gear left; those that were missed or lifted for are left out.
    """
    names = sorted({(one.from_gear, one.to_gear) for run in groups.runs for one in run.review.shifts})
    found = [_one(groups, *name) for name in names]
    return _with_others_scatter([one for one in found if one is not None])


def tell_shift_points(shifts: Sequence[ShiftChange]) -> list[Finding]:
    """Say what of the differences comes of where the gears were left.

    Parameters
    ----------
    shifts : sequence of ShiftChange
        All shifts.

    Returns
    -------
    list of Finding
        Empty where it is nowhere more than the plus-minus.
    """
    moved = [
        f"{one.shift} {one.by_shift_point:+.0f} of {one.difference.value:+.0f} rpm"
        for one in shifts
        if one.by_shift_point is not None and abs(one.by_shift_point) > one.difference.plus_minus
    ]
    if not moved:
        return []
    text = (
        f"Of the differences of RPM after these come of where the gears were left: {', '.join(moved)}. That is the "
        "shift point's doing, not the engine's; the plus-minus holds the scatter that is left besides."
    )
    return [Finding("rpm-after-by-shift-point", "note", text)]


@dataclass(frozen=True, slots=True)
class _Found:
    """One change of gear, and how the runs scatter about it where it is known where they were shifted."""

    change: ShiftChange
    """With Welch's interval."""
    variance: float | None
    """Within the sides, once shift points are taken out; None where they explain nothing. [rpm2]"""
    freedom: int
    """Of that variance."""
    per_mean: float
    """Sum of one over the sides' runs. [-]"""


def _with_others_scatter(found: Sequence[_Found]) -> tuple[ShiftChange, ...]:
    """All shifts; those whose scatter is alike lend each other theirs.

    What is left once the shift points are known is of one sensor and one shifter in all gears: three runs each way show
    it poorly in each, four shifts of them together well. So a variance counts with the shifts' median, as if that had
    been seen in `LENT_FREEDOM` more figures (moderated t; Smyth 2004, from memory); a shift that scatters `UNLIKE`
    times as far, as where tires spin in one run and not in another, keeps its own.
    """
    variances = [one.variance for one in found if one.variance is not None]
    usual = float(np.median(variances)) if len(variances) > 1 else None
    out = []
    for one in found:
        change = one.change
        if usual is not None and one.variance is not None and one.variance <= UNLIKE**2 * usual:
            freedom = one.freedom + LENT_FREEDOM
            variance = (one.freedom * one.variance + LENT_FREEDOM * usual) / freedom
            half = student_half_width(math.sqrt(variance * one.per_mean), freedom)
            change = replace(change, difference=Estimate.parted(change.difference.value, half, {}))
        out.append(_open_to_another_fall(change))
    return tuple(out)


def _open_to_another_fall(change: ShiftChange) -> ShiftChange:
    """With what reading makes of what is no shift point's; only of runs that show their scatter."""
    apart, by_point = change.difference, change.by_shift_point
    if by_point is None:
        return change
    half = math.hypot(apart.plus_minus, OTHER_FALL * (apart.value - by_point))
    return replace(change, difference=Estimate.parted(apart.value, half, {}))


def _one(groups: TwoGroups, from_gear: int, to_gear: int) -> _Found | None:
    figures = [_after(run, from_gear, to_gear) for run in groups.runs]
    some = groups.only([figure is not None for figure in figures])
    if not some.two_sided:
        return None
    sure = [figure for figure in figures if figure is not None]
    left_at = [_left_at(run, from_gear, to_gear) for run in some.runs]
    sides = [sure[: some.before], sure[some.before :]]
    runs = [some.runs[: some.before], some.runs[some.before :]]
    before, after = (_group(side, _band_low(made)) for side, made in zip(sides, runs, strict=True))
    values, own = np.array([one.value for one in sure]), np.array([one.own for one in sure])
    explained = _by_shift_point(some, values, left_at)
    unexplained = some.difference(values if explained is None else values - explained, own, scatter=True)
    apart = Estimate.parted(some.apart(values), unexplained.plus_minus, {})
    by_point = None if explained is None else some.apart(explained)
    change = ShiftChange(f"{from_gear}-{to_gear}", before, after, apart, by_point, after.in_band_at_least)
    freedom = values.size - 3
    if explained is None or freedom < 1:
        return _Found(change, None, 0, 0.0)
    rest = some.residuals(values - explained)
    sizes = before.runs, after.runs
    return _Found(change, float(rest @ rest) / freedom, freedom, sum(1.0 / size for size in sizes))


def _by_shift_point(groups: TwoGroups, values: FloatArray, left_at: Sequence[float | None]) -> FloatArray | None:
    """What where the gear was left makes of each engine speed after it; None where that explains none of the scatter.

    The slope is the runs' own, within their sides: a next gear takes no more of a difference than there was, and where
    tires or a converter slip it takes less. It must leave less scatter than it was fitted out of, a degree of freedom
    for the slope counted.
    """
    at = np.array([np.nan if one is None else one for one in left_at])
    if not np.isfinite(at).all() or groups.deviation(values) is None:
        return None
    freedom = values.size - 2
    moved, fell = groups.residuals(at), groups.residuals(values)
    square = float(moved @ moved)
    if freedom < LEAST_FREEDOM or square <= 0.0:
        return None
    slope = float(np.clip(moved @ fell / square, 0.0, 1.0))
    rest = fell - slope * moved
    if (rest @ rest) / (freedom - 1) >= (fell @ fell) / freedom:
        return None
    return np.asarray(slope * (at - at.mean()), dtype=np.float64)


def _after(run: ComparedRun, from_gear: int, to_gear: int) -> Estimate | None:
    shift = _shift_of(run, from_gear, to_gear)
    return known(shift.rpm_after) if shift is not None and shift.kind not in BAD_SHIFTS else None


def _left_at(run: ComparedRun, from_gear: int, to_gear: int) -> float | None:
    shift = _shift_of(run, from_gear, to_gear)
    before = known(shift.rpm_before) if shift is not None else None
    return None if before is None else before.value


def _shift_of(run: ComparedRun, from_gear: int, to_gear: int) -> Shift | None:
    return next((one for one in run.review.shifts if (one.from_gear, one.to_gear) == (from_gear, to_gear)), None)


def _band_low(runs: Sequence[ComparedRun]) -> float | None:
    band = known(runs[0].review.band)
    return band.low_rpm if band is not None else None


def _group(figures: Sequence[Estimate], low_rpm: float | None) -> ShiftGroup:
    values = np.array([one.value for one in figures])
    deviation = float(np.std(values, ddof=1)) if values.size > 1 else None
    mean, under = float(np.mean(values)), None if low_rpm is None else int(np.sum(values < low_rpm))
    return ShiftGroup(
        mean=mean,
        sd=deviation,
        lowest=float(values.min()),
        under_band=under,
        runs=values.size,
        in_band_at_least=None if under is None else share_at_least(values.size - under, values.size),
        falls_no_lower=None if deviation is None else mean - tolerance_factor(values.size) * deviation,
    )
