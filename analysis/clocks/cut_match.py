"""Two logs laid over each other by torque cuts: the ECU knows of them, the other's accelerometer feels them.

The ECU shows a cut in engine speed, which leaves its course, and in its own cut flag or ignition where it logs them.
All are late by little, so cuts tell the offset of two clocks from the age of a copy sent between them.

Public: `EventLag`, `TorqueCuts`, `read_torque_cuts`, `measure_event_lag`, `CutMatch`, `match_by_cuts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Log, Traces
from passband.analysis.clocks.opinions import Opinion, settle
from passband.analysis.clocks.thrust_falls import (
    FEWEST_ROWS,
    SEARCH_S,
    TREND_S,
    find_engine_departure,
    find_thrust_falls,
)
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.cut_signals import find_commands
from passband.analysis.sensors.despiking import despike
from passband.analysis.sensors.forward_axis import forward_acceleration
from passband.analysis.statistics.filters import own_updates

PUSH_SIGMA_S = 0.0095
"""Standard deviation over cars and accelerometers of when a fall shows: dead times of 1 to 20 ms, filters of 3 to 80 Hz
of first or second order, values held for up to a sample; how long shafts unwind and tires hold on. [s]"""
DEPARTURE_SIGMA_S = 0.005
"""The same over pick-ups of when engine speed leaves its course: 1 to 12 ms and an averaging of 1 to 25 ms. [s]"""
PUSH_AFTER_COMMAND_S, COMMAND_SIGMA_S = 0.011, 0.006
"""How much later than the ECU's own flag or ignition a fall starts in an accelerometer's record, and the deviation: a
firing interval, the driveline unwinding, the accelerometer's delay, less the flag's own of 0 to 15 ms. [s]"""
EVENT_SIGMA_S, ENGINE_SAMPLES, PUSH_SAMPLES, PUSH_CURVE_PER_S = 0.0035, 0.1, 0.1, 2.5
"""What one event scatters even at high rates [s]; how many samples' time of engine speed and of push each adds [-];
and what a push seen too seldom hides of the fall's course, over its rate squared. Chosen on simulated runs. [1/s]"""
COMMAND_SAMPLES = 0.29
"""A flag turns anywhere between two samples: an even spread's deviation, in samples. [-]"""
WORKS_SHARE, PIECE_S, BESIDE_S = 0.5, 20.0, 1.5
"""The ECU's own cuts are looked for where the engine turns this share of its highest speed, in pieces so long and a
little beside them. [-], [s], [s]"""
MEAN_TO_SPREAD = 1.25
"""Spread of a bell curve over its mean distance from the middle, sqrt(pi / 2). [-]"""
OUTLYING_S = 0.035
"""An event this far from the middle one saw something else. [s]"""
LONE_CUT_SIGMA_S = 0.027
"""One cut alone may be met with the wrong departure; and where one alone is felt it is no torque cut, but a shift under
power, whose engine sinks before the push does or after. [s]"""


@dataclass(frozen=True, slots=True)
class EventLag:
    """Where the falls of push in one log lie against the cuts in another."""

    lag_s: float
    """How much later the falls come than they should after the ECU's cuts, the other clock carried over by the offset
    given: the offset is too great by this. [s]"""
    sigma_s: float
    """Its standard deviation, sensors' delays and driveline included; infinite without events. [s]"""
    events: int
    """Events near the median."""
    outlying: int
    """Events that lie further off."""
    unmatched: int
    """Falls that lie within the ECU's record but have no departure near."""
    scatter_s: float
    """Mean distance of the near events from their median. [s]"""


@dataclass(frozen=True, slots=True)
class TorqueCuts:
    """What two logs hold of torque cuts, each on its own clock."""

    falls_s: FloatArray
    """Starts of falls of push, the other log's clock. Shape (m,). [s]"""
    push_hz: float
    """Rate of the accelerometer. [Hz]"""
    engine_time_s: FloatArray
    """Sample times of engine speed, the ECU's clock. Shape (n,). [s]"""
    engine_rpm: FloatArray
    """Engine speed, noise taken out. Shape (n,). [rpm]"""
    engine_hz: float
    """Rate of engine speed. [Hz]"""
    commands_s: FloatArray
    """When the ECU itself cut torque for a moment, its clock; empty where it logs nothing of it. Shape (k,). [s]"""


