"""A run's channels as one even table, for storage, charts and export.

Public: `TableColumn`, `RunTable`, `as_table`, `log_as_table`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import GAP_PERIODS, Channel, Log, Traces
from passband.analysis.engine.exhaust import EXHAUST_SPREAD, exhaust_temperatures, find_exhaust_spread, spread_of
from passband.analysis.quantities import TEMPERATURE_DIFFERENCE, BoolArray, FloatArray, IntArray
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.review import FullReview
from passband.analysis.sensors.boost_trace import find_boost

RATE_MAX_HZ = 500.0
"""Highest rate of the table: 2 ms, a quarter of the shortest torque cut, and a run of 10 s stays at 5,000 rows. [Hz]"""
RATE_MIN_HZ = 50.0
"""Lowest rate of the table: shifts stay visible where all channels are slow. [Hz]"""
BEFORE_S = 60.0
"""How much of the log before clock start the table holds: burnout and staging. [s]"""
AFTER_S = 30.0
"""How much after the finish, lift or end of the motion. [s]"""
HELD = frozenset({"gear", "shift_cut", "clutch", "brake", "launch_switch", "satellites"})
"""States, not measures: between samples the last one holds."""


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column of a run's table."""

    name: str
    """Channel name; a second one of the same name carries the number of its log: ``engine_speed.1``."""
    title: str
    """What a reader is shown."""
    unit: str
    """Unit of the values."""
    shown_unit: str
    """The unit a page shows it in; the same as `unit` where the catalogue knows no other."""
    header: str
    """Header in the log; empty for what the analysis made."""
    unit_written: str
    """Unit as the log writes it; empty where it does not."""
    confidence: float | None
    """How sure the recognition is, 0..1; None for what the analysis made."""
    log: int | None
    """Which log it came from, from 0; None for what the analysis made."""


@dataclass(frozen=True, slots=True)
class RunTable:
    """All channels of a run on one even time grid, from clock start (ET)."""

    columns: tuple[TableColumn, ...]
    """What each column is: those of `MADE`, then the channels."""
    frame: pl.DataFrame
    """The values, columns in that order; null where unknown."""
    rate_hz: float
    """Rows per second. [Hz]"""


def _made(name: str, title: str, unit: str, shown_unit: str) -> TableColumn:
    return TableColumn(name, title, unit, shown_unit, header="", unit_written="", confidence=None, log=None)


MADE = (
    _made("time_s", "Time from clock start", "s", "s"),
    _made("distance_m", "Distance from clock start", "m", "m"),
    _made("speed_mps", "Ground speed (fused)", "m/s", "km/h"),
    _made("acceleration_mps2", "Acceleration (fused)", "m/s^2", "g"),
    _made("gear", "Gear that carries", "", ""),
)
"""The columns that the analysis makes."""
BOOST = _made("boost", "Boost (gauge)", "Pa", "kPa")
"""Made where a log holds manifold pressure and no boost, and the air's own pressure is known."""
SPREAD = _made(EXHAUST_SPREAD, "Exhaust temperature spread", TEMPERATURE_DIFFERENCE, "K")
"""Made where the exhaust temperatures of two cylinders or more are logged."""


def as_table(review: FullReview) -> RunTable:
    """A run's channels on one even time grid, for storage, charts and export.

    Parameters
    ----------
    review : FullReview
        Any; without motion the distance, speed and acceleration are unknown throughout.

    Returns
    -------
    RunTable
        From 60 s before clock start to 30 s after the end, at the highest channel rate up to 500 Hz.

    Notes
    -----
    Values between samples lie on a straight line (states such as a gear hold the last one). A hole of more than
    five sample periods stays empty. The grid is for looking and for export: no figure of a review comes from it.
    """
    steps_s = _steps_s(review.traces)
    grid, rate_hz = _grid(review, steps_s)
    values = [grid, *_motion_on(grid, review), _gear_on(grid, review)]
    columns, channels = list(MADE), []
    made = ((BOOST, _boost_from_absolute(review)), (SPREAD, _spread_around(grid, review.traces)))
    for column, channel in made:
        if channel is not None:
            columns.append(column)
            channels.append(channel)
    for column, channel in _named(review.traces, taken={column.name for column in columns}):
        columns.append(column)
        channels.append(channel)
    times = {id(channel.time_s): channel.time_s for channel in channels}
    places = {key: _place(time_s, grid, steps_s.get(key)) for key, time_s in times.items()}
    values += [_on_grid(channel, grid, places[id(channel.time_s)]) for channel in channels]
    series = [pl.Series(c.name, v, nan_to_null=True) for c, v in zip(columns, values, strict=True)]
    return RunTable(tuple(columns), pl.DataFrame(series), rate_hz)


