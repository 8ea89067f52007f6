"""The shifts: when drive torque was cut, when the next gear carried, and what it cost.

Public: `Shift`, `find_shifts`, `rpm_after_shift`, `needed_step`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analysis.car import Car
from analysis.findings import Finding
from analysis.log import Traces
from analysis.quantities import Estimate, FloatArray
from analysis.track.cut_signals import Edge
from analysis.track.engine_speed import (
    PICKUP_DELAY_PLUS_MINUS_S,
    PICKUP_LAG_S,
    PICKUP_LATENCY_S,
    EngineSpeed,
    local_line,
    read_engine_speed,
)
from analysis.track.gears import TAIL_S, GearInterval, Gears
from analysis.track.motion import Motion
from analysis.track.ratios import TurnRatio, measure_turn_ratio
from analysis.track.shift_edges import TREND_S, find_carry, find_fall, find_start

AFTER_S = 0.15
"""RPM after is the lowest engine speed until this long after the next gear carries, by definition. [s]"""
LONG_SHIFT = 2.2
"""A shift this many times as long as the run's middle one was missed at first. [-]"""
MISSED_S = 0.6
"""A shift that took longer than this was missed at first, whatever the others took. [s]"""
LAG_PLUS_MINUS_S = 0.004
"""95 % half-width of the engine speed's lag over devices. [s]"""
RECOVERED = 0.95
"""Boost is back when it is at this share of what it was. [-]"""
BOOST_WINDOW_S = 0.5
"""The lowest boost belongs to a shift until this long after its end. [s]"""


@dataclass(frozen=True, slots=True)
class Shift:
    """One change of gear. Times are ET."""

    from_gear: int
    """Gear that was left."""
    to_gear: int
    """Gear that carried next."""
    time_s: float
    """Drive torque is cut. [s]"""
    time_plus_minus_s: float
    """95 % half-width of it. [s]"""
    end_s: float
    """The next gear carries the car. [s]"""
    duration_s: float
    """end_s - time_s. [s]"""
    distance_m: float | None
    """Where the shift started. [m]"""
    kind: str
    """``normal``, ``missed``, ``short``, ``late``, ``double``, ``converter``, ``lifted``."""
    rpm_before: Estimate | None
    """Engine speed where the shift starts. [rpm]"""
    rpm_after: Estimate | None
    """Lowest engine speed from the start until 150 ms after the next gear carries. [rpm]"""
    rpm_drop: Estimate | None
    """The difference. [rpm]"""
    expected_rpm_after: float | None
    """Next overall ratio times driven wheel speed where the next gear carries; else rpm_before times the step. [rpm]"""
    margin_to_band_low_rpm: float | None
    """rpm_after less the band's low end. [rpm]"""
    margin_to_band_high_rpm: float | None
    """The band's high end less rpm_before. [rpm]"""
    boost_before_pa: float | None
    """Gauge boost where the shift starts. [Pa]"""
    boost_lowest_pa: float | None
    """Lowest gauge boost from the start until boost recovers or 0.5 s after the end. [Pa]"""
    boost_recovery_s: float | None
    """From the end of the shift until boost is back at 95 % of what it was; None if it never is. [s]"""
    time_lost_s: float | None
    """Elapsed time that the shift cost against an uninterrupted pull. [s]"""
    speed_lost_mps: float | None
    """Speed that it cost. [m/s]"""


def rpm_after_shift(engine_rpm: float | FloatArray, *, ratio_before: float, ratio_after: float) -> float | FloatArray:
    """Engine speed right after a shift, from the step between two gear ratios.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,)
        Engine speed just before the shift. [rpm]
    ratio_before, ratio_after : float
        Gear ratio, input turns per output turn, > 0. [-]

    Returns
    -------
    float or array, shape (n,)
        Engine speed at the same output-shaft speed; NaN where the input is NaN. [rpm]

    Raises
    ------
    ValueError
        If a ratio is not > 0.

    Notes
    -----
    The output shaft turns at the same speed on both sides of the shift, so n_after = n_before * i_after / i_before.
    Exact for a locked driveline; a slipping clutch or converter leaves the engine above this value.

    Examples
    --------
    >>> round(rpm_after_shift(7000.0, ratio_before=2.48, ratio_after=1.48), 1)
    4177.4
    """
    if not (ratio_before > 0 and ratio_after > 0):
        raise ValueError(f"gear ratios must be > 0, got {ratio_before=}, {ratio_after=}")
    return engine_rpm * ratio_after / ratio_before


