"""One run: two-step, launch, gear after gear to the finish, lift.

Public: `run`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from passband.demo_logs.drag_car import DragCar
from passband.demo_logs.shifting import converter_shift, foot_shift, lever_shift, lock_up
from passband.demo_logs.story import COARSE_S, FINE_S, Act, RunPlan, Story, pedal_now, wait

FT = 0.3048
BITE_S = 0.15
"""Time in which the clutch comes in at the launch. [s]"""
TWO_STEP_HOLDS_S = 0.09
"""The two-step lets go only when the pedal is well up, so that the engine does not flare. [s]"""


def run(car: DragCar, story: Story, plan: RunPlan, rng: np.random.Generator) -> Act:
    """One run: two-step, launch, gears, finish, lift."""
    c, spec, engine = car.controls, car.spec, car.engine
    number = len(story.runs()) + 1
    facts: dict[str, Any] = {"kind": "run", "plan": plan, "shifts": [], "lifts": [], "limiter": [], "number": number}
    c.gear, c.clutch_share, c.brake_n, c.dt, c.bite, c.grip = 1, 0.0, 30000.0, COARSE_S, plan.bite, plan.grip
    engine.target_pa = spec.engine.boost_pa * plan.boost_share
    yield from _stage(car, plan)
    facts |= {"x_stage": car.x, "x_line": car.x + spec.rollout_m, "clutch_release": car.t}
    story.events.append(facts)
    c.dt, c.run = FINE_S, number
    hand = _pull(car, plan, facts, rng)
    feet = _surface(car, plan, facts)
    line = facts["x_line"] + plan.finish_ft * FT
    while "end" not in facts:
        next(feet)
        next(hand, None)
        if car.x >= line and "finish" not in facts:
            facts["finish"] = car.t
        if plan.abort_m is not None and car.x - facts["x_line"] >= plan.abort_m:
            facts["abort"] = facts["end"] = car.t
        elif "finish" in facts and car.t >= facts["finish"] + plan.through_s and _hands_free(facts):
            facts["end"] = car.t
        yield
    yield from _slow_down(car)


def _hands_free(facts: dict[str, Any]) -> bool:
    return all(shift["completed"] for shift in facts["shifts"][-1:])


def _stage(car: DragCar, plan: RunPlan) -> Act:
    c, spec = car.controls, car.spec
    if spec.converter is not None:
        c.clutch_share, c.brake_n, c.trans_brake = 1.0, 60000.0, True
    until = car.t + plan.stage_s
    c.pedal = 0.25
    car.engine.two_step_rpm = plan.launch_rpm or spec.launch_rpm
    yield from wait(car, 0.4)
    while car.t < until:
        c.pedal = min(1.0, c.pedal + 0.004)
        if until - car.t < 0.3:
            c.dt = FINE_S
        yield


def _surface(car: DragCar, plan: RunPlan, facts: dict[str, Any]) -> Act:
    """Grip, shake, torque share and the driver's lifts along the track."""
    c, spec = car.controls, car.spec
    go = facts["clutch_release"]
    lifts = list(plan.lifts)
    while True:
        x = car.x - facts["x_line"]
        c.grip = plan.grip
        for start, stop, share in plan.slick:
            if start <= x < stop:
                c.grip = share
        since = car.t - go
        if plan.shake is not None:
            start, length, torque, rate = plan.shake
            start += facts.get("clutch_locked") or car.t
            shaking = start <= car.t < start + length
            c.shake_nm, c.shake_hz = (torque if shaking else 0.0), rate
            if shaking:
                facts["shake"] = [start, car.t]
        share = spec.of_gear(spec.gear_share, c.gear)
        if spec.engine.boost_pa > 0.0:
            car.engine.target_pa = spec.engine.boost_pa * plan.boost_share * share
            share = 1.0
        share *= plan.first_gear_share if c.gear == 1 else 1.0
        if plan.power_step is not None and since < plan.power_step[0]:
            share *= plan.power_step[1]
        rate = 0.06 if share > car.engine.power_share else 0.01
        car.engine.power_share += (share - car.engine.power_share) * c.dt / rate
        if lifts and x >= lifts[0][0]:
            _, length, pedal = lifts.pop(0)
            facts["lift_now"] = (car.t + length, pedal)
            facts["lifts"].append([car.t, car.t + length])
        yield


