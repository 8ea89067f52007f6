"""One clock: where each further log lies on the ECU log's clock, and whether it is of the same run at all.

Public: `ClockMatch`, `ClocksDoNotMatch`, `match_clocks`, `on_one_clock`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analysis.car import Car
from analysis.findings import Finding
from analysis.log import Channel, Log, NoRunInLog, Traces
from analysis.quantities import Estimate
from analysis.track.engine_copy import RATE_SIGMA_PPM, CopyFit, fit_engine_copy
from analysis.track.forward_axis import forward_acceleration
from analysis.track.speed_match import SpeedMatch, match_by_speed
from analysis.track.thrust_falls import measure_event_lag

COPY_AGE_S, COPY_AGE_SIGMA_S = 0.040, 0.015
"""How much older a bus copy of engine speed is than the ECU's own channel, once its hold is allowed for, and the
standard deviation over devices: a copy is late by 10 to 100 ms, the ECU's channel itself by 5 to 20. [s]"""
MOST_UNLIKE = 0.03
"""Logs whose engine speeds disagree for more of the time than this are not of one run. Logs of one run disagree for
less than 0.01 of it, ignition noise included; of two runs of one car and driver for 0.06 and more. [-]"""
MOST_DISAGREEMENT = 0.85
"""Speeds that disagree for more of the moving time than this at the best lag say nothing of it. [-]"""
TRIALS_S = (0.0, -0.08, 0.08)
"""A lag by speed may be off by so much: torque cuts are looked for from each of these. [s]"""
MOST_RATE_PPM = 400.0
"""No two loggers run apart by more than this; two runs laid over each other ask for it. [ppm]"""


@dataclass(frozen=True, slots=True)
class ClockMatch:
    """How a further log's clock lies on the ECU log's: ``ecu = offset_s + t * (1 + rate_ppm * 1e-6)``."""

    log: str
    """Name of the further log."""
    offset_s: Estimate
    """ECU time of the further log's first row. [s]"""
    rate_ppm: Estimate
    """How much faster ECU time runs than the further log's own clock. [1e-6]"""
    matched_on: tuple[str, ...]
    """Channels that both hold and that were matched."""


class ClocksDoNotMatch(NoRunInLog):
    """Two logs that are not of one run; the text holds the evidence."""


def match_clocks(ecu: Log, other: Log, *, car: Car) -> tuple[ClockMatch | None, list[Finding]]:
    """Find where another log's clock lies on the ECU log's.

    Parameters
    ----------
    ecu, other : Log
        The ECU's log, and the dash's or another device's.
    car : Car
        Gearing serves where the two share no engine speed.

    Returns
    -------
    ClockMatch or None
        None where the two hold nothing that could be matched; the finding says so.
    list of Finding
        What was chosen or doubted.

    Raises
    ------
    ClocksDoNotMatch
        If what both hold cannot be laid over each other: they are not of one run.
    """
    own, copy = ecu.get("engine_speed"), other.get("engine_speed")
    fit = fit_engine_copy(own, copy) if own is not None and copy is not None else None
    if fit is not None and own is not None:
        if fit.unlike_share > MOST_UNLIKE or abs(fit.rate_ppm) > MOST_RATE_PPM:
            raise ClocksDoNotMatch(_engine_evidence(ecu.name, other.name, fit))
        return _from_copy(fit, own, other), []
    speed = match_by_speed(ecu, other, car=car)
    if speed is None or speed.disagreement > MOST_DISAGREEMENT:
        text = (
            f"{other.name} shares no signal with {ecu.name} by which its clock could be laid on the ECU's (engine "
            "speed, or a speed while the car pulls): it was left out. Log engine speed in both."
        )
        return None, [Finding("clocks-not-matched", "caution", text, other.name)]
    return _from_speed(speed, own, other), [_speed_finding(speed, other.name)]


