"""What no sensor of a run shows of its speed's error: a scale that all share, tires that always slip, their growth.

Public: `open_errors`, `NO_SENSOR_SHOWS`.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from passband.analysis.motion.counted_wheels import WAY, way_left_open
from passband.analysis.motion.fusion import GRID_S, SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.priors import (
    DRIVEN_SCALE_SD,
    DRIVEN_WANDER_SD,
    ENGINE_WANDER_SD,
    GPS_SCALE_SD,
    GROWTH_SD,
    ROLLING_MPS2,
    SLIP_AT_LIMIT_SD,
    SLIP_WITH_CLUTCH_SD,
    UNDRIVEN_GROWTH_SD,
    UNDRIVEN_SCALE_SD,
)

LAUNCH_SLIP = "launch slip"
"""What is open of the slip at the limit of grip is called by this."""
SPUN, SPUN_SD, SPUN_FADES_S = "spun start", 0.08, 0.5
"""What is open of a start on tires that spun, and of whether they had hold by then, a deviation over the speed, is
called by this; it fades as they have. [-], [s] Chosen on simulated runs."""
WANDER = tuple(f"wander {step}" for step in range(6))
"""What is open of how a driven tire's size and grip change down the track is called by these: steps evenly apart."""
LIMIT_OVER_S = 0.8
"""The greatest pull over so long, and its mean over as long, tell how near the limit a tire is: a step of a hundredth
of the speed in a shift would be a peak of power that was not. [s]"""
GREATEST_PERCENT, LEAST_THRUST_MPS2, MOVING_MPS = 95.0, 3.0, 0.5
"""A run's greatest pull is that percentile of it, or so much; from this speed on it is a run. [%], [m/s2], [m/s]"""

SMEARED = "smeared start"
NO_SENSOR_SHOWS = ("scale", "slip", "growth", LAUNCH_SLIP, SPUN, *WANDER, WAY, SMEARED)
"""The parameters that stand for such errors."""


def open_errors(
    posterior: Posterior, sensors: list[SpeedSensor], *, felt: bool, basis: SpeedBasis
) -> dict[str, FloatArray]:
    """Errors that no sensor shows, as changes of speed by one standard deviation.

    Parameters
    ----------
    posterior : Posterior
        The speed.
    sensors : list of SpeedSensor
        It rests on.
    felt : bool
        Whether an accelerometer shows how the car began to move.
    basis : SpeedBasis
        What kind of sensors they are.

    Returns
    -------
    dict of str to array, shape (n,)
        By the parameter that stands for each. [m/s]
    """
    speed = posterior.speed
    zero = np.zeros_like(speed)
    way = way_left_open(posterior, sensors, felt=felt, driven=basis.through_driveline)
    if not basis.through_driveline:
        gps = any(sensor.delay_s > 0.1 for sensor in sensors)
        sd = np.hypot(GPS_SCALE_SD, _more_open(posterior, sensors)) if gps else UNDRIVEN_SCALE_SD
        return {name: zero for name in NO_SENSOR_SHOWS if name != SMEARED} | {
            "scale": sd * speed,
            "growth": zero if gps else UNDRIVEN_GROWTH_SD * speed**3,
            WAY: way,
        }
    by_engine = basis is SpeedBasis.ENGINE_SPEED
    limit_sd = SLIP_WITH_CLUTCH_SD if by_engine else SLIP_AT_LIMIT_SD
    tires = sensors[0]
    thrust = np.convolve(np.maximum(np.gradient(speed, GRID_S), 0.0), np.ones(21) / 21, mode="same")
    return {
        "scale": DRIVEN_SCALE_SD * speed,
        "slip": -tires.slip_open * (thrust + tires.drag_per_m * speed**2 + ROLLING_MPS2) * speed,
        "growth": GROWTH_SD * speed**3,
        LAUNCH_SLIP: -limit_sd * _near_the_limit(thrust) * speed,
        SPUN: _spun(posterior, tires),
        WAY: way,
    } | _wanders(posterior, speed, ENGINE_WANDER_SD if by_engine else DRIVEN_WANDER_SD)


def _more_open(posterior: Posterior, sensors: list[SpeedSensor]) -> FloatArray:
    """What is open of wheels' scale and growth beyond the fit's own, shape (n,) [-], as a GPS's errors hang together.

    The fit counts each of them as free. Never more than what was open before any GPS.
    """
    receivers = [sensor.name for sensor in sensors if sensor.mean_over_s]
    counts_for = max((posterior.counts_for.get(name, 1.0) for name in receivers), default=1.0)
    wheel = next((sensor for sensor in sensors if sensor.scale_sd > 0.0 and not sensor.slip_per_mps2), None)
    if wheel is None or counts_for <= 1.0:
        return np.zeros_like(posterior.speed)
    squared = np.array([0.0, 0.5, 1.0]) * float(posterior.speed.max()) ** 2
    rows = np.array([posterior.row_parameter(f"scale {wheel.name}")] * squared.size)
    if wheel.growth_sd:
        rows -= squared[:, None] * posterior.row_parameter(f"growth {wheel.name}")
    fit = posterior.deviation(rows) ** 2
    before = wheel.scale_sd**2 + (squared * wheel.growth_sd) ** 2
    more = np.maximum(np.minimum(counts_for * fit, before) - fit, 0.0)
    return np.sqrt(np.interp(posterior.speed**2, squared, more))


def _spun(posterior: Posterior, tires: SpeedSensor) -> FloatArray:
    if tires.spun_until_s is None:
        return np.zeros_like(posterior.speed)
    had_hold_s = posterior.time_s - (tires.spun_until_s - tires.delay_s)
    return SPUN_SD * np.clip(1.0 - had_hold_s / SPUN_FADES_S, 0.0, 1.0) * posterior.speed


def _wanders(posterior: Posterior, speed: FloatArray, wander_sd: float) -> dict[str, FloatArray]:
    """Tires warm and the track changes: from each place on the scale may be another, by steps not foretold."""
    moving = posterior.time_s[speed > MOVING_MPS]
    edges = np.linspace(moving[0], moving[-1], len(WANDER) + 1) if moving.size else posterior.time_s[: len(WANDER) + 1]
    return {
        name: wander_sd * np.interp(posterior.time_s, edges[place : place + 2], (0.0, 1.0)) * speed
        for place, name in enumerate(WANDER)
    }


def _near_the_limit(thrust: FloatArray) -> FloatArray:
    """How much of the slip that a tire has at its limit of grip, past the straight part of its curve, it has when.

    A run's greatest pull is near the limit. There the curve of a tire (brush or other) turns over: half the pull has an
    eighth of the bend. Taken over so long that a shift, in which all slip goes, leaves no step in the speed.
    """
    reach, edge = round(LIMIT_OVER_S / GRID_S), round(LIMIT_OVER_S / GRID_S) // 2
    most = sliding_window_view(np.pad(thrust, edge, mode="edge"), reach)[:, : 2 * edge].max(axis=1)[: thrust.size]
    slow = np.convolve(np.pad(most, edge, mode="edge"), np.ones(2 * edge + 1) / (2 * edge + 1), mode="valid")
    greatest = max(float(np.percentile(thrust, GREATEST_PERCENT)), LEAST_THRUST_MPS2)
    return np.asarray(np.minimum(slow / greatest, 1.0) ** 3)
