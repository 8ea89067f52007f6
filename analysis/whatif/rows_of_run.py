"""A run's table on an even grid, and where of it one gear pulls with its clutch locked and its tires gripping.

Public: `Rows`, `rows_of`, `locked_s_of`, `let_go_s`, `pulls_of`, `calmed`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import polars as pl

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.forward_axis import AXES
from passband.analysis.statistics.filters import smooth
from passband.analysis.statistics.intervals import find_true_runs

STEP_S = 0.005
"""Rows of the table are taken no closer than this. [s]"""
SMOOTH_S = 0.15
"""Acceleration within a pull is smoothed over this span: torque changes slowly within a gear. [s]"""
SETTLE_S = 0.15
"""After a shift or the lock the drive still swings: so long nothing of the engine's torque is taken from it, and after
a shift the drive goes by time. Of 0.05, 0.1, 0.15 and 0.2 this one meets 25 runs best (the demo weekend, two seeds of
each kind of `tests.benchmarks.foretold`): their own splits within 12 ms where 0.05 left up to 33. [s]"""
LETS_GO_S, LETS_GO_SHARE = 0.06, 0.9
"""A shift begins so much earlier than it was found at the most: where acceleration still has this share of what it had
before. Where a clutch opens before the throttle closes, a shift may be found by the throttle. Later than found it never
begins: that made simulated foot shifts 60 to 200 ms wrong. Chosen. [s], [-]"""
UNFELT_LETS_GO_S, UNFELT_LETS_GO_SHARE = 0.12, 0.97
"""The same where no accelerometer fills in between the samples of speed, which then falls a tenth of a second before
the drive does. Chosen. [s], [-]"""
BEFORE_SHIFT_S = 0.04
"""So long before a shift as found a drive may have let go; where pulls are by what turned with the road, the shift
begins there. Chosen. [s]"""
SMEARED_S, SMEARED_SHARE = 0.06, 0.25
"""Such a speed holds before the drive lets go, and before the line, where a driver may lift, what comes: so long
nothing of the engine's torque is taken from it, of a short pull no more than this share. Without this and those above
the curves of nine simulated cars ended 3 to 7 % low, and went on falling as steeply: 200 rpm later shifts were foretold
5 to 20 ms a shift too slow. [s], [-]"""
LEAST_PULL_S = 0.15
"""A gear that pulled on for less once the drive had settled shows no torque of its own. [s]"""
USED_SPEED_MPS = 3.0
"""Slower than this a locked clutch is a guess. [m/s]"""


@dataclass(frozen=True, slots=True)
class Rows:
    """The run's table from where the car moved to its end, on an even grid."""

    time_s: FloatArray
    """Even grid, ET time, shape (n,). [s]"""
    speed_mps: FloatArray
    """[m/s]"""
    acceleration_mps2: FloatArray
    """[m/s2]"""
    gear: IntArray
    """0 within shifts. [-]"""
    engine_rpm: FloatArray
    """[rpm]"""
    manifold_pa: FloatArray
    """Absolute. [Pa]"""
    felt: bool
    """Whether an accelerometer fills in between the samples of speed."""
    sharp: bool = False
    """Whether pulls are by what turned with the road, up to `BEFORE_SHIFT_S` before each shift."""

    @property
    def step_s(self) -> float:
        """Of the grid. [s]."""
        return float(np.median(np.diff(self.time_s)))


def rows_of(review: Review, table: pl.DataFrame) -> Rows:
    """The table from where the car moved to the finish, on an even grid.

    Parameters
    ----------
    review : Review
        Of the run.
    table : polars.DataFrame
        Its channels.

    Returns
    -------
    Rows
        Empty where no speed is known.
    """
    names = ("time_s", "speed_mps", "acceleration_mps2", "gear", "engine_speed")
    columns = {name: _column(table, name) for name in names}
    ambient_pa = review.air.pressure_pa if review.air is not None else math.nan
    absolute, gauge = _column(table, "manifold_pressure"), _column(table, "boost")
    columns["manifold_pressure"] = np.where(np.isfinite(absolute), absolute, gauge + ambient_pa)
    window = review.window
    finish_s = (window.log_finish_s or math.nan) - window.log_clock_start_s
    launch_s = min(window.log_launch_s - window.log_clock_start_s, 0.0)
    time = columns["time_s"]
    use = (time >= launch_s) & (time <= finish_s + STEP_S) & np.isfinite(columns["speed_mps"])
    grid = np.arange(max(launch_s, float(time[use][0])), finish_s, STEP_S) if use.any() else np.empty(0)
    on_grid = {name: _on_grid(grid, time, values) for name, values in columns.items() if name != "gear"}
    gear = np.zeros(grid.size, dtype=np.int64)
    if grid.size:
        near = np.clip(np.searchsorted(time, grid), 0, time.size - 1)
        gear = np.nan_to_num(columns["gear"][near]).astype(np.int64)
    return Rows(
        grid, on_grid["speed_mps"], on_grid["acceleration_mps2"], gear, on_grid["engine_speed"],
        on_grid["manifold_pressure"], _is_felt(review, table),
    )  # fmt: skip


