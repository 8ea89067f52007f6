"""In which unit a column of time is: as written, as its name says, or as its spacing, engine and vehicle allow.

Public: `UnitOfTime`, `Moves`, `unit_of_time`, `usual_step`, `digits_of_a_clock`, `unit_named`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.units import time_scale_s
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.time.engine_and_time import rows_follow_the_engine, turns_too_quickly
from passband.analysis.reading.time.flushed_stamps import find_flushes
from passband.analysis.reading.time.vehicle_and_time import USUALLY_MPS2, gains_speed_too_quickly, seconds_by_way
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import middle

SLOWEST_ROWS_HZ, FASTEST_ROWS_HZ = 1.0, 20000.0
"""Row rates a logger can have: GPS alone writes one row a second; knock and pressure traces reach 20 kHz."""
LIKELY_ROWS_HZ = (4.5, 2500.0)
"""Row rates a run's log does have; used where the unit of time is written nowhere."""
LONGEST_LOG_S = 6 * 3600.0
"""A log longer than this has its time unit wrong, not its length."""
SLOWEST_FOLLOWED_S, IN_MINUTES_S = 0.9, 0.25
"""Rows this far apart cannot follow an engine from one to the next; the less where minutes are written, which hardly
any logger counts in, so that less speaks against them. Common practice, no source. [s], [s]"""
SHORTEST_LOG_S, OF_ROWS = 0.1, 50
"""So many rows that last less hold no part of a run: the unit written is too small. [s], [-]"""
SHORTEST_RUN_S, USUAL_ROW_S = 1.0, 0.002
"""A log that lasts less holds no launch; rows of a run's log seldom come quicker. [s], [s]"""
LEAST_STEP = 1e-200
"""Stamps that differ by less are taken to differ by this, so that a rate is a number in each unit of time. [-]"""
COUNTED_MS_ROWS = 5000
"""Fewer rows, each a millisecond after the other, would be no run: whole numbers that rise by one are then seconds."""
CLOCKS_ARE_SET, MEAN_YEAR_S = (2000, 2100), 365.2425 * 86400.0
"""Years that clocks show, of a mean length by the calendar."""
BY_WAY = 0.25
"""The way covered over speed times the time is off by less in the unit that is right: a driven wheel slips and grows,
and a unit of speed may be another. [-]"""
UNITS = (
    (1.0, "s"), (1e-3, "ms"), (1e-6, "us"), (1e-9, "ns"), (1e-2, "hundredths of a second"), (0.1, "tenths of a second"),
    (60.0, "min"), (86400.0, "days"),
)  # fmt: skip
"""Units that loggers print, likeliest first, the longest last."""

