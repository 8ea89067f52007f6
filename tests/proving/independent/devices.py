"""What the car's sensors make of it: counted teeth, filters, holding, lateness, a receiver's own smoothing.

Public: `Sensed`, `Fit`, `sense`, `through_filter`, `by_teeth`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from tests.proving.independent.coupled_car import RPM, STEP_S, G
from tests.proving.independent.run import FloatArray, Ran

COUNTED = 2
"""Teeth are counted on every so many steps. [steps]"""
SPEEDS = {"km/h": 3.6, "mph": 1.0 / 0.44704, "m/s": 1.0}
PRESSURES = {"kPa": 1.0, "bar": 0.01, "psi": 1.0 / 6.894757, "mbar": 10.0}
"""Per m/s and per kPa."""
DIGITS = {
    "km/h": 1,
    "mph": 2,
    "m/s": 2,
    "kPa": 1,
    "bar": 3,
    "psi": 2,
    "mbar": 0,
    "rpm": 0,
    "Hz": 2,
    "g": 3,
    "%": 1,
    "": 0,
}


@dataclass(frozen=True, slots=True)
class Fit:
    """One sensor as it is fitted and logged."""

    quantity: str
    """``rpm``, ``rpm2`` (the dash's copy), ``tps``, ``map``, ``cut``, ``accx``, ``gps``; ``uws_l``, ``uws_r``, free
    wheels; ``dws``, ``dsh``, driven."""
    rate_hz: float
    unit: str
    late_s: float = 0.0
    """Constant."""
    filter_s: float = 0.0
    """Time constant of its filter, whatever its order."""
    order: int = 1
    """Of the filter."""
    teeth: int = 60
    """Of its wheel."""
    over: int = 1
    """Teeth that one reading spans."""
    held_s: float = 0.0
    """A counting task runs so often, and its value is held."""
    noise: float = 0.0
    """Standard deviation, in the quantity's own unit in SI (rpm, m/s, m/s2), of a wheel as a share."""
    step: float = 1.0
    """Of a printed engine speed. [rpm]"""
    scale: float = 1.0
    """Of a wheel: what its circumference is off by."""


@dataclass(frozen=True, slots=True)
class Sensed:
    """What a sensor logs."""

    values: FloatArray
    """In its unit."""
    digits: int
    """Printed."""
    lag_s: float
    """Mean lateness."""


def through_filter(values: FloatArray, time_constant_s: float, order: int = 1, step_s: float = STEP_S) -> FloatArray:
    """Values behind `order` equal first-order filters that together are as late as one of the time constant."""
    if time_constant_s <= 0.0:
        return values
    share = step_s / (time_constant_s / order + step_s)
    for _ in range(order):
        values, _ = lfilter([share], [1.0, share - 1.0], values, zi=[(1.0 - share) * values[0]])
    return values


def by_teeth(turning_rads: FloatArray, teeth: int, over: int, at_s: FloatArray, *, forgets_s: float) -> FloatArray:
    """Speed of a toothed wheel as a counter has it: teeth passed over the time they took, none after `forgets_s`.

    Parameters
    ----------
    turning_rads : array of float, shape (n,)
        Angular speed every `STEP_S`.
    teeth, over : int
        Of the wheel, and spanned by one reading.
    at_s : array of float, shape (m,)
        When it is read.
    forgets_s : float
        Without a tooth for so long it reads zero.

    Returns
    -------
    array of float, shape (m,)
        rad/s.
    """
    time = np.arange(turning_rads.size) * STEP_S
    angle = np.concatenate([[0.0], np.cumsum(0.5 * (turning_rads[1:] + turning_rads[:-1])) * STEP_S]) + 1e-7 * time
    time, angle = np.concatenate([[-2.0], time]), np.concatenate([[-2.0 * (turning_rads[0] + 1e-7)], angle])
    pitch = 2.0 * math.pi / teeth
    passed = np.floor(np.interp(at_s, time, angle) / pitch)
    last, first = np.interp(passed * pitch, angle, time), np.interp((passed - over) * pitch, angle, time)
    speed = over * pitch / np.maximum(last - first, 1e-6)
    speed = np.minimum(speed, 1.15 * pitch / np.maximum(at_s - last, 1e-6))  # a late tooth shows that it slows
    return np.where((at_s - last > forgets_s) | (speed > 1.3 * turning_rads.max()), 0.0, speed)


def sense(ran: Ran, fit: Fit, at_s: FloatArray, rng: np.random.Generator) -> Sensed:
    """What a sensor has at the true times `at_s`; before the ECU's first row the car was parked."""
    seen = {"rpm": _engine_speed, "rpm2": _engine_speed, "gps": _receiver, "accx": _accelerometer}
    wheels = ("uws_l", "uws_r", "dws", "dsh")
    return (_wheel if fit.quantity in wheels else seen.get(fit.quantity, _plain))(ran, fit, at_s, rng)


def _read_at(ran: Ran, fit: Fit, at_s: FloatArray) -> FloatArray:
    return np.clip(at_s - fit.late_s, 0.0, ran.of["time_s"][-1])


def _counted(ran: Ran, fit: Fit, turning_rads: FloatArray, forgets_s: float) -> tuple[FloatArray, FloatArray]:
    grid = ran.of["time_s"][::COUNTED]
    speed = by_teeth(turning_rads, fit.teeth, fit.over, grid, forgets_s=forgets_s)
    return grid, through_filter(speed, fit.filter_s, fit.order, STEP_S * COUNTED)


def _engine_speed(ran: Ran, fit: Fit, at_s: FloatArray, rng: np.random.Generator) -> Sensed:
    read = _read_at(ran, fit, at_s)
    if fit.held_s:
        read = np.floor(read / fit.held_s) * fit.held_s
    grid, speed = _counted(ran, fit, ran.of["engine_rads"], 0.5)
    rpm = np.interp(read, grid, speed * RPM) + rng.normal(0.0, fit.noise, at_s.size)
    turn_s = 60.0 / (0.85 * ran.spec.drive.shift_rpm)
    lag = fit.late_s + fit.filter_s + fit.held_s / 2.0 + 0.5 * turn_s * (fit.over + 1.0) / fit.teeth
    return Sensed(np.round(np.maximum(rpm, 0.0) / fit.step) * fit.step, 0, lag)


def _wheel(ran: Ran, fit: Fit, at_s: FloatArray, rng: np.random.Generator) -> Sensed:
    undriven = fit.quantity.startswith("uws")
    turning = ran.of["undriven_rads" if undriven else "wheel_rads"]
    turning = turning * (ran.spec.box.final if fit.quantity == "dsh" else 1.0)
    grid, speed = _counted(ran, fit, turning, 0.4)
    rads = np.interp(_read_at(ran, fit, at_s), grid, speed) * (1.0 + rng.normal(0.0, fit.noise, at_s.size))
    rads[at_s < 0.0] = 0.0
    radius = ran.spec.body.undriven_m if undriven else ran.spec.tire.radius_m
    per = {"rpm": RPM, "Hz": 1.0 / (2.0 * math.pi)}.get(fit.unit, SPEEDS.get(fit.unit, 1.0) * radius * fit.scale)
    digits = 1 if fit.unit == "rpm" else DIGITS[fit.unit]
    return Sensed(rads * per, digits, fit.late_s + fit.filter_s)


def _receiver(ran: Ran, fit: Fit, at_s: FloatArray, rng: np.random.Generator) -> Sensed:
    smooth = through_filter(ran.of["speed_mps"], fit.filter_s, 2)
    speed = np.interp(_read_at(ran, fit, at_s), ran.of["time_s"], smooth)
    wander = lfilter([1.0], [1.0, -0.7], rng.normal(0.0, 0.7 * fit.noise, at_s.size))
    wander *= np.where(speed > 0.3, 1.0, 0.3)  # a receiver at rest holds still
    return Sensed(np.abs(speed + wander) * SPEEDS[fit.unit], 2, fit.late_s + fit.filter_s)


def _accelerometer(ran: Ran, fit: Fit, at_s: FloatArray, rng: np.random.Generator) -> Sensed:
    """Along the body, which pitches, tilts by `scale` and shakes with the engine."""
    of, grade = ran.of, math.atan(ran.day.grade)
    felt = of["accel_mps2"] * math.cos(fit.scale) + G * np.sin(of["pitch_rad"] + fit.scale + grade)
    firing = 2.0 * np.cumsum(of["engine_rads"]) * STEP_S
    felt = felt + fit.noise * np.sin(firing) * np.clip(of["engine_rads"] / 600.0, 0.1, 1.0)
    felt = through_filter(felt + rng.normal(0.0, 0.7, felt.size), fit.filter_s, fit.order)
    return Sensed(np.interp(_read_at(ran, fit, at_s), of["time_s"], felt) / G, 3, fit.late_s + fit.filter_s)


def _plain(ran: Ran, fit: Fit, at_s: FloatArray, rng: np.random.Generator) -> Sensed:
    read, of = _read_at(ran, fit, at_s), ran.of
    if fit.quantity == "cut":
        return Sensed((np.interp(read, of["time_s"], of["spark"]) < 0.5).astype(float), 0, fit.late_s)
    if fit.quantity == "map":
        kpa = np.interp(read, of["time_s"], through_filter(of["map_kpa"], fit.filter_s))
        kpa = kpa + rng.normal(0.0, 0.4, at_s.size)
        return Sensed(kpa * PRESSURES[fit.unit], DIGITS[fit.unit], fit.late_s + fit.filter_s)
    open_share = np.interp(read, of["time_s"], of["throttle"])
    return Sensed(np.clip(100.0 * open_share + rng.normal(0.0, 0.3, at_s.size), 0.0, 100.0), 1, fit.late_s)
