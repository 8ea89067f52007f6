"""Two columns whose cells change places amid the rows, with no header that says so.

Told only where the values prove it: at one row both leap, each lands where the other was, and from there on each is
printed as finely as the other was before. Signals that mirror each other leap alike, but keep their own digits.

Public: `tell_swapped_columns`.
"""

from __future__ import annotations

import itertools

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.health.updates import printed_step
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

LOOKED_AT = 500
"""Rows among which the greatest leap of each column is looked for first: it shows between any two around it."""
BESIDE, FEWEST_BESIDE = 100, 20
"""Rows on each side that show how finely a column is printed, and the fewest that do."""
LANDS_WITHIN = 0.25
"""How far from where the other was a column may land, as a share of its leap. Chosen, no source."""
MOST_TOGETHER = 40
"""Columns that may leap at one row: where more do, the car or the logger did something to all of them."""


def tell_swapped_columns(table: Table, header: Header) -> list[Finding]:
    """One finding for each two columns that change places.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names.

    Returns
    -------
    list of Finding
        Empty where none do, or the values do not prove it.
    """
    found: list[Finding] = []
    for row, columns in _leaps(table).items():
        if not FEWEST_BESIDE <= row <= table.rows - FEWEST_BESIDE:
            continue
        found += [
            _tell(header.names[one], header.names[other], row)
            for one, other in itertools.combinations(columns, 2)
            if _lands(columns[one], columns[other], row)
            and _lands(columns[other], columns[one], row)
            and _digits_change_places(columns[one], columns[other], row)
        ]
    return found


def _leaps(table: Table) -> dict[int, dict[int, FloatArray]]:
    """The rows to which the greatest leaps of some columns lead, and these."""
    stride = max(table.rows // LOOKED_AT, 1)
    dense = {
        at: column.values
        for at, column in enumerate(table.columns)
        if column.values is not None and column.rows is None and column.values.size >= 2 * FEWEST_BESIDE
    }
    if len(dense) < 2:
        return {}
    steps = np.abs(np.diff(np.array([values[::stride] for values in dense.values()]), axis=1))
    near: dict[int, dict[int, FloatArray]] = {}
    for (at, values), step in zip(dense.items(), np.argmax(steps, axis=1).tolist(), strict=True):
        near.setdefault(stride * step, {})[at] = values
    leaps: dict[int, dict[int, FloatArray]] = {}
    for start, columns in near.items():
        for at, values in columns.items() if 2 <= len(columns) <= MOST_TOGETHER else ():
            row = start + 1 + int(np.argmax(np.abs(np.diff(values[start : start + stride + 1]))))
            leaps.setdefault(row, {})[at] = values
    return leaps


def _digits_change_places(one: FloatArray, other: FloatArray, row: int) -> bool:
    first, second = _printed_around(one, row), _printed_around(other, row)
    return first == second[::-1] and first != second and 0.0 not in first


def _printed_around(values: FloatArray, row: int) -> tuple[float, float]:
    """The printed step of the rows before one, and of those from it on."""
    return printed_step(values[max(row - BESIDE, 0) : row]), printed_step(values[row : row + BESIDE])


def _lands(values: FloatArray, other: FloatArray, row: int) -> bool:
    """Whether a column leaps to where another was."""
    return bool(abs(values[row] - other[row - 1]) < LANDS_WITHIN * abs(values[row] - values[row - 1]))


def _tell(one: str, other: str, row: int) -> Finding:
    text = (
        f"From row {row + 1} on the values of {one} go on as those of {other} did, with their digits, and those of "
        f"{other} as those of {one}: the two columns change places there, and no header says so. They are read as "
        "named above; export the log again, or split it there."
    )
    return Finding("columns-change-places", "caution", text, f"{one}, row {row + 1}")
