"""One clock: where each further log lies on the ECU log's clock, and whether it is of the same run at all.

Public: `ClockMatch`, `ClocksDoNotMatch`, `match_clocks`, `on_one_clock`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analysis.car import Car
from analysis.findings import Finding
from analysis.log import Channel, Log, NoRunInLog, Traces
from analysis.quantities import Estimate
from analysis.track.engine_copy import CopyFit, fit_engine_copy
from analysis.track.thrust_falls import PUSH_AFTER_ENGINE_S, measure_event_lag

COPY_AGE_S, COPY_AGE_SIGMA_S = 0.040, 0.015
"""How much older a bus copy of engine speed is than the ECU's own channel, once its hold is allowed for, and the
standard deviation over devices: a copy is late by 10 to 100 ms, the ECU's channel itself by 5 to 20. [s]"""
MOST_UNLIKE = 0.03
"""Logs whose engine speeds disagree for more of the time than this are not of one run. Logs of one run disagree for
less than 0.01 of it, ignition noise included; of two runs of one car and driver for 0.06 and more. [-]"""
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
    if fit is None or own is None:
        text = f"{other.name} shares no engine speed at work with {ecu.name}: it was left out."
        return None, [Finding("clocks-not-matched", "caution", text, other.name)]
    if fit.unlike_share > MOST_UNLIKE or abs(fit.rate_ppm) > MOST_RATE_PPM:
        raise ClocksDoNotMatch(
            f"{other.name} and {ecu.name} do not match: at the best place found their engine speeds disagree for "
            f"{fit.unlike_share:.0%} of {fit.active_s:.0f} s of engine at work; they are not of the same run. "
            "Give logs of one run."
        )
    return _from_copy(fit, own, other), []


def _from_copy(fit: CopyFit, own: Channel, other: Log) -> ClockMatch:
    """The copy's place plus its age: as copies go, and as torque cuts seen by the accelerometer show it."""
    drift = fit.pivot_s * fit.rate_ppm * 1e-6
    opinions = [(fit.offset_s + COPY_AGE_S - drift, COPY_AGE_SIGMA_S)]
    matched: tuple[str, ...] = ("engine_speed",)
    if (acceleration := other.get("acceleration")) is not None:
        start = opinions[0][0]
        events = measure_event_lag(own, acceleration, offset_s=start, rate_ppm=fit.rate_ppm)
        if events is not None:
            opinions.append((start + PUSH_AFTER_ENGINE_S - events.lag_s, events.sigma_s))
            matched = (*matched, "acceleration")
    weight = sum(sigma**-2 for _, sigma in opinions)
    offset = sum(value * sigma**-2 for value, sigma in opinions) / weight
    sigma = (1 / weight + fit.offset_sigma_s**2 + (fit.pivot_s * fit.rate_sigma_ppm * 1e-6) ** 2) ** 0.5
    return ClockMatch(other.name, Estimate(offset, 2 * sigma), Estimate(fit.rate_ppm, 2 * fit.rate_sigma_ppm), matched)


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
