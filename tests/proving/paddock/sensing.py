"""How a device comes by its figures: counted teeth, turns of the crank, satellites, a weight on a spring; and held.

All work on what happens every millisecond and give, every millisecond, what the device would tell.

Public: `held`, `late`, `filtered`, `crank_speed`, `tooth_speed`, `receiver_speed`, `felt_g`.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.signal import butter, lfilter

from tests.proving.paddock.devices import Wheel
from tests.proving.paddock.drive import FloatArray
from tests.proving.paddock.moving_car import G
from tests.proving.paddock.recording import Recorded

STEP_S = 1e-3
UNEVEN = (0.004, 0.001)
"""Spacing of a wheel's teeth, once and twice a turn."""
WANDERS_MPS, WANDER_KEPT = 0.04, 0.9995
"""A receiver's error and what of it is left a millisecond later."""
SHAKES_MPS2 = 0.25
"""What an accelerometer feels of engine and road, from 6 m/s on."""


def late(run: Recorded, values: FloatArray, by_s: float) -> FloatArray:
    """The same, so much later."""
    return np.interp(run.time_s - by_s, run.time_s, values)


def filtered(values: FloatArray, time_constant_s: float) -> FloatArray:
    """Through a filter of the first order."""
    if time_constant_s <= 0:
        return values
    share = 1 - math.exp(-STEP_S / time_constant_s)
    return lfilter([share], [1, share - 1], values, zi=[(1 - share) * values[0]])[0]


def held(run: Recorded, values: FloatArray, hz: float, rng: np.random.Generator) -> FloatArray:
    """What a device tells that renews its figure only so often."""
    begins_s = run.time_s[0] - rng.uniform(0, 1 / hz)
    renewed = np.arange(begins_s, run.time_s[-1] + 1 / hz, 1 / hz)
    last = np.searchsorted(renewed, run.time_s, side="right") - 1
    return np.interp(renewed, run.time_s, values)[np.maximum(last, 0)]


def crank_speed(run: Recorded, degrees: float) -> FloatArray:
    """Engine speed as its mean over the last so many degrees of crank, in rpm."""
    rpm = run.of["rpm"]
    turned = np.concatenate([[0], np.cumsum((rpm[1:] + rpm[:-1]) / 2 * 6e-3)])
    since = turned - degrees
    then_s = np.interp(since, turned + np.arange(turned.size) * 1e-9, run.time_s)
    took_s = np.maximum(run.time_s - then_s, 1e-3)
    return np.where(since > 0, np.minimum(degrees, turned) / took_s / 6, rpm)


def tooth_speed(run: Recorded, turning_rads: FloatArray, wheel: Wheel) -> FloatArray:
    """Speed of a toothed wheel by the time its last teeth took to pass, in rad/s."""
    passed = np.concatenate([[0], np.cumsum((turning_rads[1:] + turning_rads[:-1]) / 2 * STEP_S)])
    passed = passed * wheel.teeth / (2 * math.pi) + np.arange(turning_rads.size) * 1e-10
    tooth = np.arange(1, int(passed[-1]) + 1)
    edges_s = np.interp(tooth, passed, run.time_s)
    span = wheel.teeth if wheel.whole_turn else 1
    if edges_s.size <= span + 1:
        return np.zeros(run.time_s.size)
    speed = span * 2 * math.pi / wheel.teeth / np.maximum(edges_s[span:] - edges_s[:-span], 1e-5)
    if not wheel.whole_turn:
        place = 2 * math.pi * (tooth % wheel.teeth) / wheel.teeth
        speed = speed * (1 + (UNEVEN[0] * np.sin(place) + UNEVEN[1] * np.cos(2 * place)))[span:]
    last = np.searchsorted(edges_s[span:], run.time_s, side="right") - 1
    told = np.where(last >= 0, speed[np.maximum(last, 0)], 0.0)
    return np.where(run.time_s - edges_s[span:][np.maximum(last, 0)] > wheel.forgets_s, 0.0, told)


def receiver_speed(run: Recorded, lag_s: float, late_s: float, rng: np.random.Generator) -> FloatArray:
    """A receiver's, smoothed by two equal filters that together lag so much, its error wandering, in m/s."""
    smooth = filtered(filtered(run.of["speed_mps"], lag_s / 2), lag_s / 2)
    drawn = rng.normal(0, WANDERS_MPS, smooth.size)
    error = lfilter([math.sqrt(1 - WANDER_KEPT**2)], [1, -WANDER_KEPT], drawn)
    return late(run, np.abs(smooth + error), late_s)


def felt_g(run: Recorded, filter_s: float, tilt_rad: float, scale: float, rng: np.random.Generator) -> FloatArray:
    """An accelerometer along a body that pitches, behind its own filter, in g."""
    spec, of = run.driven.spec, run.of
    felt = of["accel_mps2"] + G * np.sin(tilt_rad + spec.body.pitch_rad * of["felt_mps2"] / G) + G * spec.strip.grade
    behind = lfilter(*butter(2, min(0.9, 1 / (2 * math.pi * filter_s) / 500)), felt)
    shaken = rng.normal(0, SHAKES_MPS2, felt.size) * np.clip(of["speed_mps"], 0, 6) / 6
    return (behind + shaken) * scale / G
