"""A run's channels as lines for the page: cut to the run, made to rise, thinned, and written small.

Public: `run_lines`, `FIRST_CHANNELS`, `RunLines`, `Steps`, `ChannelLine`, `BoundLine`, `ShiftLine`, `unit_and_title`.

Only what is drawn goes through here; no figure is made of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.limits import LimitVerdict
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.web.sheets.sheet import heading
from passband.web.wording.channel_titles import channel_title
from passband.web.wording.units import Unit, UnitSystem, kind_of_si, unit_for

FIRST_CHANNELS = ("engine_speed", "boost", "speed_mps")
"""What is drawn until a reader chooses."""
BEFORE_S = 0.5
"""So much before clock start is drawn: the launch. [s]"""
EVEN_ROWS, BUCKETS = 900, 150
"""Rows taken evenly in time, and stretches of which each channel's least and greatest are kept besides: about two rows
for each pixel of a laptop's panel. [-]"""
AXES = ("time_s", "distance_m")


@dataclass(frozen=True, slots=True)
class Steps:
    """Whole numbers, each the step from the last known value in units of its last digit; None in a hole."""

    digits: int
    """Behind the point."""
    steps: list[int | None]
    """One for each row."""


@dataclass(frozen=True, slots=True)
class BoundLine:
    """A limit at its bound at the worst moment, or the boost threshold."""

    at: float | None
    """In the channel's unit as shown; None where it has none."""
    name: str
    """The limit's."""
    broken: tuple[tuple[float, float], ...]
    """When it was. [s, ET]"""


@dataclass(frozen=True, slots=True)
class ChannelLine:
    """One channel."""

    title: str
    """What it is called."""
    unit: str
    """As shown."""
    digits: int
    """Behind the point."""
    steps: list[int | None]
    """As of `Steps`."""
    bounds: list[BoundLine]
    """What it was held against."""


@dataclass(frozen=True, slots=True)
class ShiftLine:
    """A shift."""

    name: str
    """``2-3``."""
    start_s: float
    """[s, ET]"""
    end_s: float
    """[s, ET]"""
    kind: str
    """What it was."""


@dataclass(frozen=True, slots=True)
class RunLines:
    """What the page's script draws of one run."""

    title: str
    """What the run is called."""
    log_start_s: float
    """The log's time at clock start. [s]"""
    end_s: float
    """Last row. [s, ET]"""
    time: Steps
    """[s, ET]"""
    feet: Steps
    """[ft]"""
    channels: dict[str, ChannelLine]
    """By name."""
    gears: list[tuple[int, float, float]]
    """Gear, from, to. [s, ET]"""
    shifts: list[ShiftLine]
    """In order."""
    band: tuple[float, float] | None
    """Low and high; None where no band is known. [rpm]"""
    known: Sequence[tuple[str, str]] = ()
    """Every channel that can be drawn, with its title; empty where nobody asked."""


def run_lines(review: Review, table: pl.DataFrame, channels: Sequence[str], *, units: UnitSystem = "us") -> RunLines:
    """What the page draws of one run.

    Parameters
    ----------
    review : Review
        Of the run.
    table : polars.DataFrame
        Its channels, SI, with ``time_s`` and ``distance_m``.
    channels : sequence of str
        Columns to draw; those that the run lacks are left out.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    RunLines
        Cut to the run and thinned. Where nothing shows how far the car went, ``feet`` is all holes, and rows are
        placed by time alone.
    """
    rows = _rows(review, table, channels)
    time_s, feet = (_column(rows, name) for name in AXES)
    there = {name: _channel(review, name, _column(rows, name), units) for name in channels if _holds(rows, name)}
    gears, band = known(review.gears), known(review.band)
    return RunLines(
        title=heading(review, units).title,
        log_start_s=review.window.log_clock_start_s,
        end_s=float(time_s[-1]) if time_s.size else 0.0,
        time=Steps(3, _steps(time_s, 3)),
        feet=Steps(1, _steps(np.maximum.accumulate(feet / FOOT_M), 1)),
        channels=there,
        gears=[(one.gear, one.start_s, one.end_s) for one in gears.intervals] if gears is not None else [],
        shifts=[ShiftLine(f"{one.from_gear}-{one.to_gear}", one.time_s, one.end_s, one.kind) for one in review.shifts],
        band=(band.low_rpm, band.high_rpm) if band is not None else None,
    )


