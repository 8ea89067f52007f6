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
    WHEEL_COUNTED,
    WINDUP_M,
    WINDUP_SD_M,
)

WAY, WAY_WITHIN_M = "way", 0.1
"""What is left open of a lateness by way, and within how far of the launch it is gone. [-], [m]"""
COUNTED_SIGMAS, COUNTED_M, COUNTED_DRIVEN_M = 3.0, 0.01, 0.08
"""A wheel's speed is counted by teeth where it is late by a way of more than so many of its deviations, and so much;
of a driven wheel that stands alone, what its slip at the launch looks like too, where no leap tells. [-], [m], [m]"""


def late_as_the_run_shows(sensor: SpeedSensor, posterior: Posterior) -> SpeedSensor:
    """The sensor with what a first fit shows: counted by teeth and late by a way, or late by a time alone.

    Parameters
    ----------
    sensor : SpeedSensor
        As the first fit had it.
    posterior : Posterior
        Of that fit.

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
        return replace(sensor, delay_s=WHEEL_COUNTED.late_s, delay_sd_s=WHEEL_COUNTED.sigma_s)
    if open_m >= least_m:
        return sensor
    if sensor.slip_per_mps2:
        return replace(sensor, way_m=-WINDUP_M, way_sd_m=WINDUP_SD_M)
    return replace(sensor, way_m=0.0, way_sd_m=NO_WAY_SD_M)


def take_first_teeth_in(posterior: Posterior, sensors: list[SpeedSensor]) -> None:
    """Take into a fit how far the car had gone as each counted wheel's first value came, which its values do not say.

    Parameters
    ----------
    posterior : Posterior
        Of the run; changed.
    sensors : list of SpeedSensor
        It rests on.

    Notes
    -----
    Between rest and the first value nothing shows the speed: a smooth one may begin anywhere, but teeth were counted.
    """
    for sensor in sensors:
        if sensor.first is None:
            continue
        at_s = sensor.first.came_s - WHEEL_COUNTED.late_s
        leads_m = WINDUP_M if sensor.slip_per_mps2 else 0.0
        short_m = sensor.first.gone_m - leads_m - float(np.interp(at_s, posterior.time_s, posterior.distance))
        pace_mps = float(np.interp(at_s, posterior.time_s, posterior.speed))
        sd_m = float(np.hypot(sensor.first.gone_sd_m, pace_mps * WHEEL_COUNTED.sigma_s))
        posterior.condition(posterior.row_distance(at_s)[None, :], np.array([short_m]), np.array([sd_m]))


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
    open_m = 0.0 if felt else WAY_OPEN_SHARE * _way(posterior, sensors)
    open_m = float(np.hypot(open_m, WAY_OPEN_DRIVEN_M)) if driven else open_m
    gone = np.maximum(posterior.distance, 0.0)
    return np.asarray(open_m * np.gradient(gone / (gone + WAY_WITHIN_M), GRID_S))


def _way(posterior: Posterior, sensors: list[SpeedSensor]) -> float:
    """The least way by which the wheels are late, 0 where none is counted by teeth, m."""
    ways = [posterior.parameter(f"way {sensor.name}") for sensor in sensors if sensor.way_sd_m > NO_WAY_SD_M]
    return max(min(ways), 0.0) if ways else 0.0
