"""Files that are one log: parts of it, each with the time going on from the one before, or the same file again.

Public: `whole_logs`, `WholeLog`, `parts_put_together`, `OneLog`, `as_one_log`,
`end_to_end`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.joining import goes_on, one_after_the_other, without_copies
from passband.analysis.reading.time.clock_jumps import ROWS_BESIDE, values_go_on
from passband.analysis.results.findings import Finding

Files = list[tuple[Log, ...]]
MOST_ROWS_BESIDE = max(ROWS_BESIDE)
"""Rows at each end of a log by which its values are seen to go on."""


@dataclass(frozen=True, slots=True)
class OneLog:
    """Two logs that are one."""

    log: Log
    """Both, named and counted as the one held first."""
    in_order: tuple[Log, ...]
    """The two in the order of their rows; the first alone where both hold the same."""


@dataclass(frozen=True, slots=True)
class WholeLog:
    """A file, or several that are one log."""

    recordings: tuple[Log, ...]
    """Of the file; one where several were put together."""
    places: tuple[int, ...]
    """Of the files whose rows it holds, in their order; those that hold the same as another are left out."""


def whole_logs(files: Sequence[tuple[Log, ...]]) -> Files:
    """Files with parts of one log put together, and without those that hold the same as another.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file.

    Returns
    -------
    list of tuples of Log
        As `parts_put_together`.
    """
    return [whole.recordings for whole in parts_put_together(files)]


def parts_put_together(files: Sequence[tuple[Log, ...]]) -> list[WholeLog]:
    """Files with parts of one log put together, and without those that hold the same as another.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file.

    Returns
    -------
    list of WholeLog
        As many or fewer, in order; each that was put together or left out is told on the log that stays.

    Notes
    -----
    Parts are of one layout, and the time of the later goes on within a few rows of where the earlier ends, or its first
    rows are the earlier's last: on one clock within the last digit printed, on clocks that each begin anew to the
    digit. Without rows that both hold, a part whose clock begins anew goes on where the measured values do, of channels
    that move there (`clock_jumps.values_go_on`): at idle any two logs would. Files that each hold several recordings
    are left as they are.
    """
    whole = [WholeLog(recordings, (place,)) for place, recordings in enumerate(files)]
    while (pair := _first_pair(whole)) is not None:
        at, other, one = pair
        places = {whole[at].recordings[0].name: whole[at].places, whole[other].recordings[0].name: whole[other].places}
        in_order = tuple(place for log in one.in_order for place in places[log.name])
        whole[at] = WholeLog((one.log,), in_order)
        del whole[other]
    return whole


def _first_pair(files: Sequence[WholeLog]) -> tuple[int, int, OneLog] | None:
    """The first two files that are one: the place of each, and what both are."""
    alone = [(at, whole.recordings[0]) for at, whole in enumerate(files) if len(whole.recordings) == 1]
    for (at, held), (other, log) in combinations(alone, 2):
        one = as_one_log(held, log)
        if one is not None:
            return at, other, one
    return None


def as_one_log(held: Log, log: Log) -> OneLog | None:
    """Two logs as one.

    Parameters
    ----------
    held, log : Log
        In the order in which they were given.

    Returns
    -------
    OneLog or None
        None where they are two logs.
    """
    if _holds_the_same(held, log):
        text = f"{log.name} holds the same as {held.name} and was left out."
        return OneLog(held.with_findings(Finding("same-log-twice", "note", text, log.name)), (held,))
    if not held.layout or held.layout != log.layout:
        return None
    before, after = sorted((held, log), key=lambda one: one.time.first_s)
    if goes_on(before, after):
        return _put_together(held, before, after, after)
    rest = without_copies(before, after, printed_alike=False)
    if rest is not None:
        return _put_together(held, before, after, rest)
    # each with a clock of its own
    for before, after in ((held, log), (log, held)):
        first = _rows_in(before, after)
        rest = None if first is None else without_copies(before, _from(before, after, first))
        if rest is not None:
            return _put_together(held, before, after, rest)
    orders = [(before, after) for before, after in ((held, log), (log, held)) if _goes_on_anew(before, after)]
    if len(orders) != 1:
        return None
    before, after = orders[0]
    return _put_together(held, before, after, _from(before, after, before.text.rows))


def end_to_end(pieces: Sequence[Log]) -> Log:
    """Recordings of one log put together as it is known that they go on from one another.

    Parameters
    ----------
    pieces : sequence of Log
        In the order of their rows, of the same columns.
    """
    whole, *rest = pieces
    for piece in rest:
        gap = piece.time.first_s - whole.time.last_s
        on_one_clock = 0 < gap * whole.time.rate_hz <= MOST_ROWS_LATE
        whole = one_after_the_other(whole, piece if on_one_clock else _from(whole, piece, whole.text.rows))
    return whole


def _put_together(held: Log, before: Log, after: Log, rest: Log) -> OneLog:
    """One log of two, of which the later one's rows that the earlier does not hold are given."""
    joined = one_after_the_other(before, rest)
    anew = rest.time.first_s != after.time.first_s and rest.channels is after.channels
    again = "" if rest.channels is after.channels else "; rows that both hold were left out once"
    text = f"{after.name} goes on where {before.name} ends, with the same columns: they were read as one log{again}."
    told = [Finding("log-goes-on", "note", text, after.name)]
    if anew:
        text = (
            f"The clock of {after.name} begins anew while the measured values go on from {before.name}: one row's step "
            "was put between them, so times across it are less sure."
        )
        told.append(Finding("clock-begins-anew", "caution", text, after.name))
    findings = [*before.findings, *(one for one in after.findings if one not in before.findings)]
    at = min((channel.log for channel in held.channels), default=0)
    channels = tuple(replace(channel, log=at) for channel in joined.channels)
    parts = (*before.files, *(name for name in after.files if name not in before.files))
    return OneLog(
        replace(joined, name=held.name, parts=parts, channels=channels, findings=(*findings, *told)), (before, after)
    )


