"""When a run was made, as its logs tell: by stamps with a date, by a line above the table, by the file's name.

Public: `when_made`, `when_log_made`, `when_reached`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta

from passband.analysis.channels.log import Log, TimeFacts
from passband.analysis.reading.text.cells import MONTHS

FIRST_YEAR = 2005
"""Before it no date is one of a log's: clocks that lost their battery begin there; chosen, no source."""
LAST_YEAR = 2099
"""A number that would be a later year is none of a date."""

_MONTH = "|".join(name for names in MONTHS for name in names.split("|"))
_YEAR_FIRST = re.compile(r"(?<!\d)(?P<year>(?:19|20)\d\d)(?P<by>[-/._]?)(?P<month>\d\d?)(?P=by)(?P<day>\d\d?)(?!\d)")
_YEAR_LAST = re.compile(r"(?<!\d)(?P<one>\d\d?)(?P<by>[-/.])(?P<two>\d\d?)(?P=by)(?P<year>(?:19|20)\d\d)(?!\d)")
_NAMED = re.compile(
    rf"(?<!\d)(?P<day>\d\d?)[-. ]{{1,2}}(?P<month>{_MONTH})[^\W\d]*\.?[-, ]{{1,2}}(?P<year>(?:19|20)\d\d)(?!\d)", re.I
)
_NAMED_FIRST = re.compile(
    rf"(?<![^\W\d_])(?P<month>{_MONTH})[^\W\d]*\.?[- ](?P<day>\d\d?)(?:st|nd|rd|th)?[-, ]{{1,2}}"
    r"(?P<year>(?:19|20)\d\d)(?!\d)", re.I,
)  # fmt: skip
_TIME = re.compile(
    r"(?<![\d.])(?P<hour>\d\d?):(?P<minute>\d\d)(?::(?P<second>\d\d))?(?!\d)[\d.,]*\s*(?P<half>[AaPp]\.?[Mm])?"
)
_TIME_IN_NAME = re.compile(r"[-_T ]+(?P<hour>\d\d)[-_.h:]?(?P<minute>\d\d)(?:[-_.m:]?(?P<second>\d\d))?(?!\d)")
_OF_LOG = re.compile(
    r"\b(?:date|time|log|logged|logging|record\w*|session|start\w*|begin\w*|began|run|created|captured|acquired|taken|"
    r"datum|zeit\w*|uhrzeit|aufzeichnung|aufnahme|beginn|début|heure|enregistr\w*|fecha|hora|inicio|registro|data|ora|"
    r"inizio|início|tijd|begin|dato|tid|starttid|data i godzina|дата|время)\b", re.I,
)  # fmt: skip
"""Words for when a log was begun, in the languages that loggers speak; they stand before the date."""
_OF_OTHER = re.compile(
    r"export|print|firmware|software|version|build|built|calib|tune|map\b|licen|config|setup|service|expir|due|copyright"
    r"|birth|modif|updat|release|install",
    re.I,
)
"""Words for another day than that of the run."""


def when_made(logs: Iterable[Sequence[Log]]) -> str:
    """When a run was made, by its logs.

    Parameters
    ----------
    logs : iterable of sequence of Log
        Each file's recordings, the engine's own first.

    Returns
    -------
    str
        Date and time of the logger's clock, ISO 8601; the date where the time is not told; empty where nothing tells.
        The first file that tells both counts, else the first that tells the date.
    """
    told = [when for recordings in logs if recordings and (when := when_log_made(recordings[0]))]
    return next((when for when in told if "T" in when), told[0] if told else "")


def when_log_made(log: Log) -> str:
    r"""The same of one log.

    Notes
    -----
    ``03/04/2026`` may be of March or of April, and tells nothing. Zones are not minded: it is the clock as written.

    Examples
    --------
    >>> from passband.analysis.reading import read_log
    >>> rows = b"\n".join(b"%.2f,%d" % (row / 50, 3000 + row) for row in range(200))
    >>> when_log_made(read_log(b"Recorded: 14.08.2026 17:42\nTime (s),RPM\\n" + rows, name="ecu.csv")[0])
    '2026-08-14T17:42:00'
    """
    return _of_stamps(log.time.first_s) or _of_dates(log.time) or _of_lines(log.text.preamble) or _of_name(log.name)


