"""One clock: where each further log lies on the ECU log's clock, and whether it is of the same run at all.

Public: `ClocksDoNotMatch`, `match_clocks`, `on_one_clock`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Log, NoRunInLog, Traces
from passband.analysis.clocks.cut_match import CutMatch, EventLag, match_by_cuts, read_torque_cuts
from passband.analysis.clocks.engine_copy import RATE_SIGMA_PPM, CopyFit, fit_engine_copy
from passband.analysis.clocks.opinions import Opinion, settle
from passband.analysis.clocks.speed_match import LEAST_MPS, SpeedMatch, match_by_speed
from passband.analysis.given.car import Car
from passband.analysis.reading.health.speed_scale import SPEEDS
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.priors import ENGINE_COPY

MOST_UNLIKE = 0.03
"""Logs whose engine speeds disagree for more of the time than this are not of one run. Over 216 pairs of one run,
ignition noise and dropouts included, they disagree for 0.005 of it at most; over 118 of two runs of a car for 0.07 and
more, two runs of one log by one driver among them. [-]"""
MOST_DISAGREEMENT = 0.85
"""Speeds that disagree for more of the moving time than this at the best lag say nothing of it. [-]"""
NO_BETTER = 0.04
"""A place that disagrees for so little more of the time is as good: torque cuts must choose. [-]"""
TRIAL_S = 0.08
"""Torque cuts are looked for from starts so far apart, over twice the deviation of a lag by speed. [s]"""
FAR_SIGMAS = 3.0
"""Evidence that puts a log so many deviations from other evidence saw something else. [-]"""
LEAST_CUTS = 3
"""From so many torque cuts on, logs in which they do not meet are not laid over each other."""
MOST_RATE_PPM = 400.0
"""No two loggers run apart by more than this; two runs laid over each other ask for it. [ppm]"""


class ClocksDoNotMatch(NoRunInLog):
    """Two logs that are not of one run; the text holds the evidence."""


def match_clocks(ecu: Log, other: Log, *, car: Car) -> ClockMatch | Unknown:
    """Find where another log's clock lies on the ECU log's.

    Parameters
    ----------
    ecu, other : Log
        The ECU's log, and the dash's or another device's.
    car : Car
        Gearing serves where the two share no engine speed.

    Returns
    -------
    ClockMatch or Unknown
        Unknown where the two hold nothing that could be matched.

    Raises
    ------
    ClocksDoNotMatch
        If what both hold cannot be laid over each other: they are not of one run.
    """
    own, copy = ecu.get("engine_speed"), other.get("engine_speed")
    fit = fit_engine_copy(own, copy) if own is not None and copy is not None else None
    if fit is not None and own is not None:
        if fit.unlike_share > MOST_UNLIKE or abs(fit.rate_ppm) - 2 * fit.rate_sigma_ppm > MOST_RATE_PPM:
            raise ClocksDoNotMatch(_engine_evidence(ecu.name, other.name, fit))
        match = _from_copy(fit, ecu, other, car)
        return match if fit.factor == 1.0 else replace(match, findings=(_other_count(fit, other.name),))
    return _by_speed(ecu, other, car)


def _by_speed(ecu: Log, other: Log, car: Car) -> ClockMatch | Unknown:
    """Of the places that speed offers, the one at which torque cuts meet; else the best, if it stands out."""
    places = [place for place in match_by_speed(ecu, other, car=car) if place.disagreement < MOST_DISAGREEMENT]
    if not places:
        return Unknown(_left_out(ecu, other))
    near = [place for place in places if place.disagreement < places[0].disagreement + NO_BETTER]
    seen = read_torque_cuts(ecu, other)
    cuts = [
        match_by_cuts(seen, Opinion(place.offset_s, place.sigma_s), 0.0, trials_s=_trials(place.sigma_s))
        for place in near
    ]
    best = max(range(len(near)), key=lambda index: (_meeting(cuts[index]), -near[index].disagreement))
    met = cuts[best]
    if met is not None and _elsewhere(met.lag):
        return Unknown(_cuts_elsewhere(ecu.name, other.name, met.lag))
    if len(near) > 1 and (met is None or not _settles(met.lag)):
        return Unknown(_left_out(ecu, other))
    match = _from_speed(near[best], met, other.name)
    return replace(match, findings=(_speed_finding(near[best], other.name),))


def _trials(sigma_s: float) -> tuple[float, ...]:
    """Starts of the search for torque cuts, nearest first, as far as a lag by speed may be off."""
    steps = max(1, round(2 * sigma_s / TRIAL_S))
    return (0.0, *(sign * step * TRIAL_S for step in range(1, steps + 1) for sign in (-1, 1)))


def _meeting(cuts: CutMatch | None) -> int:
    return 0 if cuts is None else cuts.lag.events


def _settles(lag: EventLag) -> bool:
    """Whether torque cuts can choose among places: two meet, and more than do not. Some meet anywhere by chance."""
    return lag.events >= LEAST_CUTS - 1 and lag.events > lag.outlying + lag.unmatched


def _left_out(ecu: Log, other: Log) -> Finding:
    if _holds_no_pull(ecu, other):
        text = (
            f"{other.name} holds no pull: neither its engine speed nor its speeds come up to a run's, so it ends "
            f"before the launch or begins after the run. It cannot be laid on {ecu.name} and was left out. "
            "Let the logger run from staging until after the finish."
        )
        return Finding("log-misses-the-run", "caution", text, other.name)
    text = (
        f"{other.name} shares no signal with {ecu.name} by which its clock could be laid on the ECU's (engine speed, "
        "or a speed while the car pulls): it was left out. Log engine speed in both."
    )
    return Finding("clocks-not-matched", "caution", text, other.name)


def _holds_no_pull(ecu: Log, other: Log) -> bool:
    """Whether a log has what would show a run, and nothing of it does."""
    tops = [
        float(np.percentile(known, 99)) / least
        for name, least in (("engine_speed", _half_top(ecu)), *((name, 2 * LEAST_MPS) for name in SPEEDS))
        if (channel := other.get(name)) is not None and (known := channel.known.values).size > 20
    ]
    return bool(tops) and max(tops) < 1.0


def _half_top(ecu: Log) -> float:
    """Half of what the ECU's engine speed reaches: an engine that stays below it does not pull."""
    own = ecu.get("engine_speed")
    return 0.5 * float(np.percentile(own.known.values, 99)) if own is not None and own.known.values.size else np.inf