def needed_step(band_low_rpm: float, band_high_rpm: float) -> float:
    """The least step between two gears that keeps an engine shifted at the band's top from falling below its low end.

    Parameters
    ----------
    band_low_rpm, band_high_rpm : float
        The usable band, ``0 < low < high``. [rpm]

    Returns
    -------
    float
        Next ratio over this ratio. [-]

    Raises
    ------
    ValueError
        If the band does not rise from above nought.

    Notes
    -----
    low / high; the car's own gain or loss of speed during the shift is left out.

    Examples
    --------
    >>> round(needed_step(8300.0, 11200.0), 3)
    0.741
    """
    if not 0 < band_low_rpm < band_high_rpm:
        raise ValueError(f"the band must rise from above nought, got {band_low_rpm=}, {band_high_rpm=}")
    return band_low_rpm / band_high_rpm


def find_shifts(
    motion: Motion,
    traces: Traces,
    gears: Gears,
    car: Car,
    *,
    launch_s: float,
    end_s: float,
    boost: tuple[FloatArray, FloatArray] | None = None,
) -> tuple[tuple[Shift, ...], list[Finding]]:
    """Find each change of gear of a run and what it did.

    Parameters
    ----------
    motion : Motion
        On the traces' clock.
    traces : Traces
        Needs engine speed.
    gears : Gears
        As labelled.
    car : Car
        Band and transmission.
    launch_s, end_s : float
        First motion and finish or lift. [s]
    boost : (times, gauge boost), optional
        Two arrays of shape (m,). [s], [Pa]

    Returns
    -------
    tuple of Shift
        In order; empty where there is none.
    list of Finding
        What is less sure than it looks.
    """
    engine = read_engine_speed(traces, start_s=launch_s - 1.0, stop_s=end_s + 1.0)
    if engine is None:
        return (), []
    turn = measure_turn_ratio(engine, motion, traces, launch_s=launch_s, end_s=end_s + TAIL_S)
    pairs = [
        (left, right) for left, right in pairwise(gears.intervals) if left.gear != right.gear and left.start_s < end_s
    ]
    found = [
        _measure(left, right, motion=motion, engine=engine, turn=turn, traces=traces, gears=gears, car=car, boost=boost)
        for left, right in pairs
    ]
    shifts = [shift for shift in found if shift is not None and shift.time_s < end_s]
    return tuple(_named(shifts, car)), _doubt_rate(engine, shifts)


def _measure(
    left: GearInterval,
    right: GearInterval,
    *,
    motion: Motion,
    engine: EngineSpeed,
    turn: TurnRatio,
    traces: Traces,
    gears: Gears,
    car: Car,
    boost: tuple[FloatArray, FloatArray] | None,
) -> Shift | None:
    earliest = left.start_s + 0.05
    this_gear = _in_gear(engine, turn, start_s=left.end_s - 0.7, stop_s=left.end_s - 0.15)
    next_gear = _in_gear(engine, turn, start_s=right.start_s + 0.15, stop_s=min(right.start_s + 0.7, right.end_s))
    if this_gear is None or next_gear is None:
        return None
    half_way = np.sqrt(this_gear * next_gear)
    fall = find_fall(engine, half_way, earliest_s=max(earliest, left.end_s - 0.3), latest_s=right.start_s + 0.7)
    if fall is None:
        return None
    start = find_start(engine, traces, motion, fall=fall, earliest_s=earliest) or Edge(left.end_s, 0.05, "ratio")
    carry = find_carry(engine, next_gear, fall=fall)
    end = carry.edge
    before = _rpm_before(engine, start)
    after = _rpm_after(engine, start, end)
    drop = None
    if before is not None and after is not None:
        drop = Estimate(before.value - after.value, float(np.hypot(before.plus_minus, after.plus_minus)))
    low, high = car.rpm_band or (None, None)
    boost_before, boost_lowest, recovery = _boost_through(boost, start.time_s, end.time_s)
    lost = _cost(motion, start.time_s, end.time_s)
    return Shift(
        from_gear=left.gear,
        to_gear=right.gear,
        time_s=start.time_s,
        time_plus_minus_s=start.plus_minus_s,
        end_s=end.time_s,
        duration_s=end.time_s - start.time_s,
        distance_m=float(np.interp(start.time_s, motion.time_s, motion.distance_m)),
        kind="normal",
        rpm_before=before,
        rpm_after=after,
        rpm_drop=drop,
        expected_rpm_after=carry.rpm,
        margin_to_band_low_rpm=after.value - low if after is not None and low is not None else None,
        margin_to_band_high_rpm=high - before.value if before is not None and high is not None else None,
        boost_before_pa=boost_before,
        boost_lowest_pa=boost_lowest,
        boost_recovery_s=recovery,
        time_lost_s=lost.time_s if lost else None,
        speed_lost_mps=lost.speed_mps if lost else None,
    )


