"""Rows that are not all alike: damaged lines and cells, tokens for no value, trailing blanks left out.

Every cell ends in a column or is counted in a finding.

Public: `read_damaged_rows`, `without_cut_row`; with it `WholeRows`.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.quantities import BoolArray, IntArray
from passband.analysis.reading.rows.cell_units import columns_with_other_units, in_one_unit, other_units
from passband.analysis.reading.rows.lines import Lines
from passband.analysis.reading.rows.shifted_columns import find_shifted_rows
from passband.analysis.reading.rows.sparse_rows import plain_numbers, read_sparse_rows
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
from passband.analysis.reading.text.cells import FLAGS, NO_VALUE, is_plain, kind_of_cell, number_of, split_line
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.results.findings import Finding

SHORT_ROWS_ARE_A_HABIT = 0.05
"""Share of rows with too few cells above which the logger leaves trailing blanks out; below it they are damage."""
CUT_LAST_LINE = (
    "The file ends in the middle of a line, which was set aside (1 row): the export was cut short, and what came "
    "after is missing."
)
SEVERAL_UNITS = (
    "The cells of {} are printed in several units ({}); each is read in its own. Log it in one unit to be sure."
)
MOST_FOOTER_LINES = 40
"""Lines after the last row that are looked at: an end mark, or some statistics of each channel."""
FEWEST_OF_A_TABLE = 3
"""Lines of another table below the rows: a title or its names, and a row."""
FEWEST_STATISTICS = 2
"""Last lines as wide as the rows, with a word for a first number, that are no rows; one alone where a blank line is
before it."""
FEWEST_CELLS_OF_AN_EVENT, LETTERS_OF_AN_EVENT = 3, 4
"""Columns of a table, and letters of the words, by which a line with blanks beside its words is a remark: with fewer it
may be a sensor's mark for a fault."""
MOST_EVENTS = 0.05
"""Share of lines with words above which they are what a column holds. [-]"""
_LETTERS = np.array([*range(65, 91), *range(97, 123), *range(128, 256)], dtype=np.uint8)
FEW_ODD_CELLS = 50
"""Cells of a column that are looked at one by one sooner than by a call over all of them, at 0.1 ms each call."""
CELLS_AT_ONCE = 200_000
"""Cells of damaged columns looked at in one call: few calls for a wide table, little memory for a long one."""
_CELL_MARK = "\x1f"
"""Delimiter of rows that were taken out of their quotes: the ASCII unit separator, which no log holds."""


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


@dataclass(frozen=True, slots=True)
class _Sorted:
    """Lines sorted into rows and what was set aside."""

    source: RowSource
    findings: list[Finding]


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
    sorted_out = _sort_lines(source, layout, layout.first_data.number)
    if mostly_blank:
        odd = _OddCells()
        table = read_sparse_rows(sorted_out.source, layout, read_odd=odd.reader(layout.decimal))
        if table is not None:
            return replace(table, findings=(*sorted_out.findings, *odd.findings(header, table.columns)))
    parts: list[list[Column]] = []
    heights: list[int] = []
    odd = _OddCells()
    for part in in_parts(sorted_out.source, layout) if sorted_out.source.data else ():
        columns, height = _read_leniently(part, layout, odd, first_row=sum(heights))
        parts.append(columns)
        heights.append(height)
    if not sum(heights):
        return Table(tuple(Column(np.empty(0), None) for _ in layout.column_kinds), 0, tuple(sorted_out.findings))
    whole = tuple(stacked(parts, heights))
    findings = [*sorted_out.findings, *odd.findings(header, whole)]
    return Table(whole, sum(heights), tuple(findings))


def _read_leniently(source: RowSource, layout: Layout, odd: _OddCells, *, first_row: int) -> tuple[list[Column], int]:
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
            _mend_columns(columns, words.select(map(str, few)), layout, odd, first_row=first_row)
    return columns, frame.height


def _mend_columns(
    columns: list[Column], words: pl.DataFrame, layout: Layout, odd: _OddCells, *, first_row: int
) -> None:
    """Read what can be read of the cells of some columns that are no plain numbers, in their places of the list."""
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


