"""The rows of numbers: fast where the text is clean, tolerant where it is not, nothing dropped uncounted.

Public: `Column`, `Table`, `read_table`, `find_repeated_headers`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import polars as pl

from analysis.findings import Finding
from analysis.quantities import BoolArray, FloatArray, IntArray
from analysis.reading.cells import FLAGS, NO_VALUE, number_of
from analysis.reading.header import Header
from analysis.reading.layout import Layout
from analysis.reading.refusal import quoted_start
from analysis.reading.text import Text

SHORT_ROWS_ARE_A_HABIT = 0.05
"""Share of rows with too few cells above which the logger leaves trailing blanks out; below it they are damage."""
_CELL_MARK = "\x1f"
"""Delimiter of rows that were taken out of their quotes: the ASCII unit separator, which no log holds."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the table."""

    values: FloatArray | None
    """One for each of `rows`, NaN for a cell without a value; None for a column of words or times."""
    rows: IntArray | None
    """Rows that hold a cell (also one that says "no value"); None where all do."""
    words: pl.Series | None = None
    """The cells of a column of words or times, one per row of the table."""

    def over(self, rows: int) -> FloatArray:
        """One value for each of all rows, NaN where the cell is blank or holds no number."""
        spread = np.full(rows, np.nan)
        if self.values is not None:
            spread[slice(None) if self.rows is None else self.rows] = self.values
        return spread


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one recording."""

    columns: tuple[Column, ...]
    """In the file's order."""
    rows: int
    """How many."""
    findings: tuple[Finding, ...]
    """What was set aside, with place and count."""


@dataclass(frozen=True, slots=True)
class _Source:
    """Where the rows are."""

    data: bytes
    delimiter: str
    quote: str | None
    decimal_comma: bool
    line_end: str
    skip_lines: int = 0
    first_byte: int = 0


def read_table(
    text: Text, layout: Layout, header: Header, *, stop: int | None = None, tolerant: bool = True
) -> Table | None:
    """Read the rows of one recording.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Where the rows begin and how they are delimited.
    header : Header
        Names, for the findings.
    stop : int, optional
        Byte at which the recording ends; the end of the file unless told.
    tolerant : bool
        Whether to go on where the rows are not clean; else None is returned for them.

    Returns
    -------
    Table or None
        None only where not `tolerant` and some cell or row is not as the first ones.
    """
    stop, cut = _without_cut_row(text, layout, stop)
    source = _source_of(text, layout, stop)
    kinds = list(layout.column_kinds)
    if layout.plain and not (layout.quoted and _has_lone_quote(source)):
        clean = _read_strictly(source, kinds)
        if clean is not None and not _has_short_rows(clean, source, layout):
            return Table(tuple(_columns_of(clean, kinds)), clean.height, tuple(cut))
    if not tolerant:
        return None
    return _read_tolerantly(source, layout, header, first_line=layout.first_data.number, told=cut)


def _without_cut_row(text: Text, layout: Layout, stop: int | None) -> tuple[int | None, list[Finding]]:
    """Leave out a last row whose last cell was cut: no line end, and fewer decimals than all rows before."""
    data, mark = text.data, text.line_end.encode("ascii")
    end = len(data) if stop is None else stop
    if data.endswith(mark, 0, end) or layout.quoted:
        return stop, []
    lines = data[max(end - 4000 - 40 * layout.width, layout.first_data.start) : end].split(mark)
    if len(lines) < 12 or lines[-1].count(layout.delimiter.encode()) != layout.width - 1:
        return stop, []
    point = layout.decimal.encode()
    decimals = [len(line.rstrip().rpartition(layout.delimiter.encode())[2].partition(point)[2]) for line in lines[-11:]]
    if len(set(decimals[:-1])) != 1 or decimals[-1] >= decimals[0]:
        return stop, []
    finding = Finding("cut-last-line", "note", "The last line is cut short and was set aside (1 row).", "last line")
    return end - len(lines[-1]), [finding]


def _source_of(text: Text, layout: Layout, stop: int | None) -> _Source:
    whole = stop is None and layout.first_data.start <= len(text.data) // 10 and text.line_end == "\n"
    return _Source(
        data=text.data if whole else text.data[layout.first_data.start : stop],
        delimiter=layout.delimiter,
        quote='"' if layout.quoted else None,
        decimal_comma=layout.decimal == ",",
        line_end=text.line_end,
        skip_lines=layout.first_data.number - 1 if whole else 0,
        first_byte=layout.first_data.start if whole else 0,
    )


