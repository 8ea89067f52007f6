"""Files that are one log: parts of it, each with the time going on from the one before, or the same file again.

Public: `whole_logs`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from passband.analysis.channels.log import Log
from passband.analysis.reading.joining import goes_on, one_after_the_other, without_copies
from passband.analysis.results.findings import Finding

Files = list[tuple[Log, ...]]


def whole_logs(files: Sequence[tuple[Log, ...]]) -> Files:
    """Files with parts of one log put together, and without those that hold the same as another.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file.

    Returns
    -------
    list of tuples of Log
        As many or fewer, in order; each that was put together or left out is told on the log that stays.

    Notes
    -----
    Parts are of one layout, and the time of the later goes on within a few rows of where the earlier ends, or its first
    rows are the earlier's last: on one clock within the last digit printed, on clocks that each begin anew to the
    digit. Files that each hold several recordings are left as they are.
    """
    whole: Files = list(files)
    while (pair := _first_pair(whole)) is not None:
        (at, log), other = pair
        whole[at] = (log,)
        del whole[other]
    return whole


def _first_pair(files: Files) -> tuple[tuple[int, Log], int] | None:
    """The first two files that are one: the place of the first with what both are, and the place of the other."""
    alone = [(at, recordings[0]) for at, recordings in enumerate(files) if len(recordings) == 1]
    for (at, held), (other, log) in combinations(alone, 2):
        put = _together(held, log)
        if put is not None:
            return (at, put), other
    return None


def _together(held: Log, log: Log) -> Log | None:
    """Two logs as one; None where they are two."""
    if _holds_the_same(held, log):
        text = f"{log.name} holds the same as {held.name} and was left out."
        return held.with_findings(Finding("same-log-twice", "note", text, log.name))
    if not held.layout or held.layout != log.layout:
        return None
    before, after = sorted((held, log), key=lambda one: one.time.first_s)
    rest = after if goes_on(before, after) else without_copies(before, after, printed_alike=False)
    if rest is None:  # each with a clock of its own, but rows that both hold
        before, after = (held, log) if _rows_in(held, log) is not None else (log, held)
        first = _rows_in(before, after)
        rest = None if first is None else without_copies(before, _from(before, after, first))
    if rest is None:
        return None
    joined = one_after_the_other(before, rest)
    again = "" if rest is after else "; rows that both hold were left out once"
    text = f"{after.name} goes on where {before.name} ends, with the same columns: they were read as one log{again}."
    findings = [*before.findings, *(one for one in after.findings if one not in before.findings)]
    told = Finding("log-goes-on", "note", text, after.name)
    return replace(joined, name=held.name, findings=(*findings, told))


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