def _goes_on_anew(before: Log, after: Log) -> bool:
    """Whether a log whose clock begins at or before another's end goes on from its last row by its values."""
    if before.time.rate_hz <= 0 or after.time.first_s * after.time.rate_hz > MOST_ROWS_LATE:
        return False
    ends, begins = _rows_at_an_end(before, last=True), _rows_at_an_end(after, last=False)
    both = [header for header in ends if header in begins]
    return bool(both) and values_go_on(np.array([ends[one] for one in both]), np.array([begins[one] for one in both]))


def _rows_at_an_end(log: Log, *, last: bool) -> dict[str, FloatArray]:
    """What stands in the rows at an end of a log under each header: one part may have been read as another channel."""
    found = [(channel.header, _at_an_end(log, channel, last=last)) for channel in log.channels]
    return {header: values for header, values in found if values is not None}


def _at_an_end(log: Log, channel: Channel, *, last: bool) -> FloatArray | None:
    """A channel in the rows at an end of its log; None where it does not stand in each of them."""
    values = channel.values[-MOST_ROWS_BESIDE:] if last else channel.values[:MOST_ROWS_BESIDE]
    time_s = channel.time_s[-MOST_ROWS_BESIDE:] if last else channel.time_s[:MOST_ROWS_BESIDE]
    edge_s = log.time.last_s - log.time.first_s if last else 0.0
    far = abs((time_s[0] if last else time_s[-1]) - edge_s) if time_s.size else np.inf
    return values if values.size == MOST_ROWS_BESIDE and far * log.time.rate_hz <= MOST_ROWS_BESIDE else None


MOST_ROWS_LATE = 2.0
"""Rows from nought within which a clock that begins anew begins. [-]"""
FEWEST_ROWS, FEWEST_VALUES = 25, 12
"""Rows that the end of one log and the beginning of another must share, and different values among them of the channel
that changes most: idle alone may be alike. Chosen by hand. [-], [-]"""


def _rows_in(before: Log, after: Log) -> int | None:
    """The row of a log from which its end is the beginning of another in the channel that changes most."""
    pairs = [(one.values, other.values) for one, other in zip(before.channels, after.channels, strict=False)]
    pairs = [pair for pair in pairs if min(pair[0].size, pair[1].size) >= FEWEST_ROWS]
    if not pairs or len(before.channels) != len(after.channels):
        return None
    one, other = max(pairs, key=lambda pair: np.unique(pair[1]).size)
    for row in np.flatnonzero(one == other[0]).tolist():
        shared = one.size - row
        if row and FEWEST_ROWS <= shared <= other.size and np.array_equal(one[row:], other[:shared]):
            return row if np.unique(other[:shared]).size >= FEWEST_VALUES else None
    return None


def _from(before: Log, after: Log, row: int) -> Log:
    """A log whose clock begins where a row of another has it."""
    rate_hz = before.time.rate_hz
    first_s = before.time.first_s + (row / rate_hz if rate_hz > 0 else 0.0)
    lasts_s = after.time.last_s - after.time.first_s
    return replace(after, time=replace(after.time, first_s=first_s, last_s=first_s + lasts_s))


def _holds_the_same(held: Log, log: Log) -> bool:
    """Whether all channels are named and valued alike, however the files are written."""
    if [one.name for one in held.channels] != [one.name for one in log.channels] or not held.channels:
        return False
    return all(
        np.array_equal(one.time_s, other.time_s) and np.array_equal(one.values, other.values, equal_nan=True)
        for one, other in zip(held.channels, log.channels, strict=True)
    )
