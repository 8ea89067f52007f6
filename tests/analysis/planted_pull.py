"""A pull whose power is known: a car driven forward by a given brake power, nothing taken from the code.

Forward in time by small steps: brake power less the engine's own inertia, through the driveline's efficiency to wheels
that slip in proportion to force, against air and rolling. In a shift the engine makes no power and its spin goes into
the car, as the next gear pulls it down.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Air, Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FloatArray
from passband.analysis.results.air import AirState
from passband.analysis.results.distance import SpeedBasis, Wheelspin
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.results.shifts import Shift

STEP_S = 0.0005
GRAVITY = 9.80665
ENGINE_LATE_S = 0.012
"""Planted: what this engine-speed channel is late by; devices lie from 7 to 20 ms."""
GROWTH_PUT_ON = 3.5e-6
"""What a motion's tire speed has been raised by for each (m/s)^2, 1.7 % at 70 m/s, whatever the tire truly grew by
(`growth_at_70`): so a motion is handed on, by common practice, no source."""


@dataclass(frozen=True)
class Setup:
    """The car as it really is."""

    mass_kg: float = 1100.0
    drag_area_m2: float = 0.62
    rolling: float = 0.015
    efficiency: float = 0.90
    engine_inertia: float = 0.16
    input_inertia: float = 0.006
    wheel_inertia: float = 3.8
    undriven_share: float = 0.34
    radius_m: float = 0.32
    ratios: tuple[float, ...] = (9.5, 7.0, 5.3, 4.2, 3.5)
    density: float = 1.18
    wind_mps: float = 0.0
    slip_per_g: float = 0.022
    slip_yield: float = 0.5
    growth_at_70: float = 0.015
    power_w: float = 400e3
    shift_rpm: float = 8600.0
    shift_s: float = 0.06

    def car(self, **changes: object) -> Car:
        """As its owner would tell it."""
        told: dict[str, object] = {
            "name": "planted",
            "mass": self.mass_kg,
            "driven_axle": "front",
            "transmission": "clutch",
            "gear_ratios": [ratio / 4.0 for ratio in self.ratios],
            "final_drive": 4.0,
            "tire_circumference": 2.0 * np.pi * self.radius_m,
            "drag_area": self.drag_area_m2,
            "rolling_resistance": self.rolling,
            "driveline_efficiency": self.efficiency,
            "engine_inertia": self.engine_inertia,
            "wheel_inertia": self.wheel_inertia,
        }
        return Car(**{key: value for key, value in (told | changes).items() if value is not None})

    def measured(self) -> dict[str, float]:
        """Half-widths of one who measured the car in a laboratory: the drag area to 1.5 %, the rest to 5 % and less."""
        return {
            "mass": 0.0015 * self.mass_kg,
            "tire_circumference": 0.005 * 2.0 * np.pi * self.radius_m,
            "drag_area": 0.015 * self.drag_area_m2,
            "rolling_resistance": 0.05 * self.rolling,
            "driveline_efficiency": 0.0045,
            "engine_inertia": 0.05 * self.engine_inertia,
            "wheel_inertia": 0.05 * self.wheel_inertia,
        }

    def slip(self, force_n: float) -> float:
        """Of the driven tires."""
        pull = force_n / (self.mass_kg * GRAVITY)
        return self.slip_per_g * pull / (1.0 - self.slip_yield * pull)

    def air(self) -> AirState:
        """The day's air."""
        wind = self.wind_mps if self.wind_mps else None
        return AirState(293.15, 101325.0, 1100.0, Estimate(self.density, 0.004), 300.0, wind, "planted")


@dataclass
class _State:
    speed: float
    distance: float = 0.0
    gear: int = 1
    shift_left: float = 0.0
    spin_w: float = 0.0
    rolls: bool = False


@dataclass(frozen=True)
class PlantedPull:
    """What the code is given, and the truth."""

    motion: Motion
    gears: Gears
    shifts: tuple[Shift, ...]
    traces: Traces
    end_s: float
    ground_w: float
    brake_w: float
    pulling_w: float
    rows: dict[str, FloatArray] = field(repr=False)


def plant(
    setup: Setup, *, end_s: float = 8.0, start_mps: float = 22.0, spin: tuple[float, float] | None = None,
    roll_out_s: float = 0.0,
) -> PlantedPull:  # fmt: skip
    """Drive the car forward; window from 0 to `end_s`, and then let it roll, in gear, nothing driving or braking it."""
    state = _State(start_mps)
    rows: dict[str, list[float]] = {
        name: [] for name in ("speed", "acceleration", "distance", "gear", "tire", "rpm", "brake", "ground")
    }
    shifts: list[tuple[int, float]] = []
    for step in range(round((end_s + (roll_out_s or 0.5)) / STEP_S)):
        state.rolls = roll_out_s > 0.0 and step * STEP_S > end_s
        _advance(setup, state, rows, shifts, step * STEP_S)
    table = {name: np.array(values) for name, values in rows.items()}
    return _as_logged(setup, table, shifts, end_s, spin)


