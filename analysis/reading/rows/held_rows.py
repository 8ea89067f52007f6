"""Cells that say "no value" between the samples of a slower channel: rows without a cell, not samples that failed.

A logger of several rates leaves the cells between a slow channel's samples blank, or writes NaN into them. Taken for
samples that failed, they would part the channel into single values.

Public: `without_cells_between`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.reading.rows.table import Column, Table

LOOKED_AT = 60
"""Rows that show whether a column may be one of few samples, before all are looked at."""
FEWEST = 8
"""Samples that must show the rate."""
ON_THE_GRID = 0.95
"""Share of samples that stand as far behind the one before as usual. [-]"""
LONGEST_HOLE = 3.0
"""No sample stands farther behind, in usual distances: a longer hole is a sensor that failed. [-]"""


def without_cells_between(table: Table) -> Table:
    """Leave out the cells that say "no value" between the samples of slower channels.

    Parameters
    ----------
    table : Table
        The rows.
    """
    if table.bare:
        return table
    shared: dict[bytes, IntArray] = {}
    columns = [_sparse(column, shared) for column in table.columns]
    if all(new is old for new, old in zip(columns, table.columns, strict=True)):
        return table
    return table.with_columns(columns)


def _sparse(column: Column, shared: dict[bytes, IntArray]) -> Column:
    values = column.values
    if values is None or column.rows is not None or values.size < LOOKED_AT or not _mostly_nan(values[:LOOKED_AT]):
        return column
    held = ~np.isnan(values)
    rows = np.flatnonzero(held)
    if not _evenly_placed(rows):
        return column
    same = shared.setdefault(held.tobytes(), rows)
    return Column(values[same], same, column.words)


def _mostly_nan(values: FloatArray) -> bool:
    return 2 * int(np.count_nonzero(np.isnan(values))) >= values.size


def _evenly_placed(rows: IntArray) -> bool:
    if rows.size < FEWEST:
        return False
    apart = np.diff(rows)
    usual = float(np.median(apart))
    near = np.abs(apart - usual) <= 0.5 * usual
    return bool(usual >= 2.0 and np.mean(near) >= ON_THE_GRID and apart.max() <= LONGEST_HOLE * usual)
