"""Rows that are not all alike: damaged lines and cells, tokens for no value, trailing blanks left out.

Every cell ends in a column or is counted in a finding: of lines in `lines_set_aside`, of cells in `odd_cells`.

Public: `read_damaged_rows`, `without_cut_row`; with it `WholeRows`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.reading.rows.lines_set_aside import CELL_MARK, CUT_LAST_LINE, sort_lines
from passband.analysis.reading.rows.odd_cells import OddCells, mend_columns
from passband.analysis.reading.rows.sparse_rows import read_sparse_rows
from passband.analysis.reading.rows.table import (
    Column,
    RowSource,
    Table,
    columns_of,
    in_parts,
    is_number,
    read_cells,
    schema_of,
    stacked,
)
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import Layout
from passband.analysis.results.findings import Finding

CELLS_AT_ONCE = 200_000
"""Cells of damaged columns looked at in one call: few calls for a wide table, little memory for a long one."""


@dataclass(frozen=True, slots=True)
class WholeRows:
    """The rows of a recording up to the last that is whole."""

    stop: int | None
    """Byte at which they end; None for the end of the file."""
    findings: tuple[Finding, ...] = ()
    """A last row that was cut."""


def without_cut_row(text: Text, layout: Layout, stop: int | None) -> WholeRows:
    """Leave out a last row whose last cell was cut: no line end, and fewer decimals than all rows before.

    Parameters
    ----------
    text, layout
        The file and where its rows begin.
    stop : int or None
        Byte at which the recording ends; None for the end of the file.

    Returns
    -------
    WholeRows
        All but such a row.
    """
    data, mark = text.data, text.line_end.encode("ascii")
    end = len(data) if stop is None else stop
    if data.endswith(mark, 0, end) or layout.quoted:
        return WholeRows(stop)
    lines = data[max(end - 4000 - 40 * layout.width, layout.first_data.start) : end].split(mark)
    if len(lines) < 12 or lines[-1].count(layout.delimiter.encode()) != layout.width - 1:
        return WholeRows(stop)
    point = layout.decimal.encode()
    decimals = [len(line.rstrip().rpartition(layout.delimiter.encode())[2].partition(point)[2]) for line in lines[-11:]]
    if len(set(decimals[:-1])) != 1 or decimals[-1] >= decimals[0]:
        return WholeRows(stop)
    finding = Finding("cut-last-line", "caution", CUT_LAST_LINE, "last line")
    return WholeRows(end - len(lines[-1]), (finding,))


def read_damaged_rows(source: RowSource, layout: Layout, header: Header, *, mostly_blank: bool = False) -> Table:
    """Read rows some of which are damaged, and count what is set aside.

    Parameters
    ----------
    source : RowSource
        Where the rows are.
    layout : Layout
        What the columns hold.
    header : Header
        Names, for the findings.
    mostly_blank : bool
        Whether all columns are numbers and most cells blank.

    Returns
    -------
    Table
        Perhaps of no rows.
    """
    if not source.data:
        return Table(tuple(Column(np.empty(0), None) for _ in layout.column_kinds), 0, ())
    if source.quote:
        source = _out_of_quotes(source)
    sorted_out = sort_lines(source, layout, layout.first_data.number)
    if mostly_blank:
        odd = OddCells()
        table = read_sparse_rows(sorted_out.source, layout, read_odd=odd.reader(layout.decimal))
        if table is not None:
            return replace(table, findings=(*sorted_out.findings, *odd.findings(header, table.columns)))
    parts: list[list[Column]] = []
    heights: list[int] = []
    odd = OddCells()
    for part in in_parts(sorted_out.source, layout) if sorted_out.source.data else ():
        columns, height = _read_leniently(part, layout, odd, first_row=sum(heights))
        parts.append(columns)
        heights.append(height)
    if not sum(heights):
        return Table(tuple(Column(np.empty(0), None) for _ in layout.column_kinds), 0, tuple(sorted_out.findings))
    whole = tuple(stacked(parts, heights))
    findings = [*sorted_out.findings, *odd.findings(header, whole)]
    return Table(whole, sum(heights), tuple(findings))


def _out_of_quotes(source: RowSource) -> RowSource:
    """The same rows with quotes taken off and a delimiter that no cell holds."""
    written = source.lines()
    lines: list[str] = []
    for at in range(written.size):
        line = written.bytes_at(at).decode("latin-1")
        try:
            cells = next(csv.reader([line], delimiter=source.delimiter, skipinitialspace=True), [])
        except csv.Error:
            cells = line.replace('"', "").split(source.delimiter)
        lines.append(CELL_MARK.join(cells).replace("\n", " "))
    return RowSource("\n".join(lines).encode("latin-1"), CELL_MARK, None, source.decimal_comma, "\n")


def _read_leniently(source: RowSource, layout: Layout, odd: OddCells, *, first_row: int) -> tuple[list[Column], int]:
    """Columns and number of rows; cells that cannot be read are noted."""
    kinds = list(layout.column_kinds)
    frame = read_cells(source, schema_of(kinds), lenient=True)
    columns = list(columns_of(frame, kinds))
    doubted = [i for i, kind in enumerate(kinds) if is_number(kind) and columns[i].rows is not None]
    if doubted:
        words = read_cells(source, schema_of(kinds, doubted), lenient=True, only=doubted)
        at_once = max(CELLS_AT_ONCE // max(frame.height, 1), 1)
        for first in range(0, len(doubted), at_once):
            few = doubted[first : first + at_once]
            mend_columns(columns, words.select(map(str, few)), layout, odd, first_row=first_row)
    return columns, frame.height
