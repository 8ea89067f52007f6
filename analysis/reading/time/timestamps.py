"""Times of day, dates and durations in words to seconds: h:m:s, m:s, ISO 8601, with zone or without.

Public: `seconds_of_clock`, `counted_parts`, `CountedParts`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import polars as pl

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.text.cells import MONTHS

_DATE_TIME = (
    r"^\s*(?:(?<date>\d{4}-\d{1,2}-\d{1,2}|\d{4}-\d{3}|\d{8}|\d{4}/\d{1,2}/\d{1,2}|"
    r"\d{1,2}[./-]\d{1,2}[./-]\d{2,4})[T ]\s*)?"
    r"(?<before>-)?(?:(?<hours>\d{1,4}):)?(?<minutes>\d{1,2}):(?<seconds>\d{1,2}(?:[.,]\d+|:\d{3})?)\s*(?<half>[AaPp]\.?[Mm]\.?)?\s*"
    r"(?<zone>Z|[-+]\d{2}(?::?\d{2})?)?\s*$"
)
_MAY_LAST = "(?is)^.{0,2}pt"
_DURATION = r"(?i)^\s*pt(?:(?<hours>\d+)h)?(?:(?<minutes>\d+)m)?(?<seconds>\d+(?:[.,]\d+)?)s\s*$"
_COUNTED = r"^(?<first>\d{1,3}):(?<second>\d{2}):(?:(?<third>\d{2})[:;])?(?<last>\d{2})$"
_MAY_BE_COUNTED = re.compile(r"\s*\d{1,3}:\d{2}:(?:\d{2}[:;])?\d{2}\s*")
_ZONE = re.compile(r"([-+])(\d{2}):?(\d{2})?", re.ASCII)
PICTURES_HZ = (24.0, 25.0, 30.0, 50.0, 60.0)
"""Whole rates of pictures. Common practice, no source. [Hz]"""


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
    >>> seconds_of_clock(pl.Series(["-0:00:01.5", "0:00:00.5"])).tolist()
    [-1.5, 0.5]
    """
    clock = pl.col("clock").str
    looked = words.alias("clock").to_frame().select(clock.contains(_MAY_LAST).any().alias("lasts"), _parts_of_clock())
    lasting = _seconds_of_durations(words) if len(words) and looked["lasts"][0] else None
    if lasting is not None:
        return lasting
    parts = looked["parts"].struct.unnest()
    if 2 * parts["minutes"].null_count() > len(words):
        parts = _evened(words).to_frame().select(_parts_of_clock())["parts"].struct.unnest()
    number = parts.select(_numbers_of_clock())
    hours, half = number["hours"].to_numpy(), number["half"].to_numpy()
    seconds = _with_counted_thousandths(number["behind"], number["digits"], number["seconds"])
    hours = np.where((half == "a") & (hours == 12), 0.0, np.where((half == "p") & (hours < 12), hours + 12.0, hours))
    of_day = hours * 3600.0 + number["minutes"].to_numpy() * 60.0 + seconds.to_numpy()
    of_day = np.where(number["ahead"].to_numpy(), -of_day, of_day)  # of a trigger
    total = of_day + _days(parts["date"]) * 86400.0 - _zone_s(parts["zone"])
    return np.asarray(total, dtype=np.float64)


@lru_cache(maxsize=1)
def _numbers_of_clock() -> list[pl.Expr]:
    """The parts of a clock as numbers, and a or p of its half of the day, in one go."""
    number = {
        name: pl.col(name).str.replace("[,:]", ".").cast(pl.Float64, strict=False)
        for name in ("hours", "minutes", "seconds")
    }
    half = pl.col("half").str.to_lowercase().str.slice(0, 1).fill_null("")
    behind = pl.col("seconds").str.extract(r"[.](\d{1,3})$")
    of_seconds = [number["seconds"], behind.alias("behind"), behind.str.len_chars().alias("digits")]
    return [
        number["hours"].fill_null(0.0),
        number["minutes"],
        *of_seconds,
        half,
        pl.col("before").is_not_null().alias("ahead"),
    ]


@lru_cache(maxsize=1)
def _parts_of_clock() -> pl.Expr:
    return pl.col("clock").str.extract_groups(_DATE_TIME).alias("parts")


