"""The blocks of rows of a file, each under its own header: pages, restarts, other columns.

Public: `Block`, `find_blocks`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.rows.damaged_rows import read_damaged_rows, without_cut_row
from passband.analysis.reading.rows.headers_within import find_headers_within, first_rows_above
from passband.analysis.reading.rows.relaying import holds_other_mark, relaid
from passband.analysis.reading.rows.sparse_rows import is_mostly_blank, read_sparse_rows
from passband.analysis.reading.rows.table import (
    RowSource,
    Table,
    delimiters_per_line,
    is_number,
    line_spans,
    read_clean_rows,
    row_source,
)
from passband.analysis.reading.text.cells import split_line
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.header import Header, read_header
from passband.analysis.reading.text.layout import Layout, find_layout, widened
from passband.analysis.results.findings import Finding

FEWEST_AGREEING = 3
"""Rows that must agree with the header to be believed against all others."""
MOST_BLOCKS = 250
"""Headers that begin anew in one file."""


@dataclass(frozen=True, slots=True)
class Block:
    """Rows under one header."""

    layout: Layout
    header: Header
    table: Table


def find_blocks(text: Text, layout: Layout, *, name: str) -> list[Block]:
    """Read the rows of each block of a file.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of the last lines of its head.
    name : str
        Its name, for a refusal.

    Returns
    -------
    list of Block
        In the file's order; one where the header stands but once, or is merely printed again on each page.

    Raises
    ------
    NotALog
        If there are more than `MOST_BLOCKS`.
    """
    layout, header = _as_the_header_says(text, _first_layout(text, layout, name), name)
    table = _clean_rows(text, layout, None)
    if table is not None:
        return [Block(layout, header, table)]
    within = find_headers_within(text, layout, header)
    text = within.text
    if len(within.starts) >= MOST_BLOCKS:
        raise NotALog(
            f"{name}: looked for the recordings of a run or a day, found {len(within.starts) + 1} in one file, more "
            f"than the {MOST_BLOCKS} that are read. Split the file, or export the run alone."
        )
    blocks: list[Block] = []
    for start, stop in itertools.pairwise([0, *within.starts, None]):
        try:
            part, own = (
                _as_the_header_says(
                    text, find_layout(text, name=name, start=start, stop=stop), name, start=start, stop=stop
                )
                if start
                else (layout, header)
            )
        except NotALog:
            continue  # a header with no rows under it
        block = _block(text, part, own, stop)
        if block.table.rows:
            blocks.append(block)
    return [_with_pages(blocks[0], within.pages), *blocks[1:]] if blocks and within.pages else blocks


def _first_layout(text: Text, layout: Layout, name: str) -> Layout:
    """The layout of the first block where it ends within the head."""
    after = first_rows_above(layout)
    if after is None:
        return layout
    try:
        return find_layout(text, name=name, stop=after.start)
    except NotALog:
        return layout


def _with_pages(block: Block, lines: tuple[int, ...]) -> Block:
    text = (
        f"The header is printed again in the middle of the rows and the time goes on: {len(lines)} more "
        f"time{'s' if len(lines) > 1 else ''}, read as one recording."
    )
    told = Finding("header-repeats", "note", text, f"line {lines[0]}")
    return replace(block, table=replace(block.table, findings=(*block.table.findings, told)))


def _as_the_header_says(
    text: Text, layout: Layout, name: str, *, start: int = 0, stop: int | None = None
) -> tuple[Layout, Header]:
    """The layout of rows that agree with the header where most do not.

    The first rows may, and the others be damaged; or rows here and there, and the others leave blanks out at their end.
    """
    header = read_header(layout)
    named, delimiter = header.names_written, layout.delimiter
    if not named or named in (layout.width, layout.width - (layout.column_kinds[-1] == "blank")):
        return layout, header
    rows = [row for row in text.lines(layout.first_data.start) if stop is None or row.start < stop]
    agree = [len(split_line(row.text, delimiter)) - row.text.endswith(delimiter) == named for row in rows]
    first = len(list(itertools.takewhile(bool, agree)))
    if FEWEST_AGREEING <= first < len(rows):
        layout = find_layout(text, name=name, start=start, stop=rows[first].start)
    elif named > layout.width:
        row = rows[agree.index(True)].text if any(agree) else _row_of(text, layout, stop, named)
        layout = widened(layout, split_line(row, delimiter)[:named]) if row else layout
    return layout, read_header(layout)


def _row_of(text: Text, layout: Layout, stop: int | None, cells: int) -> str:
    """The first row of so many cells, wherever it stands; empty where there is none."""
    source = row_source(text, layout, stop)
    starts, stops = line_spans(source)
    found = np.flatnonzero(delimiters_per_line(source, starts, stops) == cells - 1)
    return text.decode(source.data[starts[found[0]] : stops[found[0]]]) if found.size else ""


def _block(text: Text, layout: Layout, header: Header, stop: int | None) -> Block:
    """The rows under a header, whose layout may change, and some of which may be damaged."""
    table = _clean_rows(text, layout, stop)
    if table is not None:
        return Block(layout, header, table)
    again = relaid(text, layout, stop)
    if again is None:
        return Block(layout, header, _damaged_rows(text, layout, header, stop))
    header = read_header(again.layout) if again.layout.width != layout.width else header
    rows = _clean_rows(again.text, again.layout, None)
    if rows is None:
        rows = _damaged_rows(again.text, again.layout, header, None)
    return Block(again.layout, header, replace(rows, findings=(*again.findings, *rows.findings)))


def _clean_rows(text: Text, layout: Layout, stop: int | None) -> Table | None:
    """The rows of a recording, read strictly; None where some are not as the first."""
    stop, cut = without_cut_row(text, layout, stop)
    source = row_source(text, layout, stop)
    if holds_other_mark(source, layout):
        return None
    sparse = _is_sparse(source, layout)
    table = read_sparse_rows(source, layout) if sparse else read_clean_rows(source, layout)
    return None if table is None else replace(table, findings=(*cut, *table.findings))


def _damaged_rows(text: Text, layout: Layout, header: Header, stop: int | None) -> Table:
    """The rows of a recording, read tolerantly."""
    stop, cut = without_cut_row(text, layout, stop)
    source = row_source(text, layout, stop)
    table = read_damaged_rows(source, layout, header, mostly_blank=_is_sparse(source, layout))
    return replace(table, findings=(*cut, *table.findings))


def _is_sparse(source: RowSource, layout: Layout) -> bool:
    numbers_only = layout.plain and not layout.quoted and all(is_number(kind) for kind in layout.column_kinds)
    return numbers_only and is_mostly_blank(source)