def _steps_s(traces: Traces) -> dict[int, float]:
    """The middle step of each set of times, by its id: channels of one log share theirs, an hour's are long."""
    times = {id(channel.time_s): channel.time_s for channel in traces if channel.time_s.size > 1}
    return {key: _step_s(time_s) for key, time_s in times.items()}


def _step_s(time_s: FloatArray) -> float:
    return float(np.median(np.diff(time_s))) if time_s.size > 1 else np.nan


def _grid(review: FullReview, steps_s: Mapping[int, float]) -> tuple[FloatArray, float]:
    times = {id(channel.time_s): channel.time_s for channel in review.traces if channel.time_s.size > 1}.values()
    rate_hz = min(RATE_MAX_HZ, max([RATE_MIN_HZ, *map(_rows_per_second, steps_s.values())]))
    first = min((float(time_s[0]) for time_s in times), default=0.0)
    last = max((float(time_s[-1]) for time_s in times), default=0.0)
    window = review.window
    end = (window.log_finish_s - window.log_clock_start_s) if window.log_finish_s is not None else last
    first, last = max(first, -BEFORE_S), min(last, end + AFTER_S)
    rows = np.arange(math.ceil(first * rate_hz), math.floor(last * rate_hz) + 1)
    return rows / rate_hz, rate_hz


def _rows_per_second(step_s: float) -> float:
    return round(1.0 / step_s, 3) if step_s > 0 else RATE_MIN_HZ


def _motion_on(grid: FloatArray, review: FullReview) -> list[FloatArray]:
    motion = review.motion
    if motion is None or motion.time_s.size == 0:
        return [np.full(grid.shape, np.nan)] * 3
    return [
        np.interp(grid, motion.time_s, values, left=np.nan, right=np.nan)
        for values in (motion.distance_m, motion.speed_mps, motion.acceleration_mps2)
    ]


def _gear_on(grid: FloatArray, review: FullReview) -> FloatArray:
    gear = np.full(grid.shape, np.nan)
    for interval in () if isinstance(review.gears, Unknown) else review.gears.intervals:
        gear[(grid >= interval.start_s) & (grid <= interval.end_s)] = interval.gear
    return gear


def _named(channels: Iterable[Channel], *, taken: Collection[str]) -> list[tuple[TableColumn, Channel]]:
    taken, named = set(taken), []
    for channel in channels:
        name = f"{channel.name}.{channel.log}" if channel.name in taken else channel.name
        number = 2
        while name in taken:
            name, number = f"{channel.name}.{channel.log}.{number}", number + 1
        taken.add(name)
        named.append((_described(name, channel), channel))
    return named


def _described(name: str, channel: Channel) -> TableColumn:
    kind = kind_of(channel.name)
    title = kind.title if kind else channel.header
    if kind and channel.name != kind.name:
        title = f"{title} {channel.name.rpartition('_')[2]}"
    return TableColumn(
        name=name,
        title=title,
        unit=channel.unit,
        shown_unit=(kind.shown_unit if kind else "") or channel.unit,
        header=channel.header,
        unit_written=channel.unit_written,
        confidence=channel.confidence,
        log=channel.log,
    )


def _boost_from_absolute(review: FullReview) -> Channel | None:
    if review.traces.get("boost") is not None:
        return None
    trace = known(find_boost(review.traces, review.air))
    if trace is None:
        return None
    return Channel("boost", "", "Pa", "", trace.time_s, trace.boost_pa, rate_hz=0.0)


