"""What a shift did to engine speed, boost and the car: figures of one shift whose edges are known.

Public: `rpm_before_shift`, `beyond_usual_s`, `lowest_rpm_of_shift`, `measure_boost_through`, `measure_cost`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.driveline.launch_hold import OWN_RPM
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import DEVICE, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.boost_trace import BoostTrace
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed, Line, local_line
from passband.analysis.sensors.priors import (
    PICKUP_DELAY_PLUS_MINUS_S,
    PICKUP_LAG_PLUS_MINUS_S,
    PICKUP_LATENCY_S,
)

TREND_S = 0.12
"""Engine speed before a shift is read off a line over this long: straight even in first gear. [s]"""
BOUNCES, BOUNCE_PLUS_MINUS = 2.0, 3.0
"""An engine that scatters about its line by so many times its sensor's noise bounces on a limiter: where in a bounce it
was let go is not seen, and the pick-up hides part of it. 95 % over the scatter, on simulated limiters. [-], [-]"""
EDGE_MADE = 0.5
"""One sample alone made the scatter where the others scatter by so much of it. [-] By arithmetic: of samples that all
bounce one fewer leaves it as it was."""
AFTER_S = 0.15
"""RPM after is the lowest engine speed until this long after the next gear carries, by definition. [s]"""
NEAR_END_S = 0.02
"""Half of what an end moved by this makes of RPM after is always open; where the end is less sure, all that it makes.
[s]"""
DRAGGED_S = 0.13
"""A shift over within this drags its engine down by dogs: through soft shafts the gear carries while they wind up,
before engine speed meets the wheels'. [s] By arithmetic: shafts that ring at 10 Hz with the crank take 25 ms for a
quarter of a swing, half of a shift of 50."""
DRAGGED_SHARE = 0.5
"""By up to that share of the shift. [-]"""
UNSEEN_SHARE = 0.09
"""Of the fall between two neighbouring samples, so much may hide between the last of them and the true lowest. [-]"""
SLOW_STEP_S = 0.03
"""Where samples lie further apart, the lowest point lies between two of them: a swing of 5 to 25 % of the fall is below
its middle for 20 to 35 ms, and samples 40 ms apart meet it or miss it. [s] By arithmetic."""
SLOW_SHARE = 0.06
"""Below the lower of them by this share of the fall before it. [-] By arithmetic."""
SLOW_UNSEEN_SHARE = 0.15
"""And by up to this share more or less. [-] By arithmetic."""
COPIED_SHARE, COPIED_LOWEST_SHARE = 0.006, 0.03
"""What another device's copy, at 10 to 25 Hz, leaves open of RPM before and of the lowest RPM. [-]"""
MOST_NOISY = 0.3
"""Where noise took a larger share of the samples before a shift, the wheels' speed through the gear stands in for them.
[-]"""
GEARED_SHARE = 0.012
"""It is good to this: slip and growth of the tires since the gear was last seen to carry. [-]"""
TOP_WITHIN_S = 0.05
"""Behind a converter engine speed tops out within so long of where the ratio begins to change. [s]"""
STILL_RISES = 0.004
"""It rises by less than this until then; more is a flare of an old gear that has let go. [-] By arithmetic: half of
1,500 rpm/s over 40 ms at 7,000 rpm."""
TOP_OPEN_S = 0.012
"""So near its highest its rise counts: the pick-up rounds it off. [s]"""
LATENCY_PLUS_MINUS_S = float(np.sqrt(PICKUP_DELAY_PLUS_MINUS_S**2 - PICKUP_LAG_PLUS_MINUS_S**2))
"""95 % half-width of the pick-up's pure delay alone. [s]"""
PICKUP_CAUSE = f"{DEVICE}: pick-up lag"
"""What the same pick-up and ECU make of every run alike."""
RECOVERED = 0.95
"""Boost is back when it is at this share of what it was. [-]"""
BOOST_WINDOW_S = 0.5
"""The lowest boost belongs to a shift until this long after its end. [s]"""
LEAST_COST_MPS = 3.0
"""Below this nobody changes gear: the motion is not what it seems. [m/s]"""
RING_S = 0.1
"""After the next gear carries the driveline rings for about so long: it still belongs to the shift's cost. [s]"""