def _rows(review: Review, table: pl.DataFrame, channels: Sequence[str]) -> pl.DataFrame:
    """The run alone, time and place rising, and few enough rows; each channel's extremes are among them."""
    window = review.window
    last_s = np.inf if window.log_finish_s is None else window.log_finish_s - window.log_clock_start_s
    time_s, place_m = (_column(table, name) for name in AXES)
    use = np.isfinite(time_s) & (time_s >= -BEFORE_S) & (time_s <= last_s)
    if np.isfinite(place_m[use]).any():
        use &= np.isfinite(place_m)
    at = np.flatnonzero(use)
    at = at[np.concatenate(([True], np.diff(np.maximum.accumulate(time_s[at])) > 0))] if at.size else at
    if at.size <= EVEN_ROWS:
        return table[at]
    kept = [at[np.linspace(0, at.size - 1, EVEN_ROWS).astype(np.int64)]]
    for name in channels:
        if name in table.columns:
            kept += _extremes(at, _column(table, name)[at])
    return table[np.unique(np.concatenate(kept))]


def _holds(rows: pl.DataFrame, name: str) -> bool:
    """Whether there is anything to draw: a speed that nothing shows is a column of holes."""
    return name in rows.columns and bool(np.isfinite(_column(rows, name)).any())


def _extremes(at: np.ndarray, values: FloatArray) -> list[np.ndarray]:
    """Rows of the least and the greatest of each bucket."""
    size = at.size // BUCKETS
    if size < 3:
        return []
    inside = values[: size * BUCKETS].reshape(BUCKETS, size)
    first = np.arange(BUCKETS) * size
    holes = np.isnan(inside)
    low = np.argmin(np.where(holes, np.inf, inside), axis=1)
    high = np.argmax(np.where(holes, -np.inf, inside), axis=1)
    return [at[first + low], at[first + high]]


def _column(table: pl.DataFrame, name: str) -> FloatArray:
    values: FloatArray = table[name].cast(pl.Float64).to_numpy()
    return values


def _channel(review: Review, name: str, values: FloatArray, units: UnitSystem) -> ChannelLine:
    shown, title = unit_and_title(name, units)
    steps = _steps((values - shown.offset) / shown.scale, shown.digits)
    return ChannelLine(title, shown.label, shown.digits, steps, _bounds(review, name, shown))


def unit_and_title(name: str, units: UnitSystem) -> tuple[Unit, str]:
    """How a channel is shown.

    Parameters
    ----------
    name : str
        A column of a run's table.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    (Unit, str)
        Its unit and its title.
    """
    if name == "speed_mps":
        return unit_for("speed", units), "Ground speed"
    if name == "acceleration_mps2":
        return unit_for("acceleration", units), "Acceleration of the car"
    family, _, log = name.partition(".")
    name, log = (family, log) if log.isdecimal() and kind_of(family) else (name, "")
    kind = kind_of(name)
    kind_name = kind_of_si(kind.unit, shown_unit=kind.shown_unit) if kind else "plain"
    title = channel_title(name)
    return unit_for(kind_name, units), f"{title}, log {int(log) + 1}" if log else title


def _bounds(review: Review, name: str, shown: Unit) -> list[BoundLine]:
    """Limits on the channel, each at its bound at the worst moment, and the boost threshold."""
    limits = [one for one in review.limits if one.channel == name and one.limit is not None]
    bounds = [_bound(one, shown) for one in limits if one.unit != "delta_K"]
    boost = known(review.boost)
    if name == "boost" and boost is not None and boost.threshold_pa is not None:
        bounds.append(BoundLine(round(shown.of(boost.threshold_pa), 3), "threshold", ()))
    return bounds


def _bound(limit: LimitVerdict, shown: Unit) -> BoundLine:
    at = None if limit.limit is None else round(shown.of(limit.limit), 3)
    return BoundLine(at, limit.name, limit.outside)


def _steps(values: FloatArray, digits: int) -> list[int | None]:
    """Whole steps at the digits shown, holes as None."""
    known_at = np.isfinite(values)
    whole = np.round(values[known_at] * 10.0**digits).astype(np.int64)
    steps: list[int | None] = [None] * values.size
    for place, step in zip(np.flatnonzero(known_at).tolist(), np.diff(whole, prepend=0).tolist(), strict=True):
        steps[place] = step
    return steps
