"""Samples that lie far from the middle of their neighbours, taken out of a signal that cannot jump.

Public: `despike`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.statistics.fits import middle

PIECE_ROWS = 50_000
"""Rows whose neighbourhoods are held in memory at once."""


def despike(time_s: FloatArray, values: FloatArray, *, span_s: float = 0.3, share: float = 0.3) -> FloatArray:
    """A signal with the samples taken out that lie far from the middle of their neighbours.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising sample times [s]; values above zero.
    span_s : float
        Neighbourhood. [s]
    share : float
        How far from its median a sample may lie, as a share of the median. [-]

    Returns
    -------
    array, shape (n,)
        NaN where a sample was taken out.

    Examples
    --------
    >>> despike(np.arange(5) * 0.1, np.array([10.0, 11, 0, 12, 12]), span_s=0.4).tolist()
    [10.0, 11.0, nan, 12.0, 12.0]
    """
    out = np.array(values, dtype=np.float64)
    known = np.flatnonzero(np.isfinite(out))
    if known.size < 3:
        return out
    step = middle(np.diff(time_s[known]))
    half = max(round(min(0.5 * span_s / step, known.size)), 1)
    own = out[known]
    padded = np.pad(own, half, mode="edge")
    # Some thirty neighbours settle a middle; a quick log is taken in pieces, so that memory does not grow with it.
    near = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)[:, :: max(half // 15, 1)]
    doubted = np.flatnonzero(_may_lie_far(own, padded, width=2 * half + 1, share=share))
    pieces = (doubted[at : at + PIECE_ROWS] for at in range(0, doubted.size, PIECE_ROWS))
    for rows in pieces:
        level = np.median(near[rows], axis=1)
        out[known[rows[np.abs(own[rows] - level) > share * np.abs(level)]]] = np.nan
    return out


def _may_lie_far(values: FloatArray, padded: FloatArray, *, width: int, share: float) -> BoolArray:
    """False where even the least and the greatest of the neighbourhood lie near enough: so does its middle then."""
    least, greatest, done = padded, padded, 1
    while done < width:  # the neighbourhoods' extremes, each from two shorter ones that overlap
        step = min(done, width - done)
        least = np.minimum(least[:-step], least[step:])
        greatest = np.maximum(greatest[:-step], greatest[step:])
        done += step
    apart = np.maximum(greatest - values, values - least)
    return ~((least > 0) & (apart <= share * least))
