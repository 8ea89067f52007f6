"""Columns that may be the time by what they do: they rise evenly, over a span that a log can last.

Public: `is_plainly_time`, `rises`, `ticks_evenly`, `time_candidates`.
"""

from __future__ import annotations

import re

import numpy as np

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import time_scale_s
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.time.unit_of_time import unit_named, usual_step

MOSTLY = 0.9
"""Share of rows on which a time must rise to be one."""
TICKS = 5
"""A clock coarser than its rows must have ticked so often to be seen to tick evenly."""
EVEN_TICKS = 0.25
"""How far the rows of its ticks may be from their usual number, in most of them. [-]"""
LOOKED_AT = 5000
"""Rows by which most columns are seen not to be a time."""
STRAYS = 0.03
"""A time strays from a straight line by no more than this share of its span. [-]"""
UNEVEN = 0.6
"""Most of a time's steps are within this share of the usual one. [-]"""

_COUNTER = re.compile(r"(?i)\W*(sample|samples|index|idx|record|row|count|counter|no|nr|point|frame|line|scan|id)\b.*")
_TIME_WORDS = re.compile(r"(?i)time|zeit|temps|tiempo|tempo|tijd|czas|elapsed|uptime|clock|stamp|врем|時間|时间|시간")
_PLAINLY_TIME = re.compile(
    r"(?i)[\W_]*(time|zeit|temps|tiempo|tempo|tijd|czas|elapsed|время|時間|时间|시간)[\W_]*(s|sec|secs|seconds|ms|msec)?[\W_]*"
)
_AXIS = re.compile(r"(?i)[xt]|x[ -]?axis|abszisse|abscissa|abscisse")


def is_plainly_time(name: str) -> bool:
    """Whether a name says time, and but for its unit nothing else.

    Parameters
    ----------
    name : str
        As written.

    Returns
    -------
    bool
        False where it only holds such a word among others.

    Examples
    --------
    >>> [is_plainly_time(name) for name in ("Elapsed", "Zeit_s", "Temps_s", "Lap time", "Elapsed fuel")]
    [True, True, True, False, False]
    """
    return _PLAINLY_TIME.fullmatch(name) is not None


def rises(values: FloatArray) -> bool:
    """Whether values rise from row to row as a time does; a clock coarser than the rows ticks evenly."""
    if values.size > 1 and bool(np.all(values[1:] > values[:-1])):
        return True
    known = values[np.isfinite(values)]
    if known.size < 2:
        return known.size == 1
    steps = np.diff(known)
    if np.mean(steps >= 0) < MOSTLY:
        return False
    return bool(np.mean(steps > 0) >= 0.05) or ticks_evenly(steps)


def ticks_evenly(steps: FloatArray) -> bool:
    """Whether the steps of a time are those of a clock coarser than the rows: alike, and as many rows apart."""
    ticks = np.flatnonzero(steps > 0)
    if ticks.size < TICKS:
        return False
    size, apart = np.median(steps[ticks]), np.diff(ticks)
    alike = np.abs(steps[ticks] - size) <= EVEN_TICKS * size
    often = np.abs(apart - np.median(apart)) <= EVEN_TICKS * np.median(apart)
    return bool(np.mean(alike) >= MOSTLY and np.mean(often) >= 0.7)


def time_candidates(table: Table, header: Header, *, besides: set[int]) -> list[int]:
    """Columns that may be the time where none is named so, likeliest first.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names and units.
    besides : set of int
        Columns that are something else, or were tried.

    Returns
    -------
    list of int
        By unit, name, place and steps; a bare counter of rows, and a column in a unit of something else, is none.
    """
    marks = {
        at: mark
        for at, column in enumerate(table.columns)
        if at not in besides and (mark := _mark(at, column, header)) > 0
    }
    return sorted(marks, key=lambda at: (-marks[at], at))


def _mark(at: int, column: Column, header: Header) -> float:
    """How much speaks for a column's being the time; 0 where it does not rise evenly."""
    values, unit, name = column.values, header.units[at], header.bare[at]
    if values is None or column.rows is not None or values.size < 3:
        return 0.0
    in_time = bool(unit) and time_scale_s(unit) is not None
    if (unit and not in_time) or not rises(values[:LOOKED_AT]) or not rises(values) or not _even(values):
        return 0.0
    others = [match for match in recognise_name(name) if match.channel != "time"]
    counts = bool(_COUNTER.fullmatch(name))
    named = _near_time(name) or bool(_TIME_WORDS.search(name) or unit_named(name))
    if (others and not in_time) or (usual_step(values) == 1.0 and not (in_time or named)) or (counts and not in_time):
        return 0.0
    nameless = not name or header.header_line is None or re.fullmatch(r"(?i)col(umn)?[ _]?\d*", name) is not None
    axis = bool(_AXIS.fullmatch(name))
    return 3.0 * in_time + 2.0 * named + 1.0 * (nameless or axis) + 1.0 * (at == 0) + 0.1


def _even(values: FloatArray) -> bool:
    """Whether a column goes up in a straight line, but for jitter, a tick's width, and a clock's start anew."""
    known = values[np.isfinite(values)]
    steps = np.diff(known)
    rising = steps[steps > 0]
    if not rising.size or rising.size < 0.5 * steps.size:
        return True  # ticks were looked at, or there is one value
    middle = float(np.median(rising))
    if np.mean(np.abs(rising - middle) <= UNEVEN * middle) < MOSTLY:
        return False
    line = np.linspace(known[0], known[-1], known.size)
    return bool((steps < 0).any() or np.max(np.abs(known - line)) <= max(STRAYS * (known[-1] - known[0]), 3 * middle))


def _near_time(name: str) -> bool:
    """Whether a name is "time" with one letter wrong, left out, put in, or two changed over."""
    word = name.strip().casefold()
    if not 3 <= len(word) <= 5 or word in ("tire", "lime", "dime", "mime", "tile", "tame"):
        return False
    return _edits(word, "time") <= 1


def _edits(one: str, other: str) -> int:
    """Letters to change, put in, leave out or change over with a neighbour; 2 stands for more."""
    if one == other:
        return 0
    if len(one) == len(other):
        unlike = [at for at in range(len(one)) if one[at] != other[at]]
        swapped = len(unlike) == 2 and one[unlike[0]] == other[unlike[1]] and one[unlike[1]] == other[unlike[0]]
        return 1 if len(unlike) == 1 or (swapped and unlike[1] == unlike[0] + 1) else 2
    short, long = sorted((one, other), key=len)
    return 1 if any(long[:at] + long[at + 1 :] == short for at in range(len(long))) else 2
