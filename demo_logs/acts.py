"""What happens around a run: idling, burnout, staging, a false start, the return road.

Public: `rest`, `move_to`, `bump_in`, `burnout`, `stop`, `false_start`, `return_road`.
"""

from __future__ import annotations

import math

from passband.demo_logs.drag_car import DragCar
from passband.demo_logs.story import COARSE_S, FINE_S, Act, Story, wait

HOLDS_S, BROKEN_LOOSE_MPS = 0.6, 2.0
"""A driver whose tires still hold after so long in the water gives all he has. [s], [m/s]"""


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


def burnout(car: DragCar, story: Story, seconds: float) -> Act:
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
        if since > HOLDS_S and car.wheel_rads * car.radius < BROKEN_LOOSE_MPS:
            c.pedal = 1.0  # the tires hold and the clutch burns: more throttle, until they let go
        yield
    c.pedal, c.push_mps = 0.0, None
    while car.wheel_rads * car.radius > 1.0 + car.v and car.t < start + seconds + 1.5:
        c.clutch_share = 0.0 if car.t > start + seconds + 0.25 else 1.0
        c.brake_n = 60000.0
        c.grip = 1.0
        yield
    story.events.append({"kind": "burnout", "time_start": start, "time_end": car.t})
    c.grip, c.gear, c.clutch_share = 1.0, 0, 0.0
    yield from stop(car, 9000.0)


def stop(car: DragCar, force_n: float) -> Act:
    c = car.controls
    c.clutch_share, c.pedal, c.gear, c.cut = 0.0, 0.0, 0, False
    c.brake_n = force_n
    while car.v > 0.0:
        yield
    c.brake_n = 20000.0


def false_start(car: DragCar, story: Story, distance_m: float) -> Act:
    """Launch, brake at once, be rolled back behind the line."""
    c, spec = car.controls, car.spec
    x0 = car.x
    c.gear, c.clutch_share, c.pedal, c.brake_n = 1, 0.0, 0.6, 20000.0
    car.engine.two_step_rpm = 0.8 * spec.launch_rpm
    yield from wait(car, 0.9)
    c.dt = FINE_S
    go = car.t
    while car.x - x0 < 0.4 * distance_m:
        c.brake_n, c.clutch_share = 0.0, min(1.0, (car.t - go) / 0.12)
        yield
    car.engine.two_step_rpm = 0.0
    yield from stop(car, 6500.0)
    story.events.append({"kind": "false start", "time_start": go, "time_end": car.t})
    c.dt = COARSE_S
    yield from wait(car, 2.0)
    back = car.x - x0 + 0.4
    yield from move_to(car, story, -1.0, back + 0.4, "rolled back")


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
        c.push_mps = car.v + 0.03 * (goal - car.v)
        c.pedal = min(0.5, max(0.0, 0.08 + 0.06 * (goal - car.v)))
        yield
    c.push_mps, c.dt = None, COARSE_S
    story.events.append({"kind": "return road", "time_start": start, "time_end": car.t})
    yield from stop(car, 5000.0)
