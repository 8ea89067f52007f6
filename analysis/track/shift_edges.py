"""Where a shift starts and where the next gear carries, as engine speed shows it.

Public: `Fall`, `find_fall`, `find_start`, `find_carry`, `find_takeover`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.filters import slope
from analysis.log import Traces
from analysis.quantities import FloatArray
from analysis.track.cut_signals import Edge, find_commanded_cut
from analysis.track.engine_speed import PICKUP_LAG_S, PICKUP_LATENCY_S, EngineSpeed, local_line
from analysis.track.motion import Motion

TREND_S = 0.25
"""The trend before a shift is a line over this long: enough to average noise, short enough to stay straight. [s]"""
QUICK_S = 0.13
"""A shift under full throttle falls into the next gear within this of its cut. [s]"""
CONVERTER_FALL_S, CLUTCH_FILL_S = 0.25, 0.5
"""Behind a converter the fall's first half is over within the one, and its command is no older than the other. [s]"""
LONGEST_SHIFT_S = 2.5
"""A shift that takes longer, with nothing driving the car, is an aborted run. [s]"""
LIFT_TO_KINK_S = 0.012
"""With the foot, the engine's speed bends so long after the lift: 20 ms, less what the bend is seen early. [s]"""
STAYS_S = 0.05
"""A fall stays at least so long: noise, a limiter's chop and tire shake do not. [s]"""
FALL_S = 0.3
"""The fall itself, from mid-way between the gears to its lowest point, is over within this. [s]"""
LOST_BLUR_S = 0.08
"""How far fused acceleration may lag or smear the loss of pull. [s]"""
LEAST_PULL_MPS2 = 1.0
"""Below it the loss of pull is lost in the noise. [m/s2]"""
KINK_RPM_PER_S = 2500.0
"""At a torque cut the slope of engine speed turns down by at least this; boost and air do not do so in 25 ms. [rpm/s]"""
CARRY_PLUS_MINUS_S, TAKEOVER_PLUS_MINUS_S = 0.012, 0.04
"""95 % half-width of when the next gear carries, by engine speed alone: dogs or clutch; a converter's box. [s]"""
EASED = 0.75
"""The fall behind a converter has let up where its slope is this share of the steepest. [-]"""
COMMAND_S, COMMAND_PLUS_MINUS_S = 0.05, 0.05
"""From an automatic box's command until engine speed bends: valves and clutch fill. Common practice, no source. [s]"""
EDGE_PLUS_MINUS_S = 0.005
"""What the pick-up's unknown pure delay leaves, 95 %. [s]"""


@dataclass(frozen=True, slots=True)
class Fall:
    """The fall of engine speed from one gear's level to the next one's."""

    middle_s: float
    """Where it is mid-way between the levels, as logged. [s]"""
    bottom_s: float
    """Where it stops falling, as logged. [s]"""


def find_fall(engine: EngineSpeed, half_way_rpm: FloatArray, *, earliest_s: float, latest_s: float) -> Fall | None:
    """Find the fall of engine speed through mid-way between two gears.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    half_way_rpm : array, shape (n,)
        Engine speed mid-way between the two gears' levels at each sample of `engine`. [rpm]
    earliest_s, latest_s : float
        Where to look; the first fall that stays is meant. [s]

    Returns
    -------
    Fall or None
        None where engine speed does not pass.
    """
    above = engine.rpm - half_way_rpm
    inside = (engine.time_s[1:] >= earliest_s) & (engine.time_s[1:] <= latest_s)
    stay = max(2, round(STAYS_S / engine.step_s))
    passed = [
        int(place)
        for place in np.flatnonzero((above[:-1] > 0) & (above[1:] <= 0) & inside)
        if (above[place + 1 : place + 1 + stay] <= 0).all()
    ]
    if not passed:
        return None
    index = passed[0]
    span = above[index] - above[index + 1]
    middle_s = float(engine.time_s[index] + (engine.time_s[index + 1] - engine.time_s[index]) * above[index] / span)
    rise = max(3.0 * engine.noise_rpm, 0.002 * float(engine.rpm[index]))
    lowest = index + 1
    for later in range(index + 1, engine.rpm.size):
        if engine.rpm[later] < engine.rpm[lowest]:
            lowest = later
        elif engine.rpm[later] > engine.rpm[lowest] + rise or engine.time_s[later] > middle_s + FALL_S:
            break
    return Fall(middle_s, float(engine.time_s[lowest]))


