"""A trend that a single odd value does not bend: the median of the slopes between all pairs of points.

Public: `Trend`, `fit_trend`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from passband.analysis.quantities import FloatArray


@dataclass(frozen=True, slots=True)
class Trend:
    """A slope with its interval."""

    slope: float
    """Median of the slopes between pairs, units of the values by one of the places."""
    lower: float
    """Lower end of the interval."""
    upper: float
    """Upper end of the interval."""


def fit_trend(place: FloatArray, value: FloatArray, *, level: float = 0.95) -> Trend | None:
    """The median slope between pairs of points, with an interval by ranks.

    Parameters
    ----------
    place : array, shape (n,)
        All different.
    value : array, shape (n,)
        Finite.
    level : float
        How often the interval should hold the true slope, at least. [-]

    Returns
    -------
    Trend or None
        None where there are too few points for the level.

    Notes
    -----
    Slopes between all n (n - 1) / 2 pairs are put in order; the interval leaves out as many at either end as a
    sequence without trend has pairs out of order with half the rest of the level (Kendall's count, its distribution
    counted out exactly). It asks nothing of how values scatter but that all scatter alike.

    Examples
    --------
    >>> fit_trend(np.arange(6.0), np.array([0.0, 1.0, 2.0, 3.0, 4.0, 50.0])).slope
    1.0
    """
    n = int(place.size)
    left_out = _left_out(n, level)
    if left_out is None:
        return None
    first, second = np.triu_indices(n, k=1)
    slopes = np.sort((value[second] - value[first]) / (place[second] - place[first]))
    return Trend(float(np.median(slopes)), float(slopes[left_out]), float(slopes[-1 - left_out]))


@cache
def _left_out(n: int, level: float) -> int | None:
    """Slopes to leave out at either end; None where even leaving out none holds less than the level."""
    below = np.cumsum(_orders(n)) / np.sum(_orders(n))
    few = int(np.searchsorted(below, (1.0 - level) / 2.0, side="right"))
    return few - 1 if few > 0 else None


@cache
def _orders(n: int) -> FloatArray:
    """How many of all orders of n things have 0, 1, 2, ... pairs the wrong way round, as shares of n!."""
    counts = np.ones(1)
    for size in range(2, n + 1):
        counts = np.convolve(counts, np.ones(size)) / size
    return counts
