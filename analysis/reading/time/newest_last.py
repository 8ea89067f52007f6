"""A log whose newest row stands first: turned round.

Public: `newest_last`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import polars as pl

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.rows_in_order import taken
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.time.candidates import rises
from passband.analysis.reading.time.timestamps import seconds_of_clock
from passband.analysis.results.findings import Finding

FEWEST_ROWS = 20
"""Of fewer rows none are turned."""
MOST_READABLE = 0.5
"""Share of rows whose time must be one. [-]"""


def newest_last(table: Table, columns: Iterable[int], names: Sequence[str]) -> Table:
    """Turn the rows round where the newest stands first.

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
        The same where one of them rises, or none falls from row to row as a time would rise; else with a finding.
    """
    fall = [at for at in columns if table.rows >= FEWEST_ROWS and _ends_lower(table.columns[at])]
    if not fall:
        return table
    times = [_numbers(table.columns[at], table.rows) for at in fall]
    turned = [
        at for at, time in zip(fall, times, strict=True) if rises(-time) and np.isfinite(time).mean() > MOST_READABLE
    ]
    if not turned:
        return table
    back = np.arange(table.rows)[::-1]
    name = names[turned[0]]
    text = (
        f"The newest row stands first: {name} falls from row to row. The rows were turned round. If it counts down to "
        "something, tell which column is the time."
    )
    found = Finding("newest-row-first", "caution", text, name)
    return table.with_columns([taken(column, back, table.rows) for column in table.columns], found)


def _ends_lower(column: Column) -> bool:
    """Whether a time stands lower in the last row than in the first."""
    if column.words is not None:
        if not len(column.words):
            return False
        first, last = seconds_of_clock(pl.Series([column.words[0], column.words[-1]], dtype=pl.String))
    elif column.values is not None and column.values.size:
        first, last = column.values[0], column.values[-1]
    else:
        return False
    return bool(last < first)


def _falls(time: FloatArray) -> bool:
    return rises(-time) and bool(np.isfinite(time).mean() > MOST_READABLE)


def _numbers(column: Column, rows: int) -> FloatArray:
    return column.over(rows) if column.words is None else seconds_of_clock(column.words)
