"""Rows that hold fewer cells than the others: blanks left out at their end, or a cell lost before it.

The first is a habit of some loggers and harmless; after the second every value stands under the wrong name.

Public: `find_shifted_rows`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.reading.rows.table import RowSource
from passband.analysis.reading.rows.unusable_values import GREATEST
from passband.analysis.reading.text.cells import number_of, split_line
from passband.analysis.statistics.intervals import Interval, find_true_runs

FEWEST_ROWS = 20
"""Rows of a stretch that is looked at; a multi-rate log leaves blanks out on fewer rows in a row."""
ROWS_BESIDE = 8
"""Rows on each side of the edge that are held against each other: 80 ms at 100 Hz, in which a run moves little."""
MOST_ALONE = 40
"""Short rows among full ones that are looked at, spread over the log."""
MOST_STRETCHES = 12
"""Stretches looked at; a log that was shifted more often than that is told of by those."""
LEAP_SHARE, LEAP_RANGES = 0.2, 4.0
"""A column leaps where its level changes by more than this share of it and by so many of its ranges beside the edge."""
FEWEST_LEAPS, LEAPING_SHARE = 2, 0.25
"""Columns that must leap, and their share: at a gear change engine and road speed may, the rest goes on."""


def find_shifted_rows(
    source: RowSource, spans: Sequence[tuple[int, int]], short: BoolArray, *, decimal: str
) -> list[Interval]:
    """Find stretches of short rows whose values do not go on from the rows before.

    Parameters
    ----------
    source : RowSource
        The rows.
    spans : sequence of pairs
        First and last byte of each row that holds anything.
    short : array of bool, shape (n,)
        Which of them hold fewer cells than the others.
    decimal : str
        ``.`` or ``,``.

    Returns
    -------
    list of Interval
        Of the rows; empty where short rows merely leave blanks out at their end.
    """
    found: list[Interval] = []
    runs = find_true_runs(short)
    alone = [run for run in runs if run.stop - run.start < FEWEST_ROWS]
    if _are_shifted(source, spans, short, alone[:: max(len(alone) // MOST_ALONE, 1)], decimal):
        found += alone
    stretches = [run for run in runs if run.stop - run.start >= FEWEST_ROWS]
    for run in stretches[:MOST_STRETCHES]:
        inside = _numbers(source, spans[run.start : run.start + ROWS_BESIDE], decimal)
        before = _numbers(source, spans[max(run.start - ROWS_BESIDE, 0) : run.start], decimal)
        ends = _numbers(source, spans[run.stop - ROWS_BESIDE : run.stop], decimal)
        after = _numbers(source, spans[run.stop : run.stop + ROWS_BESIDE], decimal)
        if _leap(before, inside) or _leap(ends, after):
            found.append(run)
    return sorted(found, key=lambda run: run.start)


def _are_shifted(
    source: RowSource, spans: Sequence[tuple[int, int]], short: BoolArray, alone: Sequence[Interval], decimal: str
) -> bool:
    """Whether the values of most short rows among full ones lie beside those of the full rows next to them."""
    looked = wrong = 0
    for run in alone:
        before = [at for at in range(max(run.start - 2, 0), run.start) if not short[at]]
        after = [at for at in range(run.stop, min(run.stop + 2, short.size)) if not short[at]]
        if not before or not after:
            continue
        near = _numbers(source, [spans[at] for at in (*before, *after)], decimal)
        inside = _numbers(source, [spans[run.start]], decimal)[0]
        width = min(near.shape[1], inside.size)
        least, most = np.nanmin(near, axis=0, initial=np.inf)[:width], np.nanmax(near, axis=0, initial=-np.inf)[:width]
        far = np.maximum(inside[:width] - most, least - inside[:width])
        compared = np.isfinite(far)
        size = np.maximum(np.abs(least), np.abs(most))
        leaping = compared & (far > LEAP_SHARE * size) & (far > LEAP_RANGES * (most - least))
        looked += 1
        wrong += int(leaping.sum()) >= max(FEWEST_LEAPS, LEAPING_SHARE * int(compared.sum()))
    return looked > 0 and 2 * wrong > looked


def _numbers(source: RowSource, spans: Sequence[tuple[int, int]], decimal: str) -> FloatArray:
    """Cells of some rows as numbers; NaN for what is none, and for cells that a row lacks."""
    rows = [split_line(source.data[start:stop].decode("latin-1"), source.delimiter) for start, stop in spans]
    width = max((len(row) for row in rows), default=0)
    table = np.full((len(rows), width), np.nan)
    for at, row in enumerate(rows):
        for column, cell in enumerate(row):
            number = number_of(cell, decimal)
            table[at, column] = np.nan if number is None or abs(number) > GREATEST else number
    return table


def _leap(one: FloatArray, other: FloatArray) -> bool:
    """Whether many columns change their level from one set of rows to the other."""
    width = min(one.shape[1], other.shape[1])
    leaping = compared = 0
    for column in range(width):
        a, b = (rows[:, column][np.isfinite(rows[:, column])] for rows in (one, other))
        if min(a.size, b.size) < ROWS_BESIDE // 2:
            continue
        compared += 1
        away = abs(float(np.median(a) - np.median(b)))
        size = max(abs(float(np.median(a))), abs(float(np.median(b))))
        leaping += away > LEAP_SHARE * size and away > LEAP_RANGES * float(np.ptp(a) + np.ptp(b))
    return leaping >= max(FEWEST_LEAPS, LEAPING_SHARE * compared)
