"""Positions not written in degrees: whole numbers of small parts of one, degrees and minutes, letters for the side.

Receivers send degrees and minutes in one number, 5204.2 for 52 degrees and 4.2 minutes, with a letter for the half of
the earth beside it; many a logger stores positions as whole numbers of ten-millionths of a degree. Common practice.

Public: `in_degrees`, `Placed`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import polars as pl

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import NO_UNIT, conversion_for, is_degrees_and_minutes, is_unit, plain_unit
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

MOST_DEG = {"latitude": 90.0, "longitude": 180.0}
"""By definition. [deg]"""
NORTHERNMOST_DEG = 75.0
"""No road for cars lies nearer to a pole. [deg]"""
MOST_MOVED_DEG = 0.1
"""A position moves less in a log: 0.1 degrees of latitude are 11 km. [deg]"""
MOSTLY = 0.8
"""Share of cells of words that must be positions. [-]"""

IN_ONE_NUMBER = "degrees and minutes in one number"
"""How receivers write positions, as it is told."""
METRES_PER_DEG = 111_195.0
"""A degree along a circle of the earth's mean radius of 6371 km. [m]"""
LEAST_DRIVEN_M, AS_FAR = 50.0, 2.0
"""A way from so many metres on tells ways of reading apart that differ by ten: it agrees within this factor, as a
driven wheel slips and a turn is not straight. [m], [-]"""

_WORDS = re.compile(
    r"^(?<before>[NSEWnsew])?\s*(?<degrees>-?\d{1,3}(?:[.,]\d+)?)\s*[°ºd]?\s*"
    r"(?:(?<minutes>\d{1,2}(?:[.,]\d+)?)\s*['′’m]\s*)?(?:(?<seconds>\d{1,2}(?:[.,]\d+)?)\s*[\"″”s]?\s*)?"
    r"(?<behind>[NSEWnsew])?$".replace("(?<", "(?P<")
)
_SIDES = {"n": 1.0, "north": 1.0, "e": 1.0, "east": 1.0, "s": -1.0, "south": -1.0, "w": -1.0, "west": -1.0}


@dataclass(frozen=True, slots=True)
class Placed:
    """A table whose positions are in degrees, and its header, which says so."""

    table: Table
    """With a finding of what was done."""
    header: Header
    """The same but for the positions' units."""


def in_degrees(table: Table, header: Header, time_s: FloatArray, speed_mps: Callable[[], FloatArray | None]) -> Placed:
    """Bring positions to degrees where they can be read in one way only.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names and units.
    time_s : array, shape (rows,)
        The time of each row. [s]
    speed_mps : callable
        Gives the speed of each row, or None where none is logged; asked only where it decides. [m/s]

    Returns
    -------
    Placed
        The same where positions are in degrees already. Where several ways fit, they stay, and that is told.
    """
    named = _named(header)
    if not named:
        return Placed(table, header)
    read, said = {}, []
    for channel, at in named.items():
        degrees = _of_words(table.columns[at].words)
        if degrees is not None:
            read[channel] = degrees
            said.append(f"{header.names[at]} is read as degrees out of how it is written.")
    numbers = {channel: table.columns[at].over(table.rows) for channel, at in named.items() if channel not in read}
    numbers = {channel: values for channel, values in numbers.items() if np.isfinite(values).any()}
    found: list[Finding] = []
    if any(_beyond(values, channel) for channel, values in numbers.items()):
        ways = {way: turned for way, turned in _ways(numbers).items() if turned is not None}
        if len(ways) > 1:
            ways = _as_far_as_driven(ways, time_s, speed_mps())
        names = " and ".join(header.names[named[channel]] for channel in numbers)
        if len(ways) == 1:
            way, turned = next(iter(ways.items()))
            read |= turned
            stated = way == IN_ONE_NUMBER and all(is_degrees_and_minutes(header.units[named[one]]) for one in numbers)
            text = f"{names} cannot be degrees as they stand; {way} alone fit, and they are read so."
            found.append(Finding("position-form", "note" if stated else "caution", text, names))
        else:
            found.append(_unclear(names, list(ways)))
    sides = {channel: side for channel, at in named.items() if (side := _side_beside(table, at)) is not None}
    for channel, side in sides.items():
        values = read.get(channel, numbers.get(channel))
        if values is not None and (side < 0).any():
            read[channel] = np.where(values > 0, values * side, values)
            said.append(f"{header.names[named[channel]]} goes by the side of the earth that the next column names.")
    if said:
        found.append(Finding("position-form", "note", " ".join(said), header.names[next(iter(named.values()))]))
    return _placed(table, header, {named[channel]: values for channel, values in read.items()}, found)


def _named(header: Header) -> dict[str, int]:
    """The columns that are named as positions."""
    named: dict[str, int] = {}
    for at, (bare, unit) in enumerate(zip(header.bare, header.units, strict=True)):
        if _is_of_other_things(unit):
            continue
        for match in recognise_name(bare):
            if match.channel in MOST_DEG:
                named.setdefault(match.channel, at)
    return named


def _is_of_other_things(unit: str) -> bool:
    """Whether a unit is known and is of no angle: ``Long G`` in mG lies along the car."""
    if is_degrees_and_minutes(unit):
        return False
    return is_unit(unit) and plain_unit(unit) not in NO_UNIT and conversion_for(unit, kept="deg") is None


