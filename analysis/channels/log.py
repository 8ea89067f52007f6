"""What a log is once it is read: channels, each with its own sample times, in SI, and how it was understood.

Public: `Logged`, `Channel`, `TextFacts`, `TimeFacts`, `Log`, `Traces`, `LogError`, `NotALog`, `NoRunInLog`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.quantities import Conversion, FloatArray
from passband.analysis.results.doubt import ColumnOffered, Doubt
from passband.analysis.results.findings import Finding

GAP_PERIODS = 5.0
"""A hole longer than this many sample periods stays a hole: a straight line over it would be an invention. [-]"""


class LogError(ValueError):
    """A file that cannot be used; its text is one sentence for the user: looked for, found, what to do."""

    def __init__(self, text: str, *, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(text)
        self.findings = findings


class NotALog(LogError):
    """The bytes are no table of numbers that a logger would write (an image, prose, nothing at all)."""


class NoRunInLog(LogError):
    """A log was read but holds no run: no engine speed, nothing moves, two logs of different runs.

    `columns` are those that may be engine speed, where no log has one.
    """

    def __init__(
        self, text: str, *, findings: tuple[Finding, ...] = (), columns: tuple[ColumnOffered, ...] = ()
    ) -> None:
        super().__init__(text, findings=findings)
        self.columns = columns


@dataclass(frozen=True, slots=True)
class Logged:
    """The unit in which a column's values were read, and how they became what is kept."""

    unit: str
    """As written, or as taken from the values; empty for a share, a flag, a count."""
    conversion: Conversion
    """From the values as logged."""

    def value(self, kept: float) -> float:
        """A kept value as the log writes it."""
        return (kept - self.conversion.offset) / self.conversion.scale


@dataclass(frozen=True, slots=True)
class Channel:
    """One named signal of one log, at its own sample times."""

    name: str
    """Catalogue name, or the header as written where the catalogue knows none."""
    header: str
    """The header as it stands in the file."""
    unit: str
    """Unit of `values`: the catalogue's, or for an unknown channel as written."""
    unit_written: str
    """Unit as the file writes it; empty where it is nowhere."""
    time_s: FloatArray
    """Sample times, rising. As read: seconds from the log's first row. [s]"""
    values: FloatArray
    """One per sample time, in `unit`; NaN where the sensor is not to be believed."""
    rate_hz: float
    """Rate at which the signal really updates (a held value says nothing new). [Hz]"""
    confidence: float = 1.0
    """How sure the recognition is, 0..1; 1 for the user's own mapping."""
    log: int = 0
    """Which of the given logs it came from, from 0 (the ECU's)."""
    resolution: float = 0.0
    """Step between neighbouring values as printed, in `unit`; 0 where it shows none."""
    logged: Logged | None = None
    """How it stands in the file; None where it comes from no file."""

    @property
    def known(self) -> Channel:
        """The same channel without its NaN samples."""
        keep = np.isfinite(self.values)
        return self if bool(keep.all()) else replace(self, time_s=self.time_s[keep], values=self.values[keep])

    def at(self, time_s: FloatArray) -> FloatArray:
        """Values at other times: linear between samples, NaN outside the record and beside a missing sample."""
        if self.time_s.size == 0:
            return np.full(np.shape(time_s), np.nan)
        return np.interp(time_s, self.time_s, self.values, left=np.nan, right=np.nan)

    def within(self, start_s: float, stop_s: float) -> Channel:
        """The same channel between two times, both included."""
        near = _span(self.time_s, start_s, stop_s)
        return replace(self, time_s=self.time_s[near], values=self.values[near])


@dataclass(frozen=True, slots=True)
class TextFacts:
    """How the bytes were understood as text."""

    encoding: str
    """``utf-8``, ``utf-8-sig``, ``utf-16-le``, ``cp1252``, ..."""
    delimiter: str
    """One character."""
    decimal: str
    """``.`` or ``,``."""
    header_line: int | None
    """Line of the header, from 1; None where there is none."""
    units_line: int | None
    """Line of the units, from 1; None where they are elsewhere or nowhere."""
    first_data_line: int
    """Line of the first row of numbers, from 1."""
    rows: int
    """Rows of data understood."""
    compression: str = ""
    """``gzip``, ``zip`` or empty."""
    preamble: tuple[tuple[str, str], ...] = ()
    """Key and value of each preamble line; free text has an empty key."""