def _in_gear(engine: EngineSpeed, turn: TurnRatio, *, start_s: float, stop_s: float) -> FloatArray | None:
    """What the engine would turn at each of its samples by the ratio that it kept within a stretch."""
    inside = (turn.time_s >= start_s) & (turn.time_s <= stop_s) & np.isfinite(turn.log_ratio)
    if not inside.any():
        return None
    known = np.isfinite(turn.driven)
    driven = np.interp(engine.true_time_s, turn.time_s[known], turn.driven[known])
    return np.asarray(driven * np.exp(float(np.median(turn.log_ratio[inside]))), dtype=np.float64)


def _rpm_before(engine: EngineSpeed, start: Edge) -> Estimate | None:
    line = local_line(
        engine.true_time_s,
        engine.rpm,
        start_s=start.time_s - TREND_S,
        stop_s=start.time_s - 0.5 * PICKUP_LATENCY_S,
        at_s=start.time_s,
    )
    if line is None:
        return None
    noise = 4.0 * line.scatter / np.sqrt(line.samples)
    timing = abs(line.slope) * np.hypot(start.plus_minus_s, PICKUP_DELAY_PLUS_MINUS_S)
    return Estimate(line.value, float(np.hypot(noise, timing)))


def _rpm_after(engine: EngineSpeed, start: Edge, end: Edge) -> Estimate | None:
    lowest = []
    for lag_s in (PICKUP_LAG_S, PICKUP_LAG_S - LAG_PLUS_MINUS_S, PICKUP_LAG_S + LAG_PLUS_MINUS_S):
        sharp = engine.sharpened(lag_s)
        inside = (sharp.time_s >= start.time_s) & (sharp.time_s <= end.time_s + AFTER_S)
        if inside.sum() < 2:
            return None
        lowest.append(float(sharp.rpm[inside].min()))
    lag = max(abs(other - lowest[0]) for other in lowest[1:])
    return Estimate(lowest[0], float(np.hypot(lag, 2.0 * engine.noise_rpm)))


def _boost_through(
    boost: tuple[FloatArray, FloatArray] | None, start_s: float, end_s: float
) -> tuple[float | None, float | None, float | None]:
    if boost is None:
        return None, None, None
    time_s, value = boost
    earlier = (time_s >= start_s - 0.05) & (time_s <= start_s)
    inside = (time_s >= start_s) & (time_s <= end_s + BOOST_WINDOW_S)
    if not earlier.any() or not inside.any():
        return None, None, None
    before = float(np.nanmean(value[earlier]))
    later = time_s >= end_s
    back = later & (value >= before - (1 - RECOVERED) * abs(before))
    recovery = float(time_s[np.argmax(back)] - end_s) if back.any() else None
    return before, float(np.nanmin(value[inside])), recovery


@dataclass(frozen=True, slots=True)
class _Cost:
    time_s: float
    speed_mps: float


def _cost(motion: Motion, start_s: float, end_s: float) -> _Cost | None:
    """Speed and time lost against a pull whose acceleration goes straight from before the shift to after it."""
    before = (motion.time_s > start_s - 0.2) & (motion.time_s < start_s - 0.02)
    after = (motion.time_s > end_s + 0.1) & (motion.time_s < end_s + 0.3)
    inside = (motion.time_s >= start_s) & (motion.time_s <= end_s + 0.1)
    if before.sum() < 5 or after.sum() < 5 or inside.sum() < 5:
        return None
    t = motion.time_s[inside]
    a_before, a_after = (float(np.mean(motion.acceleration_mps2[part])) for part in (before, after))
    pull = a_before + (a_after - a_before) * (t - t[0]) / (t[-1] - t[0])
    missing = pull - motion.acceleration_mps2[inside]
    step = float(t[1] - t[0])
    speed = np.cumsum(missing) * step
    way = float(np.sum(speed) * step)
    return _Cost(way / float(motion.speed_mps[inside][-1]), float(speed[-1]))


def _named(shifts: list[Shift], car: Car) -> list[Shift]:
    usual = float(np.median([shift.duration_s for shift in shifts])) if shifts else 0.0
    named = []
    for shift in shifts:
        kind = "converter" if car.transmission == "converter" else "normal"
        if shift.duration_s > MISSED_S or (len(shifts) > 2 and shift.duration_s > LONG_SHIFT * usual + 0.1):
            kind = "missed"
        elif abs(shift.to_gear - shift.from_gear) > 1:
            kind = "double"
        named.append(replace(shift, kind=kind))
    return named


def _doubt_rate(engine: EngineSpeed, shifts: list[Shift]) -> list[Finding]:
    if not shifts or engine.step_s <= 0.021:
        return []
    text = (
        f"Engine speed is logged {1 / engine.step_s:.0f} times a second: the lowest engine speed of a quick shift lasts "
        "5 to 10 ms and is not seen; log it at 100 Hz or more."
    )
    return [Finding("engine-speed-too-slow-for-shifts", "note", text, "engine speed")]
