"""One run: what is done before the car stands staged, the release, gear after gear, the finish or the lift.

Public: `Ran`, `drive`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from tests.proving.independent.changing import change_gear
from tests.proving.independent.coupled_car import COLUMNS, HOLDS, RPM, STEP_S, Asked, CoupledCar, Shifting, ramp
from tests.proving.independent.specs import CarSpec, Day

FloatArray = npt.NDArray[np.float64]
LASTS_S = 26.0
"""No run is longer."""


@dataclass(slots=True)
class Ran:
    """A drive as it truly was, from the ECU log's first row on."""

    spec: CarSpec
    day: Day
    rollout_m: float
    held_s: float
    """From here on the car stands staged."""
    release_s: float
    of: dict[str, FloatArray] = field(default_factory=dict)
    """By name of `COLUMNS`, every `STEP_S`; `time_s` beside."""
    shifts: list[Shifting] = field(default_factory=list)
    """Done."""
    moved_s: float | None = None
    locked_s: float | None = None
    finish_s: float | None = None
    lifted_s: float | None = None
    """An early lift."""
    before: list[dict[str, Any]] = field(default_factory=list)
    """Other events, before the run."""


class _Driver:
    """Hands and feet."""

    def __init__(self, car: CoupledCar, ran: Ran, rng: np.random.Generator) -> None:
        self.car, self.ran = car, ran
        spread = 0.006 * car.spec.drive.shift_rpm
        self.shift_rpm = [car.spec.drive.shift_rpm + float(rng.normal(0.0, spread)) for _ in car.spec.box.ratios]
        self.past_s, self.pedal_s = float(rng.uniform(0.05, 0.3)), 0.3
        self.brake_n = float(rng.uniform(2.0, 4.5)) * car.spec.body.mass_kg
        self.shift: Shifting | None = None
        self.limited, self.pedal_until, self.pedals = False, -1.0, 0
        self.carried_nm = 0.0

    def ask(self, now_s: float) -> Asked:
        """What is asked of the car now."""
        asked = Asked(clutch_nm=self.car.spec.clutch.most_nm, held=now_s < self.ran.release_s)
        if asked.held:
            self._hold(asked, now_s)
        else:
            self._drive(asked, now_s)
        self._begin_shift(asked, now_s)
        if self.shift is not None:
            change_gear(self.car, self.shift, asked, now_s)
            if self.shift.closed_s is not None:
                self.ran.shifts.append(self.shift)
                self.car.next_gear()
                self.shift = None
                asked.old_nm, asked.new_nm = HOLDS, 0.0
        self._belt(asked)
        self._take_up(asked, now_s)
        return asked

    def note(self) -> None:
        """What the old gear carries just before a shift."""
        if self.shift is None:
            self.carried_nm = self.car.gear_nm

    def _hold(self, asked: Asked, now_s: float) -> None:
        car, drive, release_s = self.car, self.car.spec.drive, self.ran.release_s
        if drive.held_by == "two-step":
            asked.throttle = ramp((now_s - release_s + 1.3) / 0.15) + 0.03
            asked.spark = 0.0 if self.limited else 1.0
            self.limited = car.rpm > drive.launch_rpm - (drive.two_step_band_rpm if self.limited else 0.0)
        elif drive.held_by == "idle":
            asked.throttle = min(1.0, max(0.0, 0.1 + 0.0009 * (car.spec.engine.idle_rpm - car.rpm)))
        else:
            goal_rpm = drive.launch_rpm * ramp((now_s - release_s + 1.6) / 0.5 + 0.2)
            at_rest = 0.6 if car.spec.clutch.kind == "converter" else 0.12
            asked.throttle = min(1.0, max(0.0, at_rest + 0.0015 * (goal_rpm - car.rpm)))

    def _drive(self, asked: Asked, now_s: float) -> None:
        car, ran, drive = self.car, self.ran, self.car.spec.drive
        self.limited = car.rpm > car.spec.engine.limiter_rpm - (150.0 if self.limited else 0.0)
        asked.spark = 0.0 if self.limited else 1.0
        sliding = car.wheel * car.spec.tire.radius_m - car.speed
        may = self.pedals < drive.pedals and self.shift is None and now_s > ran.release_s + 0.35 and car.speed > 5.0
        if may and self.pedal_until < now_s and sliding > 5.0 + 2.0 * self.pedals:
            self.pedal_until, self.pedals = now_s + self.pedal_s, self.pedals + 1
        if now_s < self.pedal_until:
            asked.throttle = 0.4
        if drive.lifts_at_m and car.distance >= drive.lifts_at_m and ran.lifted_s is None:
            ran.lifted_s = now_s
        if ran.finish_s is None and car.distance >= drive.finish_m + ran.rollout_m:
            ran.finish_s = now_s
        if ran.lifted_s is not None or (ran.finish_s is not None and now_s > ran.finish_s + self.past_s):
            asked.throttle, asked.brake_n = 0.0, self.brake_n

    def _begin_shift(self, asked: Asked, now_s: float) -> None:
        car, box = self.car, self.car.spec.box
        driving = not asked.held and asked.throttle > 0.5 and now_s > self.ran.release_s + 0.4
        if self.shift is not None or not driving or box.kind in ("belt", "single") or car.gear >= len(box.ratios):
            return
        carries = self.ran.locked_s is not None or car.spec.clutch.kind == "converter"
        if car.rpm >= self.shift_rpm[car.gear - 1] and (carries or now_s > self.ran.release_s + 1.2):
            self.shift = Shifting(now_s, car.gear, car.gear == box.misses[0], max(40.0, self.carried_nm))
            car.new_ratio = box.ratios[car.gear] * box.final

    def _belt(self, asked: Asked) -> None:
        car, box = self.car, self.car.spec.box
        if box.kind != "belt":
            return
        least, most, held_rpm, moves = box.belt
        goal = min(most, max(least, held_rpm / RPM / max(car.output, 1.0) / box.final)) * box.final
        by = moves * car.old_ratio * STEP_S
        car.old_ratio += max(-by, min(by, goal - car.old_ratio))
        asked.old_nm = 900.0

    def _take_up(self, asked: Asked, now_s: float) -> None:
        """The first coupling, but for what a shift does with it."""
        car, clutch, since = self.car, self.car.spec.clutch, now_s - self.ran.release_s
        waits = self.shift is None and not asked.held
        if clutch.kind == "converter":
            self._lock_up(asked, now_s)
            return
        if clutch.kind == "centrifugal":
            per, from_rads, springs_nm = clutch.centrifugal
            pressed = max(0.0, per * (car.engine**2 - from_rads**2)) + springs_nm * ramp(since / 0.03)
            asked.clutch_nm = pressed + clutch.timed[0] * ramp((since - clutch.timed[1]) / 0.8)
            self._note_lock(waits and since > 0.15 and asked.clutch_nm > 10.0, car.engine - car.input, now_s)
        elif clutch.kind == "direct":
            asked.clutch_nm = HOLDS
            if waits:
                asked.old_nm = 1.5 * clutch.most_nm if self.ran.locked_s else clutch.most_nm * self._bites(since)
            self._note_lock(waits and since > 0.1, car.input - car.old_ratio * car.output, now_s)
        elif waits and (self.ran.locked_s is None or (clutch.slipper and car.gear == 1)):
            asked.clutch_nm = clutch.most_nm * self._bites(since)
            if clutch.judder and abs(car.engine - car.input) > 5.0:
                asked.clutch_nm *= 1.0 + clutch.judder * math.sin(2.0 * math.pi * 13.0 * now_s)
            self._note_lock(since > 0.1, car.engine - car.input, now_s)
        if clutch.gives_way and waits and car.gear == len(car.spec.box.ratios):
            asked.clutch_nm = min(asked.clutch_nm, clutch.gives_way)
        if asked.held:
            asked.clutch_nm, asked.old_nm = (HOLDS, 0.0) if clutch.kind == "direct" else (
                (0.0 if clutch.kind == "foot" else asked.clutch_nm), HOLDS)  # fmt: skip

    def _bites(self, since_s: float) -> float:
        """Share of its torque that a clutch holds on the way out; the driver feels for engine speed by it."""
        clutch = self.car.spec.clutch
        at_once, all_s, power = clutch.bite
        grown = at_once * ramp(since_s / 0.05) + (1.0 - at_once) * ramp(since_s / all_s) ** power
        return min(1.0, grown) * min(1.3, self.car.rpm / self.car.spec.drive.launch_rpm) ** clutch.feel

    def _note_lock(self, may: bool, gap_rads: float, now_s: float) -> None:
        if may and self.ran.locked_s is None and abs(gap_rads) < 0.5:
            self.ran.locked_s = now_s

    def _lock_up(self, asked: Asked, now_s: float) -> None:
        clutch = self.car.spec.clutch
        locks = self.car.gear >= clutch.locks_from_gear and self.shift is None and self.ran.shifts
        closed_s = (self.ran.shifts[-1].closed_s or now_s) if locks else now_s
        asked.clutch_nm = clutch.most_nm * ramp((now_s - closed_s - 0.25) / 0.4) if locks else 0.0


