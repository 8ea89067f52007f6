"""A recording: the car is driven through its acts, and what every sensor could see is laid on an even grid.

Public: `Day`, `simulate`, `true_signals`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from passband.demo_logs.car_models import MODELS
from passband.demo_logs.car_specs import CarSpec
from passband.demo_logs.drag_car import COLUMNS, DragCar
from passband.demo_logs.engine_bay import BayPlan, bay_signals
from passband.demo_logs.loggers import TrueSignals
from passband.demo_logs.story import Act, Story, drive
from passband.demo_logs.strip import air_density
from passband.demo_logs.truth import Drive

FloatArray = npt.NDArray[np.float64]
SQUAT_RAD = 0.0013
"""Pitch of the body for each m/s2 of acceleration. [rad s2/m]"""


@dataclass(frozen=True, slots=True)
class Day:
    """Air and track of the day."""

    temperature_k: float = 296.0
    """Air."""
    pressure_pa: float = 100.4e3
    """Station pressure."""
    relative_humidity: float = 0.5
    """[-]"""
    wind_mps: float = 0.0
    """From behind positive."""
    grade: float = 0.0
    """Rise over run."""
    bay: BayPlan = field(default_factory=BayPlan)
    """What ails the engine."""


def simulate(
    spec: CarSpec, day: Day, acts: Callable[[DragCar, Story], Act], *, lead_s: float, model: str = "first"
) -> Drive:
    """Drive the car, one of `MODELS`, through the acts; time 0 is the ECU log's first row, `lead_s` after the start."""
    density = air_density(day.temperature_k, day.pressure_pa, day.relative_humidity)
    car = MODELS[model](spec, ambient_pa=day.pressure_pa, air_density=density, wind_mps=day.wind_mps, grade=day.grade)
    car.t = -lead_s
    car.engine.charge = (293.15 / day.temperature_k) ** 0.5
    story = Story()
    rows = np.array(drive(car, acts(car, story)), dtype=np.float64)
    trace = {name: np.ascontiguousarray(rows[:, k]) for k, name in enumerate(COLUMNS)}
    return Drive(spec, trace, story, day.pressure_pa, density)


def true_signals(made: Drive, day: Day, rng: np.random.Generator) -> TrueSignals:
    """What is true at each moment of an even grid (0.5 ms; 2 ms for a log beyond two minutes), SI."""
    t = made.trace["time_s"]
    step = 0.0005 if t[-1] - t[0] < 120.0 else 0.002
    even = np.arange(t[0], t[-1], step)
    flags = {"gear", "fire", "cut", "lever", "run", "locked"}
    back = np.clip(np.searchsorted(t, even, side="right") - 1, 0, t.size - 1)
    grid = {name: values[back] if name in flags else np.interp(even, t, values) for name, values in made.trace.items()}
    grid |= {"time_s": even, "rpm": grid["engine_rads"] * 30.0 / np.pi}
    signals = bay_signals(grid, made.spec, day.bay, ambient_pa=made.ambient_pa)
    signals |= _motion_signals(grid, made.spec, even, rng)
    signals["barometer"] = np.full(even.size, made.ambient_pa)
    return TrueSignals(even, signals)


def _motion_signals(
    grid: dict[str, FloatArray], spec: CarSpec, even: FloatArray, rng: np.random.Generator
) -> dict[str, FloatArray]:
    speed = grid["speed_mps"]
    dt = float(even[1] - even[0])
    slow = np.cumsum(rng.standard_normal(even.size // 400 + 2)) * 0.02
    sway = np.interp(even, np.arange(slow.size) * 400 * dt + even[0], slow - slow.mean())
    pitch = SQUAT_RAD * _delayed(grid["accel_mps2"], dt)
    return {
        "ground_mps": np.abs(speed),
        "undriven_mps": np.abs(speed) / (1.0 + 0.0022 * (speed / 80.0) ** 2),
        "driven_wheel_mps": np.abs(grid["wheel_rads"]) * spec.tire.radius_m,
        "driveshaft_rpm": np.abs(grid["wheel_rads"]) * spec.final * 30.0 / np.pi,
        "accel_x": grid["accel_mps2"] + 9.80665 * np.sin(pitch),
        "accel_y": np.clip(sway, -0.6, 0.6) * (speed > 0.5),
        "accel_z": 9.80665 * np.cos(pitch),
        "shift_cut": grid["cut"],
        "shift_lever": 0.42 + 3.4 * grid["lever"],
        "gear": grid["gear"],
        "satellites": np.full(even.size, 12.0),
        "clutch": 1.0 - np.clip(grid["clutch_share"], 0, 1),
    }


def _delayed(values: FloatArray, dt: float) -> FloatArray:
    from scipy.signal import lfilter

    keep = np.exp(-dt / 0.09)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values))
