"""Two runs side by side: where on the track elapsed time was gained and lost.

Public: `Track`, `Stretch`, `Comparison`, `compare_tracks`, `elapsed_time_difference`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analysis.quantities import FOOT_M, Estimate, FloatArray

STEP_M = 1.0
"""Step of the difference along the track: at 90 m/s a metre is 11 ms of run, finer than any split. [m]"""
BEFORE_S = 0.1
"""So much before clock start is used, so that the start line itself lies between two samples. [s]"""


@dataclass(frozen=True, slots=True)
class Track:
    """What is compared of one run."""

    time_s: FloatArray
    """Elapsed time, rising, shape (n,). [s]"""
    distance_m: FloatArray
    """Distance from clock start, NaN where unknown, shape (n,). [m]"""
    splits: Mapping[int, Estimate]
    """Elapsed time at the marks that were reached, by feet. [s]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What one stretch of track did to the difference."""

    from_ft: int
    """Where it begins; 0 is the start line. [ft]"""
    to_ft: int
    """Where it ends. [ft]"""
    lost_s: Estimate
    """How much longer the other run took over it than the first; negative: gained. [s]"""


@dataclass(frozen=True, slots=True)
class Comparison:
    """The other run against the first one."""

    distance_m: FloatArray
    """Even steps from the start line to where the shorter of the two ends, shape (m,). [m]"""
    difference_s: FloatArray
    """Elapsed time of the other less that of the first there, NaN where either is unknown, shape (m,). [s]"""
    stretches: tuple[Stretch, ...]
    """From mark to mark as both reached them; their losses add up to the difference at the last."""
    total_s: Estimate | None
    """The difference at the last mark that both reached; None if there is none. [s]"""


def compare_tracks(first: Track, other: Track) -> Comparison:
    """Where one run gained or lost elapsed time against another.

    Parameters
    ----------
    first : Track
        The run that the other is held against.
    other : Track
        The run of interest.

    Returns
    -------
    Comparison
        Empty arrays and no stretches where the two share no track.

    Notes
    -----
    The difference at a mark is that of the two runs' splits, its plus-minus the root of the sum of their squares. For a
    stretch both marks' plus-minus enter: an upper bound, since an error of the start moves both marks alike.
    """
    marks = sorted(set(first.splits) & set(other.splits))
    at = {0: Estimate(0.0, 0.0)} | {ft: _difference(first.splits[ft], other.splits[ft]) for ft in marks}
    stretches = tuple(
        Stretch(a, b, Estimate(at[b].value - at[a].value, math.hypot(at[a].plus_minus, at[b].plus_minus)))
        for a, b in zip([0, *marks], marks, strict=False)
    )
    reach_m = min(_reach_m(first), _reach_m(other))
    grid = np.arange(0.0, reach_m, STEP_M) if reach_m > 0 else np.empty(0)
    difference_s = elapsed_time_difference(first, other, at_m=grid)
    return Comparison(grid, difference_s, stretches, at[marks[-1]] if marks else None)


def elapsed_time_difference(first: Track, other: Track, *, at_m: FloatArray) -> FloatArray:
    """Elapsed time of one run less that of another at the same places.

    Parameters
    ----------
    first, other : Track
        The runs.
    at_m : array, shape (m,)
        Places, from the start line. [m]

    Returns
    -------
    array, shape (m,)
        Positive where the other was later; NaN where either run did not get to, or is unknown. [s]

    Examples
    --------
    >>> time_s = np.arange(0.0, 11.0)
    >>> quick = Track(time_s, 50.0 * time_s, {})
    >>> slow = Track(time_s, 40.0 * time_s, {})
    >>> elapsed_time_difference(quick, slow, at_m=np.array([0.0, 200.0, 450.0])).tolist()
    [0.0, 1.0, nan]
    """
    return _time_at(other, at_m) - _time_at(first, at_m)


def _difference(first: Estimate, other: Estimate) -> Estimate:
    return Estimate(other.value - first.value, math.hypot(first.plus_minus, other.plus_minus))


def _reach_m(track: Track) -> float:
    marks_m = max(track.splits, default=0) * FOOT_M
    known = track.distance_m[np.isfinite(track.distance_m)]
    driven_m = float(known.max()) if known.size else 0.0
    return min(driven_m, marks_m) if marks_m else driven_m


def _time_at(track: Track, at_m: FloatArray) -> FloatArray:
    known = np.isfinite(track.distance_m) & (track.time_s >= -BEFORE_S)
    time_s, distance_m = track.time_s[known], track.distance_m[known]
    if time_s.size == 0:
        return np.full(at_m.shape, np.nan)
    forward = np.concatenate(([True], np.diff(np.maximum.accumulate(distance_m)) > 0))
    return np.interp(at_m, distance_m[forward], time_s[forward], left=np.nan, right=np.nan)