BEFORE_UNSEEN = Unknown(
    Finding("shift-rpm-unseen", "note", "Fewer than two samples of engine speed lie just before the shift.")
)
AFTER_UNSEEN = Unknown(Finding("shift-rpm-unseen", "note", "Fewer than two samples of engine speed lie in the shift."))
NO_BOOST_THERE = Unknown(
    Finding("shift-boost-unseen", "note", "Boost was not recorded just before the shift, or not through it.")
)
NEVER_RECOVERED = Unknown(
    Finding("boost-not-back", "note", "Boost did not come back to 95 % of what it was before the shift.")
)
MOTION_UNSEEN = Unknown(
    Finding(
        "shift-cost-unseen",
        "note",
        "Motion is not known from 0.2 s before the shift to 0.3 s after it, or the car stood.",
    )
)
END_UNSEEN = Unknown(
    Finding("shift-cost-unseen", "note", "The run ends with the shift: nothing shows what it cost later.")
)
MOTION_BY_ENGINE = Unknown(
    Finding(
        "shift-cost-unseen",
        "note",
        "The car's motion was made from engine speed: through a shift it is a guess, not seen.",
    )
)


def rpm_before_shift(
    engine: EngineSpeed,
    start: Edge,
    *,
    geared_rpm: float | None = None,
    falls_by_s: float | None = None,
    most_lag_s: float | None = None,
) -> Estimate | Unknown:
    """Engine speed at the moment torque is cut, the pick-up's delay allowed for.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    start : Edge
        Where the shift starts.
    geared_rpm : float, optional
        What the wheels' speed asked of the engine then; it stands in where noise took most of the line's samples.
    falls_by_s : float, optional
        Behind a converter, where no cut ends the rise: when engine speed was surely falling. It was never higher than
        the highest sample until then. [s]
    most_lag_s : float, optional
        The longest lag that is open to the pick-up; its own unless told. [s]

    Returns
    -------
    Estimate or Unknown
        Unknown where fewer than two samples lie before. [rpm]

    Notes
    -----
    A line through the last `TREND_S` (longer on slow logs), drawn on to the start. Its scatter, and the half-widths
    of the start and of the delay, each times the slope, make the plus-minus.
    """
    span_s = max(TREND_S, 4.5 * engine.step_s)
    near = (engine.true_time_s >= start.time_s - span_s) & (engine.true_time_s <= start.time_s)
    if geared_rpm is not None and near.any() and float(np.mean(engine.noisy[near])) > MOST_NOISY:
        return Estimate(geared_rpm, GEARED_SHARE * geared_rpm)
    line = _line_before(engine, start, span_s)
    if line is None:
        return BEFORE_UNSEEN
    noise = 2.2 * max(line.scatter, engine.noise_rpm) / np.sqrt(line.samples)
    if line.scatter > BOUNCES * engine.noise_rpm:
        noise = BOUNCE_PLUS_MINUS * line.scatter
    timing = abs(line.slope) * 0.75 * start.plus_minus_s
    late = line.slope * _delay_open_s(engine, most_lag_s)
    hidden = _hidden(engine, start.time_s - span_s, start.time_s + PICKUP_LATENCY_S, COPIED_SHARE)
    value = line.value
    if falls_by_s is not None:
        change = (engine.true_time_s > start.time_s - span_s) & (engine.true_time_s < falls_by_s)
        value = min(value, float(engine.rpm[change].max())) if change.any() else value
        slow = engine.step_s > SLOW_STEP_S
        early_s, reach_s = (0.5 * engine.step_s, engine.step_s) if slow else (0.0, TOP_WITHIN_S)
        about = (engine.true_time_s > start.time_s - early_s) & (engine.true_time_s < start.time_s + reach_s)
        top = float(engine.rpm[about].max()) if about.any() else value
        if top < (1.0 + STILL_RISES) * value:  # the highest does not move with the start
            value, timing = max(value, top), abs(line.slope) * 0.75 * min(start.plus_minus_s, TOP_OPEN_S + early_s)
        elif slow:  # between samples so far apart the end of the pull and a flare out of it look alike
            timing = float(np.hypot(timing, top - value))
    return Estimate.parted(value, float(np.sqrt(noise**2 + timing**2 + hidden**2 + OWN_RPM**2)), {PICKUP_CAUSE: late})


