"""Rows most cells of which are blank: only the cells that hold something are read.

A log of several rates prints a row at the fastest and leaves the rest blank. As a table of doubles it would grow to
many times the file; here the blanks are dropped while it is still bytes.

Public: `is_mostly_blank`, `read_sparse_rows`, `plain_numbers`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from io import BytesIO

import numpy as np
import numpy.typing as npt
import polars as pl

from passband.analysis.at_once import each_at_once
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.rows.table import Column, RowSource, Table
from passband.analysis.reading.text.layout import Layout

MOSTLY_BLANK = 0.6
"""Share of blank cells from which dropping them first is quicker and smaller than reading them."""
SAMPLE_BYTES = 200_000
"""Bytes from the middle of the rows that tell the share of blank cells."""
PIECE_BYTES = 1 << 17
"""Bytes worked on at once by each thread: few enough to stay in the processor's cache."""

_Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class _Cells:
    """The cells of a stretch of rows that hold something, in the file's order."""

    row: npt.NDArray[np.int32]
    column: npt.NDArray[np.unsignedinteger]
    text: bytes
    rows: int


def is_mostly_blank(source: RowSource) -> bool:
    """Whether most cells are blank.

    Parameters
    ----------
    source : RowSource
        Where the rows are.

    Returns
    -------
    bool
        By a sample from their middle.
    """
    middle = (source.first_byte + len(source.data)) // 2
    sample = np.frombuffer(source.data, dtype=np.uint8)[max(middle - SAMPLE_BYTES // 2, source.first_byte) :][
        :SAMPLE_BYTES
    ]
    parting = _parting(sample, source)
    number = int(np.count_nonzero(parting))
    held = int(np.count_nonzero(~parting[1:] & parting[:-1]))
    return number > 0 and held < (1.0 - MOSTLY_BLANK) * number


def _parting(raw: _Bytes, source: RowSource) -> BoolArray:
    return np.asarray((raw == ord(source.delimiter)) | (raw == ord(source.line_end)) | (raw == 13))


def read_sparse_rows(
    source: RowSource, layout: Layout, *, read_odd: Callable[[int, int, str], float] | None = None
) -> Table | None:
    """Read rows of numbers most of which are blank.

    Parameters
    ----------
    source : RowSource
        Where the rows are; not quoted.
    layout : Layout
        What the columns hold: numbers, all of them.
    read_odd : callable, optional
        What a cell that is no plain number is worth, by column, row and text; NaN for nothing.

    Returns
    -------
    Table or None
        None where there are no rows, some row has more or fewer cells than the first or, without `read_odd`, a cell
        is no plain number.

    Notes
    -----
    A cell's place is the number of delimiters and line ends before it, divided by the width of a row.
    """
    pieces: list[_Cells] = []
    values: list[FloatArray] = []
    rows, text = 0, BytesIO()
    for piece in _cells_of_pieces(source, layout.width):
        if piece is None:
            return None
        if read_odd is None:
            text.write(piece.text)
        else:
            values.append(_numbers_or_odd(piece, source, rows, read_odd))
        pieces.append(replace(piece, text=b""))
        rows += piece.rows
    if read_odd is None:
        all_at_once = _numbers(text.getvalue(), source)
        values = [] if all_at_once is None else [all_at_once]
        del all_at_once
    text.close()
    if not pieces or sum(part.size for part in values) != sum(piece.row.size for piece in pieces):
        return None
    return _by_column(pieces, values, layout.width)


def _cells_of_pieces(source: RowSource, width: int) -> Iterator[_Cells | None]:
    """The cells of each piece in order, several worked on at once; None for one with rows of other widths."""
    line_end = source.line_end.encode("ascii")
    pieces: list[tuple[int, int]] = []
    start = source.first_byte
    while start < len(source.data):
        stop = source.data.find(line_end, min(start + PIECE_BYTES, len(source.data) - 1)) + 1 or len(source.data)
        pieces.append((start, stop))
        start = stop
    return each_at_once(lambda piece: _cells_of(source, *piece, width), pieces, total_bytes=len(source.data))


def _cells_of(source: RowSource, start: int, stop: int, width: int) -> _Cells | None:
    raw = np.frombuffer(source.data, dtype=np.uint8, offset=start, count=stop - start)
    if raw[-1] != ord(source.line_end):
        raw = np.append(raw, np.uint8(ord(source.line_end)))
    parting = _parting(raw, source)
    follows = np.concatenate(([True], parting[:-1]))
    edges = np.flatnonzero(parting != follows)
    first, behind = edges[::2], edges[1::2]
    line_ends = np.flatnonzero(raw == ord(source.line_end))
    held = np.concatenate(([0], np.cumsum(behind - first)))  # bytes of all cells before each
    place = (first - held[:-1]).astype(np.int32)
    ends = line_ends + 1 - held[np.searchsorted(first, line_ends)]
    returns = np.flatnonzero(raw == 13) if source.line_end == "\n" else np.empty(0, dtype=np.int64)
    if returns.size:  # they part no cells
        place -= np.searchsorted(returns, first).astype(np.int32)
        ends -= np.searchsorted(returns, line_ends)
    if not np.array_equal(ends, np.arange(width, width * ends.size + 1, width)):
        return None  # some row is not as wide as the first
    one_a_line = raw[~(parting & follows)].tobytes().translate(_line_ends_for(source))
    row = place // width
    return _Cells(row, (place - row * width).astype(np.min_scalar_type(width)), one_a_line, int(ends.size))


def _line_ends_for(source: RowSource) -> bytes:
    """A table that turns all that parts cells into the end of a line."""
    parts = f"{source.delimiter}{source.line_end}\r".encode("latin-1")
    return bytes.maketrans(parts, b"\n" * len(parts))


def _numbers(text: bytes, source: RowSource) -> FloatArray | None:
    """Cells, one a line, as numbers; None where one is none."""
    try:
        frame = pl.read_csv(
            text,
            has_header=False,
            schema={"value": pl.Float64},
            separator=";" if source.decimal_comma else ",",
            quote_char=None,
            decimal_comma=source.decimal_comma,
        )
    except pl.exceptions.PolarsError:
        return None
    values = frame.to_series(0)
    return None if values.null_count() else values.to_numpy()


def _numbers_or_odd(
    piece: _Cells, source: RowSource, first_row: int, read_odd: Callable[[int, int, str], float]
) -> FloatArray:
    """Cells as numbers, one by one where one is none."""
    values = _numbers(piece.text, source)
    if values is not None and values.size == piece.row.size:
        return values
    cells = pl.Series(piece.text.decode("utf-8", errors="replace").split("\n")[: piece.row.size], dtype=pl.String)
    values = plain_numbers(cells, "," if source.decimal_comma else ".")
    for at in np.flatnonzero(np.isnan(values)).tolist():
        values[at] = read_odd(int(piece.column[at]), first_row + int(piece.row[at]), cells[at])
    return values


def plain_numbers(cells: pl.Series, decimal: str) -> FloatArray:
    """Cells as numbers where they are bare ones; NaN for the rest, which are looked at one by one.

    Parameters
    ----------
    cells : Series of str
        Their texts.
    decimal : str
        ``.`` or ``,``.
    """
    if decimal == ",":
        cells = cells.set(cells.str.contains(".", literal=True), None).str.replace(",", ".", literal=True)
    return np.array(cells.cast(pl.Float64, strict=False).fill_null(float("nan")).to_numpy(), dtype=np.float64)


def _by_column(pieces: list[_Cells], values: list[FloatArray], width: int) -> Table:
    """The cells sorted by column; columns of the same rows share them. Both lists are used up, to save memory."""
    offsets = np.concatenate(([0], np.cumsum([piece.rows for piece in pieces]))).astype(np.int32)
    last_rows = [int(piece.row.max() + first) for piece, first in zip(pieces, offsets, strict=False) if piece.row.size]
    height = last_rows[-1] + 1 if last_rows else int(offsets[-1])  # rows of blanks behind the last are none
    column = np.concatenate([piece.column for piece in pieces])
    order = np.argsort(column, kind="stable")
    edges = np.concatenate(([0], np.cumsum(np.bincount(column, minlength=width))))
    del column
    row = np.concatenate([piece.row + offset for piece, offset in zip(pieces, offsets[:-1], strict=True)])
    pieces.clear()
    row = row[order]
    value = values[0] if len(values) == 1 else np.concatenate(values)
    values.clear()
    value = value[order]
    del order
    columns: list[Column] = []
    last: IntArray = np.empty(0, dtype=np.int64)
    for at in range(width):
        mine = slice(int(edges[at]), int(edges[at + 1]))
        if not np.array_equal(row[mine], last):
            last = row[mine].astype(np.int64)
        columns.append(Column(value[mine], None if last.size == height else last))
    return Table(tuple(columns), height, ())