def drive(spec: CarSpec, day: Day, rng: np.random.Generator) -> Ran:
    """The whole drive, from the ECU log's first row to some seconds past the run."""
    held_s = round((20.0 if spec.drive.hop_s else 12.0) + float(rng.uniform(0.0, 3.0)), 3)
    release_s = round(held_s + 2.0 + float(rng.uniform(0.0, 0.8)), 3)
    ran = Ran(spec, day, float(rng.uniform(0.16, 0.34)), held_s, release_s)
    before = _before(ran, rng)
    car = CoupledCar(spec, day, rng)
    driver, after_s = _Driver(car, ran, rng), float(rng.uniform(3.0, 6.0))
    rows, now_s, stop_s = [], held_s, release_s + LASTS_S
    while now_s < stop_s:
        _shake(car, now_s - release_s)
        asked = driver.ask(now_s)
        rows.append(car.step(asked))
        driver.note()
        if ran.moved_s is None and car.speed > 0.03:
            ran.moved_s = now_s
        if ran.lifted_s is not None and (car.speed < 3.0 or now_s > ran.lifted_s + 9.0):
            break
        if ran.finish_s is not None and now_s > ran.finish_s + after_s:
            break
        now_s += STEP_S
    driven = np.array(rows)
    ran.of = {name: np.concatenate([before[name], driven[:, k]]) for k, name in enumerate(COLUMNS)}
    ran.of["time_s"] = np.arange(len(ran.of["speed_mps"])) * STEP_S
    _show_gears(ran, driver.shift)
    return ran


