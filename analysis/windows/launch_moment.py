"""The moment of first forward motion, from everything that shows it: accelerometer, engine, wheels, GPS.

Each kind of evidence is late in its own way; what is known of that is taken off, the rest is its plus-minus.

Public: `LaunchMoment`, `find_launch_moment`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.despiking import despike
from passband.analysis.sensors.forward_axis import forward_acceleration
from passband.analysis.sensors.priors import (
    ACCELEROMETER_AT_LAUNCH,
    ENGINE_AT_LAUNCH,
    FLARE_AT_LAUNCH,
    GPS_AT_LAUNCH,
    GPS_WAKES_MPS,
    PICKUP_DELAY_S,
    TIRE_AT_LAUNCH,
    WHEEL,
    WHEEL_AT_LAUNCH,
    WHEEL_COUNTED,
    WHEEL_WAKES_MPS,
    Lateness,
)
from passband.analysis.sensors.teeth import find_first_teeth
from passband.analysis.statistics.filters import own_updates
from passband.analysis.statistics.fits import spread
from passband.analysis.statistics.intervals import find_true_runs
from passband.analysis.windows.two_step import ripple_end

MOTION_AFTER_RELEASE_S = 0.022
"""From the first push to the first motion worth the name: at 1 g a car has moved two millimetres by then. [s]"""
OTHER_CLOCK_SIGMA_S = 0.008
"""What is open of another log's clock. [s]"""
MODEL_SIGMA_S = 0.012
"""Deviation of "first motion" itself: no two launches begin alike. [s]"""
ENGINE_REACH_S = 0.7
"""How far from where the launch is thought to be the engine's departure is looked for. [s]"""
STEADY_S, STEADY_RIPPLE = 0.5, 0.04
"""A two-step or a stall holds engine speed for so long, within this share. [s], [-]"""
LEAST_DEPARTURE_RPM = 60.0
"""Engine speed off its level by less is ripple. [rpm]"""
RIPPLES_FOR_S, SPEED_LATE_S, SLOW_PERIOD_S = 1.2, 0.6, 0.4
"""How long a two-step's ripple is looked at; how late the speed may be that found the launch, beside its period: its
own lateness, and the time that it takes to be told from rest; and the period from which it tells too little of when.
[s]"""
SIGNS_WITHIN_S = 2.5
"""No sign of a launch lies further from where it was found: a receiver of one value a second finds it two of them late.
What lies further is the creep into the stage, or a hold before it. [s]"""
TEETH_HIDE_S, FEW_TEETH_HIDE_S = 0.1, 0.45
"""Tires may have turned so long before they are seen to: as they go 5 cm at 1 g; and counted by four studs, a metre.
[s]"""
PAUSE_S = 0.2
"""Driven tires that stand for less have not come to rest: shafts that wind up stop them for a moment. [s]"""
WHEEL_UNDER_WAY_MPS, GPS_UNDER_WAY_MPS = 2.0, 3.0
"""A car whose speed stays above this, by an undriven wheel or by GPS, is under way; by driven tires from
`TIRE_WAKES_MPS` on. [m/s]"""
SHAFT_MPS_PER_RPM = 1.0 / 120.0
"""What a driveshaft's speed is as the tires', about: 4 : 1 on 2 m. When they begin to turn hardly goes by it. [m/s
per rpm] By arithmetic."""
STAYS_S = 0.3
"""So long it must stay there. [s]"""
LET_GO_LATE_S, LET_GO_SIGMA_S, LET_GO_BEFORE_S = 0.05, 0.06, 0.15
"""How late a ripple ends, and what is open of it: some limiters hold on while the clutch bites. An engine that departs
later than this after it does so under way. [s]"""
TIRE_WAKES_MPS = 1.0
"""The line through a driven tire's first speeds begins here, for there is nothing else. [m/s]"""
TIRES_EARLY_S = 0.25
"""Driven tires that turn by this sooner than the car is seen to move show its launch: at half a g it has gone 15 cm by
then, and a wheel with four teeth passes one each half metre. [s]"""
TIRES_BEFORE_S = 1.0
"""Longer than this is a burnout against the brakes. [s]"""
REST_BEFORE_S = 0.5
"""They had been at rest for so long. [s]"""
ONSET_SHARE = 0.15
"""The rise of acceleration is taken where it passes this share of what it comes to. [-]"""
BENT_TO = 2.0
"""Whether speed left rest in a line or bent is told up to so many times the higher of its first speeds. [-]"""
BENT_OPEN = 0.3
"""Deviation of what that moves the start by, over it. [-] By hand."""
RISEN_SHARE = 0.6
"""Acceleration that has come to this share of its plateau is the launch, not a jerk before it. [-]"""