def _elsewhere(lag: EventLag) -> bool:
    """True where hardly any of the torque cuts that one log saw is in the other."""
    amiss = lag.outlying + lag.unmatched
    return lag.events + amiss >= LEAST_CUTS and (lag.events <= 1 or amiss >= 2 * lag.events)


def _cuts_elsewhere(ecu: str, other: str, lag: EventLag) -> Finding:
    text = (
        f"{other} and {ecu} do not match: of {lag.events + lag.outlying + lag.unmatched} torque cuts felt by the "
        f"accelerometer only {lag.events} can be found in the engine's speed, wherever one log is laid over the other. "
        f"They may not be of the same run; {other} was left out."
    )
    return Finding("clocks-not-matched", "caution", text, other)


def _engine_evidence(ecu: str, other: str, fit: CopyFit) -> str:
    if fit.unlike_share > MOST_UNLIKE:
        seen = f"disagree for {fit.unlike_share:.0%} of {fit.active_s:.0f} s of engine at work"
    else:
        seen = f"agree only if one clock ran {abs(fit.rate_ppm) * 1e-4:.2f} % faster than the other, which none does"
    return (
        f"{other} and {ecu} do not match: at the best place found their engine speeds {seen}; they are not of the "
        "same run. Give logs of one run."
    )


def _other_count(fit: CopyFit, other: str) -> Finding:
    if fit.factor not in (0.5, 2.0):
        off = f"{abs(fit.factor - 1.0):.1%} {'higher' if fit.factor > 1 else 'lower'}"
        text = (
            f"Engine speed in {other} reads {off} than the ECU's log throughout: one of them is in a wrong scale. The "
            "ECU's was believed; hold both against a tachometer that is known to be right, as every margin to a limit "
            "in rev/min rests on it."
        )
        return Finding("engine-speeds-differ", "caution", text, f"{other}, engine_speed")
    text = (
        f"Engine speed in {other} is {'twice' if fit.factor > 1 else 'half'} what the ECU's log says: it counts other "
        "pulses per turn. The ECU's was believed; set the number of pulses in the logger."
    )
    return Finding("engine-speed-counts-other-pulses", "caution", text, f"{other}, engine_speed")


def _speed_finding(speed: SpeedMatch, other: str) -> Finding:
    text = (
        f"{other} and the ECU's log do not both hold engine speed: its clock was matched through {speed.channels[1]} "
        f"against {speed.channels[0]}, which is less sure by some hundredths of a second."
    )
    return Finding("clock-matched-by-speed", "note", text, other)