def read_torque_cuts(ecu: Log, other: Log) -> TorqueCuts | None:
    """Gather what shows torque cuts in the ECU's log and in another log's accelerometer.

    Parameters
    ----------
    ecu, other : Log
        Each on its own clock.

    Returns
    -------
    TorqueCuts or None
        None where the one has no engine speed or the other no acceleration; empty arrays where a channel is short.
    """
    own, acceleration = ecu.get("engine_speed"), forward_acceleration(other.channels)
    if own is None or acceleration is None:
        return None
    known = acceleration.known
    keep = own_updates(known.time_s, known.values, rate_hz=known.rate_hz)
    rpm = despike(own.time_s, own.values)
    sound = np.isfinite(rpm)
    falls = find_thrust_falls(known.time_s[keep], known.values[keep])
    commands = _commands(ecu, own.time_s[sound], rpm[sound])
    return TorqueCuts(falls, known.rate_hz, own.time_s[sound], rpm[sound], own.rate_hz, commands)


def _commands(ecu: Log, time_s: FloatArray, rpm: FloatArray) -> FloatArray:
    """When the ECU cut torque for a moment while the engine worked, looked for piece by piece: logs may be long."""
    # A lever is felt before it cuts anything.
    shown = Traces(tuple(channel for channel in ecu.channels if channel.name in ("shift_cut", "ignition_advance")))
    if not shown.channels or not time_s.size:
        return np.zeros(0)
    working = time_s[rpm > WORKS_SHARE * np.percentile(rpm, 99.9)]
    found = []
    for start in np.unique(PIECE_S * np.floor(working / PIECE_S)):
        stop = start + PIECE_S
        commands = find_commands(shown, start_s=float(start) - BESIDE_S, stop_s=float(stop) + BESIDE_S)
        found.append(commands[(commands >= start) & (commands < stop)])
    return np.concatenate(found) if found else np.zeros(0)


def measure_event_lag(cuts: TorqueCuts, *, offset_s: float, rate_ppm: float, offset_sigma_s: float) -> EventLag | None:
    """How much later falls of push come than the ECU's cuts, the other clock carried over as given.

    Parameters
    ----------
    cuts : TorqueCuts
        What both logs hold.
    offset_s, rate_ppm : float
        Where the other clock lies, good to 60 ms. [s], [ppm]
    offset_sigma_s : float
        Standard deviation of that offset: of two clusters of events a far one must be so much the denser. [s]

    Returns
    -------
    EventLag or None
        None where no fall of push lies within the ECU's record; without `events` where none of them shows in both.
    """
    time = cuts.engine_time_s
    if time.size < 10:
        return None
    falls = offset_s + cuts.falls_s * (1 + rate_ppm * 1e-6)
    falls = falls[(falls > time[0] + TREND_S) & (falls < time[-1] - SEARCH_S)]
    rows = np.searchsorted(time, falls + SEARCH_S) - np.searchsorted(time, falls - SEARCH_S)
    falls = falls[rows >= FEWEST_ROWS]  # a log of ten rows a second shows no cut, and speaks against none
    push_hz, engine_hz = max(cuts.push_hz, 1.0), max(cuts.engine_hz, 1.0)
    scatter = EVENT_SIGMA_S + PUSH_SAMPLES / push_hz + PUSH_CURVE_PER_S / push_hz**2
    left = _departures(cuts, falls)
    if not left:
        return EventLag(0.0, float("inf"), 0, 0, falls.size, 0.0) if falls.size else None
    engine = _cluster(left, scatter + ENGINE_SAMPLES / engine_hz, DEPARTURE_SIGMA_S, offset_sigma_s)
    engine = replace(engine, unmatched=int(falls.size) - len(left))
    after = _after_commands(cuts, falls)
    if not after:
        return replace(engine, sigma_s=float(np.hypot(engine.sigma_s, PUSH_SIGMA_S)))
    ecu = _cluster(after, scatter + COMMAND_SAMPLES / engine_hz, COMMAND_SIGMA_S, offset_sigma_s)
    both = settle([Opinion(one.lag_s, one.sigma_s) for one in (engine, ecu)])
    return replace(engine, lag_s=both.value, sigma_s=float(np.hypot(both.sigma, PUSH_SIGMA_S)))


def _departures(cuts: TorqueCuts, falls_s: FloatArray) -> list[float]:
    """How much later than it should each fall comes after engine speed leaves its course, where it does."""
    found = [(fall, find_engine_departure(cuts.engine_time_s, cuts.engine_rpm, near_s=float(fall))) for fall in falls_s]
    return [float(fall) - one.time_s - one.push_after_s for fall, one in found if one is not None]


def _after_commands(cuts: TorqueCuts, falls_s: FloatArray) -> list[float]:
    """The same after the ECU's own cuts."""
    if not cuts.commands_s.size:
        return []
    due = cuts.commands_s + PUSH_AFTER_COMMAND_S
    late = [float(fall - due[np.argmin(np.abs(fall - due))]) for fall in falls_s]
    return [one for one in late if abs(one) < SEARCH_S]