def when_reached(begun: str, after_s: float | None) -> str:
    """When a place of a log was reached, by when that was begun; as told where no time was, or no place is.

    Examples
    --------
    >>> when_reached("2026-08-14T15:42:10", 95.4), when_reached("2026-08-14", 95.4)
    ('2026-08-14T15:43:45', '2026-08-14')
    """
    if "T" not in begun or after_s is None:
        return begun
    return (datetime.fromisoformat(begun) + timedelta(seconds=int(after_s))).isoformat()


def _of_stamps(first_s: float) -> str:
    """Of stamps that count from 1970, as those with a date do."""
    begins, ends = (datetime(year, 1, 1, tzinfo=UTC).timestamp() for year in (FIRST_YEAR, LAST_YEAR))
    told = datetime.fromtimestamp(int(first_s), UTC) if begins <= first_s < ends else None
    return told.strftime("%Y-%m-%dT%H:%M:%S") if told is not None and not _began_again(told) else ""


def _began_again(day: date) -> bool:
    """Whether it is 1 January, where a clock begins that lost its battery, in whichever year its maker chose."""
    return (day.month, day.day) == (1, 1)


def _of_dates(first: TimeFacts) -> str:
    """Of a column of dates beside one of times of day."""
    found = _date_in(first.day) if first.day else None
    if found is None or _began_again(found[0]):
        return ""
    return (datetime.combine(found[0], time()) + timedelta(seconds=int(first.first_s))).isoformat()


def _of_lines(preamble: Sequence[tuple[str, str]]) -> str:
    lines = list(dict.fromkeys(":".join(part for part in pair if part) for pair in preamble))
    lines = [line for line in lines if not _OF_OTHER.search(line)]
    for line in lines:
        found = _date_in(line)
        if found is None or _began_again(found[0]):
            continue
        day, before, rest = found
        if re.search(r"[^\W\d_]", before) and not _OF_LOG.search(before):
            continue
        clock = _time_in(rest) or _time_in(before) or next(filter(None, map(_alone, lines)), None)
        return datetime.combine(day, clock).isoformat() if clock else day.isoformat()
    return ""


def _alone(line: str) -> time | None:
    """The time of a line of its own, as one says ``Time`` below one that says ``Date``."""
    key, _, rest = line.partition(":")
    return _time_in(rest) if _OF_LOG.search(key) and _TIME.fullmatch(rest.strip()) else None


def _of_name(name: str) -> str:
    found = _YEAR_FIRST.search(name)
    day = (
        _day(found["year"], found["month"], found["day"]) if found and len(found["month"] + found["day"]) == 4 else None
    )
    if found is None or day is None:
        return ""
    behind = _TIME_IN_NAME.match(name, found.end())
    clock = _clock(behind["hour"], behind["minute"], behind["second"]) if behind else None
    return datetime.combine(day, clock).isoformat() if clock else day.isoformat()


def _date_in(line: str) -> tuple[date, str, str] | None:
    """A date, what stands before it and what behind."""
    for pattern in (_YEAR_FIRST, _NAMED, _NAMED_FIRST):
        for found in pattern.finditer(line):
            if found.groupdict().get("by") != "" and (day := _day(found["year"], _month(found["month"]), found["day"])):
                return day, line[: found.start()], line[found.end() :]
    for found in _YEAR_LAST.finditer(line):
        if day := _year_last(found["one"], found["two"], found["year"], by=found["by"]):
            return day, line[: found.start()], line[found.end() :]
    return None


def _month(written: str) -> str:
    if written.isdigit():
        return written
    return str(1 + next(n for n, names in enumerate(MONTHS) if written.lower() in names.split("|")))


def _year_last(one: str, two: str, year: str, *, by: str) -> date | None:
    if by == "." or int(one) > 12 or one == two:
        return _day(year, two, one)
    return _day(year, one, two) if int(two) > 12 else None


def _day(year: str, month: str, day: str) -> date | None:
    try:
        found = date(int(year), int(month), int(day))
    except ValueError:
        return None
    return found if FIRST_YEAR <= found.year < LAST_YEAR else None


def _time_in(text: str) -> time | None:
    found = _TIME.search(text)
    return _clock(found["hour"], found["minute"], found["second"], half=found["half"] or "") if found else None


def _clock(hour: str, minute: str, second: str | None, *, half: str = "") -> time | None:
    hours = int(hour) % 12 + 12 * (half[0] in "pP") if half else int(hour)
    try:
        return time(hours, int(minute), int(second or 0))
    except ValueError:
        return None
