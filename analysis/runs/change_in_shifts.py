"""What a change did to the engine speed after each shift, and what few shifts prove of the band's low end.

Public: `ShiftGroup`, `ShiftChange`, `compare_shifts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.faults import BAD_SHIFTS
from passband.analysis.runs.two_groups import TwoGroups
from passband.analysis.statistics.groups import share_at_least, tolerance_factor


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
    """Mean after less mean before. [rpm]"""
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
    found = (_one(groups, *name) for name in names)
    return tuple(one for one in found if one is not None)


def _one(groups: TwoGroups, from_gear: int, to_gear: int) -> ShiftChange | None:
    figures = [_after(run, from_gear, to_gear) for run in groups.runs]
    some = groups.only([figure is not None for figure in figures])
    if not some.two_sided:
        return None
    sure = [figure for figure in figures if figure is not None]
    sides = [sure[: some.before], sure[some.before :]]
    runs = [some.runs[: some.before], some.runs[some.before :]]
    before, after = (_group(side, _band_low(made)) for side, made in zip(sides, runs, strict=True))
    values, own = np.array([one.value for one in sure]), np.array([one.own for one in sure])
    apart = some.difference(values, own, scatter=True)
    return ShiftChange(f"{from_gear}-{to_gear}", before, after, apart, after.in_band_at_least)


def _after(run: ComparedRun, from_gear: int, to_gear: int) -> Estimate | None:
    shift: Shift | None = next(
        (one for one in run.review.shifts if (one.from_gear, one.to_gear) == (from_gear, to_gear)), None
    )
    return known(shift.rpm_after) if shift is not None and shift.kind not in BAD_SHIFTS else None


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
