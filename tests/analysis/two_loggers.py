"""A visit to the strip as an ECU and a dash record it, each late in its own way, the truth known to a millisecond.

No physics beyond v' = a and a driveline that unwinds: a burnout, a creep into the beams, a two-step, a pull through
four gears, a lift, brakes.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from passband.analysis.channels.log import Channel, Log, TextFacts, TimeFacts
from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.filters import delayed

STEP_S = 0.001
RATIOS, CIRCUMFERENCE_M = (9.4, 7.0, 5.5, 4.6), 2.1
TWO_STEP_RPM, SLIP_RPM, SHIFT_RPM, IDLE_RPM = 6000.0, 5200.0, 8500.0, 1000.0
UNWINDS_S = 0.010  # the car feels a cut of torque this much later than the engine does
CAR = Car(
    name="planted", driven_axle="rear", transmission="clutch", gear_ratios=list(RATIOS), final_drive=1.0,
    tire_circumference=CIRCUMFERENCE_M,
)  # fmt: skip


@dataclass(frozen=True)
class Visit:
    """Truth on a 1 kHz grid of the ECU's clock."""

    time_s: FloatArray
    rpm: FloatArray
    speed_mps: FloatArray
    tire_mps: FloatArray
    acceleration_mps2: FloatArray
    throttle: FloatArray
    launches_s: tuple[float, ...]
    cuts_s: tuple[float, ...] = ()
    lifts_s: tuple[float, ...] = ()


@dataclass
class _Sheet:
    """Traces under the pen."""

    rpm: list[float] = field(default_factory=list)
    speed: list[float] = field(default_factory=list)
    tire: list[float] = field(default_factory=list)
    throttle: list[float] = field(default_factory=list)

    def add(self, rpm: float, speed: float, throttle: float, tire: float | None = None) -> None:
        self.rpm.append(rpm)
        self.speed.append(speed)
        self.tire.append(speed if tire is None else tire)
        self.throttle.append(throttle)

    @property
    def now_s(self) -> float:
        return len(self.rpm) * STEP_S


@lru_cache(maxsize=32)
def visit(
    *, runs: int = 1, burnout: bool = False, false_start: bool = False, lift_after_s: float = 9.0,
    idle_s: float = 3.0, pull_mps2: float = 11.0, shift_rpm: float = SHIFT_RPM,
) -> Visit:  # fmt: skip
    """Write one visit; `lift_after_s` counts from each launch."""
    sheet, launches, cuts, lifts = _Sheet(), [], [], []
    for _ in range(runs):
        _idle(sheet, idle_s)
        if burnout:
            _burnout(sheet)
        if false_start:
            _false_start(sheet)
        _creep(sheet)
        _two_step(sheet)
        launches.append(sheet.now_s)
        cuts += _pull(sheet, lift_after_s, pull_mps2, shift_rpm)
        lifts.append(launches[-1] + lift_after_s)
        _stop(sheet)
    speed = np.array(sheet.speed)
    return Visit(
        np.arange(speed.size) * STEP_S, np.array(sheet.rpm), speed, np.array(sheet.tire),
        np.gradient(speed, STEP_S), np.array(sheet.throttle), tuple(launches), tuple(cuts), tuple(lifts),
    )  # fmt: skip


def _idle(sheet: _Sheet, seconds: float) -> None:
    for _ in range(round(seconds / STEP_S)):
        sheet.add(IDLE_RPM, 0.0, 0.0)


def _burnout(sheet: _Sheet) -> None:
    for tick in range(4000):
        share = min(tick / 600, 1.0, (4000 - tick) / 300)
        sheet.add(IDLE_RPM + 5500 * share, 0.0, 0.8 if tick < 3500 else 0.0, 22.0 * share)
    _idle(sheet, 3.0)


def _false_start(sheet: _Sheet) -> None:
    _two_step(sheet)
    for tick in range(1400):
        sheet.add(4000.0, max(0.0, min(tick, 1400 - tick) * 0.005), 0.0)
    _idle(sheet, 2.0)
    for tick in range(4000):
        sheet.add(1300.0, min(1.2, tick * 0.001, (4000 - tick) * 0.001), 0.05)
    _idle(sheet, 1.0)


def _creep(sheet: _Sheet) -> None:
    for tick in range(3000):
        sheet.add(1300.0, min(0.9, tick * 0.001, (3000 - tick) * 0.001), 0.05)
    _idle(sheet, 1.5)


def _two_step(sheet: _Sheet) -> None:
    for tick in range(2000):
        ripple = 40.0 * np.sin(tick * 0.1)
        sheet.add(min(IDLE_RPM + tick * 10.0, TWO_STEP_RPM + ripple), 0.0, 1.0)


def _pull(sheet: _Sheet, lift_after_s: float, pull_mps2: float, shift_rpm: float) -> list[float]:
    start, speed, push, rpm, gear, since_cut = sheet.now_s, 0.0, 0.0, TWO_STEP_RPM, 0, 1.0
    cuts = []
    while sheet.now_s - start < lift_after_s:
        locked = speed / CIRCUMFERENCE_M * 60 * RATIOS[gear]
        if gear + 1 < len(RATIOS) and locked > shift_rpm and since_cut > 0.3:
            cuts.append(sheet.now_s)
            since_cut, gear = 0.0, gear + 1
        unwound = UNWINDS_S <= since_cut < UNWINDS_S + 0.08
        want = -0.5 if unwound else pull_mps2 / (1 + speed / 40.0)
        want *= min(1.0, (sheet.now_s - start) / 0.05)
        push += (want - push) * STEP_S / 0.008
        speed = max(speed + push * STEP_S, 0.0)
        aim = max(speed / CIRCUMFERENCE_M * 60 * RATIOS[gear], SLIP_RPM if gear == 0 else 0.0)
        fall = 30.0 if since_cut < 0.08 else 8.0
        rpm = max(rpm - fall, aim) if rpm > aim else aim
        sheet.add(rpm, speed, 1.0)
        since_cut += STEP_S
    return cuts


