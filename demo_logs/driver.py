"""What driver, crew and ECU do: burnout, staging, launch, shifts, lift, return road. One generator an act.

Each act yields once a time step; the car moves on in between. What happens goes into `Story.events`.

Public: `RunPlan`, `Story`, `drive`.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from demo_logs.drag_car import RPM, DragCar

Act = Generator[None, None, None]
FT = 0.3048
FINE_S = 0.0005
"""Time step in a run. [s]"""
BITE_S = 0.15
"""Time in which the clutch comes in at the launch. [s]"""
COARSE_S = 0.001
"""Time step elsewhere while something moves. [s]"""


@dataclass(frozen=True, slots=True)
class RunPlan:
    """How one run is driven."""

    finish_ft: float = 1320.0
    """Where the driver lifts."""
    stage_s: float = 2.2
    """Time on the two-step before the launch."""
    launch_rpm: float | None = None
    """Two-step; None: the car's."""
    bite: float = 1.0
    """Clutch setting: above 1 bites harder."""
    grip: float = 1.0
    """Share of the tire's grip the surface gives."""
    slick: tuple[tuple[float, float, float], ...] = ()
    """Stretches of poor surface: from m, to m, share of grip."""
    shift_rpm: tuple[float, ...] = ()
    """Shift points; empty: the car's."""
    shift_scatter_rpm: float = 40.0
    """Spread of the driver's shift points."""
    boost_share: float = 1.0
    """Share of the boost target that is reached (a leak below 1)."""
    missed_gear: int = 0
    """Gear that is missed at the first try; 0: none."""
    missed_s: float = 0.42
    """How long the miss lasts."""
    skip_gear: int = 0
    """Gear that is left out; 0: none."""
    early_shift: int = 0
    """Shift (1 for the first) that comes short by `early_by_rpm`; 0: none."""
    early_by_rpm: float = 900.0
    """By how much."""
    late_shift: int = 0
    """Shift that comes late: the limiter holds the engine for `late_by_s`; 0: none."""
    late_by_s: float = 0.35
    """How long the engine sits at the limiter."""
    lifts: tuple[tuple[float, float, float], ...] = ()
    """Lift and re-apply: at m, for s, to pedal share."""
    abort_m: float | None = None
    """Where the driver gives up."""
    through_s: float = 0.12
    """Time from the finish line to the lift; several seconds: driven through."""
    shake: tuple[float, float, float, float] | None = None
    """Tire shake: from s after the clutch has locked, for s, N m, Hz."""
    power_step: tuple[float, float] | None = None
    """Less power at first: until s after the release, share before."""
    first_gear_share: float = 1.0
    """Torque share in first gear by retard."""
    clutch_lead_s: float = 0.012
    """In a foot shift: from the foot's lift off the throttle to the clutch beginning to open."""
    reaction_s: float = 0.12
    """For the slip."""


@dataclass(slots=True)
class Story:
    """What happened, as the truth knows it."""

    events: list[dict[str, Any]] = field(default_factory=list)
    """Decoys (kind, start, end) and one entry a run."""

    def runs(self) -> list[dict[str, Any]]:
        """The runs in order."""
        return [event for event in self.events if event["kind"] == "run"]


def wait(car: DragCar, seconds: float) -> Act:
    """Let `seconds` go by."""
    until = car.t + seconds
    while car.t < until - 1e-9:
        yield


def rest(car: DragCar, seconds: float) -> Act:
    """Sit with the engine idling."""
    c = car.controls
    c.pedal, c.clutch_share, c.gear, c.brake_n, c.push_mps, c.dt = 0.0, 0.0, 0, 20000.0, None, COARSE_S
    if car.spec.converter is not None:
        c.gear = 0
    c.dt = 0.004 if seconds > 20.0 else COARSE_S
    yield from wait(car, seconds)
    c.dt = COARSE_S