PUSHED_MPS2 = 2.5
"""A car that is pushed so hard is under way, whatever its wheels read: one that the launch lifts off the ground hardly
turns until it lands, seconds later. [m/s2] As for wheels in the air (`motion/lifted_wheels.py`)."""
PUSHED_OVER_S = 0.2
"""In means over so long. [s]"""
PUSH_PAUSES_S = 0.4
"""With no longer pause, a shift. [s]"""
PUSHED_MPS = 4.0
"""Until it has gained so much. [m/s] As for wheels in the air."""
PUSHED_WITHIN_S, RESTS_S = 5.0, 2.0
"""How far back a push is followed, and how long rest before it is looked at. [s], [s]"""


@dataclass(frozen=True, slots=True)
class LaunchMoment:
    """First forward motion and what it rests on."""

    time_s: float
    """[s, log]"""
    plus_minus_s: float
    """95 % half-width. [s]"""
    evidence: tuple[str, ...]
    """Channels used."""


@dataclass(frozen=True, slots=True)
class _Sign:
    name: str
    time_s: float
    sigma_s: float
    log: int
    beside: tuple[str, ...] = ()
    """Channels that are in it too."""
    counted: bool = False
    """Whether it is of a wheel's first teeth."""


def find_launch_moment(
    traces: Traces,
    *,
    near_s: float,
    undriven: tuple[str, ...],
    driven: tuple[str, ...],
    main_log: int = 0,
    converter: bool = False,
) -> LaunchMoment:
    """Find the first forward motion near a launch known to some tenths of a second.

    Parameters
    ----------
    traces : Traces
        All channels on one clock.
    near_s : float
        Roughly when: no more than 0.4 s off. [s]
    undriven, driven : tuple of str
        Channels that show ground speed without slip, and those of the driven tires.
    main_log : int
        The log whose clock the traces are on.
    converter : bool
        True behind a torque converter: the engine climbs from its stall.

    Returns
    -------
    LaunchMoment
        `near_s` give or take 0.3 s where nothing shows more.

    Notes
    -----
    The signs are weighed by one over their variance; what the signs of another log share (its clock) counts once.
    """
    acceleration = forward_acceleration(traces.channels)
    if (shaft := traces.get("driveshaft_speed")) is not None:
        turning = replace(shaft, values=SHAFT_MPS_PER_RPM * shaft.values, unit="m/s")
        traces = Traces(tuple(turning if channel is shaft else channel for channel in traces))
        driven = (*driven, shaft.name)
    # A launch known to half a second is first brought nearer by the push, which is felt at once.
    near_s = _pushed_from(acceleration, near_s)
    first = _from_acceleration(acceleration, near_s, reach_s=1.0)
    near_s = first.time_s if first is not None else near_s
    let_go = _let_go(traces, near_s, undriven) if first is None else None
    near_s = let_go.time_s if let_go is not None else near_s
    turned = None if first is not None or let_go is not None else _tires_turned(traces, near_s, driven)
    if turned is not None:
        near_s, undriven = turned.time_s, tuple(name for name in undriven if name == "gps_speed")
    pushed = _from_acceleration(acceleration, near_s, reach_s=0.45)
    signs = [
        sign
        for sign in [
            pushed,
            turned,
            *_signs(
                traces,
                near_s,
                undriven,
                converter,
                let_go=let_go is not None or first is not None,
                felt=pushed is not None,
            ),
        ]
        if sign is not None
    ]
    if let_go is not None:
        # An engine that leaves its level long after its ripple has ended does so for the clutch, under way.
        later = let_go.time_s + LET_GO_BEFORE_S
        signs = [let_go, *(sign for sign in signs if sign.name != let_go.name or sign.time_s < later)]
    if all(sign.name in ("engine_speed", "gps_speed") for sign in signs):
        wheels = tuple(name for name in driven if shaft is None or name != shaft.name)
        signs += [sign for sign in _tire_signs(traces, near_s, wheels) if sign is not None]
    under_way_s = _under_way_s(traces, near_s, undriven, driven)
    signs = [
        sign
        for sign in signs
        if sign.time_s - sign.sigma_s < under_way_s and abs(sign.time_s - near_s) < SIGNS_WITHIN_S
    ]
    if not signs and shaft is not None:
        signs = [sign for sign in _tire_signs(traces, near_s, (shaft.name,)) if sign is not None]
    signs = _without_outliers(signs)
    if not signs:
        return LaunchMoment(near_s, 0.3, ())
    groups = []
    for log in sorted({sign.log for sign in signs}):
        own = [sign for sign in signs if sign.log == log]
        weight = sum(sign.sigma_s**-2 for sign in own)
        mean = sum(sign.time_s * sign.sigma_s**-2 for sign in own) / weight
        groups.append((mean, 1 / weight + (OTHER_CLOCK_SIGMA_S**2 if log != main_log else 0.0)))
    weight = sum(1 / variance for _, variance in groups)
    moment = sum(mean / variance for mean, variance in groups) / weight
    apart = max(1.0, _misfit(signs, moment))
    evidence = dict.fromkeys(name for sign in signs for name in (sign.name, *sign.beside))
    return LaunchMoment(moment, 2 * (apart**2 / weight + MODEL_SIGMA_S**2) ** 0.5, tuple(evidence))