def _stop(sheet: _Sheet) -> None:
    speed, rpm = sheet.speed[-1], sheet.rpm[-1]
    while speed > 0.0:
        speed, rpm = max(speed - 0.008, 0.0), max(rpm - 1.2, IDLE_RPM)
        sheet.add(rpm, speed, 0.0)
    _idle(sheet, 2.0)


def channel(
    name: str, unit: str, time_s: FloatArray, values: FloatArray, *, rate_hz: float, log: int, resolution: float = 0.0
) -> Channel:
    """A channel whose header is its name."""
    return Channel(name, name, unit, unit, time_s, values, rate_hz, 1.0, log, resolution)


def log_of(name: str, channels: list[Channel]) -> Log:
    """A log of these channels."""
    last = max(float(one.time_s[-1]) for one in channels)
    rows = max(one.time_s.size for one in channels)
    text = TextFacts("utf-8", ",", ".", 1, None, 2, rows)
    return Log(name, tuple(channels), text, TimeFacts("column", 0.0, last, rows / max(last, 1.0)))


def ecu_log(run: Visit, *, rate_hz: float = 100.0, noise_rpm: float = 8.0, tire: bool = True, seed: int = 1) -> Log:
    """Engine speed 14 ms late, throttle 4 ms, driven tire 25 ms."""
    chance = np.random.default_rng(seed)
    time = np.arange(0.0, run.time_s[-1], 1 / rate_hz)
    rpm = np.interp(time, run.time_s, delayed(run.time_s, run.rpm, latency_s=0.006, lag_s=0.008))
    rpm = np.round(rpm + chance.normal(0, noise_rpm, time.size))
    throttle = np.interp(time, run.time_s, delayed(run.time_s, run.throttle, latency_s=0.004))
    channels = [
        channel("engine_speed", "rpm", time, rpm, rate_hz=rate_hz, log=0),
        channel("throttle", "", time, np.round(throttle, 3), rate_hz=rate_hz, log=0),
    ]
    if tire:
        slip = 1.03 * np.interp(time, run.time_s, delayed(run.time_s, run.tire_mps, latency_s=0.012, lag_s=0.013))
        values = np.where(slip < 0.5, 0.0, slip) + chance.normal(0, 0.02, time.size)
        channels.append(channel("wheel_speed_driven", "m/s", time, values, rate_hz=rate_hz, log=0))
    return log_of("ecu.csv", channels)


def dash_log(
    run: Visit, *, offset_s: float = 3.0, rate_ppm: float = 50.0, rate_hz: float = 100.0, age_s: float = 0.055,
    copy: bool = True, copy_hz: float = 20.0, noise: float = 1.0, seed: int = 2,
) -> Log:  # fmt: skip
    """Undriven wheel 27 ms late, accelerometer 20 ms, GPS 150 ms, and a copy of engine speed held at 20 Hz."""
    chance = np.random.default_rng(seed)
    time = np.arange(0.0, (run.time_s[-1] - offset_s) / (1 + rate_ppm * 1e-6), 1 / rate_hz)
    at = offset_s + time * (1 + rate_ppm * 1e-6)

    def seen(values: FloatArray, latency_s: float, lag_s: float) -> FloatArray:
        return np.interp(at, run.time_s, delayed(run.time_s, values, latency_s=latency_s, lag_s=lag_s))

    wheel = seen(run.speed_mps, 0.015, 0.012)
    wheel = np.where(wheel < 0.5, 0.0, wheel) + noise * chance.normal(0, 0.02, time.size) * (wheel >= 0.5)
    push = seen(run.acceleration_mps2, 0.008, 0.012) + noise * chance.normal(0, 0.08, time.size)
    held = np.floor(at * 10) / 10
    gps = np.interp(held, run.time_s, delayed(run.time_s, run.speed_mps, latency_s=0.12, lag_s=0.03))
    channels = [
        channel("gps_speed", "m/s", time, np.round(gps, 2), rate_hz=10.0, log=1),
        channel("wheel_speed_fl", "m/s", time, np.round(wheel, 3), rate_hz=rate_hz, log=1),
        channel("acceleration", "m/s^2", time, np.round(push, 2), rate_hz=rate_hz, log=1),
    ]
    if copy:
        renewed = np.floor(at * copy_hz) / copy_hz
        rpm = np.interp(renewed, run.time_s, delayed(run.time_s, run.rpm, latency_s=age_s - 0.012, lag_s=0.012))
        rpm = np.round((rpm + noise * chance.normal(0, 5, time.size)) / 10) * 10
        steps = np.concatenate(([True], np.diff(renewed) > 0))
        rpm = rpm[np.flatnonzero(steps)[np.cumsum(steps) - 1]]
        channels.append(channel("engine_speed", "rpm", time, rpm, rate_hz=min(copy_hz, rate_hz), log=1))
    return log_of("dash.csv", channels)


def without(log: Log, *names: str) -> Log:
    """The log without some channels."""
    return replace(log, channels=tuple(one for one in log.channels if one.name not in names))


def between(log: Log, start_s: float, stop_s: float) -> Log:
    """The stretch of a log between two times, its clock from its own first row."""
    cut = [one.within(start_s, stop_s) for one in log.channels]
    return replace(log, channels=tuple(replace(one, time_s=one.time_s - start_s) for one in cut))
