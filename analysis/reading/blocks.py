"""The blocks of rows of a file, each under its own header: pages, restarts, other columns.

Public: `Block`, `find_blocks`, `plain_block`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.rows.damaged_rows import read_damaged_rows, without_cut_row
from passband.analysis.reading.rows.headers_within import find_headers_within, first_rows_above
from passband.analysis.reading.rows.long_form import pivoted
from passband.analysis.reading.rows.named_above import named_by_line_above
from passband.analysis.reading.rows.relaying import holds_other_mark, relaid
from passband.analysis.reading.rows.sparse_rows import is_mostly_blank, read_sparse_rows
from passband.analysis.reading.rows.table import (
    RowSource,
    Table,
    is_number,
    read_clean_rows,
    row_source,
)
from passband.analysis.reading.text.cells import number_of, split_line
from passband.analysis.reading.text.encoding import HEAD_BYTES, Line, Text
from passband.analysis.reading.text.header import Header, behind_row_numbers, read_header
from passband.analysis.reading.text.layout import Layout, find_layout, widened, widened_by
from passband.analysis.results.findings import Finding

FEWEST_AGREEING = 3
"""Rows that must agree with the header to be believed against all others."""
FEWEST_ROWS_COUNTED, MOST_ROWS_COUNTED = 10, 200
"""Rows by which a column without a name is seen to count them while the one beside it rises as a time."""
MOST_COLUMNS_A_MB, COLUMNS_A_BLOCK = 560, 4
"""Columns of all blocks together for each megabyte, and what each block costs besides, in columns. A column costs
0.7 ms to understand and check, however short (120 recordings of 11 columns: 1.0 s), some 2 ms where rows are damaged,
and 1 MB is to be read within 2 s. A recording of a run is longer than that: 10 s of 11 columns at 100 Hz are 55 kB."""


@dataclass(frozen=True, slots=True)
class Block:
    """Rows under one header."""

    layout: Layout
    header: Header
    table: Table


def plain_block(text: Text, layout: Layout, *, name: str, are_bare: Callable[[], bool]) -> Block | None:
    """Read rows that are all numbers under one header.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of the last lines of its head.
    name : str
        Its name, for a refusal.
    are_bare : callable
        Asked once the rows are read: whether no number in them is written so that it could be beyond measure.

    Returns
    -------
    Block or None
        None where some row is not like the others, or most cells are blank. Points among decimal commas are not seen.
    """
    layout, header = _as_the_header_says(text, _first_layout(text, layout, name), name)
    table = _clean_rows(text, layout, None, plain=True)
    return None if table is None else _wide_block(layout, header, replace(table, bare=are_bare()))


def find_blocks(text: Text, layout: Layout, *, name: str, not_plain: bool = False) -> list[Block]:
    """Read the rows of each block of a file.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of the last lines of its head.
    name : str
        Its name, for a refusal.
    not_plain : bool
        Whether `plain_block` has found none.

    Returns
    -------
    list of Block
        In the file's order; one where the header stands but once, or is merely printed again on each page.

    Notes
    -----
    Of more blocks than `MOST_COLUMNS_A_MB` allows the longest are read, and the others told.
    """
    layout, header = _as_the_header_says(text, _first_layout(text, layout, name), name)
    tried = not_plain and not _is_sparse(row_source(text, layout, None), layout)
    table = None if tried else _clean_rows(text, layout, None)
    if table is not None:
        return [_wide_block(layout, header, table)]
    within = find_headers_within(text, layout, header)
    alone = within.text is text and not within.starts
    text = within.text
    spans = list(itertools.pairwise([0, *within.starts, len(text.data)]))
    kept = _longest(text, spans, layout.width)
    findings = [*_tell_shorter(text, spans, kept), *_tell_pages(within.pages)]
    blocks: list[Block] = []
    for start, stop in kept:
        try:
            part, own = _layout_and_header(text, start, stop, name) if start else (layout, header)
        except NotALog:
            continue  # a header with no rows under it
        own = named_by_line_above(text, own)
        block = _block(text, part, own, stop if stop < len(text.data) else None, not_plain=alone)
        if block.table.rows:
            blocks.append(block)
    return [_with_findings(blocks[0], findings), *blocks[1:]] if blocks and findings else blocks


def _layout_and_header(text: Text, start: int, stop: int, name: str) -> tuple[Layout, Header]:
    layout = find_layout(text, name=name, start=start, stop=stop)
    return _as_the_header_says(text, layout, name, start=start, stop=stop)


def _longest(text: Text, spans: list[tuple[int, int]], width: int) -> list[tuple[int, int]]:
    """The blocks that are read, in order: the longest where there are too many."""
    columns = MOST_COLUMNS_A_MB * max(len(text.data) / 1_000_000, 1.0)
    most = max(int(columns) // (width + COLUMNS_A_BLOCK), 1)
    return sorted(sorted(spans, key=lambda span: span[0] - span[1])[:most])


def _tell_shorter(text: Text, spans: list[tuple[int, int]], kept: list[tuple[int, int]]) -> list[Finding]:
    if len(kept) == len(spans):
        return []
    first = min(start for start, _ in set(spans) - set(kept))
    line = text.line_number(first)
    said = (
        f"The file holds {len(spans)} recordings; the {len(kept)} longest are read, the other {len(spans) - len(kept)} "
        "were set aside. Split the file to read them."
    )
    return [Finding("recordings-set-aside", "caution", said, f"line {line}")]


def _first_layout(text: Text, layout: Layout, name: str) -> Layout:
    """The layout of the first block where it ends within the head."""
    after = first_rows_above(layout)
    if after is None:
        return layout
    try:
        return find_layout(text, name=name, stop=after.start)
    except NotALog:
        return layout


def _tell_pages(lines: tuple[int, ...]) -> list[Finding]:
    if not lines:
        return []
    text = (
        f"The header is printed again in the middle of the rows and the time goes on: {len(lines)} more "
        f"time{'s' if len(lines) > 1 else ''}, read as one recording."
    )
    return [Finding("header-repeats", "note", text, f"line {lines[0]}")]


def _with_findings(block: Block, findings: list[Finding]) -> Block:
    return replace(block, table=replace(block.table, findings=(*block.table.findings, *findings)))


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
    first_byte = layout.first_data.start
    rows = text.lines(first_byte, HEAD_BYTES if stop is None else min(stop - first_byte, HEAD_BYTES))
    agree = [len(split_line(row.text, delimiter)) - row.text.endswith(delimiter) == named for row in rows]
    if named == layout.width - 1 and _counts_rows(rows, layout, header):
        return layout, behind_row_numbers(header)
    first = len(list(itertools.takewhile(bool, agree)))
    if FEWEST_AGREEING <= first < len(rows):
        layout = find_layout(text, name=name, start=start, stop=rows[first].start)
    elif named > layout.width:
        row = rows[agree.index(True)].text if any(agree) else _row_of(text, layout, stop, named)
        layout = widened(layout, split_line(row, delimiter)[:named]) if row else layout
    return layout, read_header(layout)


def _counts_rows(rows: Sequence[Line], layout: Layout, header: Header) -> bool:
    """Whether the first cells count rows, and the second ones rise as the time does that the first name says."""
    if not any(match.channel == "time" for match in recognise_name(header.bare[0])):
        return False
    cells = [split_line(row.text, layout.delimiter)[:2] for row in rows[:MOST_ROWS_COUNTED] if row.text.strip()]
    pairs = [[number_of(cell, layout.decimal) for cell in two] for two in cells if len(two) == 2]
    if len(pairs) < FEWEST_ROWS_COUNTED or any(number is None for two in pairs for number in two):
        return False
    steps = np.diff(np.array(pairs, dtype=np.float64), axis=0)
    return bool(np.all(steps[:, 0] == 1.0) and np.all(steps[:, 1] > 0.0))


def _row_of(text: Text, layout: Layout, stop: int | None, cells: int) -> str:
    """The first row of so many cells, wherever it stands; empty where there is none."""
    source = row_source(text, layout, stop)
    lines = source.lines()
    found = np.flatnonzero(lines.count_of(source.delimiter) == cells - 1)
    return text.decode(lines.bytes_at(int(found[0]))) if found.size else ""


def _block(text: Text, layout: Layout, header: Header, stop: int | None, *, not_plain: bool) -> Block:
    """The rows under a header, whose layout may change, and some of which may be damaged."""
    table = None if not_plain else _clean_rows(text, layout, stop)
    if table is not None:
        return _wide_block(layout, header, table)
    again = relaid(text, layout, stop)
    if again is None:
        return _wide_block(layout, header, _damaged_rows(text, layout, header, stop))
    header = read_header(again.layout) if again.layout.width != layout.width else header
    rows = _clean_rows(again.text, again.layout, None)
    if rows is None:
        rows = _damaged_rows(again.text, again.layout, header, None)
    return _wide_block(again.layout, header, replace(rows, findings=(*again.findings, *rows.findings)))


def _wide_block(layout: Layout, header: Header, table: Table) -> Block:
    """The block with a column for each channel, also where its rows hold one channel's name and value each.

    A damaged row may have brought a column more than its header has.
    """
    if len(table.columns) > len(header.names):
        layout = widened_by(layout, len(table.columns) - layout.width)
        header = read_header(layout)
    wide = pivoted(layout, header, table)
    return Block(layout, header, table) if wide is None else Block(wide.layout, wide.header, wide.table)


def _clean_rows(text: Text, layout: Layout, stop: int | None, *, plain: bool = False) -> Table | None:
    """The rows of a recording, read strictly; None where some are not as the first.

    Plain ones are not mostly blank, else None, and need not be looked through for another decimal mark.
    """
    whole = without_cut_row(text, layout, stop)
    source = row_source(text, layout, whole.stop)
    if not plain and holds_other_mark(source, layout):
        return None
    sparse = _is_sparse(source, layout)
    if sparse and plain:
        return None
    table = read_sparse_rows(source, layout) if sparse else read_clean_rows(source, layout)
    return None if table is None else replace(table, findings=(*whole.findings, *table.findings))


def _damaged_rows(text: Text, layout: Layout, header: Header, stop: int | None) -> Table:
    """The rows of a recording, read tolerantly."""
    whole = without_cut_row(text, layout, stop)
    source = row_source(text, layout, whole.stop)
    table = read_damaged_rows(source, layout, header, mostly_blank=_is_sparse(source, layout))
    return replace(table, findings=(*whole.findings, *table.findings))


def _is_sparse(source: RowSource, layout: Layout) -> bool:
    numbers_only = layout.plain and not layout.quoted and all(is_number(kind) for kind in layout.column_kinds)
    return numbers_only and is_mostly_blank(source)