def _line_before(engine: EngineSpeed, start: Edge, span_s: float) -> Line | None:
    """Engine speed's course up to the start; at a cut its last sample counts only on the course of those before it.

    A sample that stands on the very edge may have seen the fall's beginning: one such among 24 of a 200 Hz log made an
    engine pulling evenly one that bounces on a limiter. Without a cut the old gear lets go by and by.
    """

    def line(stop_s: float) -> Line | None:
        return local_line(
            engine.true_time_s, engine.rpm, start_s=start.time_s - span_s, stop_s=stop_s, at_s=start.time_s
        )

    whole_s = start.time_s - 0.5 * PICKUP_LATENCY_S
    whole = line(whole_s)
    if whole is None or whole.scatter <= BOUNCES * engine.noise_rpm or start.evidence != "shift_cut":
        return whole
    without = line(whole_s - engine.step_s)
    return without if without is not None and without.scatter <= EDGE_MADE * whole.scatter else whole


def _delay_open_s(engine: EngineSpeed, most_lag_s: float | None) -> float:
    """What is open of the pick-up's delay and lag together."""
    if engine.lag_measured:
        return 0.9 * float(np.hypot(LATENCY_PLUS_MINUS_S, engine.lag_plus_minus_s))
    return float(np.hypot(0.9 * PICKUP_DELAY_PLUS_MINUS_S, beyond_usual_s(engine, most_lag_s)))


def beyond_usual_s(engine: EngineSpeed, most_lag_s: float | None) -> float:
    """How much longer the pick-up's lag may be than a usual device's spread lets it.

    Parameters
    ----------
    engine : EngineSpeed
        With its lag.
    most_lag_s : float or None
        The longest that is open to it; None for its own. [s]

    Returns
    -------
    float
        0 where its spread is a usual one's, or less. [s]
    """
    longest_s = engine.longest_lag_s if most_lag_s is None else most_lag_s
    return max(longest_s - engine.lag_s - PICKUP_LAG_PLUS_MINUS_S, 0.0)


def lowest_rpm_of_shift(
    engine: EngineSpeed, start: Edge, end: Edge, *, most_lag_s: float | None = None
) -> Estimate | Unknown:
    """Lowest engine speed from the start of a shift until 150 ms after the next gear carries.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    start, end : Edge
        The shift.
    most_lag_s : float, optional
        The longest lag that is open to the pick-up; its own unless told. [s]

    Returns
    -------
    Estimate or Unknown
        Unknown where fewer than two samples lie within. [rpm]

    Notes
    -----
    The pick-up's lag is undone as far as the rate lets it. What the lag's spread over devices makes of the lowest
    point, what may hide between samples, noise, half of the step it is printed in, and how the window's end moves it
    make the plus-minus.
    """
    found = []
    most_lag_s = engine.longest_lag_s if most_lag_s is None else most_lag_s
    for lag_s in (engine.lag_s, max(engine.lag_s - engine.lag_plus_minus_s, 0.0), most_lag_s):
        sharp = engine.sharpened(lag_s)
        lowest = [
            _lowest(sharp.time_s, sharp.rpm, start.time_s, end.time_s + AFTER_S + by)
            for by in (0.0, *_ends_moved(start, end))
        ]
        if lowest[0] is None:
            return AFTER_UNSEEN
        found.append([value if value is not None else lowest[0] for value in lowest])
    value = found[0][0]
    less, more = (other[0] - value for other in found[1:])
    lag = float(np.copysign(max(abs(less), abs(more)), more or -less))
    near, far = (max(abs(other - value) for other in found[0][at : at + 2]) for at in (1, 3))
    window = max(0.5 * near, far, abs(found[0][5] - value))
    steepest = _steepest_before(engine, start.time_s, end.time_s + AFTER_S)
    slow = engine.step_s > SLOW_STEP_S
    unseen = (SLOW_UNSEEN_SHARE if slow else UNSEEN_SHARE) * steepest
    if slow:
        value -= SLOW_SHARE * steepest
    hidden = _hidden(engine, start.time_s, end.time_s + AFTER_S, COPIED_LOWEST_SHARE)
    own = (window, unseen, hidden, 2.0 * engine.noise_rpm, 0.5 * engine.printed_rpm)
    return Estimate.parted(value, float(np.sqrt(sum(part**2 for part in own))), {PICKUP_CAUSE: lag})