def find_start(
    engine: EngineSpeed, traces: Traces, motion: Motion, *, fall: Fall, earliest_s: float, slips: bool = False
) -> Edge | None:
    """The moment at which drive torque is cut.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    traces : Traces
        The signal that commands the cut beats the engine's answer to it.
    motion : Motion
        Where the car stopped pulling tells how far before the fall to look.
    fall : Fall
        The fall into the next gear.
    earliest_s : float
        The gear before was not yet in earlier than this. [s]
    slips : bool
        True behind a converter, whose box shifts without a cut: the gear channel's step or engine speed's bend marks it.

    Returns
    -------
    Edge or None
        None where nothing marks it.
    """
    if slips:
        return _commanded_by_box(engine, traces, fall, earliest_s)
    lost_s = find_lost_pull(motion, before_s=fall.middle_s, earliest_s=earliest_s)
    commanded = find_commanded_cut(traces, fall_s=fall.middle_s, earliest_s=earliest_s, lost_s=lost_s)
    if commanded is not None:
        return commanded
    if lost_s is None or fall.middle_s - lost_s < QUICK_S:
        return find_kink(engine, earliest_s=max(fall.middle_s - QUICK_S, earliest_s), latest_s=fall.middle_s)
    kink = find_kink(engine, earliest_s=max(lost_s - LOST_BLUR_S, earliest_s), latest_s=fall.middle_s)
    if kink is None:
        return Edge(lost_s - 0.5 * LOST_BLUR_S, LOST_BLUR_S, "acceleration")
    return Edge(kink.time_s - LIFT_TO_KINK_S, float(np.hypot(kink.plus_minus_s, LIFT_TO_KINK_S)), "engine_speed")


def _commanded_by_box(engine: EngineSpeed, traces: Traces, fall: Fall, earliest_s: float) -> Edge | None:
    """An automatic box's command: a step up of its gear channel, else so long before engine speed bends."""
    kink = find_kink(engine, earliest_s=max(fall.middle_s - CONVERTER_FALL_S, earliest_s), latest_s=fall.middle_s)
    gear = traces.get("gear")
    if gear is not None:
        near = gear.known.within(max(fall.middle_s - CLUTCH_FILL_S, earliest_s), fall.middle_s)
        up = np.flatnonzero(np.diff(near.values) > 0.5)
        if up.size:
            step_s = float(near.time_s[up[-1] + 1] - near.time_s[up[-1]])
            return Edge(float(near.time_s[up[-1] + 1]) - 0.5 * step_s, 0.5 * step_s + 0.02, "gear")
    if kink is None:
        return None
    return Edge(kink.time_s - COMMAND_S, float(np.hypot(kink.plus_minus_s, COMMAND_PLUS_MINUS_S)), "engine_speed")


def find_lost_pull(motion: Motion, *, before_s: float, earliest_s: float) -> float | None:
    """When the car stopped pulling for a shift: its acceleration fell to half and stayed there until the engine's fall.

    Parameters
    ----------
    motion : Motion
        On the engine speed's clock.
    before_s : float
        The fall into the next gear. [s]
    earliest_s : float
        How far back to look. [s]

    Returns
    -------
    float or None
        None where the car pulled on until then, or its acceleration is not known well enough. [s]
    """
    inside = (motion.time_s >= max(earliest_s, before_s - LONGEST_SHIFT_S)) & (motion.time_s <= before_s)
    time_s, pull = motion.time_s[inside], motion.acceleration_mps2[inside]
    if time_s.size < 10:
        return None
    usual = float(np.quantile(pull, 0.8))
    if not usual > LEAST_PULL_MPS2:
        return None
    pulls = np.flatnonzero(pull > 0.5 * usual)
    last = int(pulls[-1])
    return None if last >= time_s.size - 2 else float(time_s[last])


