"""Headers amid the rows: the same again on a page or after a restart, or another one with columns of its own.

Public: `find_headers_within`, `HeadersWithin`, `first_rows_above`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.quantities import IntArray
from passband.analysis.reading.rows.lines import Bytes, Lines
from passband.analysis.reading.rows.table import row_source
from passband.analysis.reading.text.cells import kind_of_cell, number_of, split_line
from passband.analysis.reading.text.encoding import Line, Text
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import DELIMITERS, Layout
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.statistics.intervals import Interval

FEWEST_LETTERS = 2
"""Letters that a line with two names must have."""
DISTINCT = 0.6
"""Share of a header's cells that differ: a row of the same word in all is an outage, not a header."""
MOST_PREAMBLE_LINES = 70
"""Lines above a header that may belong to it, as above the first."""
ROWS_BESIDE = 3
"""Rows on each side of a header printed again by which it is seen whether the time goes on."""
PAGE_GAP_ROWS = 3.5
"""Rows that may be missing where a header is printed again; more is a restart. As for a gap."""
FEWEST_ROWS_ABOVE = 3
"""Rows of numbers above a header that make it a second one; a preamble has no table of its own."""
_IS_LETTER = np.zeros(256, dtype=np.uint8)
_IS_LETTER[[*range(65, 91), *range(97, 123), *range(128, 256)]] = 1


@dataclass(frozen=True, slots=True)
class HeadersWithin:
    """Where headers stand amid the rows."""

    text: Text
    """The file, headers that are merely printed again on a page made blank lines."""
    starts: tuple[int, ...]
    """Bytes at which each other block begins, its own preamble included."""
    pages: tuple[int, ...]
    """Lines of the headers that were made blank."""


def find_headers_within(text: Text, layout: Layout, header: Header) -> HeadersWithin:
    """Find the headers amid the rows.

    Parameters
    ----------
    text : Text
        The file.
    layout, header
        Of its first rows.

    Returns
    -------
    HeadersWithin
        Without any the text as it is.
    """
    source = row_source(text, layout, None)
    lines = source.lines()
    starts, stops = lines.starts, lines.stops
    at_first = layout.first_data.start - source.first_byte
    known = frozenset(name.casefold() for name in (*header.names, *header.bare))
    written = _written(text, header, layout)
    named = (at for at, bare in enumerate(header.bare) if any(m.channel == "time" for m in recognise_name(bare)))
    time_at = next(named, 0)
    verdicts: dict[str, bool] = {}
    cells: dict[str, list[str]] = {}
    blocks: list[int] = []
    blank: list[Interval] = []
    pages: list[int] = []
    end_of_last = 0
    for at in _with_letters(lines).tolist():
        if starts[at] < end_of_last:
            continue
        line = text.decode(lines.bytes_at(at))
        if line not in verdicts:
            verdicts[line] = _is_header(line, known)
            cells[line] = [cell for cell in split_line(line, layout.delimiter) if cell]
        if not verdicts[line]:
            continue
        around = _around(text, lines, at, layout)
        end_of_last = int(stops[min(around.stop, stops.size - 1)])
        if cells[line] == written and _goes_on(text, lines, around, layout, time_at):
            blank.append(around)
            pages.append(layout.first_data.number + at)
        else:
            blocks.append(int(starts[around.start]) + at_first)
            written = cells[line]
    if not blank:
        return HeadersWithin(text, tuple(blocks), ())
    return _without_pages(text, starts + at_first, blank, blocks, pages)


def _with_letters(lines: Lines) -> IntArray:
    """Lines that hold more letters than digits, as one with names does."""
    letters, digits = lines.count(lambda part: _IS_LETTER[part]), lines.count(_digits)
    return np.flatnonzero(lines.filled & (letters >= FEWEST_LETTERS) & (letters > digits))


def _digits(part: Bytes) -> Bytes:
    return ((part >= 48) & (part <= 57)).view(np.uint8)


def _written(text: Text, header: Header, layout: Layout) -> list[str]:
    """The cells of the first header."""
    line = text.data[header.start : layout.first_data.start].split(text.line_end.encode("ascii"))[0].rstrip(b"\r")
    return [cell for cell in split_line(text.decode(line), layout.delimiter) if cell]


def _is_header(line: str, known: frozenset[str]) -> bool:
    """Whether a line is two names or more, of which half are the first header's, known or with a unit."""
    cells = [cell for cell in split_line(line, _delimiter_of(line)) if cell]
    if len(cells) < 2 or any(kind_of_cell(cell, ".") != "words" for cell in (cells[0], cells[1])):
        return False
    if any(kind_of_cell(cell, ".") in ("number", "clock") for cell in cells) or len(set(cells)) < DISTINCT * len(cells):
        return False
    return 2 * sum(cell.casefold() in known or _is_name(cell) for cell in cells) >= len(cells)


