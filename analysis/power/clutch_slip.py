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


def find_clutch_slip(series: DrivelineSeries) -> list[ClutchSlip]:
    """Where a clutch that had locked slipped again, shifts and wheelspin apart.

    Parameters
    ----------
    series : DrivelineSeries
        Of a run whose driven tires' speed a sensor shows: without one, tires that slip look alike.

    Returns
    -------
    list of ClutchSlip
        In order; none behind a converter, which always slips.
    """
    if series.converter or not series.slipping.any():
        return []
    out = []
    surface = np.fmax(series.surface_mps, series.speed_mps)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = series.engine_rad_per_s / (series.turns_rad_per_m * surface) - 1.0
    after_lock = np.arange(series.time_s.size) > first_locked(series.slipping, series.speed_mps)
    near = 2 * round(SPUN_MARGIN_S / series.step_s) + 1
    spun = np.convolve(series.spinning.astype(np.float64), np.ones(near), mode="same") > 0.5
    again = series.slipping & ~series.settling & ~spun & np.isfinite(share) & (series.time_s < series.end_s)
    for stretch in find_true_runs(again & after_lock):
        start_s, stop_s = float(series.time_s[stretch.start]), float(series.time_s[stretch.stop - 1])
        # An engine that turns freely beside a car that slows is in neutral.
        pushes = float(np.nanmedian(series.acceleration_mps2[stretch.start : stretch.stop])) > 0.0
        if pushes and stop_s - start_s > LAUNCH_SLIP_S:
            most = float(share[stretch.start : stretch.stop].max())
            out.append(ClutchSlip(start_s, stop_s, int(series.gear[stretch.start]), most))
    return out


def slips_for_long(series: DrivelineSeries) -> BoolArray:
    """Where a clutch slips so long that its slip is how it pulls, as one does that is meant to.

    Parameters
    ----------
    series : DrivelineSeries
        Of the run.

    Returns
    -------
    array of bool, shape (n,)
        False through the short slip of a launch, and behind a converter.
    """
    out = np.zeros(series.time_s.size, dtype=np.bool_)
    for stretch in find_true_runs(series.slipping & (not series.converter)):
        out[stretch.start : stretch.stop] = (stretch.stop - stretch.start) * series.step_s > MEANT_SLIP_S
    return out
