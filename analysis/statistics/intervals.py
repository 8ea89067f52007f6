"""Stretches of a record: half-open intervals, and thresholds with a step between on and off.

Public: `Interval`, `find_true_runs`, `ends_of_true_runs`, `bridge`, `find_above`, `time_where`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passband.analysis.quantities import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class Interval:
    """Samples ``[start, stop)`` of a record."""

    start: int
    """First sample inside."""
    stop: int
    """First sample after; ``stop - start`` is the number of samples."""


def find_true_runs(mask: npt.NDArray[np.bool_]) -> list[Interval]:
    """Find each unbroken stretch of true samples.

    Parameters
    ----------
    mask : array of bool, shape (n,)
        Any; the edges of the record close an open stretch.

    Returns
    -------
    list of Interval
        In order; empty where nothing is true.

    Examples
    --------
    >>> find_true_runs(np.array([True, False, True, True]))
    [Interval(start=0, stop=1), Interval(start=2, stop=4)]
    """
    starts, stops = ends_of_true_runs(mask)
    return [Interval(a, b) for a, b in zip(starts.tolist(), stops.tolist(), strict=True)]


def ends_of_true_runs(mask: npt.NDArray[np.bool_]) -> tuple[IntArray, IntArray]:
    """The same as arrays, where there may be very many.

    Parameters
    ----------
    mask : array of bool, shape (n,)
        As of `find_true_runs`.

    Returns
    -------
    (starts, stops) : arrays of int, shape (runs,)
        First sample of each stretch, and the first after it.

    Examples
    --------
    >>> [ends.tolist() for ends in ends_of_true_runs(np.array([True, False, True, True]))]
    [[0, 2], [1, 4]]
    """
    held = np.zeros(len(mask) + 2, dtype=bool)
    held[1:-1] = mask
    edges = np.flatnonzero(held[1:] != held[:-1])
    return edges[::2], edges[1::2]


def bridge(pieces: list[Interval], gap: int) -> list[Interval]:
    """Join stretches parted by no more than a gap.

    Parameters
    ----------
    pieces : list of Interval
        In order, disjoint.
    gap : int
        Longest gap to join over. [samples]

    Returns
    -------
    list of Interval
        In order, further apart than `gap`.

    Examples
    --------
    >>> bridge([Interval(0, 2), Interval(3, 5), Interval(9, 10)], 1)
    [Interval(start=0, stop=5), Interval(start=9, stop=10)]
    """
    joined: list[Interval] = []
    for piece in pieces:
        if joined and piece.start - joined[-1].stop <= gap:
            joined[-1] = Interval(joined[-1].start, piece.stop)
        else:
            joined.append(piece)
    return joined


def find_above(score: FloatArray, *, on: float, off: float) -> list[Interval]:
    """Find stretches where a score passes `on`, each grown outward while it stays above `off`.

    Parameters
    ----------
    score : array, shape (n,)
        NaN counts as below.
    on, off : float
        Thresholds in the score's unit, ``on >= off``.

    Returns
    -------
    list of Interval
        In order, disjoint.

    Raises
    ------
    ValueError
        If `on` is below `off`.

    Examples
    --------
    >>> find_above(np.array([0.0, 1.5, 3.0, 1.5, 0.0, 1.5]), on=2.0, off=1.0)
    [Interval(start=1, stop=4)]
    """
    if on < off:
        raise ValueError(f"on must be at least off, got {on=}, {off=}")
    high = np.nan_to_num(score, nan=-np.inf)
    return [piece for piece in find_true_runs(high > off) if high[piece.start : piece.stop].max() > on]


def time_where(time_s: FloatArray, excess: FloatArray, *, start_s: float, stop_s: float) -> float:
    """Time within a window during which a signal is at or above zero, crossings found between samples.

    Parameters
    ----------
    time_s, excess : array, shape (n,)
        Rising sample times [s] and the signal less its threshold; linear between samples, held past
        the ends; NaN samples are passed over.
    start_s, stop_s : float
        The window. [s]

    Returns
    -------
    float
        Seconds; NaN where no sample is finite.

    Examples
    --------
    >>> time_where(np.array([0.0, 1.0, 2.0]), np.array([-1.0, 1.0, 1.0]), start_s=0.0, stop_s=2.0)
    1.5
    """
    known = np.isfinite(excess)
    if not known.any() or stop_s <= start_s:
        return float("nan") if not known.any() else 0.0
    time, value = time_s[known], excess[known]
    inside = (time > start_s) & (time < stop_s)
    grid = np.concatenate(([start_s], time[inside], [stop_s]))
    level = np.interp(grid, time, value)
    left, right, step = level[:-1], level[1:], np.diff(grid)
    both = (left >= 0) & (right >= 0)
    crossing = (left >= 0) != (right >= 0)
    span = np.abs(left) + np.abs(right)
    above = np.where(left >= 0, np.abs(left), np.abs(right)) / np.where(span > 0, span, 1.0)
    return float(np.sum(step * np.where(both, 1.0, np.where(crossing, above, 0.0))))
