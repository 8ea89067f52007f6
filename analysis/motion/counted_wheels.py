"""Wheels counted by teeth: whether a run shows one to be late by a way, and what that leaves open.

A counter of teeth tells the mean over its last pitch or several and holds it until the next tooth: its value is late by
a way and not by a time. What its first moments show of its teeth is in `analysis.sensors.teeth`.

Public: `late_as_the_run_shows`, `take_first_teeth_in`, `way_left_open`, `WAY`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.motion.fusion import GRID_S, SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import (
    NO_WAY_SD_M,
    WAY_OPEN_DRIVEN_M,
    WAY_OPEN_SHARE,
    WAY_TOLD_SHARE,
    WHEEL_COUNTED,
    WINDUP_M,
    WINDUP_SD_M,
)
from passband.analysis.sensors.teeth import FirstTeeth, SinceTooth

WAY, WAY_WITHIN_M = "way", 0.1
"""What is left open of a lateness by way, and within how far of the launch it is gone. [-], [m]"""
COUNTED_SIGMAS, COUNTED_M, COUNTED_DRIVEN_M = 3.0, 0.01, 0.08
"""A wheel's speed is counted by teeth where it is late by a way of more than so many of its deviations, and so much;
of a driven wheel that stands alone, what its slip at the launch looks like too, where no leap tells. [-], [m], [m]"""

COUNTED_WAY_M, COUNTED_WAY_SD_M = 0.3, 0.4
"""How late by a way an undriven wheel is once it is known to be counted, and its standard deviation: half of what the
mean is over, from one pitch of many teeth to a whole turn, and the hold. [m] By arithmetic."""
MOST_GONE_M = 3.0
"""No teeth hide more of a wheel's way, five quarters of a turn at the most: one that says more had been in the air.
[m]"""
GONE_OVER_WAY, GONE_OVER_WAY_SD, SAYS_MORE = 1.67, 0.25, 1.3
"""A mean over k pitches comes first as k to k + 1 of them have gone by, and is late by (k + 0.8) / 2 of them: so many
ways have gone by then, and a standard deviation; it counts where it is so many times what a mean over one pitch, as the
first moments show it, would have. [-] By arithmetic."""


def late_as_the_run_shows(sensor: SpeedSensor, posterior: Posterior, *, felt: bool) -> SpeedSensor:
    """The sensor with what a first fit shows: counted by teeth and late by a way, or late by a time alone.

    Parameters
    ----------
    sensor : SpeedSensor
        As the first fit had it.
    posterior : Posterior
        Of that fit.
    felt : bool
        Whether an accelerometer shows how the car began to move, against which any way is found.

    Returns
    -------
    SpeedSensor
        The same where it is late by no way, or where the run does not show whether it is.
    """
    if not sensor.way_sd_m:
        return sensor
    name = f"way {sensor.name}"
    way = posterior.parameter(name)
    open_m = float(posterior.deviation(posterior.row_parameter(name)[None, :])[0])
    least_m = COUNTED_DRIVEN_M if sensor.slip_per_mps2 and not sensor.leaps else COUNTED_M
    if way > max(COUNTED_SIGMAS * open_m, least_m):
        counted = replace(sensor, delay_s=WHEEL_COUNTED.late_s, delay_sd_s=WHEEL_COUNTED.sigma_s)
        lifted = sensor.first is not None and sensor.first.gone_m > MOST_GONE_M
        if sensor.slip_per_mps2 or lifted:
            return counted
        if felt:
            return replace(counted, way_m=COUNTED_WAY_M, way_sd_m=COUNTED_WAY_SD_M)
        shown_m = sensor.first.way_m if sensor.first is not None else None
        return counted if shown_m is None else replace(counted, way_m=shown_m, way_sd_m=_open_share(sensor) * shown_m)
    if open_m >= least_m:
        return sensor
    if sensor.slip_per_mps2:
        return replace(sensor, way_m=-WINDUP_M, way_sd_m=WINDUP_SD_M)
    return replace(sensor, way_m=0.0, way_sd_m=NO_WAY_SD_M)


def take_first_teeth_in(posterior: Posterior, sensors: list[SpeedSensor], *, felt: bool) -> None:
    """Take into a fit how far the car had gone as each counted wheel's first value came, which its values do not say.

    Parameters
    ----------
    posterior : Posterior
        Of the run; changed.
    sensors : list of SpeedSensor
        It rests on.
    felt : bool
        Whether an accelerometer shows how the car began to move.

    Notes
    -----
    Between rest and the first value nothing shows the speed: a smooth one may begin anywhere, but teeth were counted.
    """
    for sensor in sensors:
        if sensor.first is None:
            continue
        at_s, since = sensor.first.came_s - WHEEL_COUNTED.late_s, sensor.first.since
        if since is not None and not sensor.slip_per_mps2:
            _take_way_between_in(posterior, since, at_s)
            if sensor.first.way_m is None:
                continue
        leads_m = WINDUP_M if sensor.slip_per_mps2 else 0.0
        gone_m, gone_sd_m = sensor.first.gone_m, sensor.first.gone_sd_m
        if since is None and (felt or sensor.first.way_m is None):
            gone_m, gone_sd_m = _gone_at_first(posterior, sensor, sensor.first)
        short_m = gone_m - leads_m - float(np.interp(at_s, posterior.time_s, posterior.distance))
        pace_mps = float(np.interp(at_s, posterior.time_s, posterior.speed))
        sd_m = float(np.hypot(gone_sd_m, pace_mps * WHEEL_COUNTED.sigma_s))
        posterior.condition(posterior.row_distance(at_s)[None, :], np.array([short_m]), np.array([sd_m]))


def _take_way_between_in(posterior: Posterior, since: SinceTooth, came_s: float) -> None:
    """Take in how far the wheel rolled from the first tooth after rest until its first value came."""
    passed_s = since.passed_s - WHEEL_COUNTED.late_s
    rows = posterior.rows_distance(np.array([passed_s, came_s]))
    gone = np.interp([passed_s, came_s], posterior.time_s, posterior.distance)
    short_m = since.gone_m - float(gone[1] - gone[0])
    posterior.condition((rows[1] - rows[0])[None, :], np.array([short_m]), np.array([since.gone_sd_m]))


def _gone_at_first(posterior: Posterior, sensor: SpeedSensor, first: FirstTeeth) -> tuple[float, float]:
    """How far a wheel had rolled as its first value came, and the deviation, m: by its teeth, or by its lateness."""
    name = f"way {sensor.name}"
    if sensor.slip_per_mps2 or name not in posterior.names:
        return first.gone_m, first.gone_sd_m
    way_m = posterior.parameter(name)
    by_way_m = GONE_OVER_WAY * way_m
    if by_way_m < SAYS_MORE * first.gone_m:
        return first.gone_m, first.gone_sd_m
    open_m = float(posterior.deviation(posterior.row_parameter(name)[None, :])[0])
    return by_way_m, float(np.hypot(GONE_OVER_WAY * open_m, GONE_OVER_WAY_SD * way_m))


def way_left_open(posterior: Posterior, sensors: list[SpeedSensor], *, felt: bool, driven: bool) -> FloatArray:
    """What is open of such a lateness, as a change of speed by one standard deviation.

    Parameters
    ----------
    posterior : Posterior
        The speed.
    sensors : list of SpeedSensor
        It rests on.
    felt : bool
        Whether an accelerometer shows how the car began to move.
    driven : bool
        Whether it rests on a driven wheel, whose slip at the launch looks like a way.

    Returns
    -------
    array, shape (n,)
        All of it lies within the first metre. [m/s]
    """
    open_m = 0.0 if felt else _way_open(posterior, sensors)
    open_m = float(np.hypot(open_m, WAY_OPEN_DRIVEN_M)) if driven else open_m
    gone = np.maximum(posterior.distance, 0.0)
    return np.asarray(open_m * np.gradient(gone / (gone + WAY_WITHIN_M), GRID_S))


def _open_share(sensor: SpeedSensor) -> float:
    """What is open of its lateness by way: less where its first teeth showed over how many pitches it is the mean."""
    return WAY_TOLD_SHARE if sensor.first is not None and sensor.first.since is not None else WAY_OPEN_SHARE


def _way_open(posterior: Posterior, sensors: list[SpeedSensor]) -> float:
    """What is open of the least way by which the wheels are late, 0 where none is counted by teeth, m."""
    counted = [sensor for sensor in sensors if sensor.way_sd_m > NO_WAY_SD_M]
    least = min(counted, key=lambda sensor: posterior.parameter(f"way {sensor.name}"), default=None)
    return 0.0 if least is None else _open_share(least) * max(posterior.parameter(f"way {least.name}"), 0.0)
