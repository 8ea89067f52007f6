"""Stamps that were taken when a buffer was written out, and not when its rows were measured.

A logger that keeps some rows and stamps them as it writes them gives bunches: rows a millisecond apart, then a pause as
long as it took to fill the buffer again. What it measured goes on evenly from row to row, across the pause too.

Public: `Flushes`, `find_flushes`, `spread_flushes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.statistics.fits import middle

PAUSE = 4.0
"""A step so many times the usual one is a pause between two bunches: one lost row, and jitter, stay below. [-]"""
FEWEST_FLUSHES, FEWEST_ROWS = 10, 3
"""Bunches, and rows in each, from which on they are told from gaps."""
MOSTLY = 0.8
"""Share of bunches that hold the same number of rows; a lost row or an empty one may stand between. [-]"""
BUNCHED = 2.0
"""Rows are bunched where their mean step is so many times their usual one. [-]"""
EVEN = 0.1
"""Buffers fill as evenly as rows come: half of them within this share of the usual time. [-]"""
NEW_FROM_ROW_TO_ROW = 0.6
"""Share of a bunch's rows in which a column changes that was measured for each of them; one that is sent once a bunch
changes in one row of three at most. [-]"""
MOVING_SHARE = 0.25
"""Share of bunches, those across which a column moves most, by which its course is judged: the rest is noise. [-]"""

MOVES = 3.0
"""A column moves where those take it so many times a usual step inside a bunch; noise alone takes it 1.6, by
arithmetic of normal scatter. [-]"""


@dataclass(frozen=True, slots=True)
class Flushes:
    """Bunches of rows."""

    last: IntArray
    """Last row of each, but for the last bunch."""
    rows: int
    """Rows that nearly each holds."""
    step: float
    """What a row takes on the mean, in the unit of the stamps."""
    within: float
    """Usual step inside a bunch, in the same unit."""


def find_flushes(stamps: FloatArray) -> Flushes | None:
    """Find bunches of rows by their stamps alone.

    Parameters
    ----------
    stamps : array, shape (n,)
        Rising, in any unit; NaN is passed over by finding nothing.

    Returns
    -------
    Flushes or None
        None where the rows come evenly, or in bunches of unlike sizes.

    Examples
    --------
    >>> stamps = np.add.outer(np.arange(20) * 0.16, np.arange(8) * 0.001).ravel()
    >>> found = find_flushes(stamps)
    >>> found.rows, round(found.step, 4)
    (8, 0.02)
    """
    steps = np.diff(stamps)
    if steps.size < FEWEST_FLUSHES * FEWEST_ROWS or not steps.min() > 0:
        return None
    if steps.max() <= PAUSE * steps.min():
        return None  # so none is a pause beside the median either
    within = middle(steps)
    last = np.flatnonzero(steps > PAUSE * within)
    if last.size < FEWEST_FLUSHES:
        return None
    sizes = np.diff(last)
    rows = int(np.bincount(sizes).argmax())
    full = sizes == rows
    if rows < FEWEST_ROWS or np.mean(full) < MOSTLY:
        return None
    lasts = np.diff(stamps[last + 1])[full]
    usual = float(np.median(lasts))
    if float(np.median(np.abs(lasts - usual))) > EVEN * usual or usual < BUNCHED * rows * within:
        return None
    return Flushes(last, rows, usual / rows, within)


def spread_flushes(stamps: FloatArray, flushes: Flushes, columns: Sequence[FloatArray]) -> FloatArray | None:
    """Spread the rows of each bunch over the time in which its buffer filled.

    Parameters
    ----------
    stamps : array, shape (n,)
        As `find_flushes` took them.
    flushes : Flushes
        What it found.
    columns : sequence of array, each of shape (n,)
        What was measured.

    Returns
    -------
    array, shape (n,), or None
        None where no column shows that values go on evenly across the pauses: rows may have come in bunches truly.

    Notes
    -----
    A buffer is written as its last row fills it: that row stands where its bunch begins, the others before it. Across
    a pause that is no buffer's time (a lost buffer, a halt) rows keep the usual step.
    """
    asked = [even for values in columns if (even := _goes_on_evenly(values, flushes)) is not None]
    if not asked or not all(asked):
        return None
    starts = np.concatenate(([0], flushes.last + 1))
    sizes = np.diff(np.concatenate((starts, [stamps.size])))
    lasts = np.diff(stamps[starts], prepend=np.nan) / sizes
    usual = np.abs(lasts / flushes.step - 1.0) < 0.5  # NaN is not
    step = np.repeat(np.where(usual, lasts, flushes.step), sizes)
    before = np.repeat(starts + sizes, sizes) - 1 - np.arange(stamps.size)
    spread = np.repeat(stamps[starts], sizes) - before * step
    rest = np.arange(1, sizes[-1] + 1)
    spread[starts[-1] :] = spread[starts[-1] - 1] + rest * flushes.step  # a buffer that nothing filled any more
    return spread if np.all(np.diff(spread) > 0) else None


def _goes_on_evenly(values: FloatArray, flushes: Flushes) -> bool | None:
    """Whether a column moves across the pauses by no more than a row's share of what it moves in all.

    None where it moves no more than it scatters, or is not measured anew for each row.
    """
    if not np.isfinite(values).all():
        return None
    steps = np.diff(values)
    inside = np.ones(steps.size, dtype=bool)
    inside[flushes.last] = False
    if np.count_nonzero(steps[inside]) < NEW_FROM_ROW_TO_ROW * np.count_nonzero(inside):
        return None
    first = flushes.last - flushes.rows // 2
    whole = (first >= 0) & (first + flushes.rows < values.size)
    moved = values[first[whole] + flushes.rows] - values[first[whole]]
    across = steps[flushes.last[whole]] * np.sign(moved)
    most = np.argsort(-np.abs(moved))[: max(int(MOVING_SHARE * moved.size), FEWEST_FLUSHES // 2)]
    total = float(np.sum(np.abs(moved[most])))
    if total < MOVES * most.size * float(np.mean(np.abs(steps[inside]))):
        return None
    a_row, a_pause = 1.0 / flushes.rows, 1.0 - (flushes.rows - 1) / flushes.rows * flushes.within / flushes.step
    return float(np.sum(across[most])) / total < 0.5 * (a_row + a_pause)
