"""Rows that stand out of the order of their times, or twice: put in order where the times leave no doubt.

Public: `InOrder`, `in_order`, `taken`, `EVENLY`, `ALL_BUT`, `FEWEST_ROWS`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.results.findings import Finding

FEWEST_ROWS, FEWEST_COLUMNS = 20, 3
"""Of fewer rows or columns none are told to be copies of others. [-], [-]"""
EVENLY, ALL_BUT = 0.4, 0.99
"""Put in order, all but so many steps of the time are this near to the usual one; rows of two recordings laid into each
other would not be, nor would a clock's that was set back. [-], [-]"""
AS_BEFORE = 0.1
"""How far the usual step may change by putting rows in order: rows of two recordings would halve it. [-]"""


@dataclass(frozen=True, slots=True)
class InOrder:
    """A table whose rows stand in the order of their times."""

    table: Table
    """With a finding of what was done."""
    rows: IntArray
    """Which of the rows as they were each row is."""


def in_order(table: Table, time_s: FloatArray) -> InOrder | None:
    """Put rows in the order of their times, and leave out copies of rows.

    Parameters
    ----------
    table : Table
        The rows.
    time_s : array, shape (n,)
        The time of each, as the log has it; NaN where blank. [s]

    Returns
    -------
    InOrder or None
        None where they stand so, or where the times do not tell: stamps that are missing, alike on unlike rows, or not
        evenly spaced when put in order.
    """
    steps = np.diff(time_s)
    if time_s.size < FEWEST_ROWS or bool((steps > 0).all()) or not bool(np.isfinite(time_s).all()):
        return None
    order = np.argsort(time_s, kind="stable")
    again = np.concatenate(([False], np.diff(time_s[order]) == 0))
    if again.any() and bool(np.any(time_s[1:][steps < 0] <= time_s[order[0]])):
        return None  # all of it again, from its first row on: another recording
    if again.any() and not (len(table.columns) >= FEWEST_COLUMNS and _are_copies(table, order, again)):
        return None
    kept = order[~again]
    if kept.size < FEWEST_ROWS or not _is_even(time_s, kept):
        return None
    findings = [*_tell_copies(int(again.sum()), order[again]), *_tell_order(kept)]
    columns = [taken(column, kept, table.rows) for column in table.columns]
    return InOrder(replace(table.with_columns(columns, *findings), rows=kept.size), kept)


def _are_copies(table: Table, order: IntArray, again: BoolArray) -> bool:
    """Whether each row that has the time of another has its values as well."""
    here, there = order[again], order[np.flatnonzero(again) - 1]
    for column in table.columns:
        if column.words is not None:
            alike = (column.words.gather(here) == column.words.gather(there)).fill_null(value=True).all()
        else:
            values = column.over(table.rows)
            alike = np.array_equal(values[here], values[there], equal_nan=True)
        if not alike:
            return False
    return True


def _is_even(time_s: FloatArray, kept: IntArray) -> bool:
    """Whether the times in order go on as before: evenly, at the step that neighbours had."""
    steps = np.diff(time_s[kept])
    usual = float(np.median(steps))
    moved = np.abs(np.diff(time_s))
    before = float(np.median(moved[moved > 0]))
    even = np.mean(np.abs(steps - usual) <= EVENLY * usual)
    if float(steps.max()) > max((1.0 + EVENLY) * usual, float(np.diff(time_s).max())):
        return False  # a clock that began again from zero
    return bool(usual > 0 and abs(before / usual - 1.0) <= AS_BEFORE and even >= ALL_BUT)


def taken(column: Column, rows: IntArray, height: int) -> Column:
    """A column in another order of rows.

    Parameters
    ----------
    column : Column
        As read.
    rows : array of int
        Which row comes where; each at most once.
    height : int
        Rows of the table before.
    """
    words = column.words.gather(pl.Series(rows)) if column.words is not None else None
    if column.values is None or column.rows is None:
        values = None if column.values is None else column.values[rows]
        return Column(values, None if column.rows is None else np.arange(rows.size), words)
    held = np.zeros(height, dtype=bool)
    held[column.rows] = True
    return Column(column.over(height)[rows][held[rows]], np.flatnonzero(held[rows]), words)


def _tell_copies(number: int, rows: IntArray) -> list[Finding]:
    if not number:
        return []
    text = (
        f"{number} row{'s are copies' if number > 1 else ' is a copy'} of another, in time and in all values, and "
        f"{'were' if number > 1 else 'was'} left out."
    )
    return [Finding("repeated-time-stamps", "caution", text, f"row {int(rows.min()) + 1}")]


def _tell_order(kept: IntArray) -> list[Finding]:
    back = np.flatnonzero(np.diff(kept) < 0)
    if not back.size:
        return []
    text = (
        f"The rows do not stand in the order of their times: {back.size} time{'s' if back.size > 1 else ''} a row "
        "stands behind a later one. They were put in order."
    )
    return [Finding("rows-out-of-order", "caution", text, f"row {int(kept[back[0] + 1]) + 1}")]