class _OddCells:
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
                f"{header.names[at]} holds words in {_count(self._count[at], 'cell')} and no number: remarks, and no "
                f"channel. The first reads {quoted_start(self._first[at][1], most=30)}.",
                header.names[at],
            )
            for at in sorted(remarks)
        ]
        return [*several, *said] + [
            Finding(
                "unreadable-cells",
                "caution",
                f"{_count(self._count[column], 'cell')} of {header.names[column]} {_are(self._count[column])} no "
                f"number and {_were(self._count[column])} set aside; the first reads {quoted_start(cell, most=30)}.",
                f"{header.names[column]}, row {row + 1}",
            )
            for column, (row, cell) in sorted(self._first.items())
            if column not in remarks
        ]


def _holds_words_alone(column: Column, bare: str) -> bool:
    """Whether a column that no channel is named as holds no number at all: what a driver or a tuner wrote down."""
    return not recognise_name(bare) and (column.values is None or not np.isfinite(column.values).any())


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
        lines.append(_CELL_MARK.join(cell.replace("\n", " ") for cell in cells))
    return RowSource("\n".join(lines).encode("latin-1"), _CELL_MARK, None, source.decimal_comma, "\n")


def _sort_lines(source: RowSource, layout: Layout, first_line: int) -> _Sorted:
    """Set aside the lines that are no rows of this table, and count them."""
    lines = source.lines()
    count = lines.count_of(source.delimiter)
    full = layout.width - 1
    blank = _blank_lines(lines, source.delimiter, count)
    least = full - (layout.column_kinds[-1] == "blank" and layout.width > 1)
    short, long = (count < least) & ~blank, (count > full) & ~blank
    long &= ~((count == full + 1) & _ends_with_delimiter(lines, source.delimiter))
    filled = max(int(np.sum(~blank)), 1)
    findings: list[Finding] = []
    remarks = _remarks(lines, layout) & ~blank
    if remarks.any():
        findings.append(_tell_remarks(lines, remarks, first_line))
        blank |= remarks
        short, long = short & ~remarks, long & ~remarks
    events = _events(lines, source.delimiter, layout, ~(blank | short | long))
    if events.any():
        findings.append(_tell_events(lines, events, first_line))
        blank |= events
    footer = _footer(lines, source.delimiter, (short | long) & ~blank, ~blank, layout)
    if footer is not None:
        findings.append(_tell_footer(lines, footer, first_line))
        blank[footer] = True
        short[footer] = long[footer] = False
    cut_last = bool(short.any()) and bool(short[np.flatnonzero(~blank)[-1]]) if (~blank).any() else False
    if short.sum() > max(SHORT_ROWS_ARE_A_HABIT * filled, 1):
        short = _shifted(source, lines, short, ~blank, decimal=layout.decimal)
        if short.any():
            findings.append(_tell_shift(int(short.sum()), first_line + int(np.flatnonzero(short)[0])))
            blank |= short
            short = np.zeros_like(short)
    elif cut_last:
        at = int(np.flatnonzero(~blank)[-1])
        short[at] = False
        blank[at] = True
        findings.append(
            Finding(
                "cut-last-line",
                "caution",
                CUT_LAST_LINE,
                f"line {first_line + at}",
            )
        )
    damaged = short | long
    if damaged.any():
        first = int(np.flatnonzero(damaged)[0])
        line = _as_text(lines.bytes_at(first)).replace(_CELL_MARK, layout.delimiter)
        findings.append(
            Finding(
                "damaged-lines",
                "caution",
                f"{_count(int(damaged.sum()), 'line')} with too many or too few cells "
                f"({int(long.sum())} and {int(short.sum())}) {_were(int(damaged.sum()))} set aside as damaged; "
                f"the first reads {quoted_start(line)}.",
                f"line {first_line + first}",
            )
        )
    return _Sorted(_keep_lines(source, lines, ~(blank | damaged)), findings)