def _engine_evidence(ecu: str, other: str, fit: CopyFit) -> str:
    return (
        f"{other} and {ecu} do not match: at the best place found their engine speeds disagree for "
        f"{fit.unlike_share:.0%} of {fit.active_s:.0f} s of engine at work; they are not of the same run. "
        "Give logs of one run."
    )


def _speed_finding(speed: SpeedMatch, other: str) -> Finding:
    text = (
        f"{other} and the ECU's log do not both hold engine speed: its clock was matched through {speed.channels[1]} "
        f"against {speed.channels[0]}, which is less sure by some hundredths of a second."
    )
    return Finding("clock-matched-by-speed", "note", text, other)


def _from_copy(fit: CopyFit, own: Channel, other: Log) -> ClockMatch:
    """The copy's place plus its age: as copies go, and as torque cuts seen by the accelerometer show it."""
    start = fit.offset_s + COPY_AGE_S - fit.pivot_s * fit.rate_ppm * 1e-6
    opinions, names = [(start, COPY_AGE_SIGMA_S)], ["engine_speed"]
    events = _events(own, other, start, fit.rate_ppm, trials_s=(0.0,))
    if events is not None:
        opinions.append((events.offset_s, events.sigma_s))
        names.append("acceleration")
    known = float(np.hypot(fit.offset_sigma_s, fit.pivot_s * fit.rate_sigma_ppm * 1e-6))
    return _settle(other.name, opinions, known, (fit.rate_ppm, fit.rate_sigma_ppm), names)


def _from_speed(speed: SpeedMatch, own: Channel | None, other: Log) -> ClockMatch:
    """Speed places the log to some hundredths of a second; torque cuts, where an accelerometer saw them, better."""
    opinions, names = [(speed.offset_s, speed.sigma_s)], list(dict.fromkeys(speed.channels))
    events = _events(own, other, speed.offset_s, 0.0, trials_s=TRIALS_S)
    if events is not None and abs(events.offset_s - speed.offset_s) < 3 * speed.sigma_s:
        opinions.append((events.offset_s, events.sigma_s))
        names.append("acceleration")
    return _settle(other.name, opinions, speed.pivot_s * RATE_SIGMA_PPM * 1e-6, (0.0, RATE_SIGMA_PPM), names)


@dataclass(frozen=True, slots=True)
class _Events:
    offset_s: float
    sigma_s: float


def _events(
    own: Channel | None, other: Log, start_s: float, rate_ppm: float, *, trials_s: tuple[float, ...]
) -> _Events | None:
    """Offset by torque cuts, from the trial start at which most of them fall together."""
    acceleration = forward_acceleration(other.channels)
    if own is None or acceleration is None:
        return None
    best: tuple[tuple[int, float], _Events] | None = None
    for trial in trials_s:
        offset = start_s + trial
        for _ in range(2):
            lag = measure_event_lag(own, acceleration, offset_s=offset, rate_ppm=rate_ppm)
            if lag is None:
                break
            offset -= lag.lag_s
        else:
            if lag is not None and (best is None or (lag.events, -lag.scatter_s) > best[0]):
                best = ((lag.events, -lag.scatter_s), _Events(offset, lag.sigma_s))
    return None if best is None else best[1]


def _settle(
    name: str,
    opinions: list[tuple[float, float]],
    common_sigma_s: float,
    rate: tuple[float, float],
    matched_on: list[str],
) -> ClockMatch:
    """Opinions (value, sigma) weighed by one over their variance; `common_sigma_s` is open in all of them."""
    weight = sum(sigma**-2 for _, sigma in opinions)
    offset = sum(value * sigma**-2 for value, sigma in opinions) / weight
    sigma = float(np.hypot(weight**-0.5, common_sigma_s))
    return ClockMatch(name, Estimate(offset, 2 * sigma), Estimate(rate[0], 2 * rate[1]), tuple(matched_on))


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
            stretch, offset = 1 + match.rate_ppm.value * 1e-6, match.offset_s.value
            channels += [replace(channel, time_s=offset + channel.time_s * stretch) for channel in log.channels]
    return Traces(tuple(channels))