def _pull(car: DragCar, plan: RunPlan, facts: dict[str, Any], rng: np.random.Generator) -> Act:
    """Release, then gear after gear to the last."""
    c, spec = car.controls, car.spec
    yield from _let_go(car, facts)
    points = plan.shift_rpm or spec.shift_rpm
    gear = 1
    while gear < len(spec.gears):
        target = points[gear - 1] + plan.shift_scatter_rpm * float(np.clip(rng.normal(), -2, 2))
        if plan.early_shift == gear:
            target -= plan.early_by_rpm
        yield from _hold_gear(car, facts, target, late_s=plan.late_by_s if plan.late_shift == gear else 0.0)
        nxt = gear + 2 if plan.skip_gear == gear + 1 else gear + 1
        shift = {"foot": foot_shift, "lever": lever_shift, "converter": converter_shift}[spec.shifting]
        yield from shift(car, facts, nxt, plan.missed_s if plan.missed_gear == nxt else 0.0)
        gear = nxt
        if spec.converter is not None and spec.converter.lock_up and gear == len(spec.gears):
            yield from lock_up(car, facts)
    while True:
        c.pedal = pedal_now(car, facts)
        yield


def _smooth(share: float) -> float:
    share = min(max(share, 0.0), 1.0)
    return share * share * (3.0 - 2.0 * share)


def _let_go(car: DragCar, facts: dict[str, Any]) -> Act:
    """Release the clutch (or the brake) and wait until it has locked."""
    c, spec = car.controls, car.spec
    go = car.t
    lead = 0.01 if spec.shifting == "converter" else 0.0
    while not car.locked or car.t < go + 0.25 or car.v < 3.0:
        c.brake_n = 0.0 if car.t > go + lead else 30000.0
        c.trans_brake = c.trans_brake and car.t <= go + lead
        c.clutch_share = _smooth((car.t - go) / BITE_S) if spec.converter is None else 1.0
        if car.t > go + TWO_STEP_HOLDS_S:
            car.engine.two_step_rpm = 0.0
        c.pedal = pedal_now(car, facts)
        yield
    facts["clutch_locked"] = None if spec.converter is not None else car.t
    if spec.converter is None:
        locked = car.t
        while car.t < locked + 0.15:
            since = (car.t - locked) / 0.15
            c.clutch_share = 1.0 + (spec.of_gear(spec.clutch_full, 1) - 1.0) * since
            c.bite = min(c.bite + c.dt / 0.15, 1.0) if c.bite < 1.0 else max(c.bite - c.dt / 0.15, 1.0)
            c.pedal = pedal_now(car, facts)
            yield


def _hold_gear(car: DragCar, facts: dict[str, Any], target_rpm: float, *, late_s: float) -> Act:
    """Stay in gear until the shift point is reached; late: sit at the limiter for a while."""
    c = car.controls
    limiter = car.spec.engine.limiter_rpm
    goal = min(target_rpm, limiter - 60.0) if not late_s else limiter + 1.0
    while car.rpm < goal:
        c.pedal = pedal_now(car, facts)
        yield
    start = car.t
    while car.t < start + late_s:
        yield
    if late_s:
        facts["limiter"].append([start, car.t])


def _slow_down(car: DragCar) -> Act:
    """Lift, engine brakes, out of gear, brakes."""
    c = car.controls
    c.pedal, c.cut, c.lever = 0.0, False, 0.0
    c.run = 0
    car.lock_up = False
    yield from wait(car, 0.7)
    c.dt = COARSE_S
    c.clutch_share = 0.0 if car.spec.converter is None else c.clutch_share
    yield from wait(car, 0.2)
    c.gear, c.brake_n = 0, 0.42 * car.spec.mass_kg * 9.81
    yield from wait(car, 3.5)
