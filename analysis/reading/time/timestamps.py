"""Times of day and dates in words to seconds: h:m:s, m:s, ISO 8601, with zone or without.

Public: `seconds_of_clock`.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from passband.analysis.quantities import FloatArray

_DATE_TIME = (
    r"^\s*(?:(?<date>\d{4}-\d{1,2}-\d{1,2}|\d{8}|\d{4}/\d{1,2}/\d{1,2}|\d{1,2}[./-]\d{1,2}[./-]\d{2,4})[T ]\s*)?"
    r"(?:(?<hours>\d{1,4}):)?(?<minutes>\d{1,2}):(?<seconds>\d{1,2}(?:[.,]\d+|:\d{3})?)\s*(?<half>[AaPp]\.?[Mm]\.?)?\s*"
    r"(?<zone>Z|[-+]\d{2}:?\d{2})?\s*$"
)


def seconds_of_clock(words: pl.Series) -> FloatArray:
    """Seconds from clock times as written.

    Parameters
    ----------
    words : polars.Series of str
        ``0:00:01.25``, ``01:25.4``, ``2026-05-01T12:00:00.010Z``, ``12:00:00 PM``.

    Returns
    -------
    array, shape (n,)
        Seconds since midnight, or since 1970 where a date is written, in UTC where a zone is; NaN where a
        cell is no time. [s]

    Notes
    -----
    A leap second (second 60) counts on into the next minute. ``12:30`` is read as minutes and seconds: no log
    has one row a minute.

    Examples
    --------
    >>> seconds_of_clock(pl.Series(["0:00:01.25", "1996-12-19T16:39:57-08:00", "x"])).tolist()
    [1.25, 851042397.0, nan]
    """
    parts = words.str.extract_groups(_DATE_TIME).struct.unnest()
    number = {
        name: parts[name].str.replace("[,:]", ".").cast(pl.Float64, strict=False)
        for name in ("hours", "minutes", "seconds")
    }
    hours = number["hours"].fill_null(0.0).to_numpy()
    half = parts["half"].str.to_lowercase().str.slice(0, 1).fill_null("").to_numpy()
    hours = np.where((half == "a") & (hours == 12), 0.0, np.where((half == "p") & (hours < 12), hours + 12.0, hours))
    of_day = hours * 3600.0 + number["minutes"].to_numpy() * 60.0 + number["seconds"].to_numpy()
    total = of_day + _days(parts["date"]) * 86400.0 - _zone_s(parts["zone"])
    return np.asarray(total, dtype=np.float64)


def _days(dates: pl.Series) -> FloatArray:
    """Days since 1970; 0 where no date is written. Day comes first in ``1.5.2026``, month first in ``5/1/2026``."""
    if dates.null_count() == len(dates):
        return np.zeros(len(dates))
    unique = {date: _day_number(date) for date in dates.unique().to_list() if date is not None}
    return np.array([unique.get(date, 0.0) for date in dates.to_list()], dtype=np.float64)


def _day_number(date: str) -> float:
    for pattern in (
        "%Y-%m-%d",
        "%Y%m%d",
        "%Y/%m/%d",
        "%d.%m.%Y",
        "%d.%m.%y",
        "%m/%d/%Y",
        "%d/%m/%Y",
        "%m/%d/%y",
        "%d-%m-%Y",
        "%d/%m/%y",
        "%d-%m-%y",
    ):
        day = pl.Series([date]).str.to_date(pattern, strict=False).cast(pl.Int32)[0]
        if day is not None:
            return float(day)
    return 0.0


def _zone_s(zones: pl.Series) -> FloatArray:
    if zones.null_count() == len(zones):
        return np.zeros(len(zones))
    parts = zones.str.extract_groups(r"^(?<sign>[-+])(?<hours>\d{2}):?(?<minutes>\d{2})$").struct.unnest()
    hours = parts["hours"].cast(pl.Float64, strict=False).fill_null(0.0).to_numpy()
    minutes = parts["minutes"].cast(pl.Float64, strict=False).fill_null(0.0).to_numpy()
    sign = np.where(parts["sign"].fill_null("+").to_numpy() == "-", -1.0, 1.0)
    return np.asarray(sign * (hours * 3600.0 + minutes * 60.0), dtype=np.float64)
