"""Bytes to logs: any logger's text understood without being told, with nothing lost.

The line: unpack and decode, find the layout, read the header, load the rows, find the time, understand the columns,
look at the sensors' health. Each step is a file here.

Public: `read_log`, `describe`, `check_between_channels`.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.reading.description import describe
from passband.analysis.reading.health.between import check_between_channels
from passband.analysis.reading.recording import join_pages, logs_of_recording, tell_restarts
from passband.analysis.reading.rows.damaged_rows import read_damaged_rows, without_cut_row
from passband.analysis.reading.rows.decimal_commas import join_decimal_commas
from passband.analysis.reading.rows.fixed_width import part_at_blanks
from passband.analysis.reading.rows.sparse_rows import is_mostly_blank, read_sparse_rows
from passband.analysis.reading.rows.table import Table, is_number, read_clean_rows, row_source
from passband.analysis.reading.text.cells import split_line
from passband.analysis.reading.text.encoding import Text, read_text
from passband.analysis.reading.text.header import Header, read_header
from passband.analysis.reading.text.layout import Layout, find_layout, widened
from passband.analysis.reading.text.refusal import quoted_lines
from passband.analysis.reading.time.restarts import find_repeated_headers
from passband.analysis.results.findings import Finding

FEWEST_AGREEING = 3
"""Rows that must agree with the header to be believed against all others."""
SHARE_AGREEING = 0.02
"""Their share where they do not come first: the slowest channel of a log has one row in fifty of its fastest."""
MOST_HEADERS = 100
"""A header that stands more often is printed on each page, and its lines are set aside among the rows of one log."""

__all__ = ["check_between_channels", "describe", "read_log"]


def read_log(data: bytes, *, name: str, mapping: Mapping[str, str] | None = None, index: int = 0) -> tuple[Log, ...]:
    """Read one file of a logger.

    Parameters
    ----------
    data : bytes
        The file as it came: text of any encoding, or gzip or zip of one.
    name : str
        Its name, for findings and refusals.
    mapping : dict of str to str, optional
        What the user said: header text to channel name, or to ``ignore``, or to ``time``. It wins over recognition.
    index : int
        Which of the given logs it is, from 0.

    Returns
    -------
    tuple of Log
        One for each recording in the file, each with its own time from its first row; at least one.

    Raises
    ------
    NotALog
        If it is no table of numbers, has no rows or holds no time. The text is one sentence for the user.
    """
    text, layout, joined = _text_and_layout(data, name)
    recordings = _recordings(text, layout, name)
    logs: list[Log] = []
    for layout, header, table in recordings:
        logs.extend(logs_of_recording(text, layout, header, table, name=name, mapping=mapping or {}, index=index))
    logs = tell_restarts(join_pages(logs))
    if not logs:
        shown = quoted_lines([line.text for line in text.lines()])
        raise NotALog(
            f"{name}: looked for rows of numbers under a header, found too few to be a log: {shown}. "
            "Export the run again."
        )
    return tuple(replace(log, findings=(*joined, *log.findings)) for log in logs) if joined else tuple(logs)


def _text_and_layout(data: bytes, name: str) -> tuple[Text, Layout, tuple[Finding, ...]]:
    text = part_at_blanks(read_text(data, name=name), name=name)
    layout = find_layout(text, name=name)
    joined = join_decimal_commas(text, layout, name=name)
    if joined.text is text:
        return text, layout, ()
    return joined.text, find_layout(joined.text, name=name), joined.findings


def _as_the_header_says(text: Text, layout: Layout, header: Header, name: str) -> tuple[Layout, Header]:
    """The layout of rows that agree with the header where most do not.

    The first rows may, and the others be damaged; or rows here and there, and the others leave blanks out at their end.
    """
    named, delimiter = header.names_written, layout.delimiter
    if not named or named in (layout.width, layout.width - (layout.column_kinds[-1] == "blank")):
        return layout, header
    rows = text.lines(layout.first_data.start)
    agree = [len(split_line(row.text, delimiter)) - row.text.endswith(delimiter) == named for row in rows]
    first = len(list(itertools.takewhile(bool, agree)))
    if FEWEST_AGREEING <= first < len(rows):
        layout = find_layout(text, name=name, stop=rows[first].start)
    elif named > layout.width and sum(agree) >= max(FEWEST_AGREEING, SHARE_AGREEING * len(rows)):
        layout = widened(layout, split_line(rows[agree.index(True)].text, delimiter)[:named])
    return layout, read_header(layout)


def _recordings(text: Text, layout: Layout, name: str) -> list[tuple[Layout, Header, Table]]:
    layout, header = _as_the_header_says(text, layout, read_header(layout), name)
    table = _rows(text, layout, header, None, tolerant=False)
    if table is not None:
        return [(layout, header, table)]
    cuts = find_repeated_headers(text, layout, header)
    cuts = cuts if len(cuts) <= MOST_HEADERS else []
    found: list[tuple[Layout, Header, Table]] = []
    for start, stop in zip([0, *cuts], [*cuts, None], strict=True):
        try:
            part = find_layout(text, name=name, start=start, stop=stop) if start else layout
        except NotALog:
            continue  # a header with no rows under it
        own = read_header(part) if start else header
        rows = _rows(text, part, own, stop, strict=bool(cuts))  # the whole has been tried
        if rows is not None and rows.rows:
            found.append((part, own, rows))
    return found


def _rows(
    text: Text, layout: Layout, header: Header, stop: int | None, *, strict: bool = True, tolerant: bool = True
) -> Table | None:
    """The rows of a recording: read strictly, and where that fails or is not asked for, tolerantly."""
    whole = without_cut_row(text, layout, stop)
    source = row_source(text, layout, whole.stop)
    numbers_only = layout.plain and not layout.quoted and all(is_number(kind) for kind in layout.column_kinds)
    mostly_blank = numbers_only and is_mostly_blank(source)
    table = None
    if strict:
        table = read_sparse_rows(source, layout) if mostly_blank else read_clean_rows(source, layout)
    if table is None and tolerant:
        table = read_damaged_rows(source, layout, header, mostly_blank=mostly_blank)
    return None if table is None else replace(table, findings=(*whole.findings, *table.findings))
