"""Fewer points for the eye: a trace thinned so that no peak and no hole is lost. Never fed back into a figure.

Public: `Thinned`, `thin`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray


@dataclass(frozen=True, slots=True)
class Thinned:
    """A trace for drawing."""

    x: FloatArray
    """Rising, shape (m,)."""
    y: FloatArray
    """One per x; NaN marks a hole, shape (m,)."""
    thinned: bool
    """True where points were left out; a chart must say so."""


def thin(x: FloatArray, y: FloatArray, *, points: int) -> Thinned:
    """Keep the least and the greatest value of each bucket, and where the trace has holes.

    Parameters
    ----------
    x : array, shape (n,)
        Time or distance, rising; samples with NaN in x are left out.
    y : array, shape (n,)
        Values; NaN is a hole.
    points : int
        The most values to keep, at least 4.

    Returns
    -------
    Thinned
        Samples as they stand, in order, not averaged; one NaN wherever a hole lies between two of them. Empty where
        nothing is known.

    Raises
    ------
    ValueError
        If `points` is below 4 or the shapes differ.

    Notes
    -----
    Buckets hold equal numbers of samples, so each shows its own least and greatest at their true places.

    Examples
    --------
    >>> thin(np.arange(8.0), np.array([0, 0, 9, 0, 0, 0, -5, 0.0]), points=4).y.tolist()
    [0.0, 9.0, 0.0, -5.0]
    """
    if points < 4:
        raise ValueError(f"points must be at least 4, got {points}")
    if x.shape != y.shape:
        raise ValueError(f"x and y must have one shape, got {x.shape} and {y.shape}")
    known = np.isfinite(x)
    x, y = np.ascontiguousarray(x[known]), np.ascontiguousarray(y[known])
    there = np.isfinite(y)
    holes = np.flatnonzero(~there & np.concatenate(([True], there[:-1])))  # the first sample of each hole
    sound = np.flatnonzero(there)
    if sound.size <= points:
        keep = np.sort(np.concatenate((sound, holes)))
        return Thinned(x[keep], y[keep], False)
    from tsdownsample import MinMaxDownsampler

    picked = sound[MinMaxDownsampler().downsample(y[sound], n_out=points - points % 2).astype(np.int64)]
    _, one_between = np.unique(np.searchsorted(picked, holes), return_index=True)
    keep = np.unique(np.concatenate((picked, holes[one_between])))
    return Thinned(x[keep], y[keep], True)