def _from_copy(fit: CopyFit, ecu: Log, other: Log, car: Car) -> ClockMatch:
    """The copy's place plus its age: as copies go, as torque cuts show it, and where few are felt as speed does."""
    start = fit.offset_s + ENGINE_COPY.late_s - fit.pivot_s * fit.rate_ppm * 1e-6
    by_copy = Opinion(start, float(np.hypot(ENGINE_COPY.sigma_s, fit.offset_sigma_s)))
    opinions, names = [by_copy], ["engine_speed"]
    cuts = match_by_cuts(read_torque_cuts(ecu, other), by_copy, fit.rate_ppm)
    if cuts is not None and cuts.lag.events:
        opinions.append(cuts.opinion)
        names.append("acceleration")
    if cuts is None or cuts.lag.events < 2:
        speed = _speed_there(by_copy, fit, match_by_speed(ecu, other, car=car))
        opinions += [] if speed is None else [Opinion(_at_zero(speed, fit), speed.sigma_s)]
        names += [] if speed is None else [speed.channels[1]]
    rate = Opinion(fit.rate_ppm, fit.rate_sigma_ppm)
    return _as_match(other.name, opinions, rate, pivot_s=fit.pivot_s, matched_on=names)


def _at_zero(speed: SpeedMatch, fit: CopyFit) -> float:
    """A match by speed knows no rate: its offset holds at its pivot and is carried to the other clock's zero."""
    return speed.offset_s - speed.pivot_s * fit.rate_ppm * 1e-6


def _speed_there(copy: Opinion, fit: CopyFit, places: list[SpeedMatch]) -> SpeedMatch | None:
    """The place by speed that may be the copy's, the nearest by deviations."""

    def away(place: SpeedMatch) -> float:
        return abs(_at_zero(place, fit) - copy.value) / float(np.hypot(place.sigma_s, copy.sigma))

    best = min((place for place in places if place.disagreement < MOST_DISAGREEMENT), key=away, default=None)
    return best if best is not None and away(best) < FAR_SIGMAS else None


def _from_speed(speed: SpeedMatch, cuts: CutMatch | None, other: str) -> ClockMatch:
    """Speed places the log to some hundredths of a second; torque cuts, where an accelerometer saw them, better."""
    opinions, names = [Opinion(speed.offset_s, speed.sigma_s)], list(dict.fromkeys(speed.channels))
    if cuts is not None and cuts.lag.events and abs(cuts.opinion.value - speed.offset_s) < FAR_SIGMAS * speed.sigma_s:
        opinions.append(cuts.opinion)
        names.append("acceleration")
    return _as_match(other, opinions, Opinion(0.0, RATE_SIGMA_PPM), pivot_s=speed.pivot_s, matched_on=names)


def _as_match(
    name: str, opinions: list[Opinion], rate_ppm: Opinion, *, pivot_s: float, matched_on: list[str]
) -> ClockMatch:
    """The opinions of the offset brought together, with 95 %; the second is the one by torque cuts, if one is."""
    offset = settle(opinions)
    weights = np.array([opinion.sigma**-2 for opinion in opinions])
    felt_share = float(weights[1] / weights.sum()) if "acceleration" in matched_on else 0.0
    sigma = float(np.hypot(offset.sigma, pivot_s * rate_ppm.sigma * 1e-6))
    rate = Estimate(rate_ppm.value, 2 * rate_ppm.sigma)
    return ClockMatch(name, Estimate(offset.value, 2 * sigma), rate, tuple(matched_on), 2 * offset.sigma, felt_share)


def on_one_clock(logs: Sequence[Log], matches: Sequence[ClockMatch | None]) -> Traces:
    """Channels of all logs with times on the ECU log's clock.

    Parameters
    ----------
    logs : sequence of Log
        The ECU's first.
    matches : sequence of ClockMatch or None
        One for each further log, in the same order; a log without one is left out.

    Returns
    -------
    Traces
        The ECU log's channels as they are, then the others'.

    Raises
    ------
    ValueError
        If there is not one match for each further log.
    """
    if len(matches) != max(len(logs) - 1, 0):
        raise ValueError(f"need one match for each further log, got {len(logs)} logs and {len(matches)} matches")
    channels = list(logs[0].channels) if logs else []
    for log, match in zip(logs[1:], matches, strict=True):
        if match is not None:
            stretch = 1 + match.rate_ppm.value * 1e-6
            channels += Traces(log.channels).shifted(match.offset_s.value, stretch=stretch).channels
    return Traces(tuple(channels))