def _remarks(lines: Lines, layout: Layout) -> BoolArray:
    """Lines that begin with a sign of comments, where each row begins with a number."""
    if layout.column_kinds[0] not in ("number", "clock"):
        return np.zeros(lines.size, dtype=bool)
    raw = np.frombuffer(lines.data + b"\0\0", dtype=np.uint8)
    first, second = raw[lines.starts], raw[lines.starts + 1]
    return np.asarray(np.isin(first, np.frombuffer(b"#%!", dtype=np.uint8)) | ((first == second) & (first == ord("/"))))


def _tell_remarks(lines: Lines, remarks: BoolArray, first_line: int) -> Finding:
    first = int(np.flatnonzero(remarks)[0])
    shown = quoted_start(_as_text(lines.bytes_at(first)).replace(_CELL_MARK, ", "))
    number = int(remarks.sum())
    begin = "begin" if number != 1 else "begins"
    text = (
        f"{_count(number, 'line')} amid the rows {begin} with a sign of comments and {_are(number)} set apart; "
        f"the first reads {shown}."
    )
    return Finding("remarks-amid-the-rows", "note", text, f"line {first_line + first}")


def _as_text(line: bytes) -> str:
    """A line to be looked at: UTF-8 where it is, else a letter a byte."""
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _events(lines: Lines, delimiter: str, layout: Layout, whole: BoolArray) -> BoolArray:
    """Lines amid rows of numbers that hold a time, words where numbers stand, and nothing else."""
    found = np.zeros(lines.size, dtype=bool)
    first, *others = layout.column_kinds
    if layout.width < FEWEST_CELLS_OF_AN_EVENT or first not in ("number", "clock") or "words" in others:
        return found
    letter = np.isin(np.frombuffer(lines.data + b"\0", dtype=np.uint8), _LETTERS)
    upto = np.concatenate(([0], np.cumsum(letter, dtype=np.int64)))
    letters = upto[lines.stops] - upto[lines.starts]
    maybe = np.flatnonzero((letters >= LETTERS_OF_AN_EVENT) & whole)
    if maybe.size > MOST_EVENTS * lines.size:
        return found
    for at in maybe.tolist():
        cells = [cell.strip(' "') for cell in split_line(_as_text(lines.bytes_at(at)), delimiter)]
        held = [cell for cell in cells[1:] if cell]
        blank = len(held) < len(cells) - 1
        found[at] = blank and bool(held) and all(kind_of_cell(cell, layout.decimal) == "words" for cell in held)
        found[at] &= sum(map(str.isalpha, held[0])) >= LETTERS_OF_AN_EVENT if held else False
    return found


def _tell_events(lines: Lines, events: BoolArray, first_line: int) -> Finding:
    first = int(np.flatnonzero(events)[0])
    shown = quoted_start(_as_text(lines.bytes_at(first)).replace(_CELL_MARK, ", "))
    number = int(events.sum())
    text = (
        f"{_count(number, 'line')} amid the rows {'hold' if number != 1 else 'holds'} words where numbers stand and "
        f"nothing else; {'these are' if number != 1 else 'it is'} taken as a remark and set apart, the time with it: "
        f"the first reads {shown}."
    )
    return Finding("remarks-amid-the-rows", "note", text, f"line {first_line + first}")


def _footer(lines: Lines, delimiter: str, odd: BoolArray, filled: BoolArray, layout: Layout) -> IntArray | None:
    """The lines of words after the last row: an end mark, counts, a checksum; None where the file ends in a row."""
    found: list[int] = []
    for at in np.flatnonzero(filled)[::-1][:MOST_FOOTER_LINES].tolist():
        cells = split_line(_as_text(lines.bytes_at(at)), delimiter)
        alone = not odd[at] and layout.column_kinds[0] not in ("number", "clock")
        if alone or kind_of_cell(cells[0], layout.decimal) != "words":
            break
        found.append(at)
    while found and not odd[found[-1]] and filled[found[-1] - 1] and len(found) < FEWEST_STATISTICS:
        found.pop()  # a last row whose first cell is damaged
    found = found or _table_below(lines, delimiter, odd, filled, layout)
    return np.array(found[::-1]) if found else None