def move_to(car: DragCar, story: Story, speed_mps: float, seconds: float, kind: str = "creep") -> Act:
    """Creep, be pushed back, roll up: the car is brought to a speed and stopped again."""
    c = car.controls
    start = car.t
    c.push_mps, c.brake_n, c.gear = 0.0, 0.0, 0
    until = car.t + seconds
    while car.t < until:
        left = until - car.t
        since = car.t - start
        c.push_mps = speed_mps * min(1.0, since / 0.4, left / 0.4)
        c.pedal = 0.05 if since < seconds / 2 else 0.0
        yield
    c.push_mps, c.brake_n, c.pedal = None, 20000.0, 0.0
    car.v = 0.0
    story.events.append({"kind": kind, "time_start": start, "time_end": car.t})


def bump_in(car: DragCar, story: Story, bumps: int) -> Act:
    """Roll into the beams in short bumps, the throttle blipped at each."""
    for _ in range(bumps):
        car.controls.pedal = 0.22
        yield from wait(car, 0.12)
        yield from move_to(car, story, 0.28, 0.55, "bump")
        yield from wait(car, 0.5)


def burnout(car: DragCar, story: Story, seconds: float, *, creep_mps: float = 0.0) -> Act:
    """Spin the driven wheels in water with the other axle's brakes holding."""
    c = car.controls
    gear = 2
    rpm = 0.62 * car.spec.engine.limiter_rpm
    c.dt, c.grip = COARSE_S, 0.42
    c.gear, c.clutch_share, c.brake_n, c.pedal = gear, 0.0, 60000.0, 0.35
    yield from wait(car, 0.5)
    start = car.t
    while car.t < start + seconds:
        since = car.t - start
        c.clutch_share = min(1.0, since / 0.25)
        c.pedal = min(1.0, max(0.0, 0.45 + (rpm - car.rpm) * 0.0012)) * min(1.0, 0.3 + since / 0.4)
        if creep_mps and since > 0.7 * seconds:
            c.push_mps = creep_mps
        yield
    c.pedal, c.push_mps = 0.0, None
    while car.wheel_rads * car.radius > 1.0 + car.v and car.t < start + seconds + 1.5:
        c.clutch_share = 0.0 if car.t > start + seconds + 0.25 else 1.0
        c.brake_n = 60000.0
        c.grip = 1.0
        yield
    story.events.append({"kind": "burnout", "time_start": start, "time_end": car.t})
    c.grip, c.gear, c.clutch_share = 1.0, 0, 0.0
    yield from _stop(car, 9000.0)


def _stop(car: DragCar, force_n: float) -> Act:
    c = car.controls
    c.clutch_share, c.pedal, c.gear, c.cut = 0.0, 0.0, 0, False
    c.brake_n = force_n
    while car.v > 0.0:
        yield
    c.brake_n = 20000.0


def false_start(car: DragCar, story: Story, distance_m: float) -> Act:
    """Launch, brake at once, be rolled back behind the line."""
    c, spec = car.controls, car.spec
    start, x0 = car.t, car.x
    c.gear, c.clutch_share, c.pedal, c.brake_n = 1, 0.0, 0.6, 20000.0
    car.engine.two_step_rpm = 0.8 * spec.launch_rpm
    yield from wait(car, 0.9)
    c.dt = FINE_S
    go = car.t
    while car.x - x0 < 0.4 * distance_m:
        c.brake_n, c.clutch_share = 0.0, min(1.0, (car.t - go) / 0.12)
        yield
    car.engine.two_step_rpm = 0.0
    yield from _stop(car, 6500.0)
    story.events.append({"kind": "false start", "time_start": go, "time_end": car.t})
    c.dt = COARSE_S
    yield from wait(car, 2.0)
    back = car.x - x0 + 0.4
    yield from move_to(car, story, -1.0, back + 0.4, "rolled back")


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


def _pedal(car: DragCar, facts: dict[str, Any]) -> float:
    until, pedal = facts.get("lift_now", (0.0, 1.0))
    return float(pedal) if car.t < until else 1.0


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
        shift = {"foot": _foot_shift, "lever": _lever_shift, "converter": _converter_shift}[spec.shifting]
        yield from shift(car, facts, nxt, plan.missed_s if plan.missed_gear == nxt else 0.0)
        gear = nxt
        if spec.converter is not None and spec.converter.lock_up and gear == len(spec.gears):
            yield from _lock_up(car, facts)
    while True:
        c.pedal = _pedal(car, facts)
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
        if car.t > go + 0.05:
            car.engine.two_step_rpm = 0.0
        c.pedal = _pedal(car, facts)
        yield
    facts["clutch_locked"] = None if spec.converter is not None else car.t
    if spec.converter is None:
        locked = car.t
        while car.t < locked + 0.15:
            since = (car.t - locked) / 0.15
            c.clutch_share = 1.0 + (spec.of_gear(spec.clutch_full, 1) - 1.0) * since
            c.bite = min(c.bite + c.dt / 0.15, 1.0) if c.bite < 1.0 else max(c.bite - c.dt / 0.15, 1.0)
            c.pedal = _pedal(car, facts)
            yield


