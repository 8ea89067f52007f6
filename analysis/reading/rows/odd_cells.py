"""Cells that are no plain numbers: read where they are numbers after all, counted by column where they are not.

Public: `OddCells`, `mend_columns`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np
import polars as pl

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.quantities import BoolArray, IntArray
from passband.analysis.reading.rows.cell_units import columns_with_other_units, in_one_unit, other_units
from passband.analysis.reading.rows.sparse_rows import plain_numbers
from passband.analysis.reading.rows.table import Column
from passband.analysis.reading.text.cells import FLAGS, NO_VALUE, advice_for, is_plain, number_of
from passband.analysis.reading.text.counted import are, counted, were
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.results.findings import Finding

SEVERAL_UNITS = (
    "The cells of {} are printed in several units ({}); each is read in its own. Log it in one unit to be sure."
)
FEW_ODD_CELLS = 50
"""Cells of a column that are looked at one by one sooner than by a call over all of them, at 0.1 ms each call."""


class OddCells:
    """Cells that are no numbers, counted by column."""

    def __init__(self) -> None:
        self._count: Counter[int] = Counter()
        self._first: dict[int, tuple[int, str]] = {}
        self._units: dict[int, set[str]] = {}

    def note(self, column: int, unreadable: list[tuple[int, str]], first_row: int) -> None:
        """Count some rows and cells of a column."""
        self._count[column] += len(unreadable)
        if unreadable and column not in self._first:
            self._first[column] = (first_row + unreadable[0][0], unreadable[0][1])

    def note_units(self, column: int, words: pl.Series, unit: str) -> None:
        """Keep the units printed in the cells of a column, where they are not all alike."""
        others = other_units(words, unit)
        if others:
            self._units.setdefault(column, {unit}).update(others)

    def reader(self, decimal: str) -> Callable[[int, int, str], float]:
        """What a cell that is no plain number is worth, by column, row and text; noted where it is nothing."""

        def read(column: int, row: int, cell: str) -> float:
            cell = cell.strip(' "\t')
            number = _number_in(cell, decimal)
            if number is None and cell.lower() not in NO_VALUE:
                self.note(column, [(row, cell)], 0)
            return float("nan") if number is None else number

        return read

    def findings(self, header: Header, columns: Sequence[Column]) -> list[Finding]:
        """One finding for each column that has any, and for each whose cells are in several units."""
        remarks = {at for at in self._first if _holds_words_alone(columns[at], header.bare[at])}
        several = [
            Finding("layout-changes", "caution", SEVERAL_UNITS.format(header.names[at], ", ".join(sorted(units))), "")
            for at, units in sorted(self._units.items())
        ]
        said = [
            Finding(
                "columns-of-words",
                "note",
                f"{header.names[at]} holds words in {counted(self._count[at], 'cell')} and no number: remarks, and no "
                f"channel. The first reads {quoted_start(self._first[at][1], most=30)}.",
                header.names[at],
            )
            for at in sorted(remarks)
        ]
        return [*several, *said] + [
            Finding(
                "unreadable-cells",
                "caution",
                f"{counted(self._count[column], 'cell')} of {header.names[column]} {are(self._count[column])} no "
                f"number and {were(self._count[column])} set aside; the first reads {quoted_start(cell, most=30)}."
                f"{advice_for(cell)}",
                f"{header.names[column]}, row {row + 1}",
            )
            for column, (row, cell) in sorted(self._first.items())
            if column not in remarks
        ]


def _holds_words_alone(column: Column, bare: str) -> bool:
    """Whether a column that no channel is named as holds no number at all: what a driver or a tuner wrote down."""
    return not recognise_name(bare) and (column.values is None or not np.isfinite(column.values).any())


def mend_columns(columns: list[Column], words: pl.DataFrame, layout: Layout, odd: OddCells, *, first_row: int) -> None:
    """Read what can be read of the cells of some columns that are no plain numbers, in their places of the list.

    Parameters
    ----------
    columns : list of Column
        All of the table's.
    words : polars.DataFrame
        The cells of some, by their places.
    layout : Layout
        How numbers are written.
    odd : OddCells
        Where what cannot be read is noted.
    first_row : int
        Row of the table at which the cells begin.
    """
    cells = words.select(pl.all().fill_null("").str.strip_chars(' "\t'))
    filled = cells.select(pl.all() != "")
    units = {name: unit for name in words.columns if (unit := layout.cell_units[int(name)])}
    in_several = frozenset(columns_with_other_units(words, units))
    for name in words.columns:
        at, unit = int(name), units.get(name, "")
        odd_rows = _rows_without_number(columns[at], filled[name].to_numpy())
        columns[at], unreadable = _mend_column(columns[at], cells[name], odd_rows, layout.decimal, unit=unit)
        odd.note(at, unreadable, first_row)
        if name in in_several:
            columns[at] = in_one_unit(columns[at], words[name], unit)
            odd.note_units(at, words[name], unit)


def _rows_without_number(column: Column, filled: BoolArray) -> IntArray:
    """Rows of a column that hold something but no plain number."""
    odd = filled.copy()
    odd[column.rows] = False
    return np.flatnonzero(odd)


def _mend_column(
    column: Column, cells: pl.Series, odd_rows: IntArray, decimal: str, *, unit: str
) -> tuple[Column, list[tuple[int, str]]]:
    """Read what can be read of the cells that are no plain numbers; row and text of the rest."""
    if column.rows is None or not odd_rows.size:
        return column, []
    values = column.over(len(cells))
    present = np.zeros(len(cells), dtype=bool)
    present[column.rows] = True
    present[odd_rows] = True
    left = odd_rows
    if left.size > FEW_ODD_CELLS:
        values[left] = plain_numbers(cells.gather(left), decimal)
        left = left[np.isnan(values[left])]
    unreadable: list[tuple[int, str]] = []
    for row, cell in zip(left.tolist(), _texts(cells, left), strict=True):
        bare = cell.removesuffix(unit).rstrip()
        number = number_of(bare, decimal) if is_plain(bare, decimal) else _number_in(cell, decimal)
        if number is not None:
            values[row] = number
        elif cell.lower() not in NO_VALUE:
            unreadable.append((row, cell))
    return Column(values[present], None if present.all() else np.flatnonzero(present)), unreadable


def _texts(cells: pl.Series, rows: IntArray) -> list[str]:
    """Some cells of a column; one by one where they are few, as a call over all costs as much as fifty."""
    if rows.size > FEW_ODD_CELLS:
        return cells.gather(rows).to_list()
    return [cells[row] for row in rows.tolist()]


def _number_in(cell: str, decimal: str) -> float | None:
    number = number_of(cell, decimal)
    if number is None:
        number = FLAGS.get(cell.lower())
    return number