def _table_below(lines: Lines, delimiter: str, odd: BoolArray, filled: BoolArray, layout: Layout) -> list[int]:
    """Lines of a narrower table below a blank line after the rows, the last first; a title or names in words lead."""
    below: list[int] = []
    for at in np.flatnonzero(filled)[::-1][: MOST_FOOTER_LINES + 1].tolist():
        if not odd[at]:
            break
        below.append(at)
    if len(below) < FEWEST_OF_A_TABLE or len(below) > MOST_FOOTER_LINES or filled[below[-1] - 1]:
        return []
    first, second = (split_line(_as_text(lines.bytes_at(at)), delimiter) for at in below[:-3:-1])
    words = all(kind_of_cell(cells[0], layout.decimal) == "words" for cells in (first, second))
    return below if words else []


def _tell_footer(lines: Lines, footer: IntArray, first_line: int) -> Finding:
    first = int(footer[0])
    shown = quoted_start(_as_text(lines.bytes_at(first)).replace(_CELL_MARK, ", "))
    text = (
        f"The last {_count(footer.size, 'line')} {_are(footer.size)} no row of numbers and no part of the log: {shown}."
    )
    return Finding("lines-after-the-rows", "note", text, f"line {first_line + first}")


def _shifted(source: RowSource, lines: Lines, short: BoolArray, filled: BoolArray, *, decimal: str) -> BoolArray:
    """Lines of short rows that lack a cell before their end."""
    rows = np.flatnonzero(filled)
    spans = list(zip(lines.starts[rows].tolist(), lines.stops[rows].tolist(), strict=True))
    shifted = np.zeros_like(short)
    for run in find_shifted_rows(source, spans, short[rows], decimal=decimal):
        shifted[rows[run.start : run.stop]] = True
    return shifted


def _tell_shift(rows: int, line: int) -> Finding:
    text = (
        f"From line {line} on {_count(rows, 'row')} lack a cell that others hold, and the values do not go on from "
        "those: the cell is missing before the end, and what follows it would stand under wrong names. "
        "They were set aside; export the log again."
    )
    return Finding("shifted-columns", "caution", text, f"line {line}")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'s' if number != 1 else ''}"


def _are(number: int) -> str:
    return "are" if number != 1 else "is"


def _were(number: int) -> str:
    return "were" if number != 1 else "was"


def _blank_lines(lines: Lines, delimiter: str, count: IntArray) -> BoolArray:
    """Lines of nothing but blanks and delimiters."""
    raw = np.frombuffer(lines.data + b"\n", dtype=np.uint8)
    begins_blank = np.isin(raw[np.minimum(lines.starts, raw.size - 1)], np.frombuffer(b" \t", dtype=np.uint8))
    maybe = np.flatnonzero((lines.stops - lines.starts <= count + 2) | (begins_blank & (count == 0)))
    blank = np.zeros(lines.size, dtype=bool)
    mark = delimiter.encode("latin-1")
    for i in maybe.tolist():
        blank[i] = not lines.bytes_at(i).replace(mark, b"").strip(b" \t\x00\x1a")
    return blank


def _ends_with_delimiter(lines: Lines, delimiter: str) -> BoolArray:
    raw = np.frombuffer(lines.data, dtype=np.uint8)
    return np.asarray(raw[np.maximum(lines.stops - 1, 0)] == ord(delimiter))


def _keep_lines(source: RowSource, lines: Lines, keep: BoolArray) -> RowSource:
    """The source with only some of its lines, and all of them ended alike."""
    starts, stops = lines.starts, lines.stops
    if keep[:-1].all() and (keep[-1] or starts[-1] == stops[-1]) and b"\r" not in source.data:
        return source
    edges = np.flatnonzero(np.diff(np.concatenate(([0], keep.astype(np.int8), [0]))))
    view = memoryview(source.data)
    pieces: list[memoryview | bytes] = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        pieces.append(view[starts[first] : stops[last - 1]])
        pieces.append(source.line_end.encode("ascii"))
    return RowSource(b"".join(pieces), source.delimiter, source.quote, source.decimal_comma, source.line_end)


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
