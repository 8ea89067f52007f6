"""The rows of numbers, read by polars in one go where every row is like the first.

Rows that are not go to `analysis.reading.rows.damaged_rows`.

Public: `Column`, `Table`, `TurnedWords`, `RowSource`, `read_clean_rows`, `row_source`, `read_cells`, `columns_of`,
`in_parts`, `stacked`, `is_number`, `schema_of`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from operator import methodcaller

import numpy as np
import polars as pl

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.rows.lines import Lines, find_lines
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.layout import Layout
from passband.analysis.results.findings import Finding

PART_IN_FILES = 0.5
"""Size of a part as doubles, in sizes of the file."""
FEWEST_PARTS, MOST_PARTS = 4, 32
"""Fewer are not worth it: a dense log, 8 bytes a cell printed in 3 to 8, is read whole. More cost too much."""
LEAST_PART_BYTES = 1 << 16
"""A part holds at least as much: reading one costs some 5 ms, however short. Measured on 50 blocks of 3 kB."""

MOST_LOOKED_THROUGH = 1 << 18
"""Bytes of a small file: all of them are looked at before they are read."""
PIECE_BYTES = 1 << 18
"""Bytes of quoted rows looked at at once: they stay in the cache of one core."""
_OF_NUMBERS = b"0123456789+-.,eEinfatyINFATY \t\r\n"
"""What numbers are written with: infinity and NaN too, and blanks, which are let through here."""
LIKE_PACKED = (b"\x1f\x8b", b"\x78\x01", b"\x78\x5e", b"\x78\x9c", b"\x78\xda", b"\x28\xb5\x2f\xfd")
"""First bytes by which polars takes text for gzip, zlib or zstd (RFC 1952, RFC 1950 and RFC 8878) and unpacks it."""


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
        """One value for each of all rows, NaN where the cell is blank or holds no number; not to be written to."""
        if self.values is not None and self.rows is None:
            return self.values
        spread = np.full(rows, np.nan)
        if self.values is not None:
            spread[self.rows] = self.values
        return spread


@dataclass(frozen=True, slots=True)
class TurnedWords:
    """What a column of words turned out to hold."""

    values: FloatArray
    """One for each of its words, NaN where a word is no value."""
    finding: Finding | None
    """What was found, where it must be told."""


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of one recording."""

    columns: tuple[Column, ...]
    """In the file's order."""
    rows: int
    """How many."""
    findings: tuple[Finding, ...]
    """What was set aside, with place and count."""
    bare: bool = False
    """Whether all values are known to be bare numbers as printed: none is NaN, infinite or beyond measure."""

    def with_columns(self, columns: Iterable[Column], *findings: Finding) -> Table:
        """The same rows in other columns, and findings that say why after its own."""
        return replace(self, columns=tuple(columns), findings=(*self.findings, *findings), bare=False)

    def with_words_turned(self, turned: Callable[[int, pl.Series], TurnedWords | None]) -> Table:
        """The same with columns of words turned into numbers where they hold such.

        Parameters
        ----------
        turned : function
            Asked of each column of words by its place; None where it stays words.
        """
        of_words = {at: column.words for at, column in enumerate(self.columns) if column.words is not None}
        found = {at: numbers for at, words in of_words.items() if (numbers := turned(at, words)) is not None}
        if not found:
            return self
        columns = list(self.columns)
        for at, numbers in found.items():
            values, rows = numbers.values, columns[at].rows
            columns[at] = Column(values if rows is None else values[rows], rows)
        return self.with_columns(columns, *(one.finding for one in found.values() if one.finding is not None))

    def with_findings(self, *findings: Finding) -> Table:
        """The same table with findings after its own."""
        return replace(self, findings=(*self.findings, *findings))


@dataclass(frozen=True, slots=True)
class RowSource:
    """Where the rows are."""

    data: bytes
    delimiter: str
    quote: str | None
    decimal_comma: bool
    line_end: str
    skip_lines: int = 0
    first_byte: int = 0

    def lines(self) -> Lines:
        """Its lines of data."""
        return find_lines(self.data, line_end=self.line_end, skip=self.skip_lines)


