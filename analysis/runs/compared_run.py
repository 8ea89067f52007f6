"""One run as it is compared with others: its motion by distance, what its speed may be wrong by, what was found in it.

It is made from a run's table and its review, so that runs just read and runs long stored go the same way.

Public: `ComparedRun`, `prepare_run`, `errors_from_splits`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from passband.analysis.given.car import Slip
from passband.analysis.motion.ground_speed import SpeedErrors
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import Distance
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.runs.compare import BEFORE_S, Change, Track
from passband.analysis.runs.engine_use import EngineUse, count_use

STEP_S = 0.005
"""Rows of the table are taken no closer than this: the motion's own grid. [s]"""
PRINTED_S = 0.0005
"""A slip is printed to the millisecond. [s]"""


@dataclass(frozen=True, slots=True)
class ComparedRun:
    """One run, ready to be held against others. Arrays have shape (n,), from just before clock start to its end."""

    label: str
    """What it is called."""
    review: Review
    """What was found in it."""
    time_s: FloatArray
    """Rising. [s, ET]"""
    distance_m: FloatArray
    """From the start line. [m]"""
    speed_mps: FloatArray
    """Ground speed. [m/s]"""
    errors: SpeedErrors
    """In which ways that speed may be wrong, on the same rows."""
    slip_s: Mapping[int, float]
    """Elapsed times as the strip printed them, by feet. [s]"""
    channels: Mapping[str, FloatArray]
    """Throttle, boost and engine speed on the same rows, those that are logged."""
    tire_circumference_m: float | None = None
    """Of the driven tires as given. [m]"""
    use: EngineUse | None = None
    """How much the engine turned; None where its speed is not logged."""

    @property
    def splits(self) -> Mapping[int, Estimate]:
        """Elapsed time at the marks that were reached, by feet, in seconds."""
        distance = known(self.review.distance)
        return {split.at_ft: split.time_s for split in distance.splits} if distance is not None else {}

    @property
    def track(self) -> Track:
        """What the difference along the track is made of: the slip's times where it has them, else the log's."""
        marks = {ft: time for ft, time in self.splits.items() if ft not in self.slip_s}
        marks |= {ft: Estimate(self.slip_s[ft], PRINTED_S) for ft in self.splits if ft in self.slip_s}
        changes = [Change(one.from_gear, one.to_gear, one.time_s, one.end_s) for one in self.review.shifts]
        return Track(self.time_s, self.distance_m, dict(sorted(marks.items())), changes)

    @property
    def under_power_to_m(self) -> float:
        """The last place at which it was still pulling: its finish line, its lift, or the log's end, in metres."""
        finish_ft, gone_m = self.review.window.outcome.finish_ft, known(self.review.window.distance_m)
        if finish_ft is not None:
            return finish_ft * FOOT_M
        reached = self.distance_m[np.isfinite(self.distance_m)]
        last_m = float(reached.max()) if reached.size else 0.0
        return last_m if gone_m is None else min(gone_m, last_m)


KEPT = ("throttle", "boost", "engine_speed", "manifold_pressure")
"""Channels that stand beside a comparison."""


def prepare_run(
    review: Review,
    table: pl.DataFrame,
    *,
    label: str,
    slip: Slip | None = None,
    errors: tuple[FloatArray, SpeedErrors] | None = None,
    tire_circumference_m: float | None = None,
) -> ComparedRun:
    """Make a run ready to be held against others.

    Parameters
    ----------
    review : Review
        What was found in it.
    table : polars.DataFrame
        The run's table: time, distance, speed, and channels where logged.
    label : str
        What to call it.
    slip : Slip, optional
        What the strip printed.
    errors : (times, SpeedErrors), optional
        In which ways its speed may be wrong, on a grid of ET; where nobody kept them, the splits' own plus-minus stands
        in.
    tire_circumference_m : float, optional
        Of the driven tires as given. [m]

    Returns
    -------
    ComparedRun
        Without rows where the motion is unknown.
    """
    end_s = _end_s(review)
    columns = {
        name: table.get_column(name).cast(pl.Float64).to_numpy() for name in ("time_s", "distance_m", "speed_mps")
    }
    time_s = columns["time_s"]
    use = (time_s >= -BEFORE_S) & (time_s <= end_s) & np.isfinite(columns["distance_m"] + columns["speed_mps"])
    rows = np.flatnonzero(use)
    if rows.size > 1:
        rows = rows[:: max(1, round(STEP_S / float(np.median(np.diff(time_s[rows])))))]
    kept = {name: table.get_column(name).cast(pl.Float64).to_numpy()[rows] for name in KEPT if name in table.columns}
    time_s = time_s[rows]
    return ComparedRun(
        label=label,
        review=review,
        time_s=time_s,
        distance_m=columns["distance_m"][rows],
        speed_mps=columns["speed_mps"][rows],
        errors=_errors_on(time_s, errors) if errors is not None else errors_from_splits(time_s, known(review.distance)),
        slip_s={ft: time for ft, time in slip.times if time is not None} if slip is not None else {},
        channels=kept,
        tire_circumference_m=tire_circumference_m,
        use=_use(table, end_s - 2 * BEFORE_S),
    )


def _use(table: pl.DataFrame, end_s: float) -> EngineUse | None:
    if "engine_speed" not in table.columns:
        return None
    time_s, speed_rpm = (table.get_column(name).cast(pl.Float64).to_numpy() for name in ("time_s", "engine_speed"))
    return count_use(time_s, speed_rpm, end_s=end_s)


def _end_s(review: Review) -> float:
    window = review.window
    if window.log_finish_s is None:
        return np.inf
    return window.log_finish_s - window.log_clock_start_s + 2 * BEFORE_S


def _errors_on(time_s: FloatArray, errors: tuple[FloatArray, SpeedErrors]) -> SpeedErrors:
    grid, ways = errors
    own = np.array([np.interp(time_s, grid, way) for way in ways.own]).reshape(len(ways.own), time_s.size)
    return SpeedErrors(own, {cause: np.interp(time_s, grid, way) for cause, way in ways.shared.items()})


def errors_from_splits(time_s: FloatArray, distance: Distance | None) -> SpeedErrors:
    """Ways in which speed may be wrong, as far as the splits' own plus-minus tells.

    Parameters
    ----------
    time_s : array, shape (n,)
        ET. [s]
    distance : Distance or None
        Its splits hold speed with a plus-minus.

    Returns
    -------
    SpeedErrors
        One way about each split, falling to zero at its neighbours: as if the splits' errors knew nothing of each
        other. None of them is taken to be shared.

    Examples
    --------
    >>> errors_from_splits(np.array([0.0, 1.0]), None).own.shape
    (0, 2)
    """
    splits = distance.splits if distance is not None else ()
    at_s = np.array([split.time_s.value for split in splits])
    ways = [
        np.interp(time_s, at_s, split.speed_mps.plus_minus * (np.arange(at_s.size) == place))
        for place, split in enumerate(splits)
    ]
    return SpeedErrors(np.array(ways, dtype=np.float64).reshape(len(ways), time_s.size), {})