def find_kink(engine: EngineSpeed, *, earliest_s: float, latest_s: float) -> Edge | None:
    """Where engine speed first bends down from its trend.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    earliest_s, latest_s : float
        Where to look. [s]

    Returns
    -------
    Edge or None
        None where it keeps to its trend.

    Notes
    -----
    The slope ahead less the slope of the last tenth of a second shows the bend; a broken line, its second leg rounded by
    the pick-up's lag, is fitted about it and the break that fits best stands.
    """
    t, y = engine.time_s - PICKUP_LATENCY_S, engine.rpm
    ahead_s = max(0.02, 1.5 * engine.step_s)
    for index in np.flatnonzero((t >= earliest_s) & (t <= latest_s)):
        behind = local_line(t, y, start_s=t[index] - 0.12, stop_s=t[index] + 1e-6, at_s=t[index])
        beyond = local_line(t, y, start_s=t[index] - 1e-6, stop_s=t[index] + ahead_s, at_s=t[index])
        if behind is None or beyond is None or behind.samples < 3:
            continue
        doubt = 4.0 * engine.noise_rpm / ahead_s
        if behind.slope - beyond.slope > max(KINK_RPM_PER_S, doubt):
            return _fit_break(t, y, seen_s=float(t[index]), ahead_s=ahead_s, step_s=engine.step_s)
    return None


def _fit_break(t: FloatArray, y: FloatArray, *, seen_s: float, ahead_s: float, step_s: float) -> Edge:
    near = (t > seen_s - TREND_S) & (t <= seen_s + 1.5 * ahead_s)
    t, y = t[near], y[near]
    tried = np.arange(seen_s - max(0.015, step_s), seen_s + 1.2 * ahead_s, 0.001)
    cost = np.full(tried.size, np.inf)
    for index, start_s in enumerate(tried):
        since = np.maximum(t - start_s, 0.0)
        bent = since - PICKUP_LAG_S * (1.0 - np.exp(-since / PICKUP_LAG_S))
        design = np.stack([np.ones_like(t), t - seen_s, bent], axis=1)
        fit, *_ = np.linalg.lstsq(design, y, rcond=None)
        if fit[2] < 0:
            cost[index] = float(((y - design @ fit) ** 2).sum())
    best = float(tried[int(np.argmin(cost))]) if np.isfinite(cost).any() else seen_s
    return Edge(best, float(np.hypot(EDGE_PLUS_MINUS_S, 0.5 * step_s)), "engine_speed")


def find_carry(engine: EngineSpeed, next_gear_rpm: FloatArray, *, fall: Fall) -> Edge:
    """The moment at which the next gear carries: engine speed, falling, meets the wheels' speed in that gear.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    next_gear_rpm : array, shape (n,)
        What the engine would turn in the next gear at each sample's true time. [rpm]
    fall : Fall
        The fall into the next gear.

    Returns
    -------
    Edge
        Where the two never meet (a clutch that goes on slipping), where engine speed stops falling.
    """
    sharp = engine.sharpened()
    t, above = sharp.time_s, sharp.rpm - next_gear_rpm
    inside = (t[1:] > fall.middle_s - 0.03) & (t[1:] < fall.bottom_s + 0.03)
    met = np.flatnonzero((above[:-1] > 0) & (above[1:] <= 0) & inside)
    moment = fall.bottom_s - PICKUP_LATENCY_S - PICKUP_LAG_S
    if met.size:
        index = int(met[0])
        moment = float(t[index] + (t[index + 1] - t[index]) * above[index] / (above[index] - above[index + 1]))
    return Edge(moment, float(np.hypot(CARRY_PLUS_MINUS_S, 0.5 * engine.step_s)), "engine_speed")


def find_takeover(engine: EngineSpeed, fall: Fall) -> Edge:
    """The moment at which the next gear of a converter's box has taken over: engine speed's fall lets up.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    fall : Fall
        The fall into the next gear.

    Returns
    -------
    Edge
        After it the engine only creeps down with the converter's slip.
    """
    steep = slope(engine.rpm, step_s=engine.step_s, span_s=max(0.05, 3 * engine.step_s))
    t = engine.true_time_s
    inside = np.flatnonzero((t > fall.middle_s - FALL_S) & (t < fall.bottom_s))
    if inside.size == 0:
        return Edge(fall.bottom_s - PICKUP_LATENCY_S - PICKUP_LAG_S, TAKEOVER_PLUS_MINUS_S, "engine_speed")
    steepest = int(inside[np.argmin(steep[inside])])
    easing = np.flatnonzero(steep[steepest:] > EASED * steep[steepest])
    last = steepest + int(easing[0]) if easing.size else steepest
    return Edge(float(t[last]), TAKEOVER_PLUS_MINUS_S, "engine_speed")
