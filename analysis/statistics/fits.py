"""Robust numbers: spread blind to outliers, and least squares in which far-off rows weigh less.

Public: `middle`, `quantiles`, `medians`, `spread`, `sample_noise`, `RobustFit`, `fit_robust_least_squares`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray

MAD_TO_SIGMA = 1.4826
"""Standard deviation of a normal distribution over its median absolute deviation: 1 / Phi^-1(3/4)."""
SORTED_WHOLE = 4096
"""Values up to which sorting all takes no longer than parting them at one place, and half as long as at two: 14 us of
4,000 (28 at two), but 286 of 60,000, which parted at one place take 90 and at two 457. Sorting and parting at one place
use the processor's vectors, parting at several does not (numpy 2.4)."""
HUBER_SIGMAS = 1.345
"""Residuals beyond this many sigmas weigh less: 95 % as efficient as least squares on clean normal noise (Huber)."""


@dataclass(frozen=True, slots=True)
class RobustFit:
    """Parameters fitted by least squares in which outliers weigh less."""

    parameters: FloatArray
    """Shape (k,)."""
    covariance: FloatArray
    """Of the parameters, from the residuals' own spread. Shape (k, k)."""
    weights: FloatArray
    """Final weight of each row, 0..1 relative to the prior weight. Shape (n,)."""

    @property
    def sigma(self) -> FloatArray:
        """Standard deviation of each parameter. Shape (k,)."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))


def middle(values: FloatArray) -> float:
    """The median of values that are all known: numpy's looks for NaN first, which costs short arrays more than it.

    Parameters
    ----------
    values : array, shape (n,)
        At least one, none of them NaN.

    Returns
    -------
    float
        In the values' unit.

    Examples
    --------
    >>> middle(np.array([3.0, 1.0, 2.0])), middle(np.array([4.0, 1.0, 2.0, 3.0]))
    (2.0, 2.5)
    """
    low, high = (values.size - 1) // 2, values.size // 2
    if values.size <= SORTED_WHOLE:
        ordered = np.sort(values)
        return 0.5 * float(ordered[low] + ordered[high])
    parted = np.partition(values, high)
    return 0.5 * float((parted[:high].max() if low < high else parted[high]) + parted[high])


def quantiles(values: FloatArray, shares: Sequence[float]) -> FloatArray:
    """Quantiles of values that are all known, to the bit as numpy's, which takes thrice as long for short arrays.

    Parameters
    ----------
    values : array, shape (n,)
        At least one, none of them NaN.
    shares : sequence of float, k of them
        0..1. [-]

    Returns
    -------
    array, shape (k,)
        In the values' unit; linear between neighbours.

    Examples
    --------
    >>> quantiles(np.array([3.0, 1.0, 2.0, 5.0]), (0.0, 0.5, 1.0)).tolist()
    [1.0, 2.5, 5.0]
    """
    last = values.size - 1
    places = [share * last for share in shares]
    lows = [int(place) for place in places]
    ordered = np.sort(values)
    found = []
    for place, low in zip(places, lows, strict=True):
        below, above, part = float(ordered[low]), float(ordered[min(low + 1, last)]), place - low
        found.append(below + (above - below) * part if part < 0.5 else above - (above - below) * (1 - part))
    return np.array(found)


def medians(rows: FloatArray) -> FloatArray:
    """The median of what is known in each row.

    Parameters
    ----------
    rows : array, shape (k, n)
        NaN is passed over; at least one of each row is finite.

    Returns
    -------
    array, shape (k,)
        In the values' unit.

    Examples
    --------
    >>> medians(np.array([[3.0, 1.0, 2.0], [4.0, np.nan, 2.0]])).tolist()
    [2.0, 3.0]
    """
    ordered, each, last = np.sort(rows, axis=1), np.arange(rows.shape[0]), np.isfinite(rows).sum(axis=1) - 1
    return np.asarray(0.5 * (ordered[each, last // 2] + ordered[each, (last + 1) // 2]))


def spread(values: FloatArray) -> float:
    """Standard deviation as the median absolute deviation tells it, blind to a minority of outliers.

    Parameters
    ----------
    values : array, shape (n,)
        NaN is passed over.

    Returns
    -------
    float
        In the values' unit; NaN where none is finite.

    Examples
    --------
    >>> round(spread(np.array([1.0, 2.0, 3.0, 4.0, 1000.0])), 4)
    1.4826
    """
    known = values[np.isfinite(values)]
    if known.size == 0:
        return float("nan")
    return MAD_TO_SIGMA * middle(np.abs(known - middle(known)))


def sample_noise(values: FloatArray, *, most: int | None = None) -> float:
    """Standard deviation of the noise from sample to sample, blind to slopes and to a minority of steps.

    Parameters
    ----------
    values : array, shape (n,)
        Evenly sampled, finite.
    most : int, optional
        About how many samples to look at, spread over the record; all unless given.

    Returns
    -------
    float
        In the values' unit; 0 with fewer than eight samples.

    Notes
    -----
    Spread of the second differences over sqrt(6), the root of 1 + 4 + 1.

    Examples
    --------
    >>> round(sample_noise(np.arange(1000.0) + np.random.default_rng(1).normal(0.0, 2.0, 1000)), 1)
    2.0
    """
    if values.size < 8:
        return 0.0
    every = 1 if most is None else max(values.size // most, 1)
    before, at, after = values[:-2:every], values[1:-1:every], values[2::every]
    return spread(before - 2.0 * at + after) / float(np.sqrt(6.0))


def fit_robust_least_squares(
    design: FloatArray,
    target: FloatArray,
    *,
    weights: FloatArray | None = None,
    least_sigma: float = 0.0,
    rounds: int = 12,
) -> RobustFit:
    """Parameters of a linear model by least squares in which far-off rows weigh less (Huber).

    Parameters
    ----------
    design : array, shape (n, k)
        One row per equation; rows with a NaN are passed over.
    target : array, shape (n,)
        Right-hand side.
    weights : array, shape (n,), optional
        One over each row's own standard deviation; all alike where not given.
    least_sigma : float
        The residuals' spread is never taken for less than this.
    rounds : int
        Reweightings.

    Returns
    -------
    RobustFit
        NaN parameters and covariance where fewer rows than parameters are known or they do not settle them.

    Notes
    -----
    Rows beyond 1.345 sigma weigh 1.345 sigma / |residual|; sigma is 1.4826 times the median |residual|.
    The covariance is sigma^2 (A' W A)^-1 with the final weights.

    Examples
    --------
    >>> x = np.arange(10.0); y = 2 * x + 1; y[4] = 500.0
    >>> fit_robust_least_squares(np.column_stack([x, np.ones(10)]), y).parameters.round(3).tolist()
    [2.0, 1.0]
    """
    width = design.shape[1]
    known = np.isfinite(design).all(axis=1) & np.isfinite(target)
    rows, right = design[known], target[known]
    final = np.zeros(target.size)
    nothing = RobustFit(np.full(width, np.nan), np.full((width, width), np.nan), final)
    if rows.shape[0] < width or np.linalg.matrix_rank(rows) < width:
        return nothing
    given = np.ones(right.size) if weights is None else weights[known]
    rows, right = rows * given[:, None], right * given
    weight = np.ones(right.size)
    found: FloatArray = np.full(width, np.nan)
    for _ in range(rounds):
        root = np.sqrt(weight)
        found = np.linalg.lstsq(rows * root[:, None], right * root, rcond=None)[0].astype(np.float64)
        residual = right - rows @ found
        sigma = max(MAD_TO_SIGMA * middle(np.abs(residual)), least_sigma, 1e-12)
        weight = np.minimum(1.0, HUBER_SIGMAS * sigma / np.maximum(np.abs(residual), 1e-300))
    final[known] = weight
    normal = rows.T @ (rows * weight[:, None])
    covariance: FloatArray = sigma**2 * np.linalg.pinv(normal).astype(np.float64)
    return RobustFit(found, covariance, final)