def _pushed_from(channel: Channel | None, near_s: float) -> float:
    """Since when the car had been pushed, where it was well under way before the speed that found the launch. [s]."""
    if channel is None:
        return near_s
    near = channel.known.within(near_s - PUSHED_WITHIN_S - RESTS_S, near_s)
    before = near.values[near.time_s < near_s - PUSHED_WITHIN_S]
    if before.size < 4 or near.time_s.size < 12:
        return near_s
    push = near.values - float(np.median(before))
    step_s = float(np.median(np.diff(near.time_s)))
    over = max(round(PUSHED_OVER_S / step_s), 1)
    pushed = np.flatnonzero(np.convolve(push, np.full(over, 1.0 / over), "same") > PUSHED_MPS2)
    if not pushed.size or near_s - near.time_s[pushed[-1]] > PUSH_PAUSES_S:
        return near_s
    pauses = np.flatnonzero(np.diff(near.time_s[pushed]) > PUSH_PAUSES_S)
    begun = int(pushed[pauses[-1] + 1 if pauses.size else 0])
    gained_mps = float(np.sum(push[begun:])) * step_s
    return float(near.time_s[begun]) if gained_mps > PUSHED_MPS else near_s


def _misfit(signs: list[_Sign], moment_s: float) -> float:
    """How far signs lie from their mean over what they allow: where they contradict each other, more is open."""
    off = np.array([(sign.time_s - moment_s) / float(np.hypot(sign.sigma_s, MODEL_SIGMA_S)) for sign in signs])
    return float(np.sqrt(np.sum(off**2) / max(off.size - 1, 1)))


def _let_go(traces: Traces, near_s: float, undriven: tuple[str, ...]) -> _Sign | None:
    """Where the two-step lets go, looked for as far back as the speed that found the launch may be late."""
    engine, period_s = traces.get("engine_speed"), _slow_period_s(traces, undriven)
    if engine is None or not period_s:
        return None
    end = ripple_end(engine, first_s=near_s - SPEED_LATE_S - period_s - RIPPLES_FOR_S, last_s=near_s + ENGINE_REACH_S)
    if end is None:
        return None
    sigma = float(np.hypot(end.sigma_s, LET_GO_SIGMA_S))
    return _Sign(engine.name, end.time_s - PICKUP_DELAY_S - LET_GO_LATE_S + MOTION_AFTER_RELEASE_S, sigma, engine.log)


