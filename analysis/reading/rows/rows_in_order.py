"""Rows that stand out of the order of their times, or twice: put in order where the times leave no doubt.

Public: `InOrder`, `in_order`, `in_order_by_values`, `taken`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.time.candidates import rises
from passband.analysis.results.findings import Finding

FEWEST_ROWS, FEWEST_COLUMNS = 20, 3
"""Of fewer rows or columns none are told to be copies of others. [-], [-]"""
EVENLY, ALL_BUT = 0.4, 0.99
"""Put in order, all but so many steps of the time are this near to the usual one; rows of two recordings laid into each
other would not be, nor would a clock's that was set back. [-], [-]"""
SHORTER, FEWEST_SHORTER = 0.7, 2
"""What is left of a channel's way from row to row in the right order of strewn rows, where it moves by more than it
scatters; and how many channels must show it. Noise alone has the same way in any order. [-], [-]"""
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


def in_order_by_values(table: Table, columns: Iterable[int], names: Sequence[str]) -> Table:
    """Put rows that stand strewn about in the order of their times, where this makes the measured values go on evenly.

    Parameters
    ----------
    table : Table
        The rows.
    columns : iterable of int
        Those that are named as a time.
    names : sequence of str
        Of all columns, for the finding.

    Returns
    -------
    Table
        The same where one of them rises; where none has a stamp of its own on each row, evenly spaced in order; or
        where values that move go from row to row by no less in that order: rows of two recordings, or a clock that is
        none.
    """
    columns = list(columns)
    values = {at: column.values for at in columns if (column := table.columns[at]).rows is None}
    times = {at: one for at, one in values.items() if one is not None and one.size == table.rows >= FEWEST_ROWS}
    if any(rises(one) for one in times.values()):
        return table
    for at, time in times.items():
        order = np.argsort(time, kind="stable")
        steps = np.diff(time[order])
        if not np.isfinite(time).all() or steps.min() <= 0 or not _all_usual(steps):
            continue
        if not _go_on_better(table, order, set(columns)):
            continue
        text = (
            f"The rows stand strewn about: {names[at]} steps backward {int((np.diff(time) < 0).sum())} times. They "
            "were put in the order of its stamps, which are even then and in which the measured values go on."
        )
        found = Finding("rows-out-of-order", "caution", text, names[at])
        return table.with_columns([taken(column, order, table.rows) for column in table.columns], found)
    return table


def _all_usual(steps: FloatArray) -> bool:
    usual = float(np.median(steps))
    return bool(np.mean(np.abs(steps - usual) <= EVENLY * usual) >= ALL_BUT)


def _go_on_better(table: Table, order: IntArray, besides: set[int]) -> bool:
    """Whether most columns that move go from row to row by much less in another order of the rows."""
    shorter: list[bool] = []
    for at, column in enumerate(table.columns):
        if at in besides or column.values is None or column.rows is not None:
            continue
        course = float(np.nansum(np.abs(np.diff(column.values))))
        if course > 0.0:
            shorter.append(float(np.nansum(np.abs(np.diff(column.values[order])))) <= SHORTER * course)
    return sum(shorter) >= FEWEST_SHORTER and 2 * sum(shorter) > len(shorter)


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