_NAMED_UNITS: tuple[tuple[str, str], ...] = (
    ("ms", r"ms|msec|msecs|millis|millisec|milliseconds?|millisekunden?|millisecondes?|milisegundos?|millisecondi"),
    ("us", r"us|usec|micros|microsec|microseconds?|mikrosekunden?"),
    ("ns", r"ns|nsec|nanos|nanoseconds?"),
    (
        "s",
        r"s|sec|secs|seconds?|sek|sekunden?|secondes?|segundos?|secondi|seconden|sekunder|sekundy?|секунд[аы]?|сек|秒|초",
    ),
    ("min", r"mins|minutes|minuten|minutos|minuti|minuter"),
    ("h", r"hours|hrs|stunden|heures|horas|timmar"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class UnitOfTime:
    """What one count of a time column is."""

    scale_s: float
    """Seconds in one count."""
    shown: str
    """The unit in words; empty where it is as written."""
    findings: tuple[Finding, ...] = ()
    """What was assumed."""


@dataclass(frozen=True, slots=True)
class Moves:
    """What moves in a log, over all of its rows, by which a unit of time is refuted; None where nothing shows it.

    Each array has one value a row, NaN where blank.
    """

    engine_speed: FloatArray | None = None
    """As written."""
    speed_mps: FloatArray | None = None
    """Of the vehicle or a wheel of it. [m/s]"""
    way_m: FloatArray | None = None
    """Covered, from anywhere. [m]"""


_ROWS_BY_TURNS, _BY_TURNS = 24, 0.2
"""Rows over which a pace is taken, and the share of it below which the usual step is that within a bunch: several
devices, or messages of one bus, then stamp their rows by turns. [-], [-]"""


def unit_named(name: str) -> str:
    """The unit that a name of a time says itself; empty where it says none.

    Examples
    --------
    >>> unit_named("TIME_SEC"), unit_named("millis"), unit_named("TimeMillis"), unit_named("Time")
    ('s', 'ms', 'ms', '')
    """
    words = re.findall(r"[^\W\d_]+", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name))
    for unit, pattern in _NAMED_UNITS:
        if any(re.fullmatch(pattern, word.casefold()) for word in words):
            return unit
    return ""


def usual_step(values: FloatArray) -> float:
    """What a time rises by from row to row: its usual step; its pace where rows share stamps, or come in bunches."""
    steps = np.diff(values)
    if not np.all(steps > 0):
        values = values[np.isfinite(values)]
        steps = np.diff(values)
    rises = steps > 0
    number = int(np.count_nonzero(rises))
    if not number:
        return 1.0
    if number < 0.5 * steps.size:
        return max(float(values.max() - values.min()) / steps.size, LEAST_STEP)
    flushes = find_flushes(values) if number == steps.size else None
    step = flushes.step if flushes is not None else middle(steps if number == steps.size else steps[rises])
    mean = float(values[-1] - values[0]) / max(steps.size, 1)
    if flushes is None and step < _BY_TURNS * mean and step < _BY_TURNS * (pace := _pace(values)):
        step = pace
    return max(step, LEAST_STEP)


def _pace(values: FloatArray) -> float:
    """What a time rises by a row over so many rows as hold all the channels of a bus, which come close together."""
    return middle(values[_ROWS_BY_TURNS:] - values[:-_ROWS_BY_TURNS]) / _ROWS_BY_TURNS if values.size > 50 else 0.0


def unit_of_time(
    values: FloatArray, *, name: str, written: str, rate_hz: float | None, moves: Moves
) -> UnitOfTime | None:
    """The unit of a column of time.

    Parameters
    ----------
    values : array, shape (n,)
        As written; NaN where blank.
    name, written : str
        The column's name, and its unit as written; empty where none is.
    rate_hz : float or None
        The rate of rows that the file states. [Hz]
    moves : Moves
        What moves on the same rows.

    Returns
    -------
    UnitOfTime or None
        None where no unit at all gives rows that a logger writes.
    """
    since = _since_an_epoch(values) if not written else None
    if since is not None:
        return since
    step = usual_step(values)
    if step * UNITS[-1][0] < 0.5 / FASTEST_ROWS_HZ:
        return None
    length = step * values.size
    said = written if written and time_scale_s(written) is not None else unit_named(name)
    scale = time_scale_s(said) if said else None
    shown = _shown_by_way(values, moves)
    why_not = _why_not(scale, step, values.size, moves, shown) if scale is not None else ""
    if scale is not None and not why_not and _can_be(1.0 / (step * scale), length * scale, rate_hz):
        doubted = (
            () if shown else _tell_minutes(name, said, step * scale) or _tell_brief(name, step * scale, values.size)
        )
        return UnitOfTime(scale, "", doubted)
    units = [one for one in UNITS if not _why_not(one[0], step, values.size, moves, shown)] or list(UNITS)
    if why_not and step == 1.0 and shown is None and rate_hz is None and values.size < COUNTED_MS_ROWS:
        return None  # it counts rows, and how often they come is nowhere
    guess, unit = shown or _guessed(step, values, rate_hz, units)
    if scale is None and unit == "s" and step != 1.0:
        return UnitOfTime(guess, unit, () if shown else _tell_brief(name, step, values.size))
    why = f"its unit is written as {said}, which cannot be{why_not}" if scale is not None else "its unit is not written"
    text = f"The time column {name} is read in {unit}: {why}, and so the rows come at {1.0 / (step * guess):.4g} Hz."
    speed, asked = moves.speed_mps, scale is not None
    if speed is not None and not shown and gains_speed_too_quickly(speed, length * guess, most_mps2=USUALLY_MPS2):
        text += " The car would then gain speed as few do. Write the unit of time."
        asked = True
    return UnitOfTime(guess, unit, (Finding("time-unit-assumed", "caution" if asked else "note", text, name),))


def _since_an_epoch(values: FloatArray) -> UnitOfTime | None:
    """Tenths of a microsecond since the beginning of the year 1 or 1601, told by their size; None for other numbers."""
    known = values[np.isfinite(values)]
    for year in (1, 1601):
        low, high = ((of_year - year) * MEAN_YEAR_S * 1e7 for of_year in CLOCKS_ARE_SET)
        if known.size and low < known[0] < high and low < known[-1] < high:
            return UnitOfTime(1e-7, f"tenths of a microsecond since the year {year}")
    return None


def _why_not(scale: float, step: float, rows: int, moves: Moves, shown: tuple[float, str] | None) -> str:
    """Why a unit cannot be; empty where it can."""
    lasts_s, rpm, speed_mps = step * rows * scale, moves.engine_speed, moves.speed_mps
    most_s = SLOWEST_FOLLOWED_S if scale < 60.0 else IN_MINUTES_S
    if rpm is not None and step * scale > most_s and rows_follow_the_engine(rpm):
        return ", for an engine moves faster than that"
    if rpm is not None and turns_too_quickly(rpm, lasts_s):
        return ", for no engine moves so fast"
    if speed_mps is not None and gains_speed_too_quickly(speed_mps, lasts_s):
        return ", for no car gains speed so fast"
    if rows >= OF_ROWS and lasts_s < SHORTEST_LOG_S:
        return f", for {rows} rows would last {lasts_s:.2g} s"
    if shown is not None and shown[0] != scale:
        return ", by the way covered and the speed"
    return ""


def _tell_minutes(name: str, said: str, row_s: float) -> tuple[Finding, ...]:
    """Minutes that nothing refutes, and that would give a run's usual rows were they seconds, are told."""
    as_seconds = 60.0 / row_s
    if time_scale_s(said) != 60.0 or row_s <= IN_MINUTES_S or not LIKELY_ROWS_HZ[0] <= as_seconds <= LIKELY_ROWS_HZ[1]:
        return ()
    text = (
        f"The time column {name} is read in {said}, as written: its rows then come every {row_s:.2g} s. Were they "
        f"seconds, they would come at {as_seconds:.4g} Hz, as a run's do. Check the unit in the logger."
    )
    return (Finding("time-unit-assumed", "caution", text, name),)


def _tell_brief(name: str, row_s: float, rows: int) -> tuple[Finding, ...]:
    """Rows that come quicker than usual and last less than a run's first second, with no witness, are told."""
    if rows < OF_ROWS or rows * row_s >= SHORTEST_RUN_S or row_s > USUAL_ROW_S:
        return ()
    text = (
        f"The time column {name} is read as it stands: all its {rows} rows then last {rows * row_s:.2g} s, which is no "
        "run. Check the unit in the logger."
    )
    return (Finding("time-unit-assumed", "caution", text, name),)


def _can_be(row_hz: float, length_s: float, rate_hz: float | None) -> bool:
    """Whether a log can have rows so often and last so long."""
    if rate_hz is not None and not 0.2 < row_hz / rate_hz < 5.0:
        return False
    return 0.2 * SLOWEST_ROWS_HZ <= row_hz <= 2.0 * FASTEST_ROWS_HZ and length_s <= 4 * LONGEST_LOG_S


def _shown_by_way(values: FloatArray, moves: Moves) -> tuple[float, str] | None:
    """The one unit in which speed times time is the way covered; None where none is, or nothing shows it."""
    if moves.speed_mps is None or moves.way_m is None:
        return None
    count_s = seconds_by_way(values, moves.speed_mps, moves.way_m)
    near = [one for one in UNITS if count_s is not None and abs(count_s / one[0] - 1.0) < BY_WAY]
    return near[0] if near else None


def _guessed(
    step: float, values: FloatArray, rate_hz: float | None, units: Sequence[tuple[float, str]]
) -> tuple[float, str]:
    """The likeliest of some units, by the rate of rows."""
    length = step * values.size
    if rate_hz is not None:
        for scale, unit in units:
            if 0.8 < 1.0 / (step * scale) / rate_hz < 1.25:
                return scale, unit
        if abs(step - round(step)) < 1e-9 and step < 50:
            return 1.0 / (rate_hz * step), f"samples at {rate_hz:g} Hz"
    if step == 1.0 and UNITS[0] in units and (values.size < COUNTED_MS_ROWS or length <= LONGEST_LOG_S):
        return 1.0, "s"
    for low, high in (LIKELY_ROWS_HZ, (SLOWEST_ROWS_HZ, FASTEST_ROWS_HZ)):
        for scale, unit in units:
            if low <= 1.0 / (step * scale) <= high and length * scale <= LONGEST_LOG_S:
                return scale, unit
    return 1.0, "s"


def digits_of_a_clock(values: FloatArray) -> FloatArray | None:
    """Seconds where the digits of each number are hours, minutes and seconds, as position receivers print them.

    Parameters
    ----------
    values : array, shape (n,)
        ``121459.98``, ``121500.00``.

    Returns
    -------
    array or None
        Seconds of the day; None where the numbers are no such digits, or rise across no minute.

    Examples
    --------
    >>> digits_of_a_clock(np.array([121459.8, 121459.9, 121500.0, 121500.1])).round(1).tolist()
    [44099.8, 44099.9, 44100.0, 44100.1]
    """
    known = values[np.isfinite(values)]
    if known.size < 3 or known.min() < 0:
        return None
    if known.max() >= 240000.0:  # parts of a second behind, without a point
        parts = next(
            (many for many in (100.0, 1000.0) if 1e4 <= known.min() / many and known.max() < 240000.0 * many), 0.0
        )
        return digits_of_a_clock(values / parts) if parts and np.all(known % 1.0 == 0.0) else None
    hours, minutes, seconds = values // 10000.0, values // 100.0 % 100.0, values % 100.0
    if np.nanmax(minutes) >= 60.0 or np.nanmax(seconds) >= 60.0:
        return None
    steps, step = np.diff(known), usual_step(values)
    over = steps > 20.0
    odd = np.abs(steps[over] - step)
    if not over.any() or step > 10.0 or not np.all((np.abs(odd - 40.0) < 2.0) | (np.abs(odd - 4040.0) < 2.0)):
        return None
    return np.asarray(hours * 3600.0 + minutes * 60.0 + seconds, dtype=np.float64)