def _tires_turned(traces: Traces, near_s: float, driven: tuple[str, ...]) -> _Sign | None:
    """When the driven tires began to turn, where that is long before the speed that found the launch.

    Tires that turn push, and an undriven wheel of few teeth reads nothing for its first part of a turn.
    """
    for name in driven:
        if (channel := traces.get(name)) is None:
            continue
        near = channel.known.within(near_s - TIRES_BEFORE_S - REST_BEFORE_S, near_s)
        turns = _without_pauses(near.time_s, near.values > TIRE_WAKES_MPS)
        if near.time_s.size < 12 or not turns[-1] or turns.all():
            continue
        last = int(np.flatnonzero(~turns)[-1])
        before_s, after_s = float(near.time_s[last]), float(near.time_s[last + 1])
        rest = near.values[(near.time_s > before_s - REST_BEFORE_S) & (near.time_s <= before_s)]
        if TIRES_EARLY_S < near_s - after_s < TIRES_BEFORE_S and bool(np.all(rest < TIRE_WAKES_MPS)):
            line = _from_speed(channel, after_s, (TIRE_WAKES_MPS, 2.5 * TIRE_WAKES_MPS), TIRE_AT_LAUNCH)
            return _no_sooner(line, before_s)
    return None


def _no_sooner(sign: _Sign | None, rested_until_s: float) -> _Sign | None:
    """A line through the first speeds that is not carried back past when tires were last seen at rest, teeth allowed.

    Tires that leap and then hardly gain would have begun long before.
    """
    if sign is None:
        return None
    hide_s = FEW_TEETH_HIDE_S if sign.counted else TEETH_HIDE_S
    return replace(sign, time_s=max(sign.time_s, rested_until_s - hide_s))


def _without_pauses(time_s: FloatArray, turns: BoolArray) -> BoolArray:
    """Tires that turn, what is too short for a rest taken for turning."""
    out = turns.copy()
    for rest in find_true_runs(~turns):
        last = min(rest.stop, time_s.size - 1)
        if rest.start > 0 and time_s[last] - time_s[rest.start - 1] < PAUSE_S:
            out[rest.start : rest.stop] = True
    return out


def _under_way_s(traces: Traces, near_s: float, undriven: tuple[str, ...], driven: tuple[str, ...]) -> float:
    """The latest that the car can have begun to move: when a speed has come to stay above what rest shows.

    Driven tires are asked where nothing else shows it: against the brakes they turn before.
    """
    by_ground = [
        _stays_above(traces.get(name), near_s, GPS_UNDER_WAY_MPS if name == "gps_speed" else WHEEL_UNDER_WAY_MPS)
        for name in undriven
    ]
    latest = min(by_ground, default=np.inf)
    if latest < np.inf:
        return latest
    return min(_stays_above(traces.get(name), near_s, TIRE_WAKES_MPS) for name in driven)


def _stays_above(channel: Channel | None, near_s: float, least_mps: float) -> float:
    """When a speed first comes to stay above a level; infinite where it does not."""
    if channel is None:
        return float("inf")
    near = channel.known.within(near_s - REST_BEFORE_S, near_s + 2.5)
    for piece in find_true_runs(near.values > least_mps):
        last = min(piece.stop, near.time_s.size - 1)
        if piece.start > 0 and near.time_s[last] - near.time_s[piece.start] > STAYS_S:
            return float(near.time_s[piece.start])
    return float("inf")


def _slow_period_s(traces: Traces, undriven: tuple[str, ...]) -> float:
    """Period of the speed that found the launch where it tells too little of when, s; else 0."""
    speeds = [channel for name in undriven if (channel := traces.get(name)) is not None]
    period_s = min((1.0 / max(channel.rate_hz, 0.5) for channel in speeds), default=0.0)
    return period_s if period_s >= SLOW_PERIOD_S else 0.0


