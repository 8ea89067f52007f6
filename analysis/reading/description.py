"""What the reader understood of a file, for print or JSON.

Public: `LogDescription`, `ChannelDescription`, `describe`, `description_json`, `doubts_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Log, Logged, TextFacts, TimeFacts
from passband.analysis.quantities import Conversion
from passband.analysis.results.doubt import Doubt
from passband.analysis.results.findings import Finding
from passband.analysis.results.plain_values import JsonObject


@dataclass(frozen=True, slots=True)
class ChannelDescription:
    """One column as it was understood."""

    header: str
    """As it stands in the file."""
    channel: str | None
    """Catalogue name; None where neither catalogue nor user names it."""
    unit: str
    """As the log writes it; empty where it does not."""
    si_unit: str
    """Of `least` and `greatest`."""
    rate_hz: float | None
    """Samples per second; None where it shows no rate. [Hz]"""
    samples: int
    """How many."""
    without_value: int
    """How many of them hold none."""
    confidence: float
    """How sure the recognition is, 0..1. [-]"""
    resolution: float
    """Smallest step of its values; 0 where it shows none. SI."""
    least: float | None
    """None without any value. SI."""
    greatest: float | None
    """None without any value. SI."""
    unit_read: str
    """The unit that its values were read in."""
    least_logged: float | None
    """As the log writes it, in `unit_read`; None without any value."""
    greatest_logged: float | None
    """Likewise."""


@dataclass(frozen=True, slots=True)
class LogDescription:
    """What was understood of one file."""

    name: str
    """Of the file."""
    recordings: int
    """How many it holds."""
    text: TextFacts
    """Of the longest recording."""
    time: TimeFacts
    """Of the same."""
    channels: tuple[ChannelDescription, ...]
    """Of the same."""
    findings: tuple[Finding, ...]
    """Of all recordings, each once."""
    doubts: tuple[Doubt, ...]
    """What is to be asked about all of them, each question once."""


def describe(logs: Sequence[Log]) -> LogDescription:
    """Say what was understood of one file.

    Parameters
    ----------
    logs : sequence of Log
        What `analysis.reading.read_log` returned for it; one at least.

    Returns
    -------
    LogDescription
        Text, time and channels are those of the longest recording.
    """
    main = max(logs, key=lambda log: log.text.rows)
    return LogDescription(
        main.name,
        len(logs),
        main.text,
        main.time,
        tuple(_described(channel) for channel in main.channels),
        tuple(dict.fromkeys(finding for log in logs for finding in log.findings)),
        doubts_of(logs),
    )


def description_json(described: LogDescription) -> JsonObject:
    """The same as plain values.

    Parameters
    ----------
    described : LogDescription
        Any.

    Returns
    -------
    dict
        By the names of its fields; a preamble's lines are ``key`` and ``value``.
    """
    text = asdict(described.text)
    text["preamble"] = [{"key": key, "value": value} for key, value in described.text.preamble]
    time = {key: _plain(value) for key, value in asdict(described.time).items()}
    return {**asdict(described), "text": text, "time": time}


def doubts_of(logs: Sequence[Log]) -> tuple[Doubt, ...]:
    """What is to be asked about the recordings of one file, each question once.

    Parameters
    ----------
    logs : sequence of Log
        Recordings of one file.
    """
    asked = {(doubt.layout, doubt.column): doubt for log in reversed(logs) for doubt in log.doubts}
    return tuple(dict.fromkeys(asked[doubt.layout, doubt.column] for log in logs for doubt in log.doubts))


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    return value


def _described(channel: Channel) -> ChannelDescription:
    known = channel.values[np.isfinite(channel.values)]
    least, greatest = (float(known.min()), float(known.max())) if known.size else (None, None)
    logged = channel.logged or Logged(channel.unit, Conversion(1.0, 0.0, channel.unit))
    least_logged, greatest_logged = (None if edge is None else logged.value(edge) for edge in (least, greatest))
    return ChannelDescription(
        header=channel.header,
        channel=channel.name if kind_of(channel.name) is not None or channel.confidence == 1.0 else None,
        unit=channel.unit_written,
        si_unit=channel.unit,
        rate_hz=_plain(round(channel.rate_hz, 4)),
        samples=int(channel.values.size),
        without_value=int(channel.values.size - known.size),
        confidence=channel.confidence,
        resolution=channel.resolution,
        least=least,
        greatest=greatest,
        unit_read=logged.unit,
        least_logged=least_logged,
        greatest_logged=greatest_logged,
    )