def _is_number(kind: str) -> bool:
    return kind in ("number", "blank", "no value")


def _schema(kinds: list[str], wanted: list[int] | None = None) -> dict[str, type[pl.DataType]]:
    chosen = set(wanted) if wanted is not None else {i for i, kind in enumerate(kinds) if not _is_number(kind)}
    return {str(i): pl.String if i in chosen else pl.Float64 for i in range(len(kinds))}


def _read(
    source: _Source, schema: dict[str, type[pl.DataType]], *, lenient: bool, only: list[int] | None = None
) -> pl.DataFrame:
    return pl.read_csv(
        source.data,
        has_header=False,
        schema=schema,
        columns=only,  # by place
        separator=source.delimiter,
        quote_char=source.quote,
        decimal_comma=source.decimal_comma,
        eol_char=source.line_end,
        skip_lines=source.skip_lines,
        ignore_errors=lenient,
        truncate_ragged_lines=lenient,
        missing_columns="insert" if lenient else "raise",
        extra_columns="ignore" if lenient else "raise",
        encoding="utf8-lossy" if pl.String in schema.values() else "utf8",
    )


def _read_strictly(source: _Source, kinds: list[str]) -> pl.DataFrame | None:
    try:
        return _read(source, _schema(kinds), lenient=False)
    except (pl.exceptions.ComputeError, pl.exceptions.SchemaError, pl.exceptions.NoDataError, pl.exceptions.ShapeError):
        return None


def _has_short_rows(frame: pl.DataFrame, source: _Source, layout: Layout) -> bool:
    """Whether some row lacks cells: those read as blank, and must be told from cells that are."""
    last = len(layout.column_kinds) - 1
    while last > 0 and layout.column_kinds[last] == "blank":
        last -= 1
    if frame.height == 0 or frame.to_series(last).null_count() == 0:
        return False
    if source.quote:
        return True
    raw = np.frombuffer(source.data, dtype=np.uint8)[source.first_byte :]
    full = len(layout.column_kinds) - 1
    if int(np.count_nonzero(raw == ord(source.delimiter))) >= full * frame.height:
        return False  # no row can have more, so none has fewer
    starts, stops = _line_spans(source)
    return bool(np.any((_delimiters_per_line(source, starts, stops) < last) & (stops > starts)))


def _has_lone_quote(source: _Source) -> bool:
    """Whether a cell is a single quotation mark: polars stops the process's thread on it instead of raising."""
    edge = re.escape(source.delimiter.encode("ascii")) + rb"\r\n"
    return re.search(rb"(?:^|[" + edge + rb'])"(?=[' + edge + rb"]|$)", source.data) is not None


def _columns_of(frame: pl.DataFrame, kinds: list[str]) -> Iterator[Column]:
    full = [str(i) for i, kind in enumerate(kinds) if _is_number(kind) and not frame.to_series(i).null_count()]
    block = frame.select(full).to_numpy(order="fortran") if full else np.empty((frame.height, 0))
    place = {name: at for at, name in enumerate(full)}
    shared: dict[bytes, IntArray] = {}
    for i, kind in enumerate(kinds):
        series = frame.to_series(i)
        if str(i) in place:
            yield Column(block[:, place[str(i)]], None)
        elif _is_number(kind):
            yield Column(series.drop_nulls().to_numpy(), _rows_held(series, shared))
        else:
            yield Column(None, _rows_held(series, shared) if series.null_count() else None, series)


def _rows_held(series: pl.Series, shared: dict[bytes, IntArray]) -> IntArray:
    """Rows that are not blank; one array for all columns that agree."""
    held = series.is_not_null().to_numpy()
    key = np.packbits(held).tobytes()
    if key not in shared:
        shared[key] = np.flatnonzero(held)
    return shared[key]


# ---- rows that are not clean ----


