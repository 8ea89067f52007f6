"""The sheet of a season as a file: CSV that a spreadsheet shows and does not run, or Parquet.

Public: `write_sheet`, `sheet_as_csv`, `sheet_as_parquet`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from passband.service.reviewing.tables import safe_cell

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.runs.season_sheet import SeasonSheet


def write_sheet(sheet: SeasonSheet, out: Path) -> None:
    """Write a sheet.

    Parameters
    ----------
    sheet : SeasonSheet
        Any.
    out : Path
        Ends in ``.csv``, else Parquet is written.
    """
    if out.suffix.lower() == ".csv":
        out.write_bytes(sheet_as_csv(sheet))
    else:
        out.write_bytes(sheet_as_parquet(sheet))


def sheet_as_csv(sheet: SeasonSheet) -> bytes:
    """A sheet as CSV (RFC 4180), empty where nothing is known.

    Parameters
    ----------
    sheet : SeasonSheet
        Any.

    Returns
    -------
    bytes
        UTF-8. Words that a spreadsheet would run as a formula have an apostrophe before them; numbers stay numbers.
    """
    import polars as pl

    frame = _frame(sheet)
    words = [column.name for column in sheet.columns if column.is_text]
    safe = frame.with_columns(pl.col(name).map_elements(safe_cell, return_dtype=pl.String) for name in words)
    return safe.write_csv(line_terminator="\r\n").encode("utf-8")


def sheet_as_parquet(sheet: SeasonSheet) -> bytes:
    """A sheet as Parquet, null where nothing is known.

    Parameters
    ----------
    sheet : SeasonSheet
        Any.

    Returns
    -------
    bytes
        Numbers as they are, words as they were written.
    """
    import io

    made = io.BytesIO()
    _frame(sheet).write_parquet(made)
    return made.getvalue()


def _frame(sheet: SeasonSheet) -> pl.DataFrame:
    import polars as pl

    kinds = {column.name: pl.String if column.is_text else pl.Float64 for column in sheet.columns}
    columns = {name: [run[name] for run in sheet.runs] for name in kinds}
    return pl.DataFrame(columns, schema=kinds, strict=False)