def _spread_around(grid: FloatArray, traces: Traces) -> Channel | None:
    """The exhaust temperatures' spread; where they share their times NaN but where the grid needs it."""
    cylinders = exhaust_temperatures(traces)
    if len({id(one.time_s) for one in cylinders}) != 1:
        spread = find_exhaust_spread(traces)
        return spread.channel if spread is not None else None
    time_s = cylinders[0].time_s
    near = _near(time_s, grid)
    cut_s, values = time_s[near], np.full(time_s.shape, np.nan)
    spread = spread_of([replace(one, time_s=cut_s, values=one.values[near]) for one in cylinders])
    if spread is None:
        return None
    values[near] = spread.spread_k
    return replace(spread.channel, time_s=time_s, values=values)


def _near(time_s: FloatArray, grid: FloatArray) -> slice:
    """Samples within a grid's times, and the one before and the one behind them: of an hour a few in a hundred."""
    if not grid.size:
        return slice(None)
    first = int(np.searchsorted(time_s, grid[0], side="right")) - 1
    return slice(max(first, 0), int(np.searchsorted(time_s, grid[-1])) + 1)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a grid's times lie among a channel's, shape (m,) each: the same for all channels that share their times."""

    near: slice
    """The samples that the grid needs."""
    after: IntArray
    """The sample after each, counted from the first of those."""
    in_hole: BoolArray
    """True where samples are too far apart to be joined."""


def _place(time_s: FloatArray, grid: FloatArray, step_s: float | None) -> _Place:
    near, step_s = _near(time_s, grid), _step_s(time_s) if step_s is None else step_s
    time_s = time_s[near]
    after, steps = np.searchsorted(time_s, grid, side="right"), np.diff(time_s)
    if not steps.size:
        return _Place(near, after, np.zeros(grid.shape, dtype=np.bool_))
    holes = np.concatenate(([False], steps > GAP_PERIODS * step_s, [False]))
    return _Place(near, after, holes[after] & (time_s[np.clip(after - 1, 0, None)] != grid))


def _on_grid(channel: Channel, grid: FloatArray, place: _Place) -> FloatArray:
    if channel.time_s.size == 0:
        return np.full(grid.shape, np.nan)
    near = replace(channel, time_s=channel.time_s[place.near], values=channel.values[place.near])
    if channel.name in HELD:
        values = near.values[np.clip(place.after - 1, 0, None)]
        values = np.where((place.after == 0) | (grid > near.time_s[-1]), np.nan, values)
    else:
        values = near.at(grid)
    return np.where(place.in_hole, np.nan, values).astype(np.float64)


def log_as_table(logs: Sequence[Log]) -> RunTable:
    """A log as it was understood: every sample at its own time, nothing between them.

    Parameters
    ----------
    logs : sequence of Log
        The recordings of one file, as `analysis.reading.read_log` returns them.

    Returns
    -------
    RunTable
        One time column, seconds from each recording's first row; null where a channel has no sample at that time. Of
        several recordings a column ``recording`` counts from 0.
    """
    pieces, columns = [], {column.name: column for column in MADE[:1]}
    for number, log in enumerate(logs):
        time_s = np.unique(np.concatenate([channel.time_s for channel in log.channels] or [np.empty(0)]))
        series = [pl.Series("time_s", time_s)]
        if len(logs) > 1:
            columns["recording"] = _made("recording", "Recording of the file", "", "")
            series.insert(0, pl.Series("recording", np.full(time_s.shape, float(number))))
        for column, channel in _named(log.channels, taken={"time_s", "recording"}):
            values = np.full(time_s.shape, np.nan)
            values[np.searchsorted(time_s, channel.time_s)] = channel.values
            columns.setdefault(column.name, column)
            series.append(pl.Series(column.name, values, nan_to_null=True))
        pieces.append(pl.DataFrame(series))
    frame = pl.concat(pieces, how="diagonal") if pieces else pl.DataFrame()
    rate_hz = max((log.time.rate_hz for log in logs), default=0.0)
    return RunTable(tuple(columns[name] for name in frame.columns), frame, rate_hz)