def _is_felt(review: Review, table: pl.DataFrame) -> bool:
    """Whether an accelerometer fills in between the samples of a run's speed: one is logged, and was not left out."""
    left_out = any(finding.code == "accelerometer-left-out" for finding in review.findings)
    return not left_out and any(np.isfinite(_column(table, name)).any() for name in AXES)


def _column(table: pl.DataFrame, name: str) -> FloatArray:
    if name not in table.columns:
        return np.full(table.height, np.nan)
    values: FloatArray = table.get_column(name).cast(pl.Float64).fill_null(math.nan).to_numpy()
    return values


def _on_grid(grid: FloatArray, time: FloatArray, values: FloatArray) -> FloatArray:
    fine = np.isfinite(values)
    return np.interp(grid, time[fine], values[fine]) if fine.sum() > 1 else np.full(grid.size, np.nan)


def locked_s_of(review: Review, rows: Rows) -> float:
    """When the clutch first held: as the launch has it, else where engine and road keep one ratio for good.

    Parameters
    ----------
    review : Review
        Of the run.
    rows : Rows
        Of the run.

    Returns
    -------
    float
        ET time. [s]
    """
    launch = known(review.launch)
    if launch is not None and not isinstance(launch.clutch_locked_s, Unknown):
        return launch.clutch_locked_s
    first_shift_s = min((shift.time_s for shift in review.shifts), default=float(rows.time_s[-1]))
    before = (rows.time_s < first_shift_s) & (rows.speed_mps > USED_SPEED_MPS)
    if not before.any():
        return 0.0
    ratio = rows.engine_rpm[before] / rows.speed_mps[before]
    steady = np.abs(ratio / np.median(ratio[-20:]) - 1.0) < 0.02
    last_off = np.flatnonzero(~steady)
    return float(rows.time_s[before][min(last_off[-1] + 1, ratio.size - 1) if last_off.size else 0])


def let_go_s(rows: Rows, found_s: float) -> float:
    """When the drive let go: as found, or before it where acceleration had fallen by then.

    Parameters
    ----------
    rows : Rows
        Of the run.
    found_s : float
        When the shift began, as the review has it. [s]

    Returns
    -------
    float
        ET time, never later than that. [s]
    """
    if rows.sharp:
        return found_s - BEFORE_SHIFT_S
    at = int(np.searchsorted(rows.time_s, found_s))
    earlier_s, share = (LETS_GO_S, LETS_GO_SHARE) if rows.felt else (UNFELT_LETS_GO_S, UNFELT_LETS_GO_SHARE)
    near, far = (round(one / rows.step_s) for one in (earlier_s, earlier_s + SMOOTH_S))
    if at < far or at >= rows.time_s.size:
        return found_s
    pulled = share * float(np.median(rows.acceleration_mps2[at - far : at - near]))
    still = np.flatnonzero(rows.acceleration_mps2[at - near : at + 1] >= pulled)
    return found_s if not still.size else min(found_s, float(rows.time_s[at - near + still[-1]]))


def pulls_of(review: Review, rows: Rows, locked_s: float, settle_s: float) -> BoolArray:
    """Where one gear pulls with its clutch locked, or its converter settled, and its tires gripping.

    Parameters
    ----------
    review : Review
        Of the run.
    rows : Rows
        Of the run.
    locked_s : float
        When the clutch first held. [s]
    settle_s : float
        So long after a shift the drive still swings. [s]

    Returns
    -------
    array of bool, shape (n,)
        Of the rows.
    """
    pulls = (rows.time_s >= locked_s + SETTLE_S) & (rows.gear > 0) & np.isfinite(rows.engine_rpm)
    for shift in review.shifts:
        pulls &= ~((rows.time_s >= let_go_s(rows, shift.time_s) - 0.01) & (rows.time_s <= shift.end_s + settle_s))
    distance = known(review.distance)
    for spin in distance.wheelspin if distance is not None else ():
        pulls &= ~((rows.time_s >= spin.start_s) & (rows.time_s <= spin.end_s + SETTLE_S))
    for piece in find_true_runs(pulls):
        if (piece.stop - piece.start) * rows.step_s < LEAST_PULL_S:
            pulls[piece.start : piece.stop] = False
        elif not (rows.felt or rows.sharp):
            size = piece.stop - piece.start
            pulls[piece.stop - min(round(SMEARED_S / rows.step_s), int(SMEARED_SHARE * size)) : piece.stop] = False
    return pulls


def calmed(rows: Rows, pulls: BoolArray) -> FloatArray:
    """Acceleration, smoothed within each pull.

    Parameters
    ----------
    rows : Rows
        Of the run.
    pulls : array of bool, shape (n,)
        Of `pulls_of`.

    Returns
    -------
    array, shape (n,)
        As it was outside them. [m/s2]
    """
    out = rows.acceleration_mps2.copy()
    for piece in find_true_runs(pulls):
        part = slice(piece.start, piece.stop)
        for one in np.split(np.arange(piece.start, piece.stop), np.flatnonzero(np.diff(rows.gear[part])) + 1):
            out[one] = smooth(rows.acceleration_mps2[one], step_s=rows.step_s, span_s=SMOOTH_S, order=1)
    return out
