"""A run's channels on disk: written as Parquet, read by the column, handed out as CSV.

Public: `write_table`, `StoredTable`, `read_stored`, `read_table`, `column_facts`, `as_csv`, `safe_cell`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import orjson

from passband.service.reviewing.remembered import Remembered

if TYPE_CHECKING:
    import polars as pl
    import pyarrow.parquet as pq

    from passband.analysis.report import RunTable, TableColumn

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0")
"""Cells that start so are run as formulas by spreadsheets."""
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?")


def write_table(table: RunTable, path: Path, *, exact: bool = False) -> None:
    """Write a table as Parquet, with what each column is beside it.

    Parameters
    ----------
    table : RunTable
        Any.
    path : Path
        Written anew.
    exact : bool
        Keep every bit of the channels; else seven digits, which no sensor reaches, in half the room.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    arrays, fields = [], []
    for column in table.columns:
        kind = pa.float64() if exact or column.log is None else pa.float32()
        about = {"column": orjson.dumps(asdict(column))}
        arrays.append(table.frame.get_column(column.name).to_arrow().cast(kind))
        fields.append(pa.field(column.name, kind, metadata=about))
    schema = pa.schema(fields, metadata={"rate_hz": str(table.rate_hz)})
    # Samples seldom repeat: a dictionary of them takes half the time again, and a fifth more room.
    pq.write_table(pa.Table.from_arrays(arrays, schema=schema), path, compression="zstd", use_dictionary=False)


@dataclass(frozen=True, slots=True)
class StoredTable:
    """What was read of a stored table."""

    frame: pl.DataFrame
    """Float columns in the order stored, of those asked for."""
    columns: tuple[TableColumn, ...]
    """What each column stored is, asked for or not."""


_READ: Remembered[StoredTable] = Remembered(128)
REMEMBERED_BYTES = 256 * 1024
"""A larger part of a table is read anew: those remembered take 32 MB at the most."""


def read_stored(file: BinaryIO, key: str, names: Sequence[str]) -> StoredTable:
    """Some columns of a stored table, and what all of its columns are; small ones are remembered.

    Parameters
    ----------
    file : binary file
        Parquet; left open.
    key : str
        The SHA-256 of its bytes.
    names : sequence of str
        Which columns; those that are not there are left out.

    Returns
    -------
    StoredTable
        For reading only.
    """
    known = _READ.get((key, frozenset(names)))
    if known is not None:
        return known
    import pyarrow.parquet as pq

    stored = pq.ParquetFile(file)
    read = StoredTable(_frame(stored, names), tuple(_facts(stored)))
    return _READ.put((key, frozenset(names)), read) if read.frame.estimated_size() <= REMEMBERED_BYTES else read


def read_table(file: BinaryIO, names: Sequence[str] | None = None) -> pl.DataFrame:
    """Columns of a stored table.

    Parameters
    ----------
    file : binary file
        Parquet; left open.
    names : sequence of str, optional
        Which columns; those that are not there are left out. All by default.

    Returns
    -------
    DataFrame
        Float columns in the order stored.
    """
    import pyarrow.parquet as pq

    return _frame(pq.ParquetFile(file), names)


def _frame(stored: pq.ParquetFile, names: Sequence[str] | None) -> pl.DataFrame:
    import polars as pl

    wanted = None if names is None else [name for name in stored.schema_arrow.names if name in set(names)]
    # In this thread: handed to others, each column waits for one of them where all cores are taken.
    return pl.DataFrame(stored.read(wanted, use_threads=False))


def column_facts(file: BinaryIO) -> list[TableColumn]:
    """What the columns of a stored table are.

    Parameters
    ----------
    file : binary file
        Parquet; left open.

    Returns
    -------
    list of TableColumn
        In the order stored.
    """
    import pyarrow.parquet as pq

    return _facts(pq.ParquetFile(file))


def _facts(stored: pq.ParquetFile) -> list[TableColumn]:
    from passband.analysis.report import TableColumn

    return [TableColumn(**orjson.loads(field.metadata[b"column"])) for field in stored.schema_arrow]


def safe_cell(text: str) -> str:
    """A text that a spreadsheet will show and not run.

    Parameters
    ----------
    text : str
        Any; a number stays a number.

    Returns
    -------
    str
        With an apostrophe before it if it would start a formula.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-3.5"), safe_cell("Oil Pressure")
    ("'=1+1", '-3.5', 'Oil Pressure')
    """
    if text.startswith(FORMULA_STARTS) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def as_csv(frame: pl.DataFrame, columns: Sequence[TableColumn]) -> bytes:
    """A table as CSV (RFC 4180), the unit behind each name, empty where nothing is known.

    Parameters
    ----------
    frame : DataFrame
        Float columns.
    columns : sequence of TableColumn
        What each column is, in the frame's order.

    Returns
    -------
    bytes
        UTF-8; floats in the fewest digits that read back the same.
    """
    heads: list[str] = []
    for column in columns:
        head = safe_cell(f"{column.name} [{column.unit}]" if column.unit else column.name)
        while head in heads:  # two names may differ by nothing but what makes a cell safe
            head = f"{head} (2)"
        heads.append(head)
    text = frame.rename(dict(zip(frame.columns, heads, strict=True))).write_csv(line_terminator="\r\n")
    return text.encode("utf-8")
