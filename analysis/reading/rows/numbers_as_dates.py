"""Numbers that a spreadsheet took for dates: where dates are written with points, 8.3 becomes ``08. Mrz``.

Days and months give the number back, as the column's other cells show how many decimals there are: of one decimal the
third month is .3, of two .03. ``Jan 85`` was 1.85.

Public: `numbers_from_dates`.
"""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
import polars as pl

from passband.analysis.reading.rows.table import Table, TurnedWords
from passband.analysis.reading.text.cells import MONTHS, NO_VALUE
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.results.findings import Finding

LEAST_PLAIN = 0.1
"""Share of the cells that must be plain numbers still: what is no date stays one. [-]"""
FEWEST_DATES = 2
"""Dates that show it; one may be anything."""
_PLAIN = re.compile(r"[-+]?\d+(?:[.,](?P<decimals>\d+))?")
_DAY_AND_MONTH = re.compile(r"(?P<day>\d{1,2})[. ]{1,2}(?P<month>[^\W\d_]{3,9})\.?")
_MONTH_AND_YEAR = re.compile(r"(?P<month>[^\W\d_]{3,9})\.?[ -](?P<year>\d{2})")


def numbers_from_dates(table: Table, header: Header) -> Table:
    """Turn columns of numbers and dates by turns back into numbers.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names, for the findings.

    Returns
    -------
    Table
        With a caution for each column that was turned; a column that holds any other words stays.
    """
    return table.with_words_turned(lambda at, words: _turned(words, header.names[at]))


def _turned(words: pl.Series, name: str) -> TurnedWords | None:
    """The numbers; None where other words stand among them and the dates, or too few of either."""
    cells = [(cell or "").strip(' "') for cell in words.to_list()]
    held = [cell for cell in cells if cell and cell.lower() not in NO_VALUE]
    plain = [match for cell in held if (match := _PLAIN.fullmatch(cell))]
    dates = [cell for cell in held if not _PLAIN.fullmatch(cell)]
    if len(dates) < FEWEST_DATES or len(plain) < LEAST_PLAIN * len(held):
        return None
    decimals = Counter(len(match["decimals"]) for match in plain if match["decimals"])
    width = decimals.most_common(1)[0][0] if decimals else 0
    values = {cell: _number(cell, width) for cell in dict.fromkeys(dates)}
    if width not in (1, 2) or any(value is None for value in values.values()):
        return None
    numbers = [values.get(cell) if cell in values else _plain_number(cell) for cell in cells]
    found = np.array([np.nan if number is None else number for number in numbers], dtype=np.float64)
    text = (
        f"A spreadsheet took cells of {name} for dates; they are read as the numbers that they were: "
        f"{quoted_start(dates[0], most=20)} as {values[dates[0]] or 0.0:g}. Export the log again without opening it "
        "there."
    )
    return TurnedWords(found, Finding("numbers-written-otherwise", "caution", text, name))


def _plain_number(cell: str) -> float | None:
    return float(cell.replace(",", ".")) if _PLAIN.fullmatch(cell) else None


def _number(cell: str, width: int) -> float | None:
    """What a date was before it was one; None for none, or for one that no number of so many decimals becomes."""
    match = _DAY_AND_MONTH.fullmatch(cell)
    month = _month(match["month"]) if match else None
    if match and month is not None:
        part = month if month < 10**width else month / 10.0  # 8.10 of a column that has one decimal else
        return float(int(match["day"]) + part * 0.1**width)
    match = _MONTH_AND_YEAR.fullmatch(cell)
    month = _month(match["month"]) if match else None
    return month + int(match["year"]) / 100.0 if match and month is not None and width == 2 else None


def _month(word: str) -> int | None:
    short = word.casefold()
    return next((at for at, names in enumerate(MONTHS, start=1) if short.startswith(tuple(names.split("|")))), None)
