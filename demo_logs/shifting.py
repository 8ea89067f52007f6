"""How gears are changed: lever with a torque cut, clutch pedal, clutch packs behind a converter; and the lock-up.

Public: `lever_shift`, `foot_shift`, `converter_shift`, `lock_up`.
"""

from __future__ import annotations

from typing import Any

from passband.demo_logs.drag_car import DragCar
from passband.demo_logs.story import Act, pedal_now, wait


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


def lever_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> Act:
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
        c.pedal = pedal_now(car, facts)
        yield
    c.lever = 0.0


def foot_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> Act:
    """Lift and clutch down, lever across, clutch up and throttle on."""
    c = car.controls
    lead = facts["plan"].clutch_lead_s
    full = car.spec.of_gear(car.spec.clutch_full, nxt)
    held = c.clutch_share
    shift = _new_shift(car, facts, nxt, missed_s)
    start = car.t
    while car.t < start + 0.078:
        since = car.t - start
        c.clutch_share = held * min(1.0, max(0.0, 1.0 - (since - lead) / 0.045))
        c.pedal = max(0.0, 1.0 - since / 0.014)
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
        c.pedal = min(pedal_now(car, facts), max(0.0, (since - 0.035) / 0.06))
        if shift["torque_restored"] is None and c.pedal > 0.5:
            shift["torque_restored"] = car.t
        if shift["time_end"] is None and _carries(car, shift):
            shift["time_end"] = car.t
            shift["completed"] = True
        yield
    while c.pedal < pedal_now(car, facts):
        c.pedal = min(1.0, c.pedal + c.dt / 0.06)
        if shift["torque_restored"] is None and c.pedal > 0.5:
            shift["torque_restored"] = car.t
        yield


def converter_shift(car: DragCar, facts: dict[str, Any], nxt: int, missed_s: float) -> Act:
    """A clutch pack takes over: its pressure rises while the turbine is pulled down to the next gear.

    The shift starts where the ratio begins to change, not when the box is told to.
    """
    c = car.controls
    yield from wait(car, 0.045)
    shift = _new_shift(car, facts, nxt, missed_s)
    shift["gear_out"] = shift["gear_in"] = car.t
    c.gear = nxt
    start = car.t
    while shift["time_end"] is None:
        c.clutch_share = min(1.0, 0.5 + 0.5 * (car.t - start) / 0.35)
        c.pedal = pedal_now(car, facts)
        if car.locked and car.t > start + 0.02:
            shift["time_end"] = shift["torque_restored"] = car.t
            shift["completed"] = True
        yield
    c.clutch_share = 1.0


def lock_up(car: DragCar, facts: dict[str, Any]) -> Act:
    """The lock-up clutch closes some time after the last shift."""
    c = car.controls
    start = car.t
    while car.t < start + 0.9:
        c.pedal = pedal_now(car, facts)
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
        c.pedal = pedal_now(car, facts)
        yield
    car.lock_up = True