def _signs(
    traces: Traces, near_s: float, undriven: tuple[str, ...], converter: bool, *, let_go: bool, felt: bool
) -> list[_Sign | None]:
    more_s = 0.0 if let_go else _slow_period_s(traces, undriven)
    by_gps = traces.get("gps_speed") if "gps_speed" in undriven else None
    wheels = [
        _from_wheel(traces.get(name), near_s, WHEEL_AT_LAUNCH, WHEEL_WAKES_MPS, fed_in=not felt)
        for name in undriven
        if name != "gps_speed"
    ]
    together = _together([wheel for wheel in wheels if wheel is not None])
    # A wheel of few teeth that found the launch did so late: the engine left its hold about when its teeth say.
    engine_near_s = min(near_s, together.time_s) if together is not None and together.counted else near_s
    return [
        _from_engine(traces.get("engine_speed"), engine_near_s, converter, reach_s=ENGINE_REACH_S + more_s),
        _from_speed(by_gps, near_s, (GPS_WAKES_MPS, 2.5 * GPS_WAKES_MPS), GPS_AT_LAUNCH),
        together,
    ]


def _from_wheel(
    channel: Channel | None, near_s: float, late: Lateness, low_mps: float, *, slips: bool = False, fed_in: bool = True
) -> _Sign | None:
    """The line through its first speeds, or, counted by few teeth, its first value less what these took to pass."""
    teeth = None if channel is None else find_first_teeth(channel, near_s, slips=slips)
    if channel is None or teeth is None:
        return _from_speed(channel, near_s, (low_mps, 2.5 * low_mps), late, fed_in=fed_in)
    late_s = late.late_s - WHEEL.late_s + WHEEL_COUNTED.late_s
    sigma = float(np.hypot(np.hypot(late.sigma_s, teeth.sigma_s), 0.3 / max(channel.rate_hz, 0.5)))
    return _Sign(channel.name, teeth.moved_s - late_s, sigma, channel.log, counted=True)


def _together(wheels: list[_Sign]) -> _Sign | None:
    """Wheels of one axle as one sign, so that two do not outvote another; counted by the same teeth they err alike."""
    if len(wheels) < 2:
        return wheels[0] if wheels else None
    best = min(wheels, key=lambda wheel: wheel.sigma_s)
    weights = np.array([wheel.sigma_s**-2 for wheel in wheels])
    mean = float(weights @ np.array([wheel.time_s for wheel in wheels]) / weights.sum())
    alike = any(wheel.counted for wheel in wheels)
    sigma = best.sigma_s if alike else float(weights.sum() ** -0.5)
    beside = tuple(wheel.name for wheel in wheels if wheel is not best)
    return replace(best, time_s=mean, sigma_s=sigma, beside=beside)


def _tire_signs(traces: Traces, near_s: float, driven: tuple[str, ...]) -> list[_Sign | None]:
    return [
        _no_sooner(
            _from_wheel(channel, near_s, TIRE_AT_LAUNCH, TIRE_WAKES_MPS, slips=True), _at_rest_until(channel, near_s)
        )
        for name in driven
        if (channel := traces.get(name)) is not None
    ]


def _at_rest_until(channel: Channel, near_s: float) -> float:
    """When tires near a launch were last slower than is told from rest."""
    near = channel.known.within(near_s - REST_BEFORE_S, near_s + REST_BEFORE_S)
    rests = near.time_s[near.values < TIRE_WAKES_MPS]
    return float(rests[-1]) if rests.size else -np.inf