def _seconds_of_durations(words: pl.Series) -> FloatArray | None:
    """Seconds of durations as ISO 8601 writes them, ``PT1M5.02S``; None where most cells are none."""
    parts = words.str.extract_groups(_DURATION).struct.unnest()
    if 2 * parts["seconds"].null_count() > len(words):
        return None
    number = {
        name: parts[name].str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
        for name in ("hours", "minutes", "seconds")
    }
    total = number["hours"].fill_null(0.0) * 3600.0 + number["minutes"].fill_null(0.0) * 60.0 + number["seconds"]
    return np.asarray(total.fill_null(float("nan")).to_numpy(), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class CountedParts:
    """A clock whose last part counts parts of a second."""

    seconds: FloatArray
    """As `seconds_of_clock` gives them. [s]"""
    said: str
    """What the last part was read as."""


def counted_parts(words: pl.Series) -> CountedParts | None:
    """Read clocks of whole numbers whose last part cannot be seconds, or stands behind the seconds.

    Parameters
    ----------
    words : polars.Series of str
        ``03:05:75`` for minutes, seconds and hundredths; ``14:03:05:24`` for hours to seconds and pictures.

    Returns
    -------
    CountedParts or None
        None where the cells are no such clock, or what its last part counts is not plain: pictures count up to one
        less than a usual number a second, hundredths beyond every such number.

    Examples
    --------
    >>> counted_parts(pl.Series(["03:05:98", "03:05:99", "03:06:00"])).seconds.round(2).tolist()
    [185.98, 185.99, 186.0]
    >>> counted_parts(pl.Series(["03:05:58", "03:05:59", "03:06:00"]))
    """
    if not len(words) or words[0] is None or not _MAY_BE_COUNTED.fullmatch(words[0]):
        return None  # the first cell tells nearly all of them
    trimmed = pl.col("clock").str.strip_chars().str.extract_groups(_COUNTED)
    parts = words.alias("clock").to_frame().select(trimmed).unnest("clock")
    if parts["last"].null_count():
        return None
    first, second, third = (parts[name].cast(pl.Float64, strict=False) for name in ("first", "second", "third"))
    last = parts["last"].cast(pl.Float64)
    most, whole = float(np.max(last.to_numpy())), third.null_count() == 0
    if third.null_count() not in (0, len(words)) or (not whole and most < 60.0):
        return None
    parts_a_second = 100.0 if most >= 60.0 else most + 1.0
    if parts_a_second not in (*PICTURES_HZ, 100.0):
        return None
    clock = first * 3600.0 + second * 60.0 + third if whole else first * 60.0 + second
    said = "hundredths of a second" if parts_a_second == 100.0 else f"{parts_a_second:.0f} pictures a second"
    return CountedParts(np.asarray((clock + last / parts_a_second).to_numpy(), dtype=np.float64), said)


_OTHERWISE = (
    (r"^(\d{4})[-:](\d{3})[-/: ](\d{1,2}:\d{2}:)", "${1}-${2} ${3}"),
    (r"^t ?([-+]) ?(\d{1,2}:)", "${1}${2}"),
    (r"^\+(\d)", "${1}"),
    (r"^\d{1,4} ?d(?:ays?)?,? +(\d{1,2}:)", "${1}"),
    (r"^(\d{1,3})\s*h\s*(\d{1,2})\s*m(?:in)?\s*(\d{1,2})\s*s\s*(\d{1,3})$", "${1}:${2}:${3}.${4}"),
    (r"^(\d{1,2}[./-]\d{1,2}[./-]\d{2,4}|\d{4}[./-]\d{1,2}[./-]\d{1,2}),\s*(\d{1,2}:)", "${1} ${2}"),
    (r"^\d{6}[ _-]+(\d{2})(\d{2})(\d{2}(?:[.,]\d+)?)$", "${1}:${2}:${3}"),
    (r"^(\d+)\s*m(?:in)?\.?\s*(\d+(?:[.,]\d+)?)\s*s(?:ec)?\.?$", "${1}:${2}"),
    (r"^(\d{1,2}:\d{2}:\d{2}(?:[.,]\d+)?)\s+(\d{1,4}[-./]\d{1,2}[-./]\d{1,4})$", "${2} ${1}"),
    (r"^(?:[a-z]{2,9}\.?,?\s+)?([a-z]{3,4})[a-z]*\.?\s+(\d{1,2}),?\s+([\d:.,]*\d)\s+(\d{4})$", "${4}-${1}-${2} ${3}"),
    (r"^([a-zà-ÿ]{3})[a-zà-ÿ]*\.?\s+(\d{1,2}),?\s+(\d{4}),?\s+", "${3}-${1}-${2} "),
    (r"^(\d{4})([./_-])(\d{1,2})[./_-](\d{1,2})[-_,]\s*(\d{1,2}:)", "${1}-${3}-${4} ${5}"),
    (r"\s*(?:vorm|vormittags|πμ|π\.μ|öö|fm)\.?$", " am"),
    (r"\s*(?:nachm|nachmittags|μμ|μ\.μ|ös|em)\.?$", " pm"),
    (r"(\d|[ap]\.?m\.?)\s+(?:utc|gmt|[a-z]{1,4}t|mesz|mez)(?:[-+]\d{1,2}(?::?\d{2})?)?$", "${1}"),
    (r"(^|\s)(\d{1,2})\.(\d{2})\.(\d{2})(?:[.,](\d{1,6}))?$", "${1}${2}:${3}:${4}.${5}0"),
    (r"^(?:[A-Za-z]{2,9}\.?,?\s+)?(\d{1,2})[- .]+([A-Za-zÀ-ÿ]{3})[a-zÀ-ÿ.]*[- .,]+(\d{4})\b", "${3}-${2}-${1}"),
    (r"^(\d{8})T?(\d{2})(\d{2})(\d{2}(?:[.,]\d+)?)(Z|[-+]\d{2}(?::?\d{2})?)?$", "${1}T${2}:${3}:${4}${5}"),
    (r"^(上午|午前|오전)\s*(.*)$", "${2} am"),
    (r"^(下午|午後|오후)\s*(.*)$", "${2} pm"),
    (r"([ap])\.?\s*(m)\.?$", "${1}${2}"),
    (r"(\d+)\s*(?:h|std|ч|時|时|시)\.?\s*(\d+)\s*(?:m|min|мин|分|분)\.?\s*(\d+(?:[.,]\d+)?)\s*(?:s|sec|sek|с|秒|초)?\.?$",
     "${1}:${2}:${3}"),
    (r"(\d+)\s*['′’]\s*(\d+)\s*[\"″”]\s*(\d+)$", "${1}:${2}.${3}"),
    (r"(\d+)\s*['′’]\s*(\d+(?:[.,]\d+)?)\s*[\"″”]?$", "${1}:${2}"),
    (r"\b(\d{1,2})\.(\d{2})\.(\d{2}),(\d+)", "${1}:${2}:${3}.${4}"),
)  # fmt: skip
"""Clocks as people and their languages write them, and how they are read: pattern and what stands for it."""


def _evened(words: pl.Series) -> pl.Series:
    """Clocks that are written otherwise as hours, minutes and seconds parted by colons, behind a date in numbers."""
    return words.alias("clock").to_frame().select(_evening())["clock"]


@lru_cache(maxsize=1)
def _evening() -> pl.Expr:
    """All of it in one expression: one step after the other costs more than the work, where rows are few."""
    even = pl.col("clock").str.strip_chars().str.to_lowercase()
    even = even.str.replace(r"(\d)z$", "${1}Z").str.replace(r"^(\d{8})t", "${1}T")
    for pattern, instead in _OTHERWISE:
        even = even.str.replace(f"(?i){pattern}", instead)
    numbers = {f"-{name}-": f"-{at:02d}-" for at, names in enumerate(MONTHS, start=1) for name in names.split("|")}
    return even.str.replace_many(list(numbers), list(numbers.values()))


def _with_counted_thousandths(behind: pl.Series, digits: pl.Series, seconds: pl.Series) -> pl.Series:
    """Seconds whose thousandths stand behind the point as a bare count: ``1.5`` is 5 ms where ``1.995`` follows.

    They are, where digits are left out from the front and read as decimals the seconds would fall back.
    """
    if behind.null_count() or not len(behind):
        return seconds
    if digits.min() == digits.max() or (behind.str.starts_with("0") & (digits > 1)).any():
        return seconds
    counted = seconds.floor() + behind.cast(pl.Float64) / 1000.0
    falls, fewer = (int((one.diff() < -0.0005).sum() or 0) for one in (seconds, counted))
    minutes = int((seconds.floor().diff() < 0).sum() or 0)
    return counted if fewer <= minutes < falls else seconds


def _days(dates: pl.Series) -> FloatArray:
    """Days since 1970; 0 where no date is written. Day comes first in ``1.5.2026``, month first in ``5/1/2026``."""
    if dates.null_count() == len(dates):
        return np.zeros(len(dates))
    written = dates.to_list()
    unique = {date: _day_number(date) for date in set(written) if date is not None}
    return np.array([unique.get(date, 0.0) for date in written], dtype=np.float64)


@lru_cache(maxsize=1024)
def _day_number(date: str) -> float:
    for pattern in (
        "%Y-%m-%d",
        "%Y-%j",
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
    written = zones.to_list()
    unique = {zone: _seconds_ahead(zone) for zone in set(written) if zone is not None}
    return np.array([unique.get(zone, 0.0) for zone in written], dtype=np.float64)


def _seconds_ahead(zone: str) -> float:
    match = _ZONE.fullmatch(zone)
    if match is None:
        return 0.0
    ahead = float(match[2]) * 3600.0 + float(match[3] or 0.0) * 60.0
    return -ahead if match[1] == "-" else ahead
