"""Wheels counted by teeth: whether a run shows one to be late by a way, and what that leaves open.

A counter of teeth tells the mean over its last pitch or several and holds it until the next tooth: its value is late by
a way and not by a time, and zero until teeth have passed. So it leaps as the first are through, where a wheel of many
teeth rises with the car; that tells the two apart where a driven wheel stands alone, whose slip looks like a way.

Public: `Teeth`, `read_teeth`, `late_as_the_run_shows`, `way_left_open`, `WAY`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.motion.fusion import GRID_S, SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import (
    NO_WAY_SD_M,
    WAY_OPEN_DRIVEN_M,
    WAY_OPEN_SHARE,
    WHEEL_COUNTED,
    WHEEL_WAY_M,
    WHEEL_WAY_SD_M,
)

WAY, WAY_WITHIN_M = "way", 0.1
"""What is left open of a lateness by way, and within how far of the launch it is gone. [-], [m]"""
COUNTED_SIGMAS, COUNTED_M, COUNTED_DRIVEN_M = 3.0, 0.01, 0.08
"""A wheel's speed is counted by teeth where it is late by a way of more than so many of its deviations, and so much;
of a driven wheel that stands alone, what its slip at the launch looks like too, where no leap tells. [-], [m], [m]"""
REST_S, RISES_S, SLOW_HZ, GAP_STEPS = 0.6, 0.25, 20.0, 1.6
"""Before the launch is looked how still the wheel's speed is, behind its leap how it rises; a slower log shows no leap,
nor does a step over more than so many of the log's own. [s], [s], [Hz], [-]"""
LEAP_STEPS, LEAP_NOISES, LEAST_LEAP_MPS, UNDER_WAY_MPS = 2.5, 8.0, 0.15, 1.5
"""A leap is so many times the rise from one sample to the next, so many times the noise at rest, and so much at least;
it lies before or at the first sample of the last. [-], [-], [m/s], [m/s] By arithmetic: 60 teeth on 1.9 m at 1 g leap
by 0.6 to 0.8 m/s, in a log of 100 Hz a speed that is not counted rises by 0.1. At six times
the noise three of 136 simulated wheels that are not counted leapt (seeds 9100 to 9219), at eight none."""
TEETH_WITHIN_S, TOOTH_NOISES, TOOTH_SHARE, TOOTH_STEPS = 2.5, 5.0, 0.02, 1.5
"""Single teeth are looked for so long after the launch: a value comes where it changes by so many times the noise and
that share, and is shown where it took more than so many steps of the log. [s], [-], [-], [-]"""
LEAST_TEETH, TEETH_APART = 5, 0.25
"""So many teeth must agree, half of them within that share of their middle. [-], [-]"""
WAY_OF_PITCH, WAY_OF_PITCH_SD = 0.9, 0.25
"""How late by a way such a wheel is, and its standard deviation, over the way from tooth to tooth. [-] By arithmetic:
half a tooth where only new values count, a whole one where each sample does."""


@dataclass(frozen=True, slots=True)
class Teeth:
    """What the first moments of a run show of a wheel's teeth."""

    leaps: bool
    """Whether its speed leaps as the car begins to move: it is counted, by teeth few enough to be seen."""
    way_m: float
    """How late it is by a way. [m]"""
    way_sd_m: float
    """Standard deviation of that. [m]"""


def read_teeth(channel: Channel, launch_s: float) -> Teeth:
    """Whether a wheel is counted by few teeth, and how late by a way that makes it.

    Parameters
    ----------
    channel : Channel
        A wheel's speed. [m/s]
    launch_s : float
        The launch. [s]

    Returns
    -------
    Teeth
        By the way from tooth to tooth where the log shows single ones: the mean over one is half of it late, and held
        until the next comes up to half of it more. What any wheel may be where it shows none.
    """
    leaps = _leaps_from_rest(channel, launch_s)
    pitch_m = _pitch(channel, launch_s) if leaps else None
    if pitch_m is None:
        return Teeth(leaps, WHEEL_WAY_M, WHEEL_WAY_SD_M)
    return Teeth(leaps, WAY_OF_PITCH * pitch_m, WAY_OF_PITCH_SD * pitch_m)


def _leaps_from_rest(channel: Channel, launch_s: float) -> bool:
    """Whether speed leaps as the car begins to move; not where the log is too slow to tell, or shows no rest."""
    near = np.flatnonzero(channel.known.time_s > launch_s - REST_S)
    time_s, speed_mps = channel.known.time_s[near], channel.known.values[near]
    moving = np.flatnonzero(speed_mps > UNDER_WAY_MPS)
    if channel.rate_hz < SLOW_HZ or not moving.size or moving[0] < 5:
        return False
    rest = speed_mps[time_s < min(launch_s - 0.1, time_s[moving[0]])]
    step_s = float(np.median(np.diff(time_s)))
    whole = np.diff(time_s[: moving[0] + 1]) < GAP_STEPS * step_s
    steps = np.where(whole, np.diff(speed_mps[: moving[0] + 1]), 0.0)
    first = int(np.argmax(steps)) + 1
    rises = (time_s >= time_s[first]) & (time_s < time_s[first] + RISES_S)
    if rest.size < 5 or rises.sum() < 4:
        return False
    usual = step_s * float(np.polyfit(time_s[rises], speed_mps[rises], 1)[0])
    least = max(LEAP_STEPS * usual, LEAP_NOISES * float(np.std(rest)), LEAST_LEAP_MPS)
    return bool(min(steps[first - 1], np.median(speed_mps[first : first + 3]) - speed_mps[first - 1]) > least)


def _pitch(channel: Channel, launch_s: float) -> float | None:
    """The way from tooth to tooth, what a value says times how long it took to come; None where teeth do not agree."""
    near = (channel.known.time_s > launch_s - REST_S) & (channel.known.time_s < launch_s + TEETH_WITHIN_S)
    time_s, speed_mps = channel.known.time_s[near], channel.known.values[near]
    rest = speed_mps[time_s < launch_s - 0.1]
    noise = float(np.std(rest)) if rest.size > 4 else 0.0
    least = np.maximum(TOOTH_NOISES * noise, TOOTH_SHARE * np.abs(speed_mps[:-1]))
    comes = np.flatnonzero(np.abs(np.diff(speed_mps)) > least) + 1
    took_s, says = np.diff(time_s[comes]), speed_mps[comes[1:]]
    shown = (took_s > TOOTH_STEPS * float(np.median(np.diff(time_s)))) & (says > LEAST_LEAP_MPS)
    if shown.sum() < LEAST_TEETH:
        return None
    pitches_m = took_s[shown] * says[shown]
    middle = float(np.median(pitches_m))
    apart = float(np.median(np.abs(np.log(pitches_m / middle))))
    return middle if apart < TEETH_APART else None


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
    return replace(sensor, way_m=0.0, way_sd_m=NO_WAY_SD_M) if open_m < least_m else sensor


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