def _shake(car: CoupledCar, since_s: float) -> None:
    begins, ends, rate_hz, share = car.spec.drive.shake
    car.grip = 1.0 + share * math.sin(2.0 * math.pi * rate_hz * since_s) if begins < since_s < ends else 1.0


def _show_gears(ran: Ran, open_shift: Shifting | None) -> None:
    """The gear that turns with the input shaft: the new one from where it does."""
    gear = ran.of["gear"]
    if ran.spec.box.kind == "belt":
        gear[:] = 0.0
        return
    for shift in [*ran.shifts, *([open_shift] if open_shift else [])]:
        turns_s = shift.synchronized_s or shift.ends_s
        if turns_s is not None and shift.closed_s is not None:
            gear[round(turns_s / STEP_S) : round(shift.closed_s / STEP_S)] = shift.gear + 1


def _before(ran: Ran, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Burnout, hop, creeping into the beams: by a script, the engine turned by what it does."""
    spec, count = ran.spec, round(ran.held_s / STEP_S)
    time = np.arange(count) * STEP_S
    speed, rim, throttle = np.zeros(count), np.zeros(count), np.full(count, 0.02)

    def add(to: FloatArray, at: list[float], values: list[float]) -> None:
        np.maximum(to, np.interp(time, at, values, left=0.0, right=0.0), out=to)

    begins, lasts, rim_mps = spec.drive.burnout
    if lasts:
        ends = begins + lasts
        add(rim, [begins, begins + 0.5, begins + 1.2, ends - 0.5, ends], [0, 9, rim_mps, 0.92 * rim_mps, 0])
        add(speed, [ends - 1.4, ends - 0.6, ends - 0.1, ends + 0.4], [0, 2.2, 2.6, 0])
        add(throttle, [begins - 0.2, begins + 0.3, ends - 0.6, ends - 0.4], [0, 0.8, 0.75, 0])
        ran.before.append(_event("burnout", begins, ends))
    if spec.drive.hop_s:
        at = spec.drive.hop_s
        add(speed, [at, at + 0.5, at + 0.9, at + 1.9], [0, 3.6, 4.4, 0])
        add(rim, [at, at + 0.3, at + 0.9, at + 1.9], [0, 5.5, 4.5, 0])
        add(throttle, [at - 0.1, at + 0.1, at + 0.5, at + 0.6], [0, 0.6, 0.6, 0])
        ran.before.append(_event("dry hop", at, at + 1.9))
    at = ran.held_s - 5.2
    add(speed, [at, at + 0.6, at + 2.0, at + 2.6], [0, 0.9, 0.8, 0])
    ran.before.append(_event("creep", at, at + 2.6))
    bumps = (2.2, 0.9) if rng.uniform() < 0.35 else (2.2,)
    for back in bumps:
        at = ran.held_s - back
        add(speed, [at, at + 0.15, at + 0.3, at + 0.45], [0, 0.4, 0.4, 0])
    return _as_driven(ran, time, speed, np.maximum(rim, speed), throttle)


def _event(kind: str, begins_s: float, ends_s: float) -> dict[str, Any]:
    return {"kind": kind, "time_start": begins_s, "time_end": ends_s, "inside_ecu_log": True}


def _as_driven(
    ran: Ran, time: FloatArray, speed: FloatArray, rim: FloatArray, throttle: FloatArray
) -> dict[str, FloatArray]:
    spec, box = ran.spec, ran.spec.box
    overall = (box.belt[0] if box.kind == "belt" else box.ratios[min(1, len(box.ratios) - 1)]) * box.final
    rpm = spec.engine.idle_rpm + 12.0 * np.sin(4.4 * time) + 8.0 * np.sin(14.5 * time)
    spinning = rim > speed + 0.5
    rpm = np.where(spinning, np.maximum(rpm, rim / spec.tire.radius_m * overall * RPM), rpm)
    rpm += np.where((speed > 0.05) & ~spinning, 350.0 * np.minimum(speed, 1.0), 0.0)
    width = round(0.06 / STEP_S)
    speed, rim, rpm, throttle = (
        np.convolve(np.pad(x, width, mode="edge"), np.full(2 * width + 1, 1.0 / (2 * width + 1)), mode="valid")
        for x in (speed, rim, rpm, throttle)
    )
    made = {name: np.zeros(time.size) for name in COLUMNS}
    made |= {
        "speed_mps": speed, "wheel_rads": rim / spec.tire.radius_m, "output_rads": rim / spec.tire.radius_m,
        "undriven_rads": speed / spec.body.undriven_m, "engine_rads": rpm / RPM, "throttle": throttle,
        "map_kpa": ran.day.pressure_kpa * (0.33 + 0.5 * throttle), "spark": np.ones(time.size),
        "accel_mps2": np.gradient(speed, STEP_S), "undriven_n": np.ones(time.size),
    }  # fmt: skip
    return made
