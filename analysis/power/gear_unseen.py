"""A change of gear that no fall of engine speed bears out, the tires spinning: the gear left may have stayed in.

Engine over ground speed names gears by their ratios. Tires that spin make of one gear's ratio anything above it, so a
gear named under them without a shift beside it is a guess; what the tires are taken to turn at is off by the whole step
between two gears, and so is what their slip takes.

Public: `first_unseen_change`, `with_gear_left`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.results.gears import Gears
from passband.analysis.results.shifts import Shift
from passband.analysis.statistics.intervals import bridge, find_true_runs

BESIDE_S = 0.1
"""A shift so near a change of gear is that change. [s] By arithmetic: gears end and begin where shifts do, or on a grid
of hundredths."""
GRIPS_S = 0.5
"""Tires that grip for longer show their gear; a shift and what settles after it take less. [s] Common practice, no
source."""


def first_unseen_change(gears: Gears, shifts: Sequence[Shift]) -> float | None:
    """When a change up is named that no shift bears out.

    Parameters
    ----------
    gears : Gears
        Of the run, ET.
    shifts : sequence of Shift
        Of the run, ET.

    Returns
    -------
    float or None
        The first of them; None where every change up has its shift. [s, ET]
    """
    for left, right in pairwise(gears.intervals):
        beside = any(
            shift.time_s - BESIDE_S < right.start_s and shift.end_s + BESIDE_S > left.end_s for shift in shifts
        )
        if right.gear > left.gear and not beside:
            return right.start_s
    return None


def with_gear_left(series: DrivelineSeries, gears: Gears, since_s: float) -> DrivelineSeries:
    """The other reading: while the tires spin on, the gear in is one below the one named.

    Parameters
    ----------
    series : DrivelineSeries
        Of the run.
    gears : Gears
        Their ratios.
    since_s : float
        When the first change was named that nothing bears out. [s, ET]

    Returns
    -------
    DrivelineSeries
        Gear, turns and the tires' surface speed moved while they spin, from then until they grip for good.
    """
    ratios = np.array([np.nan, *(ratio.value for ratio in gears.overall_ratios)])
    spins = np.zeros(series.gear.size, dtype=np.bool_)
    for stretch in bridge(find_true_runs(series.spinning), round(GRIPS_S / series.step_s)):
        if series.time_s[stretch.stop - 1] >= since_s:
            spins[stretch.start : stretch.stop] = True
            break
    moved = spins & (series.time_s >= since_s) & (series.gear > 1) & (series.gear < ratios.size)
    step = np.ones(moved.size)
    step[moved] = ratios[series.gear[moved] - 1] / ratios[series.gear[moved]]
    return replace(
        series,
        gear=np.where(moved, series.gear - 1, series.gear),
        turns_rad_per_m=series.turns_rad_per_m * step,
        surface_mps=series.surface_mps / step,
    )
