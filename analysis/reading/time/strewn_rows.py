"""Rows strewn about, as a sheet sorted by another column or packets of a radio leave them, by their times in order.

Public: `in_order_by_values`.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.reading.rows.rows_in_order import ALL_BUT, EVENLY, FEWEST_ROWS, taken
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.time.candidates import rises
from passband.analysis.results.findings import Finding

MOST_CLOCKS = 4
"""Columns named as a time that are tried; a log with more strewn clocks is none."""
SHORTER, FEWEST_SHORTER = 0.7, 2
"""What is left of a channel's way from row to row in the right order of strewn rows, where it moves by more than it
scatters; and how many channels must show it. Noise alone has the same way in any order. [-], [-]"""


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
    columns = list(itertools.islice(columns, MOST_CLOCKS))
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
