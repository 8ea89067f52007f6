"""A clutch that slips again after it had locked, and one that is meant to slip.

Public: `ClutchSlip`, `find_clutch_slip`, `slips_for_long`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.may_slip import LAUNCH_SLIP_S, first_locked
from passband.analysis.quantities import BoolArray
from passband.analysis.statistics.intervals import find_true_runs

MEANT_SLIP_S = 2.0
"""A clutch that slips for so long without a break pulls by slipping: the bite of a launch takes half of it. [s]"""
SPUN_MARGIN_S = 0.1
"""So near to wheelspin an engine ahead of its gear may be the tires' doing. [s]"""


@dataclass(frozen=True, slots=True)
class ClutchSlip:
    """A stretch through which the clutch slipped again after it had locked."""

    start_s: float
    """[s, ET]"""
    stop_s: float
    """[s, ET]"""
    gear: int
    """Engaged."""
    share: float
    """Engine over its locked speed, less 1, at the most. [-]"""


def find_clutch_slip(course: DrivelineSeries, *, end_s: float) -> list[ClutchSlip]:
    """Where a clutch that had locked slipped again, shifts and wheelspin apart.

    Parameters
    ----------
    course : DrivelineSeries
        Of a run whose driven tires' speed a sensor shows: without one, tires that slip look alike.
    end_s : float
        Finish or lift. [s, ET]

    Returns
    -------
    list of ClutchSlip
        In order; none behind a converter, which always slips.
    """
    if course.converter or not course.slipping.any():
        return []
    out = []
    surface = np.fmax(course.surface_mps, course.speed_mps)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = course.engine_rad_per_s / (course.turns_rad_per_m * surface) - 1.0
    after_lock = np.arange(course.time_s.size) > first_locked(course.slipping, course.speed_mps)
    near = 2 * round(SPUN_MARGIN_S / course.step_s) + 1
    spun = np.convolve(course.spinning.astype(np.float64), np.ones(near), mode="same") > 0.5
    again = course.slipping & ~course.settling & ~spun & np.isfinite(share) & (course.time_s < end_s)
    for stretch in find_true_runs(again & after_lock):
        start_s, stop_s = float(course.time_s[stretch.start]), float(course.time_s[stretch.stop - 1])
        # An engine that turns freely beside a car that slows is in neutral.
        pushes = float(np.nanmedian(course.acceleration_mps2[stretch.start : stretch.stop])) > 0.0
        if pushes and stop_s - start_s > LAUNCH_SLIP_S:
            most = float(share[stretch.start : stretch.stop].max())
            out.append(ClutchSlip(start_s, stop_s, int(course.gear[stretch.start]), most))
    return out


def slips_for_long(course: DrivelineSeries) -> BoolArray:
    """Where a clutch slips so long that its slip is how it pulls, as one does that is meant to.

    Parameters
    ----------
    course : DrivelineSeries
        Of the run.

    Returns
    -------
    array of bool, shape (n,)
        False through the short slip of a launch, and behind a converter.
    """
    out = np.zeros(course.time_s.size, dtype=np.bool_)
    for stretch in find_true_runs(course.slipping & (not course.converter)):
        out[stretch.start : stretch.stop] = (stretch.stop - stretch.start) * course.step_s > MEANT_SLIP_S
    return out