def _ends_moved(start: Edge, end: Edge) -> tuple[float, float, float, float, float]:
    """By how much the end of a shift may lie elsewhere: near it, as far as it is open, while shafts wind up. [s]."""
    open_s = end.plus_minus_s if end.plus_minus_s > NEAR_END_S else 0.0
    lasted_s = end.time_s - start.time_s
    winds_s = DRAGGED_SHARE * lasted_s if lasted_s < DRAGGED_S and not open_s else 0.0
    return -NEAR_END_S, NEAR_END_S, -open_s, open_s, -winds_s


def _lowest(time_s: FloatArray, rpm: FloatArray, start_s: float, stop_s: float) -> float | None:
    inside = (time_s >= start_s) & (time_s <= stop_s)
    return float(rpm[inside].min()) if inside.sum() >= 2 else None


def _steepest_before(engine: EngineSpeed, start_s: float, stop_s: float) -> float:
    """The greatest fall between neighbouring samples within two samples of the lowest one, in rpm.

    Of samples 40 ms apart the lowest may come after the swing: there any fall of the shift counts.
    """
    inside = np.flatnonzero((engine.true_time_s >= start_s) & (engine.true_time_s <= stop_s))
    lowest = int(inside[np.argmin(engine.rpm[inside])]) if inside.size else 0
    reach = lowest - int(inside[0]) + 1 if inside.size and engine.step_s > SLOW_STEP_S else 3
    near = engine.rpm[max(lowest - max(reach, 3), 0) : lowest + 1]
    return float(max(0.0, -np.diff(near).min())) if near.size > 1 else 0.0


def _hidden(engine: EngineSpeed, start_s: float, stop_s: float, copied_share: float) -> float:
    """What a copy's slow rate hides, and noise: a bridge may be off by half the step it spans; in rpm."""
    if stop_s > engine.copied_from_s:
        return copied_share * float(engine.rpm[-1])
    inside = engine.noisy & (engine.true_time_s >= start_s) & (engine.true_time_s <= stop_s)
    if not inside.any():
        return 0.0
    around = np.flatnonzero(inside)
    reach = engine.rpm[max(around[0] - 2, 0) : around[-1] + 3]
    return float(np.ptp(reach)) / 2.0


@dataclass(frozen=True, slots=True)
class BoostThrough:
    """Boost over a shift."""

    before_pa: float | Unknown
    """Gauge, the last 50 ms before the start. [Pa]"""
    lowest_pa: float | Unknown
    """From the start until 0.5 s after the end. [Pa]"""
    recovery_s: float | Unknown
    """From the end until it is back at 95 % of what it was. [s]"""


def measure_boost_through(boost: BoostTrace | Unknown, start_s: float, end_s: float) -> BoostThrough:
    """Boost before, its lowest, and how long until it is back.

    Parameters
    ----------
    boost : BoostTrace or Unknown
        Gauge boost.
    start_s, end_s : float
        The shift. [s]

    Returns
    -------
    BoostThrough
        Unknown in it where the record does not reach.
    """
    if isinstance(boost, Unknown):
        return BoostThrough(boost, boost, boost)
    known = boost.known
    time_s, value = known.time_s, known.boost_pa
    earlier = (time_s >= start_s - 0.05) & (time_s < start_s)
    inside = (time_s >= start_s) & (time_s <= end_s + BOOST_WINDOW_S)
    if not earlier.any() or not inside.any():
        return BoostThrough(NO_BOOST_THERE, NO_BOOST_THERE, NO_BOOST_THERE)
    before = float(value[earlier].mean())
    back = (time_s >= end_s) & (value >= before - (1 - RECOVERED) * abs(before))
    recovery = float(time_s[int(np.argmax(back))] - end_s) if back.any() else NEVER_RECOVERED
    return BoostThrough(before, float(value[inside].min()), recovery)