def _without_outliers(signs: list[_Sign]) -> list[_Sign]:
    """Signs that agree with what the others say together; of those that do not the one furthest off goes first.

    A push that is felt before any speed is seen is none of them: speeds are told from rest late, never early, and
    all of them for the same want of teeth or of a receiver's attention. For the same reason of two speeds the later one
    goes.
    """
    left = list(signs)
    while len(left) > 2:
        off = [_off(sign, [other for other in left if other is not sign]) for sign in left]
        if max(off) < 1.0:
            break
        felt = min(left, key=lambda sign: sign.time_s)
        if felt.name == "acceleration":
            off[left.index(felt)] = 0.0
        left.pop(off.index(max(off)))
    if len(left) == 2 and all("speed" in sign.name and sign.name != "engine_speed" for sign in left):
        first, second = sorted(left, key=lambda sign: sign.time_s)
        left = left if _off(second, [first]) < 1.0 else [first]
    return left


def _off(sign: _Sign, others: list[_Sign]) -> float:
    """How far a sign lies from the others' mean, as a share of what three deviations would let it."""
    weight = sum(other.sigma_s**-2 for other in others)
    mean = sum(other.time_s * other.sigma_s**-2 for other in others) / weight
    return abs(sign.time_s - mean) / (3 * float(np.hypot(sign.sigma_s, weight**-0.5)) + MODEL_SIGMA_S)


def _from_acceleration(channel: Channel | None, near_s: float, *, reach_s: float) -> _Sign | None:
    if channel is None:
        return None
    near = channel.known.within(near_s - reach_s - 0.9, near_s + 0.8)
    before = near.values[near.time_s < near_s - reach_s]
    if before.size < 4 or near.time_s.size < 12:
        return None
    rest, noise = float(np.median(before)), spread(before)
    after = near.within(near_s - 0.1, near_s + 0.6).values
    rise = float(np.percentile(after, 75)) - rest if after.size else 0.0
    if rise < max(1.5, 8 * noise):
        return None
    share = (near.values - rest) / rise
    risen = np.flatnonzero((share > RISEN_SHARE) & (near.time_s > near_s - reach_s))
    if risen.size == 0:
        return None
    onset = max(ONSET_SHARE, 4 * noise / rise)
    below = np.flatnonzero(share[: risen[0]] < onset)
    if below.size == 0:
        return None
    crossed = _cross(near.time_s, share, int(below[-1]), onset)
    sigma = float(np.hypot(ACCELEROMETER_AT_LAUNCH.sigma_s, 0.2 * np.median(np.diff(near.time_s))))
    # At a seventh of its rise the car has had power for some 12 ms.
    return _Sign(
        channel.name, crossed - ACCELEROMETER_AT_LAUNCH.late_s - 0.012 + MOTION_AFTER_RELEASE_S, sigma, channel.log
    )


def _cross(time_s: FloatArray, values: FloatArray, below: int, level: float) -> float:
    """When a signal passes a level on its way up between sample `below` and the next."""
    low, high = float(values[below]), float(values[below + 1])
    share = (level - low) / (high - low) if high > low else 0.0
    return float(time_s[below] + share * (time_s[below + 1] - time_s[below]))


def _from_engine(channel: Channel | None, near_s: float, converter: bool, *, reach_s: float) -> _Sign | None:
    """Engine speed leaves the two-step, or the converter's stall, as the car is let go."""
    if channel is None:
        return None
    near = channel.known.within(near_s - reach_s - STEADY_S, near_s + ENGINE_REACH_S)
    rpm = despike(near.time_s, near.values)
    sound = np.isfinite(rpm)
    time, rpm = near.time_s[sound], rpm[sound]
    if time.size < 12:
        return None
    step = float(np.median(np.diff(time)))
    steady, apart, hold = round(STEADY_S / step), max(round(0.08 / step), 1), max(round(0.05 / step), 2)
    count = time.size - hold - steady - apart
    if count < 1:
        return None
    before = sliding_window_view(rpm, steady)[:count]
    level = np.median(before, axis=1)
    ripple = np.abs(before - level[:, None]).max(axis=1)
    least = np.maximum(1.3 * ripple, LEAST_DEPARTURE_RPM)
    away = sliding_window_view(rpm, hold)[steady + apart :][:count] - level[:, None]
    leaves = (away * np.sign(away[:, :1]) > least[:, None]).all(axis=1) & (ripple < STEADY_RIPPLE * level)
    if not leaves.any():
        return None
    at = int(np.argmax(leaves))
    late = FLARE_AT_LAUNCH if away[at, 0] > 0 and not converter else ENGINE_AT_LAUNCH
    size = np.abs(rpm - level[at])
    return _departure(channel, time, size, steady + apart + at, float(least[at]), late=late)


