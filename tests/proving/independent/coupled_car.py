"""A car whose clutches, packs and gears are friction couplings, solved as impulses in steps of half a millisecond.

Engine - first coupling (clutch or converter) - input shaft - two gear couplings, the old gear's and the new one's -
output shaft - shafts with backlash - wheels - a tire that deflects like a string - body.

A coupling passes an impulse no greater than it can hold, and as much of it as makes both sides turn alike: so it sticks
or slips without two cases of equations (projected Gauss-Seidel over impulses, as textbooks have bodies in contact).

Public: `CoupledCar`, `Shifting`, `STEP_S`, `RPM`, `COLUMNS`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.proving.independent.specs import CarSpec, Day

G = 9.80665
RPM = 30.0 / math.pi
"""rev/min in one rad/s."""
STEP_S = 0.0005
HOLDS = 1e5
"""A coupling that cannot slip. [N m]"""
COLUMNS = (
    "speed_mps", "distance_m", "engine_rads", "input_rads", "output_rads", "wheel_rads", "undriven_rads", "engine_nm",
    "clutch_nm", "shaft_nm", "tire_n", "map_kpa", "throttle", "spark", "accel_mps2", "pitch_rad", "gear", "undriven_n",
    "rolling_w", "gear_loss_w", "input_w",
)  # fmt: skip
"""What a step records."""
_CURVE_RPM = 20.0


@dataclass(slots=True)
class Shifting:
    """One change of gear, as it goes on."""

    begins_s: float
    gear: int
    """Out of it."""
    missed: bool
    carried_nm: float
    """What the old gear carried."""
    synchronized_s: float | None = None
    ends_s: float | None = None
    """The new gear turns as the input shaft does."""
    closed_s: float | None = None
    """All is shut again."""


@dataclass(slots=True)
class Asked:
    """What driver and box ask for at a moment."""

    throttle: float = 1.0
    spark: float = 1.0
    clutch_nm: float = 0.0
    old_nm: float = HOLDS
    new_nm: float = 0.0
    taken_back: float = 0.0
    """Share of the torque."""
    held: bool = True
    """The car stands before the release."""
    brake_n: float = 0.0


def ramp(share: float) -> float:
    """0 to 1, and no further."""
    return 0.0 if share <= 0.0 else min(share, 1.0)


class CoupledCar:
    """State of a car; `step` moves it on by `STEP_S`."""

    def __init__(self, spec: CarSpec, day: Day, rng: np.random.Generator) -> None:
        self.spec, self.day = spec, day
        self.engine = self.input = self.output = self.wheel = self.undriven = 0.0
        self.engine = spec.engine.idle_rpm / RPM
        self.speed = self.distance = self.accel = self.twist = self.slip = 0.0
        self.boost, self.map_kpa, self.throttle, self.engine_nm = 0.0, 0.4 * day.pressure_kpa, 0.1, 0.0
        self.shift_accel = self.pitch = self._pitching = self.gust = 0.0
        self._passed = [0.0, 0.0, 0.0]
        self.gear = 1
        first, last = spec.box.ratios[0], spec.box.belt[1]
        self.old_ratio = (last if spec.box.kind == "belt" else first) * spec.box.final
        self.new_ratio = self.old_ratio
        self.undriven_n = self.rolling_n = self.shaft_nm = self.tire_n = self.loss_nm = self.clutch_nm = 0.0
        self._turbine_nm = 0.0
        self._radius = spec.tire.radius_m
        self.grip = 1.0
        """What the surface gives of the tires' grip."""
        self._steps = 0
        self._gusts = rng.standard_normal(4000)
        self._curve = _curve(spec)

    @property
    def rpm(self) -> float:
        """Engine speed."""
        return self.engine * RPM

    @property
    def gear_nm(self) -> float:
        """What the old gear's coupling carries."""
        return self._passed[1] / STEP_S

    def next_gear(self) -> None:
        """What was the new gear is the old one from now on."""
        self.gear += 1
        self.old_ratio = self.new_ratio
        self._passed[1], self._passed[2] = self._passed[2], 0.0

    def step(self, asked: Asked) -> tuple[float, ...]:
        """Move on by one step; the row of `COLUMNS`, its gear as the couplings have it."""
        self._breathe(asked)
        self._couple(asked)
        self._roll(asked)
        self._steps += 1
        flow = self._passed[0] / STEP_S + self._turbine_nm
        return (
            self.speed, self.distance, self.engine, self.input, self.output, self.wheel, self.undriven,
            self.engine_nm, self.clutch_nm, self.shaft_nm, self.tire_n, self.map_kpa, self.throttle, asked.spark,
            self.accel, self.pitch, self.gear, self.undriven_n, self.rolling_n * self.speed,
            self.loss_nm * self.output, flow * self.input,
        )  # fmt: skip

    def _breathe(self, asked: Asked) -> None:
        """Throttle, boost, manifold, torque."""
        engine, ambient = self.spec.engine, self.day.pressure_kpa
        self.throttle += STEP_S / 0.04 * (asked.throttle - self.throttle)
        if engine.boost_kpa:
            half_rpm, width_rpm, follows_s = engine.spools
            spooled = 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, (self.rpm - half_rpm) / width_rpm))))
            goal = engine.boost_kpa * spooled * self.throttle * (engine.launch_boost if asked.held else 1.0)
            falls_s = 0.45 * follows_s if self.throttle > 0.5 else 0.12
            self.boost += STEP_S / (follows_s if goal > self.boost else falls_s) * (goal - self.boost)
        goal = ambient * (0.28 + 0.72 * min(1.0, 1.15 * self.throttle)) + self.boost * self.throttle
        self.map_kpa += STEP_S / 0.018 * (goal - self.map_kpa)
        friction = engine.friction[0] + engine.friction[1] * self.rpm
        place = min(self.rpm / _CURVE_RPM, len(self._curve) - 2.0)
        at = int(place)
        torque = self._curve[at] + (self._curve[at + 1] - self._curve[at]) * (place - at)
        charge = 1.0 if engine.boost_kpa else self.day.charge
        gas = (torque + friction) * self.map_kpa / ambient * charge * ramp(4.5 * self.throttle)
        gas *= self.throttle if engine.by_fuel else 1.0
        goal = gas * asked.spark * (1.0 - asked.taken_back) - friction
        if self.throttle > 0.3 and asked.spark > 0.5 and not asked.held:
            goal += min(engine.motor[0], engine.motor[1] / max(self.engine, 50.0)) * self.throttle
        self.engine_nm += STEP_S / 0.007 * (goal - self.engine_nm)

    def _convert(self) -> tuple[float, float]:
        """Torque that the converter takes from the engine and gives to the turbine."""
        capacity, stall_ratio, couples_at = self.spec.clutch.converter
        ratio = max(-0.2, min(1.2, self.input / max(self.engine, 20.0)))
        square = (self.engine / capacity) ** 2
        if ratio > 1.0:
            return -4.0 * square * (ratio - 1.0), -4.0 * square * (ratio - 1.0)
        taken = square * (1.0 + 0.12 * ratio - 1.12 * ramp((ratio - 0.72) / 0.28) ** 2)
        return taken, taken * max(1.0, stall_ratio - (stall_ratio - 1.0) * max(ratio, 0.0) / couples_at)

    def _couple(self, asked: Asked) -> None:
        """Engine, input and output shafts moved by torques, then by what the couplings pass."""
        box, dt = self.spec.box, STEP_S
        engine_j, (input_j, output_j) = self.spec.engine.inertia_kgm2, box.inertias_kgm2
        passed, old, new = self._passed, self.old_ratio, self.new_ratio
        self.loss_nm = (1.0 - box.efficiency) * abs(old * passed[1] + new * passed[2]) / dt + box.churning * self.output
        self._twist_shafts()
        engine, shaft_in = self.engine + dt * self.engine_nm / engine_j, self.input
        taken = self._turbine_nm = 0.0
        if self.spec.clutch.kind == "converter":
            taken, self._turbine_nm = self._convert()
            engine -= dt * taken / engine_j
            shaft_in += dt * self._turbine_nm / input_j
        out = self.output - dt * (self.shaft_nm + (self.loss_nm if self.output > 0.01 else 0.0)) / output_j
        out_per = 0.0 if asked.held else 1.0 / output_j
        out *= 0.0 if asked.held else 1.0
        most = (asked.clutch_nm * dt, asked.old_nm * dt, asked.new_nm * dt)
        for k in range(3):
            passed[k] = max(-most[k], min(most[k], passed[k]))
        engine -= passed[0] / engine_j
        shaft_in += (passed[0] - passed[1] - passed[2]) / input_j
        out += (old * passed[1] + new * passed[2]) * out_per
        gives = (
            1.0 / engine_j + 1.0 / input_j,
            1.0 / input_j + old * old * out_per,
            1.0 / input_j + new * new * out_per,
        )
        for _ in range(6):
            if most[0] > 0.0:
                more = _within(most[0], passed[0] + (engine - shaft_in) / gives[0]) - passed[0]
                passed[0] += more
                engine -= more / engine_j
                shaft_in += more / input_j
            for k, ratio in ((1, old), (2, new)):
                if most[k] > 0.0:
                    more = _within(most[k], passed[k] + (shaft_in - ratio * out) / gives[k]) - passed[k]
                    passed[k] += more
                    shaft_in -= more / input_j
                    out += ratio * more * out_per
        self.clutch_nm = passed[0] / dt + taken
        self.engine, self.input, self.output = max(engine, 30.0), shaft_in, out
        self.twist = 0.0 if asked.held else self.twist + dt * (out - self.wheel)

    def _twist_shafts(self) -> None:
        stiffness, damping, backlash = self.spec.tire.shafts
        free = backlash / 2.0
        past = self.twist - free if self.twist > free else self.twist + free if self.twist < -free else 0.0
        turning = self.output - self.wheel
        self.shaft_nm = stiffness * past + damping * turning if past else 0.03 * damping * turning

    def _loads(self) -> tuple[float, float]:
        """Of the driven and the undriven axle, in N."""
        body, day = self.spec.body, self.day
        base, height, behind = body.geometry_m
        weight, moved = body.mass_kg * G, body.mass_kg * self.shift_accel * height / base
        through_air = self.speed - day.wind_mps - self.gust
        down = body.lift_area_m2 * 0.5 * day.density * through_air * abs(through_air)
        if body.driven == "all":
            return weight + down, 1.0
        if body.driven == "front":
            return weight * (base - behind) / base - moved + 0.5 * down, weight * behind / base + moved
        front = weight * (1.0 - behind / base) - moved + 0.3 * down
        return (weight + down, 0.0) if front < 0.0 else (weight * behind / base + moved + 0.7 * down, front)

    def _pull(self, load_n: float) -> float:
        """Force of the tires: a string that deflects over its relaxation length, then slides."""
        tire = self.spec.tire
        radius = tire.radius_m * (1.0 + tire.growth * (self.wheel * tire.radius_m / 80.0) ** 2)
        sliding = self.wheel * radius - self.speed
        rate = (sliding - abs(self.speed) * self.slip) / tire.relaxation_m
        self.slip = max(-1.0, min(2.5, self.slip + STEP_S * rate))
        deflected = self.slip + 0.006 * rate if self.speed < 15.0 else self.slip  # damped where it would swing
        share = abs(deflected) / tire.peak_slip
        force = 2.0 * share / (1.0 + share * share)
        if share > 1.0:
            force = tire.sliding + (1.0 - tire.sliding) * force
        base, _, behind = self.spec.body.geometry_m
        static = {"rear": behind / base, "front": 1.0 - behind / base, "all": 1.0}[self.spec.body.driven]
        grip = tire.grip * (1.0 - tire.load_loss * (load_n / (static * self.spec.body.mass_kg * G) - 1.0))
        grip *= 1.0 + tire.rubber * min(1.0, self.distance / 60.0)
        self._radius = radius
        return math.copysign(load_n * grip * force, deflected)

    def _roll(self, asked: Asked) -> None:
        body, dt = self.spec.body, STEP_S
        if self._steps % 20 == 0:
            draw = self._gusts[self._steps // 20 % len(self._gusts)]
            self.gust += -0.01 / 1.7 * self.gust + self.day.gust_mps * math.sqrt(0.02 / 1.7) * draw
        load, self.undriven_n = self._loads()
        touches = self.undriven_n > 0.0
        fifties = self.speed / 50.0
        self.rolling_n = body.mass_kg * G * (body.rolling[0] + body.rolling[1] * fifties + body.rolling[2] * fifties**2)
        if asked.held:
            self.accel = self.speed = self.wheel = self.tire_n = self.slip = 0.0
        else:
            self.tire_n = self._pull(load) * self.grip
            through_air = self.speed - self.day.wind_mps - self.gust
            drag = body.drag_area_m2 * 0.5 * self.day.density * through_air * abs(through_air)
            against = drag + (self.rolling_n if self.speed > 0.02 else 0.0) + body.mass_kg * G * self.day.grade
            turns_along = touches and body.driven != "all"
            moved = body.mass_kg + (body.undriven_inertia_kgm2 / body.undriven_m**2 if turns_along else 0.0)
            self.accel = (self.tire_n - against - (asked.brake_n if self.speed > 1.0 else 0.0)) / moved
            self.speed = max(0.0, self.speed + dt * self.accel)
            self.accel = max(self.accel, 0.0) if self.speed == 0.0 else self.accel
            self.distance += dt * self.speed
            torque = self.shaft_nm - self.tire_n * self._radius
            self.wheel = max(0.0, self.wheel + dt * torque / self.spec.tire.inertia_kgm2)
        if touches:
            self.undriven += dt / 0.006 * (self.speed / body.undriven_m * 0.9992 - self.undriven)
        elif self.undriven > 0.0:
            self.undriven -= dt * 8.0  # in the air its bearings brake it
        self._sway()

    def _sway(self) -> None:
        settles_s, rate_hz, rad_per_mps2 = self.spec.body.pitch
        self.shift_accel += STEP_S / settles_s * (self.accel - self.shift_accel)
        own = 2.0 * math.pi * rate_hz
        self._pitching += STEP_S * (own * own * (rad_per_mps2 * self.accel - self.pitch) - 0.7 * own * self._pitching)
        self.pitch += STEP_S * self._pitching


def _within(most: float, value: float) -> float:
    return max(-most, min(most, value))


def _curve(spec: CarSpec) -> list[float]:
    """Torque every 20 rpm, rounded by a moving mean over 800."""
    rpm, nm = zip(*spec.engine.torque, strict=True)
    even = np.interp(np.arange(0.0, 16000.0, _CURVE_RPM), rpm, nm)
    return [float(value) for value in np.convolve(np.pad(even, 20, mode="edge"), np.full(41, 1 / 41), mode="valid")]