def _of_words(words: pl.Series | None) -> FloatArray | None:
    """Degrees of cells like ``52°04.2'N``; None where most are none."""
    if words is None:
        return None
    unique = {cell: _degrees(cell) for cell in words.unique().to_list() if cell is not None}
    degrees = np.array([unique.get(cell, np.nan) for cell in words.to_list()], dtype=np.float64)
    return degrees if np.isfinite(degrees).mean() >= MOSTLY else None


def _degrees(cell: str) -> float:
    match = _WORDS.match(cell.strip().strip('"'))
    if match is None:
        return float("nan")
    degrees, minutes, seconds = (
        float((match[name] or "0").replace(",", ".")) for name in ("degrees", "minutes", "seconds")
    )
    if minutes >= 60.0 or seconds >= 60.0:
        return float("nan")
    size = abs(degrees) + minutes / 60.0 + seconds / 3600.0
    side = _SIDES.get((match["before"] or match["behind"] or "n").lower(), 1.0)
    return -size if (degrees < 0) != (side < 0) else size


def _beyond(values: FloatArray, channel: str) -> bool:
    return float(np.nanmax(np.abs(values))) > MOST_DEG[channel]


def _ways(numbers: dict[str, FloatArray]) -> dict[str, dict[str, FloatArray] | None]:
    """Each way of reading positions, with what it makes of them; None where that cannot be."""
    parted = any(bool(np.any(values[np.isfinite(values)] % 1.0)) for values in numbers.values())
    tried: dict[str, Callable[[FloatArray], FloatArray]] = {
        f"1e-{power} degrees": partial(_of_parts, power=power) for power in (5, 6, 7)
    }
    if parted:  # whole numbers are small parts of a degree, others hold minutes
        tried = {IN_ONE_NUMBER: _of_minutes}
    made: dict[str, dict[str, FloatArray] | None] = {}
    for way, turn in tried.items():
        turned = {channel: turn(values) for channel, values in numbers.items()}
        made[way] = turned if all(_can_be(values, channel) for channel, values in turned.items()) else None
    return made


def _of_minutes(values: FloatArray) -> FloatArray:
    """``5204.2`` to 52.07; all NaN where some minutes are none."""
    size = np.abs(values)
    minutes = size % 100.0
    if np.nanmax(minutes) >= 60.0:
        return np.full(values.shape, np.nan)
    return np.asarray(np.copysign(np.floor(size / 100.0) + minutes / 60.0, values))


def _of_parts(values: FloatArray, *, power: int) -> FloatArray:
    return np.asarray(values / 10.0**power, dtype=np.float64)


def _as_far_as_driven(
    ways: dict[str, dict[str, FloatArray]], time_s: FloatArray, speed_mps: FloatArray | None
) -> dict[str, dict[str, FloatArray]]:
    """The ways under which positions go about as far as the speed says; all of them where nothing says so."""
    if speed_mps is None:
        return ways
    known = np.isfinite(speed_mps) & np.isfinite(time_s)
    time, speed = time_s[known], speed_mps[known]
    driven_m = float(np.sum(np.diff(time) * 0.5 * (speed[1:] + speed[:-1]))) if time.size > 1 else 0.0
    if driven_m < LEAST_DRIVEN_M:
        return ways
    return {
        way: turned
        for way, turned in ways.items()
        if 1.0 / AS_FAR < METRES_PER_DEG * _moved_deg(turned) / driven_m < AS_FAR
    }


def _moved_deg(turned: Mapping[str, FloatArray]) -> float:
    """How far positions go from their first to their last: a strip is straight. In degrees of latitude."""
    ends = {}
    for channel, values in turned.items():
        known = values[np.isfinite(values) & (values != 0.0)]
        ends[channel] = float(known[-1] - known[0])
    north = next((values for channel, values in turned.items() if channel == "latitude"), np.zeros(1))
    narrow = np.cos(np.radians(float(np.nanmedian(north))))
    return float(np.hypot(ends.get("latitude", 0.0), narrow * ends.get("longitude", 0.0)))


def _can_be(values: FloatArray, channel: str) -> bool:
    known = values[np.isfinite(values) & (values != 0.0)]  # zeros: before the receiver knew
    most = NORTHERNMOST_DEG if channel == "latitude" else MOST_DEG[channel]
    if not known.size or float(np.abs(known).max()) > most:
        return False
    low, high = np.quantile(known, [0.1, 0.9])
    return bool(high - low <= MOST_MOVED_DEG)


def _unclear(names: str, ways: list[str]) -> Finding:
    why = f"{', '.join(ways[:-1])} and {ways[-1]} fit alike" if ways else "no usual way of writing positions fits"
    text = f"{names} cannot be degrees as they stand, and {why}: they are not used. Log them in degrees."
    return Finding("position-form", "caution", text, names)


def _side_beside(table: Table, at: int) -> FloatArray | None:
    """What the letters of the column to the right make of a position: 1 or -1 a row; None where it holds none."""
    words = table.columns[at + 1].words if at + 1 < len(table.columns) else None
    if words is None:
        return None
    cells = [(cell or "").strip(' "').lower() for cell in words.to_list()]
    if not any(cells) or any(cell and cell not in _SIDES for cell in cells):
        return None
    return np.array([_SIDES.get(cell, 1.0) for cell in cells], dtype=np.float64)


def _placed(table: Table, header: Header, read: dict[int, FloatArray], found: list[Finding]) -> Placed:
    if not read:
        return Placed(table.with_findings(*found), header)
    columns, units = list(table.columns), list(header.units)
    for at, values in read.items():
        rows = columns[at].rows
        columns[at], units[at] = Column(values if rows is None else values[rows], rows), "deg"
    return Placed(table.with_columns(columns, *found), replace(header, units=tuple(units)))
