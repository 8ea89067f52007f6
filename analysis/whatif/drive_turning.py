"""A run's motion sharpened by what turns with the road, where its speed alone is smeared across shifts.

Without an accelerometer a run's speed is smooth over two tenths of a second or more: what a shift does to it is felt
in the pulls beside it. Engine speed, or a shaft's, stops climbing where the drive lets go, and within a pull it turns
with the road.

Public: `shaft_of`, `tells_spin`, `sharpened`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import polars as pl

from passband.analysis.given.car import Car
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.statistics.filters import slope, smooth
from passband.analysis.statistics.intervals import find_true_runs
from passband.analysis.whatif.rows_of_run import BEFORE_SHIFT_S, LEAST_PULL_S, SETTLE_S, Rows

SHAFTS = (
    "driveshaft_speed", "wheel_speed_driven", "wheel_speed_rl", "wheel_speed_rr", "wheel_speed_fl", "wheel_speed_fr",
)  # fmt: skip
"""What turns with the road also behind a converter, the first that a run holds; its scale is the run's own speed's."""
SLOPE_SHARE, SLOPE_S = 0.15, (0.2, 0.5)
"""Span of the slope, as a share of the pull and within these: the engine climbs alike far in each. Chosen. [-], [s]"""
AT_LINE_S = 0.15
"""So long before the end of the run its speed may be smeared with what the driver did past the line: there the pull
goes on as it was. Chosen. [s]"""
LEAST_ROWS_HZ = 15.0
"""A shaft renewed more slowly tells no more than the speed does. Chosen. [Hz]"""


def shaft_of(rows: Rows, table: pl.DataFrame, *, behind_converter: bool) -> FloatArray | None:
    """What turned with the road within a pull, on the rows' grid.

    Parameters
    ----------
    rows : Rows
        Of the run.
    table : polars.DataFrame
        Its channels.
    behind_converter : bool
        Whether the engine slips against the road.

    Returns
    -------
    array, shape (n,), or None
        At any scale; None where nothing was logged that does.
    """
    if not behind_converter:
        return rows.engine_rpm
    time = table.get_column("time_s").cast(pl.Float64).to_numpy()
    for name in SHAFTS:
        if name not in table.columns:
            continue
        values = table.get_column(name).cast(pl.Float64).fill_null(math.nan).to_numpy()
        fine = np.isfinite(values) & np.isfinite(time) & (time >= rows.time_s[0]) & (time <= rows.time_s[-1])
        changes = np.flatnonzero(np.diff(values[fine]) != 0.0)
        if changes.size >= LEAST_ROWS_HZ * (rows.time_s[-1] - rows.time_s[0]):
            return np.asarray(np.interp(rows.time_s, time[fine], values[fine]), dtype=np.float64)
    return None


def tells_spin(table: pl.DataFrame, car: Car) -> bool:
    """Whether a run holds what the driven tires turned at.

    Parameters
    ----------
    table : polars.DataFrame
        Its channels.
    car : Car
        Which axle it drives.

    Returns
    -------
    bool
        With it a tire that spins is told from a clutch that slips.
    """
    corners = {"front": ("fl", "fr"), "rear": ("rl", "rr")}.get(car.driven_axle or "", ())
    names = ("driveshaft_speed", "wheel_speed_driven", *(f"wheel_speed_{corner}" for corner in corners))
    return any(name in table.columns for name in names)


def sharpened(
    review: Review, rows: Rows, shaft: FloatArray, *, growth_at_70: float, locked_s: float, settle_s: float
) -> Rows:
    """Speed and acceleration within pulls by what turned with the road; between pulls what closes them.

    Parameters
    ----------
    review : Review
        Of the run.
    rows : Rows
        Of the run.
    shaft : array, shape (n,)
        Of `shaft_of`.
    growth_at_70 : float
        Growth of the tires' radius at 70 m/s. [-]
    locked_s : float
        When the clutch first held, ET time. [s]
    settle_s : float
        So long after a shift the drive still swings. [s]

    Returns
    -------
    Rows
        The same where no pull is long enough.

    Notes
    -----
    Speed is the shaft's times a scale of its own in each pull, the middle of the run's speed over it, and the tires'
    growth; slip that changes within a pull is not seen. From pull to pull, and from rest to the first, the run's own
    speed is moved by a straight line that meets both, so that launch and shifts take, in sum, what the shaft says.
    """
    speed, rate = rows.speed_mps.copy(), rows.acceleration_mps2.copy()
    pieces = [
        piece
        for piece in find_true_runs(_turning(review, rows, shaft, locked_s, settle_s))
        if (piece.stop - piece.start) * rows.step_s >= max(LEAST_PULL_S, SLOPE_S[0] + 2 * rows.step_s)
    ]
    for piece in pieces:
        part = slice(piece.start, piece.stop)
        grown = np.exp(growth_at_70 * (rows.speed_mps[part] / 70.0) ** 2) * shaft[part]
        turned = grown * float(np.median(rows.speed_mps[part] / grown))
        span_s = float(np.clip(SLOPE_SHARE * turned.size * rows.step_s, *SLOPE_S))
        speed[part] = smooth(turned, step_s=rows.step_s, span_s=span_s, order=1)
        rate[part] = slope(turned, step_s=rows.step_s, span_s=span_s, order=1)
    if pieces and rows.time_s.size - pieces[-1].stop <= 2 + round(AT_LINE_S / rows.step_s):
        last, rest = pieces[-1].stop - 1, np.arange(pieces[-1].stop, rows.time_s.size)
        speed[rest], rate[rest] = speed[last] + rate[last] * rows.step_s * (rest - last), rate[last]
    if pieces:
        _close(rows, speed, rate, from_row=0, to_row=int(np.searchsorted(rows.time_s, locked_s)), first=pieces[0].start)
    for one, other in pairwise(pieces):
        _close(rows, speed, rate, from_row=one.stop - 1, to_row=other.start, first=other.start)
    return replace(rows, speed_mps=speed, acceleration_mps2=rate, sharp=bool(pieces))


def _close(rows: Rows, speed: FloatArray, rate: FloatArray, *, from_row: int, to_row: int, first: int) -> None:
    """Move the run's own speed, up to a pull's first row, by a straight line that ends at `to_row`; its slope alike."""
    moved = speed[[from_row, first]] - rows.speed_mps[[from_row, first]]
    between = np.arange(from_row + (from_row > 0), first)
    speed[between] = rows.speed_mps[between] + np.interp(between, (from_row, to_row), moved)
    rate[between[between < to_row]] += (moved[1] - moved[0]) / (max(to_row - from_row, 1) * rows.step_s)


def _turning(review: Review, rows: Rows, shaft: FloatArray, locked_s: float, settle_s: float) -> BoolArray:
    """Where one gear pulls by the shifts as they were found."""
    turning = (
        (rows.time_s >= locked_s + SETTLE_S)
        & (rows.time_s <= rows.time_s[-1] - AT_LINE_S)
        & (rows.gear > 0)
        & np.isfinite(shaft)
        & (shaft > 0.0)
    )
    for shift in review.shifts:
        turning &= ~((rows.time_s >= shift.time_s - BEFORE_SHIFT_S - 0.01) & (rows.time_s <= shift.end_s + settle_s))
    distance = known(review.distance)
    for spin in distance.wheelspin if distance is not None else ():
        turning &= ~((rows.time_s >= spin.start_s) & (rows.time_s <= spin.end_s + SETTLE_S))
    return np.asarray(turning, dtype=np.bool_)