def _departure(
    channel: Channel, time: FloatArray, size: FloatArray, index: int, least: float, *, late: Lateness
) -> _Sign | None:
    """The start of a departure known to be past `least` at a sample; how late it is, and the deviation."""
    twice = np.flatnonzero(size[index:] > 2 * least)
    if twice.size == 0:
        return None
    first = _cross(time, size, index - 1, least) if size[index - 1] < least else float(time[index])
    second = _cross(time, size, index + int(twice[0]) - 1, 2 * least) if twice[0] > 0 else first
    lead = min(max(second - first, 0.0), 0.08)
    step = float(np.median(np.diff(time)))
    sigma = float(np.hypot(np.hypot(late.sigma_s, 0.3 * step), 0.4 * lead))
    return _Sign(channel.name, first - lead - late.late_s + MOTION_AFTER_RELEASE_S, sigma, channel.log)


def _from_speed(
    channel: Channel | None, near_s: float, between_mps: tuple[float, float], late: Lateness, *, fed_in: bool = False
) -> _Sign | None:
    """The straight line through two speeds, carried down to rest, less the sensor's delay.

    Where a clutch may have been fed in slowly, what the speed does next tells how far it had bent: asked where nothing
    feels the push itself.
    """
    if channel is None:
        return None
    known, period = channel.known, 1 / max(channel.rate_hz, 0.5)
    keep = own_updates(known.time_s, known.values, rate_hz=known.rate_hz)
    more = period if period > SLOW_PERIOD_S else 0.0
    near = replace(known, time_s=known.time_s[keep], values=known.values[keep]).within(
        near_s - 0.6 - more, near_s + 2.5 + more
    )
    if near.time_s.size < 4 or not near.values.size or near.values[0] > between_mps[0]:
        return None
    crossings = []
    for level in between_mps:
        above = np.flatnonzero(near.values > level)
        if above.size == 0 or above[0] == 0:
            return None
        crossings.append(_cross(near.time_s, near.values, int(above[0]) - 1, level))
    low, high = between_mps
    if crossings[1] - crossings[0] < 1e-6:
        return None
    rest = crossings[0] - low * (crossings[1] - crossings[0]) / (high - low)
    sooner_s = _bent_from_rest_s(near, between_mps, (crossings[0], crossings[1])) if fed_in else 0.0
    sigma = float(np.hypot(np.hypot(late.sigma_s, 0.3 * period), BENT_OPEN * sooner_s))
    return _Sign(channel.name, rest - sooner_s - late.late_s - 0.25 * min(period, 0.2), sigma, channel.log)


def _bent_from_rest_s(speed: Channel, between_mps: tuple[float, float], crossed_s: tuple[float, float]) -> float:
    """How much sooner than the line through its first speeds a car left rest whose pull rose from nothing, s.

    A pull that is there at once makes speed a line, one that rises evenly its square: which of them it is, or what
    between, tells when a third speed is passed.
    """
    (low, high), (first_s, second_s) = between_mps, crossed_s
    next_mps = BENT_TO * high
    above = np.flatnonzero((speed.values > next_mps) & (speed.time_s > second_s))
    if above.size == 0 or above[0] == 0:
        return 0.0
    third_s = _cross(speed.time_s, speed.values, int(above[0]) - 1, next_mps)
    gap_s = second_s - first_s
    by_line_s = second_s + gap_s * (next_mps - high) / (high - low)
    roots = np.sqrt([low, high, next_mps])
    by_square_s = second_s + gap_s * float((roots[2] - roots[1]) / (roots[1] - roots[0]))
    share = float(np.clip((by_line_s - third_s) / (by_line_s - by_square_s), 0.0, 1.0))
    return share * gap_s * float(roots[0] / (roots[1] - roots[0]) - low / (high - low))