@dataclass(frozen=True, slots=True)
class Cost:
    """What a shift cost against an uninterrupted pull."""

    time_s: float | Unknown
    """Elapsed time. [s]"""
    speed_mps: float | Unknown
    """Speed. [m/s]"""
    at_finish_s: Estimate | Unknown
    """Elapsed time at the finish line. [s]"""


def measure_cost(motion: Motion, start_s: float, end_s: float, *, finish_s: float) -> Cost:
    """Speed and elapsed time that a shift cost against a pull that had gone on.

    Parameters
    ----------
    motion : Motion
        On the shift's clock.
    start_s, end_s : float
        The shift. [s]
    finish_s : float
        The finish line, or the lift of a run that ends with one. [s]

    Returns
    -------
    Cost
        Unknown in it where motion was made from engine speed, or does not reach from 0.2 s before to 0.3 s after, or
        the car all but stands.

    Notes
    -----
    The uninterrupted pull's acceleration goes straight from what it was before the shift to what it is after it. What
    is missing of it, summed once, is speed; summed twice and divided by the speed, time. A car that leaves the shift
    slower is late all the way on: at the same power it keeps its lack of v^3 / 3, which over distance is worth the
    integral of 1/v less 1/(v of the uninterrupted pull).
    """
    if motion.basis is SpeedBasis.ENGINE_SPEED:
        return Cost(MOTION_BY_ENGINE, MOTION_BY_ENGINE, MOTION_BY_ENGINE)
    before = (motion.time_s > start_s - 0.2) & (motion.time_s < start_s - 0.02)
    after = (motion.time_s > end_s + RING_S) & (motion.time_s < end_s + RING_S + 0.2)
    inside = (motion.time_s >= start_s) & (motion.time_s <= end_s + RING_S)
    if before.sum() < 5 or after.sum() < 5 or inside.sum() < 5:
        return Cost(MOTION_UNSEEN, MOTION_UNSEEN, MOTION_UNSEEN)
    if not float(motion.speed_mps[inside][-1]) > LEAST_COST_MPS:
        return Cost(MOTION_UNSEEN, MOTION_UNSEEN, MOTION_UNSEEN)
    t = motion.time_s[inside]
    first, last = (float(np.mean(motion.acceleration_mps2[part])) for part in (before, after))
    missing = first + (last - first) * (t - t[0]) / (t[-1] - t[0]) - motion.acceleration_mps2[inside]
    step = float(t[1] - t[0])
    speed = np.cumsum(missing) * step
    time_s, lost = float(np.sum(speed) * step) / float(motion.speed_mps[inside][-1]), float(speed[-1])
    if finish_s <= t[-1]:
        return Cost(time_s, lost, END_UNSEEN)
    slower = lost - last * time_s  # at the same place: the uninterrupted pull came by earlier, and so slower
    half_width = np.hypot(
        float(motion.speed_plus_minus_mps[inside][-1]),
        0.5
        * (t[-1] - t[0])
        * np.hypot(*(motion.acceleration_plus_minus_mps2[part].mean() for part in (before, after))),
    )
    value, more = (time_s + _later(motion, float(t[-1]), finish_s, by) for by in (slower, slower + float(half_width)))
    return Cost(time_s, lost, Estimate.parted(value, abs(more - value), {}))


def _later(motion: Motion, from_s: float, finish_s: float, slower_mps: float) -> float:
    """Time lost from a moment to the finish by having been so much slower there, power the same. [s]."""
    use = (motion.time_s >= from_s) & (motion.time_s <= finish_s)
    if use.sum() < 2:
        return 0.0
    speed = np.maximum(motion.speed_mps[use], LEAST_COST_MPS)
    lack = (speed[0] + slower_mps) ** 3 - speed[0] ** 3
    pulled = np.cbrt(np.maximum(speed**3 + lack, LEAST_COST_MPS**3))
    return float(np.trapezoid(1.0 - speed / pulled, motion.time_s[use]))