def read_clean_rows(source: RowSource, layout: Layout) -> Table | None:
    """Read rows that are all like the first.

    Parameters
    ----------
    source : RowSource
        Where the rows are.
    layout : Layout
        What the columns hold.

    Returns
    -------
    Table or None
        None where some cell or row is not as the first ones.
    """
    if not layout.plain or (layout.quoted and _has_lone_quote(source)):
        return None
    kinds = list(layout.column_kinds)
    frame = None if _is_plainly_damaged(source, kinds) else _read_strictly(source, kinds)
    if frame is None or _has_short_rows(frame, source, layout):
        return None
    return Table(tuple(columns_of(frame, kinds)), frame.height, ())


def in_parts(source: RowSource, layout: Layout) -> Iterator[RowSource]:
    """The rows in so many parts that each, as doubles, is no larger than the whole file; one where they are dense.

    Parameters
    ----------
    source : RowSource
        The rows.
    layout : Layout
        How they are laid out.
    """
    size = len(source.data) - source.first_byte
    line_end = source.line_end.encode("ascii")
    head = source.data[source.first_byte : source.first_byte + 200_000]
    rows = size * max(head.count(line_end), 1) / max(len(head), 1)
    number = min(int(8 * layout.width * rows / (PART_IN_FILES * max(size, 1))), MOST_PARTS, size // LEAST_PART_BYTES)
    if number < FEWEST_PARTS or source.quote:
        yield source
        return
    start = source.first_byte
    for part in range(1, number + 1):
        stop = size * part // number + source.first_byte
        stop = len(source.data) if part == number else source.data.find(line_end, max(stop, start)) + 1
        if stop <= 0:
            stop = len(source.data)
        if stop > start:
            yield replace(source, data=source.data[start:stop], skip_lines=0, first_byte=0)
        start = stop


def stacked(parts: list[list[Column]], heights: list[int]) -> list[Column]:
    """The columns of several parts end to end; `heights` are the parts' numbers of rows.

    Parameters
    ----------
    parts : list of list of Column
        The same columns in each part.
    heights : list of int
        Rows of each part.
    """
    if len(parts) == 1:
        return parts[0]
    offsets = np.concatenate(([0], np.cumsum(heights)[:-1]))
    shared: dict[tuple[int, ...], IntArray] = {}
    stacked: list[Column] = []
    for pieces in zip(*parts, strict=True):
        rows = None
        if any(piece.rows is not None for piece in pieces):
            key = tuple(id(piece.rows) for piece in pieces)
            if key not in shared:
                held = [
                    (np.arange(height) if piece.rows is None else piece.rows) + offset
                    for piece, height, offset in zip(pieces, heights, offsets, strict=True)
                ]
                shared[key] = np.concatenate(held)
            rows = shared[key]
        words = [piece.words for piece in pieces if piece.words is not None]
        values = [piece.values for piece in pieces if piece.values is not None]
        stacked.append(Column(np.concatenate(values) if values else None, rows, pl.concat(words) if words else None))
    return stacked


def row_source(text: Text, layout: Layout, stop: int | None) -> RowSource:
    """Where the rows of a recording are, up to a byte or the end.

    Parameters
    ----------
    text : Text
        The file as text.
    layout : Layout
        How it is laid out.
    stop : int or None
        Byte at which the recording ends; None for the end.
    """
    whole = stop is None and layout.first_data.start <= len(text.data) // 10 and text.line_end == "\n"
    return RowSource(
        data=text.data if whole else text.data[layout.first_data.start : stop],
        delimiter=layout.delimiter,
        quote='"' if layout.quoted else None,
        decimal_comma=layout.decimal == ",",
        line_end=text.line_end,
        skip_lines=layout.first_data.number - 1 if whole else 0,
        first_byte=layout.first_data.start if whole else 0,
    )


def is_number(kind: str) -> bool:
    """Whether a column of this kind is read as numbers."""
    return kind in ("number", "blank", "no value")


def schema_of(kinds: list[str], wanted: list[int] | None = None) -> dict[str, type[pl.DataType]]:
    """Type by which each column is read.

    Parameters
    ----------
    kinds : list of str
        Kind of each column.
    wanted : list of int, optional
        Columns to be read as text; those that hold no numbers unless told.
    """
    chosen = set(wanted) if wanted is not None else {i for i, kind in enumerate(kinds) if not is_number(kind)}
    return {str(i): pl.String if i in chosen else pl.Float64 for i in range(len(kinds))}


def read_cells(
    source: RowSource, schema: dict[str, type[pl.DataType]], *, lenient: bool, only: list[int] | None = None
) -> pl.DataFrame:
    """The rows by polars under a schema.

    Parameters
    ----------
    source : RowSource
        The rows.
    schema : dict
        Type of each column.
    lenient : bool
        Whether a cell of another type becomes no value.
    only : list of int, optional
        Columns to read; all unless told.
    """
    packed = source.data.startswith(LIKE_PACKED)
    return pl.read_csv(
        source.line_end.encode("ascii") + source.data if packed else source.data,
        has_header=False,
        schema=schema,
        columns=only,  # by place
        separator=source.delimiter,
        quote_char=source.quote,
        decimal_comma=source.decimal_comma,
        eol_char=source.line_end,
        skip_lines=source.skip_lines + packed,
        ignore_errors=lenient,
        truncate_ragged_lines=lenient,
        missing_columns="insert" if lenient else "raise",
        extra_columns="ignore" if lenient else "raise",
        encoding="utf8-lossy" if pl.String in schema.values() else "utf8",
    )


def _is_plainly_damaged(source: RowSource, kinds: list[str]) -> bool:
    """Whether a small file's rows hold what no number is written with, or more cells than the first ones.

    Seen so, it costs a hundredth of a strict read that fails; of a large file, more than it saves.
    """
    if source.quote or len(source.data) > MOST_LOOKED_THROUGH:
        return False
    rows = source.data[source.first_byte :]
    line_end, delimiter = source.line_end.encode("ascii"), source.delimiter.encode("ascii")
    if all(map(is_number, kinds)) and rows.translate(None, _OF_NUMBERS + delimiter):
        return True
    most: int = max(map(methodcaller("count", delimiter), rows.split(line_end)))
    return most >= len(kinds)


def _read_strictly(source: RowSource, kinds: list[str]) -> pl.DataFrame | None:
    try:
        frame = read_cells(source, schema_of(kinds), lenient=False)
    except (pl.exceptions.ComputeError, pl.exceptions.SchemaError, pl.exceptions.NoDataError, pl.exceptions.ShapeError):
        return None
    if min(frame.null_count().row(0), default=0):
        return frame.filter(~pl.all_horizontal(pl.all().is_null()))  # an empty line holds no row
    return frame


def _has_short_rows(frame: pl.DataFrame, source: RowSource, layout: Layout) -> bool:
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
    lines = source.lines()
    return bool(np.any((lines.count_of(source.delimiter) < last) & lines.filled))


def _has_lone_quote(source: RowSource) -> bool:
    """Whether a cell is a single quotation mark: polars stops the process's thread on it instead of raising."""
    data, edges = source.data, source.delimiter.encode("ascii") + b"\r\n"
    if (data[:1] == b'"' and data[1:2] in edges) or (data[-1:] == b'"' and data[-2:-1] in edges):
        return True
    raw = np.frombuffer(data, dtype=np.uint8)
    for first in range(0, raw.size, PIECE_BYTES):
        piece = raw[first : first + PIECE_BYTES + 2]
        edge = (piece == edges[0]) | (piece == edges[1]) | (piece == edges[2])
        if (edge[:-2] & (piece[1:-1] == ord('"')) & edge[2:]).any():
            return True
    return False


def columns_of(frame: pl.DataFrame, kinds: list[str]) -> Iterator[Column]:
    """The columns of what polars read, blanks left out of those that have any.

    Parameters
    ----------
    frame : DataFrame
        What polars read.
    kinds : list of str
        Kind of each column.
    """
    blanks = frame.null_count().row(0)
    whole = [i for i, kind in enumerate(kinds) if is_number(kind) and not blanks[i]]
    parts = frame if len(whole) == frame.width else frame[:, whole]
    numbers = dict(zip(whole, parts.rechunk().get_columns(), strict=True))  # on all cores
    held = frame.select(pl.nth([i for i, blank in enumerate(blanks) if blank]).is_not_null()) if any(blanks) else frame
    shared: dict[bytes, IntArray] = {}
    for i, kind in enumerate(kinds):
        rows = _rows_held(held[str(i)].to_numpy(), shared) if blanks[i] else None
        if not is_number(kind):
            yield Column(None, rows, frame.to_series(i))
        elif rows is None:
            yield Column(numbers[i].to_numpy(), None)
        else:
            yield Column(frame.to_series(i).to_numpy()[rows], rows)


def _rows_held(held: BoolArray, shared: dict[bytes, IntArray]) -> IntArray:
    """Rows that are not blank; one array for all columns that agree."""
    key = np.packbits(held).tobytes()
    if key not in shared:
        shared[key] = np.flatnonzero(held)
    return shared[key]
