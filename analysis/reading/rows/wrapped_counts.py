"""Counts of 16 bits that ran over: beyond its greatest count a channel goes on from its least, and comes back so.

Public: `without_wraps`.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.at_once import each_at_once
from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

COUNTS = 65536.0
"""Counts of 16 bits."""
STEPS = tuple(sorted({part * 10.0**power for part in (1.0, 2.0, 2.5, 5.0) for power in range(-4, 2)} | {
    2.0**power for power in range(-12, 1)
}))  # fmt: skip
"""What one count may mean, in the column's unit: round decimals and binary fractions, as loggers scale their counts."""
FEWEST_ROWS = 50
"""Fewer rows do not show how a channel moves."""
MOST_SHARE = 0.02
"""A channel runs over a few times in a log; one that leaps more often does something else. [-]"""
LONGER_THAN = 3
"""Samples that every stretch must hold: a lost signal or a spike is shorter or stands still."""
AT_THE_END = 1.5
"""Half of all leaps begin and end this near to the ends, in what 99 in 100 steps do not exceed; none farther than the
greatest step: a signal may cross an end in the midst of a shift. [-]"""
ANY_NEAR, PLAIN = 0.01, 0.35
"""So near to an end, in all counts, is always near; a step of a larger part of them may be a leap and a real step
together, and nothing is mended. [-], [-]"""
OFTEN_NEAR, ONCE_NEAR = 0.15, 0.03
"""That must be so small a part of all counts for leaps, and for a single one, to be more than chance. [-]"""
A_FEW_COUNTS = 8.0
"""What rounding in print may make of a bend. [counts]"""
_NO_MEASURE = frozenset({"time", "gear", "satellites", "latitude", "longitude", "shift_cut", "clutch", "brake"})


@dataclass(frozen=True, slots=True)
class _Wrap:
    """How a column ran over."""

    span: float
    """From the least count to the one after the greatest, in the column's unit."""
    leaps: BoolArray
    """One for each step between samples."""


def without_wraps(table: Table, header: Header) -> Table:
    """Put channels together again where their counts ran over.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names, for recognition and the findings.

    Returns
    -------
    Table
        With a finding for each column mended: all its leaps are those of 65,536 counts of one usual size, begin and end
        at the ends of what so many counts hold, and without them the signal moves on as it does elsewhere.
    """
    columns, findings = list(table.columns), []
    counted = [
        (at, column.values)
        for at, column in enumerate(table.columns)
        if column.values is not None and column.values.size >= FEWEST_ROWS and _may_run_over(header.bare[at])
    ]
    size = sum(values.nbytes for _, values in counted)
    may_leap = each_at_once(lambda one: _may_leap(one[1]), counted, total_bytes=size)
    for (at, values), leaps in zip(counted, may_leap, strict=True):
        if not leaps:
            continue
        known = np.isfinite(values)
        wrap = _wrap_of(values[known])
        if wrap is None:
            continue
        mended = values.copy()
        mended[known] = _put_together(values[known], wrap, signed_kind=_may_be_negative(header.bare[at]))
        columns[at] = replace(columns[at], values=mended)
        text = (
            f"{header.names[at]} leaps by {wrap.span:g} and goes on as before, {int(wrap.leaps.sum())} times: its "
            "count of 16 bits ran over. The stretches were put together."
        )
        findings.append(Finding("count-ran-over", "caution", text, header.names[at]))
    return table.with_columns(columns, *findings) if findings else table


def _may_leap(values: FloatArray) -> bool:
    """Whether any step may be more than half of the range; not told where a value is missing."""
    half = 0.5 * (float(values.max()) - float(values.min()))
    if not math.isfinite(half):
        return True  # infinite ones too: a number too great for a float
    steps = values[1:] - values[:-1]
    return not (steps.max() <= half and steps.min() >= -half)


def _may_run_over(bare: str) -> bool:
    return any(match.channel not in _NO_MEASURE for match in recognise_name(bare)[:1])


def _may_be_negative(bare: str) -> bool:
    kinds = [kind_of(match.channel) for match in recognise_name(bare)[:1]]
    return any(kind is not None and kind.low < 0 and -kind.low > 0.05 * kind.high for kind in kinds)


def _wrap_of(values: FloatArray) -> _Wrap | None:
    if values.size < FEWEST_ROWS:
        return None
    steps = np.diff(values)
    leaps = np.abs(steps) > 0.5 * float(np.ptp(values))
    number = int(np.count_nonzero(leaps))
    if number < 1 or number > MOST_SHARE * values.size:
        return None
    others, sizes = np.abs(steps[~leaps]), np.abs(steps[leaps])
    usual = float(np.median(sizes))
    span = min((COUNTS * step for step in STEPS), key=lambda one: abs(one - usual))
    most = float(others.max())
    if np.any(np.abs(sizes - span) > most):
        return None
    if most > PLAIN * span:
        return None  # a step that may be a leap and a real one together
    near = max(AT_THE_END * float(np.quantile(others, 0.99)), ANY_NEAR * span)
    if near > (OFTEN_NEAR if number > 1 else ONCE_NEAR) * span:
        return None
    low = -0.5 * span if values.min() < -0.25 * span else 0.0
    before, after = values[:-1][leaps], values[1:][leaps]
    if values.min() < low or values.max() >= low + span:
        return None
    away = np.maximum(low + span - np.maximum(before, after), np.minimum(before, after) - low)
    wrap = _Wrap(span, leaps)
    at_the_ends = np.all(away <= most) and np.mean(away <= near) >= 0.5
    return wrap if bool(at_the_ends) and _goes_on(values, wrap) else None


def _goes_on(values: FloatArray, wrap: _Wrap) -> bool:
    """Whether each stretch is a moving signal, and the whole bends at its ends no more than elsewhere."""
    edges = [0, *(np.flatnonzero(wrap.leaps) + 1).tolist(), values.size]
    pieces = [values[start:stop] for start, stop in itertools.pairwise(edges)]
    if any(piece.size < LONGER_THAN or np.unique(piece).size < LONGER_THAN for piece in pieces):
        return False
    bends = np.abs(np.diff(_put_together(values, wrap, signed_kind=False), 2))
    beside = np.zeros(bends.size, dtype=bool)
    beside[: wrap.leaps.size - 1] |= wrap.leaps[:-1]
    beside |= wrap.leaps[1:]
    return bool(np.all(bends[beside] <= float(bends[~beside].max()) + A_FEW_COUNTS / COUNTS * wrap.span))


def _put_together(values: FloatArray, wrap: _Wrap, *, signed_kind: bool) -> FloatArray:
    steps = np.diff(values)
    turns = np.cumsum(np.where(wrap.leaps, -np.sign(steps), 0.0))
    whole = values + wrap.span * np.concatenate(([0.0], turns))
    if signed_kind and float(np.median(whole)) > 0.5 * wrap.span:
        whole = whole - wrap.span  # it began below zero, written as a great count
    return np.asarray(whole, dtype=np.float64)
