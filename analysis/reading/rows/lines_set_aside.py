"""Lines amid rows that are no rows: damaged ones, remarks, a footer, another table below; each kind counted and told.

Public: `sort_lines`, `SortedLines`, `CUT_LAST_LINE`, `CELL_MARK`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, IntArray
from passband.analysis.reading.rows.lines import Lines
from passband.analysis.reading.rows.shifted_columns import find_shifted_rows
from passband.analysis.reading.rows.table import RowSource
from passband.analysis.reading.text.cells import advice_for, kind_of_cell, split_line
from passband.analysis.reading.text.counted import are, counted, were
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.results.findings import Finding

SHORT_ROWS_ARE_A_HABIT = 0.05
"""Share of rows with too few cells above which the logger leaves trailing blanks out; below it they are damage."""
CUT_LAST_LINE = (
    "The file ends in the middle of a line, which was set aside (1 row): the export was cut short, and what came "
    "after is missing."
)
"""What is told of a last row that is not whole."""
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
CELL_MARK = "\x1f"
"""Delimiter of rows that were taken out of their quotes: the ASCII unit separator, which no log holds."""


@dataclass(frozen=True, slots=True)
class SortedLines:
    """Lines sorted into rows and what was set aside."""

    source: RowSource
    findings: list[Finding]


def sort_lines(source: RowSource, layout: Layout, first_line: int) -> SortedLines:
    """Set aside the lines that are no rows of a table, and count them.

    Parameters
    ----------
    source : RowSource
        Where the lines are.
    layout : Layout
        What the columns hold.
    first_line : int
        Number of the first line in the file.

    Returns
    -------
    SortedLines
        The rows, and a finding for each kind of line that is none.
    """
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
        line = _as_text(lines.bytes_at(first)).replace(CELL_MARK, layout.delimiter)
        findings.append(
            Finding(
                "damaged-lines",
                "caution",
                f"{counted(int(damaged.sum()), 'line')} with too many or too few cells "
                f"({int(long.sum())} and {int(short.sum())}) {were(int(damaged.sum()))} set aside as damaged; "
                f"the first reads {quoted_start(line)}.",
                f"line {first_line + first}",
            )
        )
    return SortedLines(_keep_lines(source, lines, ~(blank | damaged)), findings)


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


def _remarks(lines: Lines, layout: Layout) -> BoolArray:
    """Lines that begin with a sign of comments, where each row begins with a number.

    Not cells of nothing but ``####``, which a table program prints where a column is too narrow for its number.
    """
    if layout.column_kinds[0] not in ("number", "clock"):
        return np.zeros(lines.size, dtype=bool)
    raw = np.frombuffer(lines.data + b"\0\0", dtype=np.uint8)
    first, second = raw[lines.starts], raw[lines.starts + 1]
    marked = np.isin(first, np.frombuffer(b"#%!", dtype=np.uint8)) | ((first == second) & (first == ord("/")))
    for at in np.flatnonzero((first == ord("#")) & (second == ord("#"))).tolist():
        cell = split_line(_as_text(lines.bytes_at(at)), layout.delimiter)[0].strip(' "')
        marked[at] &= not advice_for(cell)
    return np.asarray(marked)


def _tell_remarks(lines: Lines, remarks: BoolArray, first_line: int) -> Finding:
    first = int(np.flatnonzero(remarks)[0])
    shown = quoted_start(_as_text(lines.bytes_at(first)).replace(CELL_MARK, ", "))
    number = int(remarks.sum())
    begin = "begin" if number != 1 else "begins"
    text = (
        f"{counted(number, 'line')} amid the rows {begin} with a sign of comments and {are(number)} set apart; "
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
    shown = quoted_start(_as_text(lines.bytes_at(first)).replace(CELL_MARK, ", "))
    number = int(events.sum())
    text = (
        f"{counted(number, 'line')} amid the rows {'hold' if number != 1 else 'holds'} words where numbers stand and "
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
        if alone or kind_of_cell(cells[0], layout.decimal) != "words" or advice_for(cells[0].strip(' "')):
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
    shown = quoted_start(_as_text(lines.bytes_at(first)).replace(CELL_MARK, ", "))
    text = (
        f"The last {counted(footer.size, 'line')} {are(footer.size)} no row of numbers and no part of the log: {shown}."
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
        f"From line {line} on {counted(rows, 'row')} lack a cell that others hold, and the values do not go on from "
        "those: the cell is missing before the end, and what follows it would stand under wrong names. "
        "They were set aside; export the log again."
    )
    return Finding("shifted-columns", "caution", text, f"line {line}")


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
