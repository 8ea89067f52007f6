"""A run whose every shift is known: engine speed shaped by hand, then blurred, delayed and sampled as a logger would.

No physics: each shape is written down (torque cut, driveline unwinding, fall, ring), so that the truth is exact.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.statistics.filters import delayed

RATIOS = (3.22, 2.17, 1.63, 1.29, 1.08)
"""Such that the shifts of a run as planted by default are all made near 8,100 rpm."""
FINAL_DRIVE, CIRCUMFERENCE_M = 4.1, 2.1
FINE_HZ = 4000.0
SETTLE_S = 0.15


@dataclass(frozen=True)
class Planted:
    """One shift as it was planted."""

    from_gear: int
    to_gear: int
    start_s: float
    end_s: float
    rpm_before: float
    rpm_after: float

    @property
    def time_s(self) -> float:
        """Where it starts, by the name a found shift has for it."""
        return self.start_s


@dataclass(frozen=True)
class PlantedRun:
    """Traces, motion, car and the truth."""

    traces: Traces
    motion: Motion
    car: Car
    shifts: tuple[Planted, ...]
    launch_s: float
    end_s: float
    lowest_rpm: float
    launch_rpm: float
    locked_s: float
    fine_time_s: FloatArray = field(repr=False)
    fine_rpm: FloatArray = field(repr=False)
    fine_gear: FloatArray = field(repr=False)


@dataclass(frozen=True)
class Logger:
    """How the run is logged."""

    rate_hz: float = 100.0
    noise_rpm: float = 8.0
    latency_s: float = 0.006
    lag_s: float = 0.008
    resolution_rpm: float = 1.0
    cut_flag: bool = False
    throttle: bool = True
    ignition: bool = False
    driveshaft: bool = False
    seed: int = 0


def plant_run(
    *,
    style: str = "cut",
    logger: Logger | None = None,
    shift_at_s: tuple[float, ...] = (2.203, 3.511, 5.098, 7.114),
    ratios: tuple[float, ...] = RATIOS,
    launch_rpm: float = 6800.0,
    end_s: float = 9.0,
    acceleration_mps2: float = 11.0,
    launch_lock_s: float = 1.3,
) -> PlantedRun:
    """Build a run from rest; ``style`` is ``cut`` (dog box, full throttle), ``clutch`` (foot off) or ``converter``."""
    logger = logger or Logger()
    time_s = np.arange(-1.5, end_s + 1.0, 1.0 / FINE_HZ)
    accel = _pull(time_s, shift_at_s, style=style, first=acceleration_mps2, end_s=end_s)
    speed = np.cumsum(accel) / FINE_HZ
    per_mps = 60.0 * np.asarray(ratios) * FINAL_DRIVE / CIRCUMFERENCE_M
    rpm, gear, planted = _engine(time_s, speed, shift_at_s, per_mps, style=style)
    rpm, lowest = _launch(time_s, rpm, launch_rpm=launch_rpm, lock_s=launch_lock_s)
    rpm_truth = [Planted(p[0], p[1], p[2], p[3], *_before_and_after(time_s, rpm, p[2], p[3])) for p in planted]
    car = Car(
        name="planted", gear_ratios=list(ratios), final_drive=FINAL_DRIVE, tire_circumference=CIRCUMFERENCE_M,
        rpm_band=(5500.0, 9000.0), transmission="converter" if style == "converter" else "clutch",
    )  # fmt: skip
    traces = _log(time_s, rpm, speed, shift_at_s, style=style, logger=logger)
    held = rpm[(time_s >= -0.235) & (time_s <= -0.035)].mean()
    return PlantedRun(
        traces, _motion(time_s, speed, accel), car, tuple(rpm_truth), 0.0, end_s, lowest, float(held), launch_lock_s,
        time_s, rpm, gear,
    )  # fmt: skip


def _before_and_after(time_s: FloatArray, rpm: FloatArray, start_s: float, end_s: float) -> tuple[float, float]:
    inside = (time_s >= start_s) & (time_s <= end_s + SETTLE_S)
    return float(np.interp(start_s, time_s, rpm)), float(rpm[inside].min())


def _pull(time_s: FloatArray, shift_at_s: tuple[float, ...], *, style: str, first: float, end_s: float) -> FloatArray:
    """Forward acceleration: falls with time, gone while a shift lasts (all but gone for a cut, kept by a converter)."""
    pull = np.where(time_s > 0, first * np.exp(-np.maximum(time_s, 0) / 9.0), 0.0)
    lost, delay, keep = {"cut": (0.06, 0.0, 0.1), "clutch": (0.24, 0.02, 0.0), "converter": (0.1, 0.0, 0.9)}[style]
    for start_s in shift_at_s:
        inside = (time_s >= start_s + delay) & (time_s < start_s + delay + lost)
        pull[inside] *= keep
    pull[time_s > end_s] *= -0.3
    return pull


def _engine(
    time_s: FloatArray, speed: FloatArray, shift_at_s: tuple[float, ...], per_mps: FloatArray, *, style: str
) -> tuple[FloatArray, FloatArray, list[tuple[int, int, float, float]]]:
    gear = np.ones(time_s.size)
    for number, start_s in enumerate(shift_at_s):
        gear[time_s >= start_s] = number + 2
    slip = 1.02 - 0.0025 * np.maximum(time_s, 0)
    if style == "converter":
        slip = 1.03 + 0.12 * np.exp(-np.maximum(time_s, 0) / 2.0)
    locked = speed * per_mps[gear.astype(int) - 1] * slip
    rpm = locked.copy()
    planted = []
    for number, start_s in enumerate(shift_at_s):
        above = speed * per_mps[number] * slip
        below = speed * per_mps[number + 1] * slip
        end_s = _SHAPES[style](time_s, rpm, above, below, start_s)
        planted.append((number + 1, number + 2, start_s, end_s))
    return rpm, gear, planted


def _cut(time_s: FloatArray, rpm: FloatArray, above: FloatArray, below: FloatArray, start_s: float) -> float:
    """Driveline unwinds over 40 ms, dogs engage, the engine is dragged down and rings."""
    since = time_s - start_s
    unwound = above * (1.0 - 0.04 * (1.0 - np.exp(-np.maximum(since, 0) / 0.012)))
    share = np.clip((since - 0.04) / 0.035, 0.0, 1.0)
    ring = 0.03 * np.exp(-np.maximum(since - 0.075, 0) / 0.02) * np.sin(2 * np.pi * 22.0 * np.maximum(since - 0.075, 0))
    after = below * (1.0 - ring)
    shape = np.where(since < 0.04, unwound, unwound * (1 - share) + below * share)
    shape = np.where(since >= 0.075, after, shape)
    inside = (since >= 0) & (since < 0.4)
    rpm[inside] = shape[inside]
    return start_s + 0.075


def _clutch(time_s: FloatArray, rpm: FloatArray, above: FloatArray, below: FloatArray, start_s: float) -> float:
    """Foot off: torque goes after 20 ms, a dip, a flare while the clutch is open, then it bites and drags."""
    since = time_s - start_s
    at = float(np.interp(start_s, time_s, above))
    rising = np.where(since < 0.02, above, 0.0)
    top = float(np.interp(start_s + 0.02, time_s, above))
    dip = top - 70.0 * np.sin(np.pi * np.clip((since - 0.02) / 0.05, 0, 1))
    flare = top + 0.012 * at * (1 - np.exp(-np.maximum(since - 0.07, 0) / 0.03))
    bite = 0.5 - 0.5 * np.cos(np.pi * np.clip((since - 0.17) / 0.10, 0, 1))
    under = 0.012 * np.exp(-np.maximum(since - 0.27, 0) / 0.04) * np.sin(2 * np.pi * 9.0 * np.maximum(since - 0.27, 0))
    shape = np.where(since < 0.02, rising, np.where(since < 0.07, dip, flare))
    shape = np.where(since >= 0.17, shape * (1 - bite) + below * bite, shape)
    shape = np.where(since >= 0.27, below * (1 - under), shape)
    inside = (since >= 0) & (since < 0.6)
    rpm[inside] = shape[inside]
    return start_s + 0.27


def _converter(time_s: FloatArray, rpm: FloatArray, above: FloatArray, below: FloatArray, start_s: float) -> float:
    """One clutch takes over from another: engine speed slides down within 0.2 s, no cut."""
    since = time_s - start_s
    share = 0.5 - 0.5 * np.cos(np.pi * np.clip(since / 0.2, 0, 1))
    inside = (since >= 0) & (since < 0.4)
    rpm[inside] = (above * (1 - share) + below * share)[inside]
    return start_s + 0.2


_SHAPES = {"cut": _cut, "clutch": _clutch, "converter": _converter}


def _launch(time_s: FloatArray, rpm: FloatArray, *, launch_rpm: float, lock_s: float) -> tuple[FloatArray, float]:
    """The clutch slips until `lock_s`: engine speed flares, falls, creeps down, and meets the wheels."""
    at_lock = float(np.interp(lock_s, time_s, rpm))
    since = np.maximum(time_s, 0)
    held = launch_rpm + 40.0 * np.sin(2 * np.pi * 17.0 * time_s)
    freed = 150.0 * np.clip((time_s + 0.035) / 0.03, 0, 1)  # an engine leaps at a finite rate
    slide = at_lock + (launch_rpm - at_lock) * np.exp(-since / 0.09) + freed * (1 - np.clip(since / lock_s, 0, 1))
    shaped = np.where(time_s < -0.035, held, np.where(time_s < lock_s, slide, rpm))
    inside = (time_s >= 0) & (time_s < lock_s + 0.1)
    return shaped, float(shaped[inside].min())


def _motion(time_s: FloatArray, speed: FloatArray, accel: FloatArray) -> Motion:
    grid = np.arange(-1.0, time_s[-1], 0.005)
    one = np.ones(grid.size)
    width = int(0.03 * FINE_HZ)
    seen = np.convolve(accel, np.full(width, 1.0 / width), mode="same")
    distance = np.cumsum(speed) / FINE_HZ
    return Motion(
        time_s=grid, speed_mps=np.interp(grid, time_s, speed), speed_plus_minus_mps=0.05 * one,
        acceleration_mps2=np.interp(grid, time_s, seen), acceleration_plus_minus_mps2=0.3 * one,
        distance_m=np.interp(grid, time_s, distance), distance_plus_minus_m=0.1 * one,
        tire_speed_mps=np.full(grid.size, np.nan), spinning=np.zeros(grid.size, dtype=np.bool_),
        basis=SpeedBasis.UNDRIVEN_WHEEL, scale=None, wheelspin=(),
    )  # fmt: skip


def _log(
    time_s: FloatArray, rpm: FloatArray, speed: FloatArray, shift_at_s: tuple[float, ...], *, style: str, logger: Logger
) -> Traces:
    rng = np.random.default_rng(logger.seed)
    rows = np.arange(time_s[0] + 0.05 + rng.uniform(0, 1 / logger.rate_hz), time_s[-1], 1.0 / logger.rate_hz)
    blurred = delayed(time_s, rpm, latency_s=logger.latency_s, lag_s=logger.lag_s)
    seen = np.interp(rows, time_s, blurred) + rng.normal(0, logger.noise_rpm, rows.size)
    channels = [_channel("engine_speed", "rpm", rows, np.round(seen / logger.resolution_rpm) * logger.resolution_rpm)]
    throttle = np.ones(time_s.size)
    cut = np.zeros(time_s.size)
    for start_s in shift_at_s:
        if style == "clutch":
            since = time_s - start_s
            closed = np.where(since < 0.23, np.exp(-np.maximum(since, 0) / 0.02), 1 - np.exp(-(since - 0.23) / 0.02))
            throttle = np.where((since >= 0) & (since < 0.5), closed, throttle)
        if style == "cut":
            cut[(time_s >= start_s) & (time_s < start_s + 0.07)] = 1.0
    if logger.throttle:
        late = np.interp(rows, time_s, delayed(time_s, throttle, latency_s=0.002, lag_s=0.003))
        channels.append(_channel("throttle", "", rows, np.round(late + rng.normal(0, 0.002, rows.size), 3)))
    if logger.cut_flag:
        channels.append(_channel("shift_cut", "", rows, np.interp(rows - 0.003, time_s, cut).round()))
    if logger.ignition:
        late = np.interp(rows, time_s, delayed(time_s, 22.0 - 12.0 * cut, latency_s=0.0, lag_s=0.003))
        channels.append(_channel("ignition_advance", "deg", rows, np.round(late + rng.normal(0, 0.1, rows.size), 1)))
    if logger.driveshaft:
        shaft = np.interp(rows, time_s, delayed(time_s, speed, latency_s=0.008, lag_s=0.01))
        shaft_rpm = shaft * 60.0 * FINAL_DRIVE / CIRCUMFERENCE_M
        channels.append(_channel("driveshaft_speed", "rpm", rows, np.round(shaft_rpm + rng.normal(0, 5, rows.size))))
    return Traces(tuple(channels))


def _channel(name: str, unit: str, time_s: FloatArray, values: FloatArray) -> Channel:
    rate = float(1.0 / np.median(np.diff(time_s)))
    return Channel(name, name, unit, unit, time_s, values, rate)