def _advance(
    setup: Setup, state: _State, rows: dict[str, list[float]], shifts: list[tuple[int, float]], time: float
) -> None:
    ratio, radius = setup.ratios[state.gear - 1], setup.radius_m
    load = 0.5 * setup.density * setup.drag_area_m2 * (state.speed - setup.wind_mps) ** 2
    load += setup.rolling * setup.mass_kg * GRAVITY
    undriven = setup.wheel_inertia * setup.undriven_share / radius**2
    driven = setup.wheel_inertia * (1.0 - setup.undriven_share) / radius**2
    pulls = state.shift_left <= 0.0 and not state.rolls
    brake = setup.power_w if pulls else 0.0
    own = (setup.engine_inertia + setup.input_inertia) * (ratio / radius) ** 2 * setup.efficiency if pulls else 0.0
    rolling_mass, slip, force = setup.mass_kg + undriven, 0.0, 0.0
    for _ in range(4):
        hub = (
            setup.efficiency * (brake if pulls else 0.0 if state.rolls else state.spin_w) / (state.speed * (1.0 + slip))
        )
        force = (hub * rolling_mass + (driven + own) * load) / (rolling_mass + driven + own)
        slip = setup.slip(force)
    acceleration = (force - load) / rolling_mass
    slip = setup.slip(force)
    rest = state.speed * (1.0 + slip) / (1.0 + setup.growth_at_70 * (state.speed / 70.0) ** 2)
    rpm = rest / radius * ratio * 30.0 / np.pi
    for name, value in (
        ("speed", state.speed), ("acceleration", acceleration), ("distance", state.distance), ("gear", state.gear),
        ("tire", rest), ("rpm", rpm), ("brake", brake), ("ground", force * state.speed),
    ):  # fmt: skip
        rows[name].append(float(value))
    state.distance += state.speed * STEP_S
    state.speed += acceleration * STEP_S
    if state.rolls:
        return
    if not pulls:
        state.shift_left -= STEP_S
        if state.shift_left <= 0.0:
            state.gear += 1
    elif rpm > setup.shift_rpm and state.gear < len(setup.ratios):
        shifts.append((state.gear, time))
        state.shift_left = setup.shift_s
        before = rpm * np.pi / 30.0
        after = before * setup.ratios[state.gear] / ratio
        given = 0.5 * (setup.engine_inertia + setup.input_inertia) * (before**2 - after**2)
        heat = 0.5 * setup.engine_inertia * (before - after) ** 2  # a light body that meets a heavy one
        state.spin_w = (given - heat) / setup.shift_s


def _as_logged(
    setup: Setup,
    rows: dict[str, FloatArray],
    shifts: list[tuple[int, float]],
    end_s: float,
    spin: tuple[float, float] | None,
) -> PlantedPull:
    fine = np.arange(rows["speed"].size) * STEP_S
    grid = np.arange(0.0, fine[-1], 0.005)
    at = {name: np.interp(grid, fine, values) for name, values in rows.items()}
    spinning = np.zeros(grid.size, dtype=np.bool_)
    if spin is not None:
        spinning = (grid >= spin[0]) & (grid <= spin[1])
    raised = at["tire"] * (1.0 + GROWTH_PUT_ON * at["speed"] ** 2)
    motion = Motion(
        grid, at["speed"], np.full(grid.size, 0.02), at["acceleration"], np.full(grid.size, 0.3), at["distance"],
        np.full(grid.size, 0.1), raised, spinning, SpeedBasis.UNDRIVEN_WHEEL, None,
        (Wheelspin(*spin, 0.3),) if spin else (),
    )  # fmt: skip
    edges = [0.0, *(time + setup.shift_s for _, time in shifts)]
    leaves = [*(time for _, time in shifts), float(grid[-1])]
    intervals = tuple(GearInterval(number + 1, a, b) for number, (a, b) in enumerate(zip(edges, leaves, strict=True)))
    gears = Gears(GearBasis.GIVEN, tuple(Estimate(r, 0.005 * r) for r in setup.ratios), intervals)
    found = tuple(_shift(setup, rows, number, time) for number, time in shifts)
    engine = Channel("engine_speed", "RPM", "rpm", "rpm", fine[::20] + ENGINE_LATE_S, rows["rpm"][::20], 100.0)
    inside = fine <= end_s
    pulls = inside & (rows["brake"] > 0)
    means = [
        float(rows[name][where].mean()) for name, where in (("ground", inside), ("brake", inside), ("brake", pulls))
    ]
    return PlantedPull(motion, gears, found, Traces((engine,)), end_s, *means, rows)


def _shift(setup: Setup, rows: dict[str, FloatArray], number: int, time: float) -> Shift:
    before = rows["rpm"][round(time / STEP_S)]
    after = before * setup.ratios[number] / setup.ratios[number - 1]
    return Shift(
        number, number + 1, time, 0.005, time + setup.shift_s, setup.shift_s, None, "normal", Estimate(before, 10.0),
        Estimate(after, 20.0), Estimate(before - after, 25.0), after, None, None, None, None, None, None, None,
    )  # fmt: skip


MILD = Air(temperature=293.15, pressure=101325.0, relative_humidity=0.5)