def _is_name(cell: str) -> bool:
    name, unit = split_name_and_unit(cell)
    return bool(unit) or bool(recognise_name(name))


def _delimiter_of(line: str) -> str:
    return max(DELIMITERS, key=line.count)


def _around(text: Text, lines: Lines, at: int, layout: Layout) -> Interval:
    """From the first line of a header's preamble to the first line of its rows."""

    def is_row(line: int) -> bool:
        return _is_row(text.decode(lines.bytes_at(line)), layout.decimal)

    begin = at
    while begin > 0 and at - begin < MOST_PREAMBLE_LINES and not is_row(begin - 1):
        begin -= 1
    end = at + 1
    while end < lines.size and end - at < MOST_PREAMBLE_LINES and not is_row(end):
        end += 1
    return Interval(begin, end)


@lru_cache(maxsize=4096)
def _is_row(line: str, decimal: str) -> bool:
    """Whether a line is a row of numbers, perhaps of one alone."""
    cells = [cell for cell in split_line(line, _delimiter_of(line)) if cell]
    kinds = [{kind_of_cell(cell, mark) for mark in (decimal, ".")} for cell in cells[:12]]
    held = sum(bool(kind & {"number", "clock"}) for kind in kinds)
    return bool(kinds) and kinds[0] != {"words"} and 2 * held >= len(kinds)


def _goes_on(text: Text, lines: Lines, around: Interval, layout: Layout, column: int) -> bool:
    """Whether the time of the rows, in one of the columns, goes on past a header."""
    begin, end = around.start, around.stop
    beside = [*range(max(begin - ROWS_BESIDE, 0), begin), *range(end, min(end + ROWS_BESIDE, lines.size))]
    times: list[float] = []
    for line in beside:
        cells = split_line(text.decode(lines.bytes_at(line)), layout.delimiter)
        time = _seconds(cells[column], layout.decimal) if column < len(cells) else None
        if time is None:
            if line != lines.size - 1:
                return False
            continue
        times.append(time)
    across = min(ROWS_BESIDE, begin) - 1
    steps = np.diff(times)
    if not 0 <= across < steps.size:
        return False
    others = np.delete(steps, across)
    return bool(np.all(steps > 0)) and bool(others.size) and bool(steps[across] <= PAGE_GAP_ROWS * np.median(others))


def _seconds(cell: str, decimal: str) -> float | None:
    """A time as a number, hours and minutes counted; only its steps matter."""
    total = 0.0
    for part in cell.rpartition(" ")[2].rpartition("T")[2].split(":"):
        number = number_of(part, decimal)
        if number is None:
            return None
        total = 60.0 * total + number
    return total if math.isfinite(total) else None


def _without_pages(
    text: Text, starts: IntArray, blank: list[Interval], blocks: list[int], pages: list[int]
) -> HeadersWithin:
    """The text with the lines of some headers made empty, and where its other blocks begin then."""
    line_end = text.line_end.encode("ascii")
    pieces: list[bytes] = []
    moved = list(blocks)
    last = 0
    for lines in blank:
        height = lines.stop - lines.start
        first = int(starts[lines.start])
        stop = int(starts[lines.stop]) if lines.stop < starts.size else len(text.data)
        pieces += [text.data[last:first], line_end * height]
        moved = [new - (stop - first - height) if old >= stop else new for old, new in zip(blocks, moved, strict=True)]
        last = stop
    pieces.append(text.data[last:])
    return HeadersWithin(replace(text, data=b"".join(pieces)), tuple(moved), tuple(pages))


def first_rows_above(layout: Layout) -> Line | None:
    """The line after the rows of an earlier block that stand above a layout's own header; None where there are none.

    Parameters
    ----------
    layout : Layout
        Of a text, by the last lines of its head.
    """
    rows = 0
    for at, line in enumerate(layout.above):
        cells = split_line(line.text, _delimiter_of(line.text))
        is_row = len(cells) >= 2 and _is_row(line.text, layout.decimal)
        if not is_row and rows >= FEWEST_ROWS_ABOVE and _names_above(layout.above[: at - rows]):
            return line
        rows = rows + 1 if is_row else 0
    at_end = rows >= FEWEST_ROWS_ABOVE and _names_above(layout.above[: len(layout.above) - rows])
    return layout.first_data if at_end else None


def _names_above(above: tuple[Line, ...]) -> bool:
    """Whether one of the last lines above some rows names channels, a time among them."""
    for line in reversed(above[-4:]):
        cells = split_line(line.text, _delimiter_of(line.text))
        matches = [match.channel for cell in cells for match in recognise_name(split_name_and_unit(cell)[0])]
        if len(cells) >= 2 and "time" in matches:
            return True
    return False