def _line_spans(source: _Source) -> tuple[IntArray, IntArray]:
    """Start and stop byte of each line of data, line ends left out."""
    raw = np.frombuffer(source.data, dtype=np.uint8)
    ends = np.flatnonzero(raw == ord(source.line_end))
    starts = np.concatenate(([0], ends + 1))
    stops = np.concatenate((ends, [raw.size]))
    starts, stops = starts[source.skip_lines :], stops[source.skip_lines :]
    held = stops > starts
    ends_cr = held & (raw[np.maximum(stops - 1, 0)] == 13)
    return starts, stops - ends_cr


def _delimiters_per_line(source: _Source, starts: IntArray, stops: IntArray) -> IntArray:
    raw = np.frombuffer(source.data, dtype=np.uint8)
    at = np.flatnonzero(raw == ord(source.delimiter))
    return np.asarray(np.searchsorted(at, stops) - np.searchsorted(at, starts), dtype=np.int64)


@dataclass(frozen=True, slots=True)
class _Sorted:
    """Lines sorted into rows and what was set aside."""

    source: _Source
    findings: list[Finding]


def _read_tolerantly(source: _Source, layout: Layout, header: Header, *, first_line: int, told: list[Finding]) -> Table:
    if source.quote:
        source = _out_of_quotes(source)
    sorted_out = _sort_lines(source, layout, first_line)
    sorted_out.findings.extend(told)
    kinds = list(layout.column_kinds)
    frame = _read(sorted_out.source, _schema(kinds), lenient=True) if sorted_out.source.data else None
    if frame is None or frame.height == 0:
        return Table(tuple(Column(np.empty(0), None) for _ in kinds), 0, tuple(sorted_out.findings))
    columns = list(_columns_of(frame, kinds))
    doubted = [i for i, kind in enumerate(kinds) if _is_number(kind) and columns[i].rows is not None]
    findings = list(sorted_out.findings)
    if doubted:
        words = _read(sorted_out.source, _schema(kinds, doubted), lenient=True, only=doubted)
        for i in doubted:
            columns[i], told = _mend_column(columns[i], words[str(i)], layout, header.names[i])
            findings.extend(told)
    return Table(tuple(columns), frame.height, tuple(findings))


def _out_of_quotes(source: _Source) -> _Source:
    """The same rows with quotes taken off and a delimiter that no cell holds."""
    starts, stops = _line_spans(source)
    lines: list[str] = []
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        line = source.data[start:stop].decode("latin-1")
        try:
            cells = next(csv.reader([line], delimiter=source.delimiter, skipinitialspace=True), [])
        except csv.Error:
            cells = line.replace('"', "").split(source.delimiter)
        lines.append(_CELL_MARK.join(cell.replace("\n", " ") for cell in cells))
    return _Source("\n".join(lines).encode("latin-1"), _CELL_MARK, None, source.decimal_comma, "\n")


def _sort_lines(source: _Source, layout: Layout, first_line: int) -> _Sorted:
    """Set aside the lines that are no rows of this table, and count them."""
    starts, stops = _line_spans(source)
    count = _delimiters_per_line(source, starts, stops)
    full = layout.width - 1
    blank = _blank_lines(source, starts, stops, count)
    least = full - (layout.column_kinds[-1] == "blank" and layout.width > 1)
    short, long = (count < least) & ~blank, (count > full) & ~blank
    long &= ~((count == full + 1) & _ends_with_delimiter(source, stops))
    told = max(int(np.sum(~blank)), 1)
    cut_last = bool(short.any()) and bool(short[np.flatnonzero(~blank)[-1]]) if (~blank).any() else False
    findings: list[Finding] = []
    if short.sum() > max(SHORT_ROWS_ARE_A_HABIT * told, 1):
        short[:] = False
    elif cut_last:
        at = int(np.flatnonzero(~blank)[-1])
        short[at] = False
        blank[at] = True
        findings.append(
            Finding(
                "cut-last-line",
                "note",
                "The last line is cut short and was set aside (1 row).",
                f"line {first_line + at}",
            )
        )
    damaged = short | long
    if damaged.any():
        first = int(np.flatnonzero(damaged)[0])
        line = source.data[starts[first] : stops[first]].decode("latin-1").replace(_CELL_MARK, layout.delimiter)
        findings.append(
            Finding(
                "damaged-lines",
                "caution",
                f"{_count(int(damaged.sum()), 'line')} with too many or too few cells "
                f"({int(long.sum())} and {int(short.sum())}) were set aside as damaged; the first reads "
                f"{quoted_start(line)}.",
                f"line {first_line + first}",
            )
        )
    return _Sorted(_keep_lines(source, starts, stops, ~(blank | damaged)), findings)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'s' if number != 1 else ''}"