def _hold_gear(car: DragCar, facts: dict[str, Any], target_rpm: float, *, late_s: float) -> Act:
    """Stay in gear until the shift point is reached; late: sit at the limiter for a while."""
    c = car.controls
    limiter = car.spec.engine.limiter_rpm
    goal = min(target_rpm, limiter - 60.0) if not late_s else limiter + 1.0
    while car.rpm < goal:
        c.pedal = _pedal(car, facts)
        yield
    start = car.t
    while car.t < start + late_s:
        yield
    if late_s:
        facts["limiter"].append([start, car.t])


def _new_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> dict[str, Any]:
    shift = {"time_start": car.t, "from": car.controls.gear, "to": nxt, "missed": missed_s > 0.0, "completed": False,
             "torque_restored": None, "time_end": None}  # fmt: skip
    facts["shifts"].append(shift)
    return shift


def _neutral(car: DragCar, shift: dict[str, Any], seconds: float, missed_s: float) -> Act:
    c = car.controls
    shift["gear_out"] = car.t
    c.gear = 0
    if missed_s:
        c.cut, c.clutch_share = False, max(c.clutch_share, 1.0)
        yield from wait(car, missed_s)
    else:
        yield from wait(car, seconds)
    shift["gear_in"] = car.t
    shift["slipped"] = False
    c.gear = shift["to"]


def _carries(car: DragCar, shift: dict[str, Any]) -> bool:
    """True once the clutch sticks again, or never slipped and the engine turns at the gear's own speed."""
    if not car.locked:
        shift["slipped"] = True
        return False
    return shift.get("slipped", False) or car.input_rads < 1.012 * car.ratio * car.wheel_rads


def _lever_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> Act:
    """Pull the lever: strain, cut, out, in; the clutch stays closed and slips the engine down."""
    c, spec = car.controls, car.spec
    c.lever = 0.5
    yield from wait(car, 0.014)
    shift = _new_shift(car, facts, nxt, missed_s)
    cut_s = spec.cut_s[min(nxt - 2, len(spec.cut_s) - 1)]
    c.cut, c.lever = True, 1.0
    yield from wait(car, 0.019)
    yield from _neutral(car, shift, 0.013, missed_s)
    c.clutch_share = spec.of_gear(spec.clutch_full, nxt)
    if missed_s:
        c.cut = True
    cut_until = (car.t if missed_s else shift["time_start"]) + cut_s
    while shift["time_end"] is None or c.cut:
        if car.t >= cut_until and c.cut:
            c.cut, c.lever = False, 0.0
            shift["torque_restored"] = car.t
        if shift["time_end"] is None and _carries(car, shift):
            shift["time_end"] = car.t
            shift["completed"] = True
        c.pedal = _pedal(car, facts)
        yield
    c.lever = 0.0


