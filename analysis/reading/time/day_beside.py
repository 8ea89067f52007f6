"""A column of dates beside one of times of day: it tells the day, and no channel.

Public: `dates_beside`, `day_of_row`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.time.timebase import TimeBase

_DATE = re.compile(
    r"\s*(?:\d{4}[-/. ]\d{1,2}[-/. ]\d{1,2}\.?|\d{1,2}[-/. ]\d{1,2}[-/. ]\d{2,4}|"
    r"\d{1,2}[-/. ]{1,2}[^\W\d_]{3,9}\.?[-/., ]{1,2}\d{2,4}|[^\W\d_]{3,9}\.? \d{1,2},? \d{4})\s*"
)
"""A date alone in its cell, in numbers or with the month's name."""
DAY_S = 86400.0


def dates_beside(table: Table, base: TimeBase) -> int | None:
    """The column that holds a date in each row, where the time is one of day.

    Parameters
    ----------
    table : Table
        The rows.
    base : TimeBase
        The main time.

    Returns
    -------
    int or None
        None where no column does, or where the times hold the date themselves.
    """
    if base.column is None or not base.clock_face or not base.time_s.size:
        return None
    if not 0.0 <= base.time_s[0] < DAY_S:
        return None
    return next((at for at, column in _nearest(table.columns, base.column) if _holds_dates(column)), None)


def _nearest(columns: Sequence[Column], place: int) -> list[tuple[int, Column]]:
    """The other columns, those beside a place first."""
    return sorted(
        ((at, column) for at, column in enumerate(columns) if at != place), key=lambda pair: abs(pair[0] - place)
    )


def _holds_dates(column: Column) -> bool:
    """Whether a column's first and last cells are dates alone."""
    words = column.words
    if words is None or not len(words):
        return False
    return all(cell is not None and _DATE.fullmatch(cell) is not None for cell in (words[0], words[-1]))


def day_of_row(table: Table, at: int | None, row: int) -> str:
    """What a column of dates holds in a row, as written; empty where there is none.

    Parameters
    ----------
    table : Table
        The rows.
    at : int or None
        The column.
    row : int
        From 0.
    """
    words = table.columns[at].words if at is not None else None
    cell = words[row] if words is not None and row < len(words) else None
    return (cell or "").strip()