def _cluster(lags: list[float], scatter_s: float, common_s: float, offset_sigma_s: float) -> EventLag:
    """The densest cluster, of two the nearer: a driveline's swing, met with the cut before it, comes late."""
    middle = max(
        lags,
        key=lambda one: sum(abs(lag - one) < OUTLYING_S for lag in lags) - 0.5 * (one / (2 * offset_sigma_s)) ** 2,
    )
    near = [lag for lag in lags if abs(lag - middle) < OUTLYING_S]
    centre = float(np.median(near))
    apart = float(np.mean(np.abs(np.array(near) - centre)))
    # Events seen to scatter more than usual, or that leave others aside, are worth less.
    each = max(scatter_s, MEAN_TO_SPREAD * apart) * np.sqrt(len(lags) / len(near))
    sigma = float(np.linalg.norm([common_s, each / np.sqrt(len(near)), _astray(lags, near, centre, scatter_s)]))
    return EventLag(centre, sigma, len(near), len(lags) - len(near), 0, apart)


def _astray(lags: list[float], near: list[float], centre_s: float, scatter_s: float) -> float:
    """What is open because events left aside may be the true ones: two that swung back outvote one that did not."""
    aside = [lag for lag in lags if lag not in near]
    nats = float(np.log(max(OUTLYING_S / scatter_s, np.e)))
    variance = 0.0
    while aside:
        cluster = [lag for lag in aside if abs(lag - aside[0]) < OUTLYING_S]
        aside = [lag for lag in aside if lag not in cluster]
        odds = float(np.exp(-nats * (len(near) - len(cluster))))
        variance += odds / (1 + odds) * (float(np.median(cluster)) - centre_s) ** 2
    return float(np.sqrt(variance))


@dataclass(frozen=True, slots=True)
class CutMatch:
    """Where torque cuts put another log."""

    opinion: Opinion
    """Of the offset. [s]"""
    lag: EventLag
    """How the cuts lie there."""


def match_by_cuts(
    cuts: TorqueCuts | None, near: Opinion, rate_ppm: float, *, trials_s: Sequence[float] = (0.0,)
) -> CutMatch | None:
    """Find the offset at which most torque cuts fall together.

    Parameters
    ----------
    cuts : TorqueCuts or None
        What both logs hold.
    near : Opinion
        Where the offset lies by other evidence. [s]
    rate_ppm : float
        How much faster the ECU's clock runs. [ppm]
    trials_s : sequence of float
        Starts of the search, from `near` on. [s]

    Returns
    -------
    CutMatch or None
        None where no fall of push lies within the ECU's record.
    """
    found = []
    for trial in trials_s if cuts is not None else ():
        assert cuts is not None
        start = near.value + trial
        first = measure_event_lag(cuts, offset_s=start, rate_ppm=rate_ppm, offset_sigma_s=near.sigma)
        if first is None:
            continue
        offset = start - first.lag_s
        second = measure_event_lag(cuts, offset_s=offset, rate_ppm=rate_ppm, offset_sigma_s=near.sigma)
        if second is not None:
            sigma = second.sigma_s if second.events > 1 else max(second.sigma_s, LONE_CUT_SIGMA_S)
            found.append(CutMatch(Opinion(offset - second.lag_s, sigma), second))
    if not found:
        return None
    worth = np.array([_worth(one, near) for one in found])
    best = found[int(np.argmax(worth))]
    return _widened(best, found, worth)


def _widened(best: CutMatch, found: Sequence[CutMatch], worth: FloatArray) -> CutMatch:
    """The best place, its deviation widened by others that are nearly as likely; trials that agree count once."""
    places: list[tuple[float, float]] = [(best.opinion.value, 1.0)]
    for at in np.argsort(-worth):
        value = found[at].opinion.value
        if min(abs(value - other) for other, _ in places) > OUTLYING_S:
            places.append((value, float(np.exp(worth[at] - worth.max()))))
    total = sum(odds for _, odds in places)
    astray = sum(odds / total * (value - best.opinion.value) ** 2 for value, odds in places)
    return replace(best, opinion=Opinion(best.opinion.value, float(np.hypot(best.opinion.sigma, np.sqrt(astray)))))


def _worth(match: CutMatch, near: Opinion) -> float:
    """Logarithm of a place's likelihood: events that meet closely, and what other evidence says of the offset."""
    apart = float(np.hypot(match.lag.scatter_s, EVENT_SIGMA_S))
    away = (match.opinion.value - near.value) / near.sigma
    return match.lag.events * float(np.log(OUTLYING_S / apart)) - 0.5 * away**2