@dataclass(frozen=True, slots=True)
class TimeFacts:
    """How the log's time was understood."""

    basis: str
    """``column Time [s]``, ``stated rate 50 Hz``, ``sample counter``, ..."""
    first_s: float
    """The first row's time as the log writes it. [s]"""
    last_s: float
    """The last row's time as the log writes it. [s]"""
    rate_hz: float
    """Rows per second, median. [Hz]"""
    written: bool = True
    """Whether times stand in the log; else rows or samples were counted."""
    day: str = ""
    """What a column of dates beside a time of day holds in the first row, as written; empty where none stands there."""


@dataclass(frozen=True, slots=True)
class Log:
    """One recording of one device. Times are seconds from its first row."""

    name: str
    """File name as the user gave it."""
    channels: tuple[Channel, ...]
    """In the file's order; the time column is not among them."""
    text: TextFacts
    """How the bytes were understood."""
    time: TimeFacts
    """How the time was understood."""
    findings: tuple[Finding, ...] = ()
    """What was mended, chosen, doubted, set aside."""
    doubts: tuple[Doubt, ...] = ()
    """Columns that whoever knows the car should be asked about."""
    layout: str = ""
    """Fingerprint of its header: answers about columns are kept by it."""
    parts: tuple[str, ...] = ()
    """Names of the files that it was put together of, in order of time; empty where it is of one."""

    @property
    def files(self) -> tuple[str, ...]:
        """Names of the files that it is of."""
        return self.parts or (self.name,)

    def get(self, name: str) -> Channel | None:
        """The surest channel of that name; None where there is none."""
        found = [channel for channel in self.channels if channel.name == name]
        return max(found, key=lambda channel: channel.confidence, default=None)

    def with_channels(self, channels: Iterable[Channel], *findings: Finding) -> Log:
        """The same log with other channels, and findings that say why after its own."""
        return replace(self, channels=tuple(channels), findings=(*self.findings, *findings))

    def with_channel(self, old: Channel, new: Channel, *findings: Finding) -> Log:
        """The same log with one channel in place of another, and findings that say why after its own."""
        return self.with_channels((new if one is old else one for one in self.channels), *findings)

    def with_findings(self, *findings: Finding) -> Log:
        """The same log with findings after its own."""
        return replace(self, findings=(*self.findings, *findings)) if findings else self


@dataclass(frozen=True, slots=True)
class Traces:
    """Channels of all logs of a run on one clock: the ECU log's, or from clock start where a docstring says ET."""

    channels: tuple[Channel, ...] = field(default=())
    """ECU log's first; times are on the one clock."""

    def __iter__(self) -> Iterator[Channel]:
        """Channels in order."""
        return iter(self.channels)

    def get(self, name: str) -> Channel | None:
        """The channel of that name: the ECU log's before another's; None where no log holds it.

        A name the catalogue does not know is also looked for among the headers as written.
        """
        for channel in self.channels:
            if channel.name == name:
                return channel
        if kind_of(name) is not None:
            return None  # a header that reads like it was not taken for it: its unit or values spoke against it
        for channel in self.channels:
            if channel.header.strip().casefold() == name.strip().casefold():
                return channel
        return None

    def family(self, name: str) -> list[Channel]:
        """All channels of a numbered family (``exhaust_temperature``), or the one of that name."""
        return [channel for channel in self.channels if family_of(channel.name) == name or channel.name == name]

    def shifted(self, by_s: float, *, stretch: float = 1.0) -> Traces:
        """The same channels, all times stretched and `by_s` later; those that share their times go on to share them."""
        times = {id(channel.time_s): channel.time_s for channel in self.channels}
        moved = {key: by_s + time_s * stretch for key, time_s in times.items()}
        return Traces(tuple(replace(channel, time_s=moved[id(channel.time_s)]) for channel in self.channels))

    def within(self, start_s: float, stop_s: float) -> Traces:
        """The same channels between two times, both included; those that share their times go on to share them."""
        times = {id(channel.time_s): channel.time_s for channel in self.channels}
        spans = {key: _span(time_s, start_s, stop_s) for key, time_s in times.items()}
        cut = {key: time_s[spans[key]] for key, time_s in times.items()}
        return Traces(
            tuple(
                replace(one, time_s=cut[id(one.time_s)], values=one.values[spans[id(one.time_s)]])
                for one in self.channels
            )
        )


def _span(time_s: FloatArray, start_s: float, stop_s: float) -> slice:
    """Samples between two times, both included."""
    return slice(int(np.searchsorted(time_s, start_s)), int(np.searchsorted(time_s, stop_s, side="right")))