def _foot_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> Act:
    """Lift and clutch down, lever across, clutch up and throttle on."""
    c = car.controls
    lead = facts["plan"].clutch_lead_s
    full = car.spec.of_gear(car.spec.clutch_full, nxt)
    held, pulling = c.clutch_share, car.engine.brake_nm
    shift = _new_shift(car, facts, nxt, missed_s)
    start = car.t
    falling = False
    while car.t < start + 0.078:
        since = car.t - start
        c.clutch_share = held * min(1.0, max(0.0, 1.0 - (since - lead) / 0.045))
        c.pedal = max(0.0, 1.0 - since / 0.022)
        if not falling and (car.engine.brake_nm < 0.98 * pulling or not car.locked):
            shift["time_start"], falling = car.t, True
        yield
    c.pedal = 0.9 if missed_s else 0.0
    yield from _neutral(car, shift, 0.105, missed_s)
    if missed_s:
        c.clutch_share = 0.0
        c.pedal = 0.0
    bite = car.t + 0.012
    while shift["time_end"] is None or c.clutch_share < full:
        since = car.t - bite
        c.clutch_share = min(full, max(0.0, 0.35 + (full - 0.35) * since / 0.1)) if since > 0 else 0.0
        c.pedal = min(_pedal(car, facts), max(0.0, (since - 0.035) / 0.06))
        if shift["torque_restored"] is None and c.pedal > 0.5:
            shift["torque_restored"] = car.t
        if shift["time_end"] is None and _carries(car, shift):
            shift["time_end"] = car.t
            shift["completed"] = True
        yield
    while c.pedal < _pedal(car, facts):
        c.pedal = min(1.0, c.pedal + c.dt / 0.06)
        if shift["torque_restored"] is None and c.pedal > 0.5:
            shift["torque_restored"] = car.t
        yield


def _converter_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> Act:
    """A clutch pack takes over: its pressure rises while the turbine is pulled down to the next gear."""
    c = car.controls
    shift = _new_shift(car, facts, nxt, missed_s)
    yield from wait(car, 0.045)
    shift["gear_out"] = shift["gear_in"] = car.t
    c.gear = nxt
    start = car.t
    while shift["time_end"] is None:
        c.clutch_share = min(1.0, 0.5 + 0.5 * (car.t - start) / 0.35)
        c.pedal = _pedal(car, facts)
        if car.locked and car.t > start + 0.02:
            shift["time_end"] = shift["torque_restored"] = car.t
            shift["completed"] = True
        yield
    c.clutch_share = 1.0


def _lock_up(car: DragCar, facts: dict[str, Any]) -> Act:
    """The lock-up clutch closes some time after the last shift."""
    c = car.controls
    start = car.t
    while car.t < start + 0.9:
        c.pedal = _pedal(car, facts)
        yield
    facts.setdefault("lock_up", car.t)
    spec = car.spec
    assert_inertia = spec.converter.turbine_inertia_kgm2 if spec.converter else 0.0
    while car.engine_rads - car.front_rads > 1.5:
        gap = car.engine_rads - car.front_rads
        pull = min(450.0, 60.0 * gap) * c.dt
        car.engine_rads -= pull / spec.engine.inertia_kgm2
        car.front_rads += pull / assert_inertia if not car.locked else 0.0
        if car.locked:
            both = assert_inertia + spec.input_inertia_kgm2
            car.front_rads += pull / both
            car.input_rads = car.front_rads
        c.pedal = _pedal(car, facts)
        yield
    car.lock_up = True


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


def return_road(car: DragCar, story: Story, seconds: float) -> Act:
    """Slow to a walk, then drive back in second gear and stop."""
    c = car.controls
    c.brake_n = 0.5 * car.spec.mass_kg * 9.81
    while car.v > 4.0:
        yield
    start = car.t
    c.dt = 0.002
    c.brake_n, c.gear, c.clutch_share = 0.0, 1, 1.0
    while car.t < start + seconds:
        goal = 9.0 + 3.0 * math.sin((car.t - start) / 5.0)
        if car.t - start > 3.0 and c.gear == 1:
            c.clutch_share = 0.0
            yield from wait(car, 0.3)
            c.gear, c.clutch_share = 2, 1.0
        c.push_mps = car.v + 0.25 * (goal - car.v)
        c.pedal = min(0.5, max(0.0, 0.08 + 0.06 * (goal - car.v)))
        yield
    c.push_mps, c.dt = None, COARSE_S
    story.events.append({"kind": "return road", "time_start": start, "time_end": car.t})
    yield from _stop(car, 5000.0)


def drive(car: DragCar, acts: Act) -> list[tuple[float, ...]]:
    """Play the acts on the car and return its rows."""
    rows: list[tuple[float, ...]] = []
    step, keep = car.step, rows.append
    for _ in acts:
        keep(step())
    return rows


__all__ = ["RunPlan", "Story", "drive", "rest", "move_to", "bump_in", "burnout", "false_start", "run", "return_road",
           "RPM"]  # fmt: skip