def _blank_lines(source: _Source, starts: IntArray, stops: IntArray, count: IntArray) -> BoolArray:
    """Lines of nothing but blanks and delimiters."""
    maybe = np.flatnonzero(stops - starts <= count + 2)
    blank = np.zeros(starts.size, dtype=bool)
    delimiter = source.delimiter.encode("latin-1")
    for i in maybe.tolist():
        blank[i] = not source.data[starts[i] : stops[i]].replace(delimiter, b"").strip(b" \t\x00\x1a")
    return blank


def _ends_with_delimiter(source: _Source, stops: IntArray) -> BoolArray:
    raw = np.frombuffer(source.data, dtype=np.uint8)
    return np.asarray(raw[np.maximum(stops - 1, 0)] == ord(source.delimiter))


def _keep_lines(source: _Source, starts: IntArray, stops: IntArray, keep: BoolArray) -> _Source:
    """The source with only some of its lines, and all of them ended alike."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], keep.astype(np.int8), [0]))))
    view = memoryview(source.data)
    pieces: list[memoryview | bytes] = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        pieces.append(view[starts[first] : stops[last - 1]])
        pieces.append(source.line_end.encode("ascii"))
    return _Source(b"".join(pieces), source.delimiter, source.quote, source.decimal_comma, source.line_end)


def _mend_column(column: Column, words: pl.Series, layout: Layout, name: str) -> tuple[Column, list[Finding]]:
    """Read what can be read of the cells that are no plain numbers, and count the rest."""
    if column.rows is None:
        return column, []
    values = column.over(len(words))
    present = np.zeros(len(words), dtype=bool)
    present[column.rows] = True
    missing = np.flatnonzero(~present)
    cells = words.gather(missing).fill_null("").to_list()
    unreadable: list[str] = []
    where: list[int] = []
    for row, cell in zip(missing.tolist(), cells, strict=True):
        bare = cell.strip().strip('"').strip()
        if not bare:
            continue
        present[row] = True
        number = _number_in(bare, layout.decimal)
        if number is None and bare.lower() not in NO_VALUE:
            unreadable.append(bare)
            where.append(row)
        elif number is not None:
            values[row] = number
    findings = []
    if unreadable:
        findings.append(
            Finding(
                "unreadable-cells",
                "caution",
                f"{_count(len(unreadable), 'cell')} of {name} are no numbers and were set aside; "
                f"the first reads {quoted_start(unreadable[0], most=30)}.",
                f"{name}, row {where[0] + 1}",
            )
        )
    return Column(values[present], None if present.all() else np.flatnonzero(present)), findings


def _number_in(cell: str, decimal: str) -> float | None:
    number = number_of(cell, decimal)
    if number is None:
        number = FLAGS.get(cell.lower())
    return number


def find_repeated_headers(text: Text, layout: Layout, header: Header) -> list[int]:
    """Bytes at which the header stands again: a logger that was restarted writes a second recording.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of its first recording.
    header : Header
        Of its first recording.

    Returns
    -------
    list of int
        Start of each later recording, its own preamble included; empty where there is none.
    """
    if header.header_line is None:
        return []
    first = text.data[header.start : layout.first_data.start].split(text.line_end.encode("ascii"))[0].rstrip(b"\r")
    cuts: list[int] = []
    at = text.data.find(first, layout.first_data.start)
    while at >= 0:
        if text.data[at - 1 : at] == text.line_end.encode("ascii"):
            cuts.append(_start_of_preamble(text, layout, at))
        at = text.data.find(first, at + len(first))
    return cuts


def _start_of_preamble(text: Text, layout: Layout, header_at: int) -> int:
    """Go up from a repeated header past the lines that are no rows of data."""
    line_end = text.line_end.encode("ascii")
    delimiter = layout.delimiter.encode("ascii")
    start = header_at
    for _ in range(70):
        if start <= layout.first_data.start:
            break
        before = text.data.rfind(line_end, 0, start - 1) + 1
        line = text.data[before:start].strip()
        if line.count(delimiter) >= layout.width - 2 and line[:1] in b'0123456789.-+"':
            break
        start = before
    return start
