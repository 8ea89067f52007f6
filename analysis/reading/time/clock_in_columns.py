"""A clock whose hours, minutes and seconds each have a column, put together in that of the seconds.

Public: `clock_in_columns`.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

FEWEST_ROWS = 10
"""Rows that show a clock."""
MOST_FALLS = 0.01
"""Share of rows at which it may step back; a clock that is none steps back at each minute. [-]"""
_HOURS = re.compile(r"(?i)h|hh|hrs?|hours?|stunden?|std|heures?|horas?|ore|uren|timmar|godz")
_MINUTES = re.compile(r"(?i)m|mm|mins?|minutes?|minuten?|minutos?|minuti|minuut|minuter|minuty")
_SECONDS = re.compile(r"(?i)s|ss|secs?|seconds?|sek|sekunden?|secondes?|segundos?|secondi|seconden|sekunder|sekundy")
_PARTS = (
    (1e-3, re.compile(r"(?i)ms|msecs?|millis|milliseconds?|millisekunden|thousandths?|tausendstel")),
    (1e-2, re.compile(r"(?i)cs|hund|hundredths?|hundertstel|centi(?:second)?s?")),
    (1e-1, re.compile(r"(?i)ds|tenths?|zehntel")),
    (1e-6, re.compile(r"(?i)us|usecs?|micros|microseconds?|mikrosekunden")),
)
"""What such columns are called: dictionary words, from memory."""


def clock_in_columns(table: Table, header: Header) -> Table:
    """Put a clock together whose parts stand in neighbouring columns.

    Parameters
    ----------
    table : Table
        As read.
    header : Header
        Names.

    Returns
    -------
    Table
        With seconds that count on over minutes and hours, told; the same where there are no such columns, or where all
        of them together do not rise.
    """
    at = next((at for at, name in enumerate(header.bare) if _SECONDS.fullmatch(name.strip())), None)
    if at is None or at < 1 or table.rows < FEWEST_ROWS or not _MINUTES.fullmatch(header.bare[at - 1].strip()):
        return table
    minutes, seconds = _part(table, at - 1, 60.0), _part(table, at, 60.0)
    if minutes is None or seconds is None or np.any(minutes % 1.0):
        return table
    clock, names = 60.0 * minutes + seconds, [header.names[at - 1], header.names[at]]
    hours = _part(table, at - 2, 24.0) if at >= 2 and _HOURS.fullmatch(header.bare[at - 2].strip()) else None
    if hours is not None and not np.any(hours % 1.0):
        clock, names = clock + 3600.0 * hours, [header.names[at - 2], *names]
    behind = header.bare[at + 1].strip() if at + 1 < len(header.bare) else ""
    scale = next((scale for scale, word in _PARTS if word.fullmatch(behind)), 0.0)
    parts = _part(table, at + 1, 1.0 / scale) if scale and not np.any(seconds % 1.0) else None
    if parts is not None:
        clock, names = clock + scale * parts, [*names, header.names[at + 1]]
    if float(np.mean(np.diff(clock) < 0)) > MOST_FALLS or not np.any(np.diff(clock) > 0):
        return table
    text = f"The columns {', '.join(names)} are one clock and were put together."
    told = Finding("clock-in-columns", "note", text, header.names[at])
    columns = [replace(one, values=clock) if place == at else one for place, one in enumerate(table.columns)]
    return table.with_columns(columns, told)


def _part(table: Table, at: int, below: float) -> FloatArray | None:
    """A column that is whole and stays from nought to below a number; None where it does not."""
    column = table.columns[at]
    if column.values is None or column.rows is not None or not column.values.size:
        return None
    least, most = float(column.values.min()), float(column.values.max())
    return column.values if 0.0 <= least and most < below else None
