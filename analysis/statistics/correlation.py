"""Likeness of two sampled records at each lag, and where between samples it is greatest.

Public: `Peak`, `find_peak_between_samples`, `Correlation`, `correlate_at_lags`, `samples_that_hang_together`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.fits import MAD_TO_SIGMA, middle

LEAST_ERRORS = 16
"""Fewer tell nothing of how they hang together. [-]"""
MOST_ALIKE = 0.9
"""What neighbours may have in common at the most: beyond, it is no noise but a model that is wrong. [-]"""


@dataclass(frozen=True, slots=True)
class Peak:
    """A maximum between samples."""

    at: float
    """Position in samples from the centre one, -0.5..0.5 for a true local maximum. [-]"""
    height: float
    """Value there, in the samples' unit."""


@dataclass(frozen=True, slots=True)
class Correlation:
    """Likeness of two records at each lag."""

    lag: FloatArray
    """Samples by which the second record was moved later. Shape (m,)."""
    score: FloatArray
    """Normalised correlation, -1..1; NaN where too few samples overlap. Shape (m,)."""
    overlap: FloatArray
    """Number of samples that both hold at that lag. Shape (m,)."""


def find_peak_between_samples(left: float, centre: float, right: float) -> Peak:
    """The top of the parabola through three equally spaced samples.

    Parameters
    ----------
    left, centre, right : float
        Values one sample apart, the centre one the highest.

    Returns
    -------
    Peak
        Position in samples from the centre, and height; the centre itself where the three lie on a line.

    Notes
    -----
    p = (l - r) / (2 (l - 2 c + r)), height = c - (l - r) p / 4. Exact on a parabola.

    References
    ----------
    J. O. Smith, Spectral Audio Signal Processing (2011), "Quadratic Interpolation of Spectral Peaks".

    Examples
    --------
    >>> peak = find_peak_between_samples(3.62, 6.82, 6.02)
    >>> round(peak.at, 9), round(peak.height, 9)
    (0.3, 7.0)
    """
    bend = left - 2 * centre + right
    if bend == 0:
        return Peak(0.0, centre)
    at = 0.5 * (left - right) / bend
    return Peak(at, centre - 0.25 * (left - right) * at)


def correlate_at_lags(first: FloatArray, second: FloatArray, *, min_overlap: int) -> Correlation:
    """Normalised correlation of two evenly sampled records at every lag, gaps left out.

    Parameters
    ----------
    first, second : array, shape (n,), (m,)
        Same sample step; NaN where nothing is known.
    min_overlap : int
        Fewest samples that both must hold for a score. [samples]

    Returns
    -------
    Correlation
        Lags from -(m - 1) to n - 1; at lag L, sample i of `second` meets sample i + L of `first`.

    Notes
    -----
    Sums over the samples known to both, by FFT; means are not removed (give rates of change, whose mean says
    nothing): score = sum(x y) / sqrt(sum(x^2) sum(y^2)), each sum over the overlap at that lag.

    Examples
    --------
    >>> x = np.array([0.0, 0.0, 1.0, -1.0, 0.0]); found = correlate_at_lags(x, x[1:], min_overlap=2)
    >>> float(found.lag[np.nanargmax(found.score)])
    1.0
    """
    size = 1 << (first.size + second.size - 1).bit_length()

    def sums(a: FloatArray, b: FloatArray) -> FloatArray:
        product = np.fft.irfft(np.fft.rfft(a, size) * np.conj(np.fft.rfft(b, size)), size)
        return np.concatenate((product[size - second.size + 1 :], product[: first.size]))

    known_a, known_b = np.isfinite(first), np.isfinite(second)
    a, b = np.where(known_a, first, 0.0), np.where(known_b, second, 0.0)
    overlap = np.round(sums(known_a.astype(np.float64), known_b.astype(np.float64)))
    energy = np.maximum(sums(a * a, known_b.astype(np.float64)), 0) * np.maximum(
        sums(known_a.astype(np.float64), b * b), 0
    )
    # Below this share of the records' whole energy a quotient is only rounding.
    whole = max(float(np.sum(a * a) * np.sum(b * b)), 1e-300)
    sound = (overlap >= min_overlap) & (energy > 1e-12 * whole)
    score = np.full(overlap.size, np.nan)
    score[sound] = sums(a, b)[sound] / np.sqrt(energy[sound])
    return Correlation(np.arange(-(second.size - 1), first.size, dtype=np.float64), score, overlap)


def samples_that_hang_together(errors: FloatArray, *, spent: int = 0) -> float:
    """How many of its neighbours one error stands for, where errors of evenly spaced samples fade into each other.

    Parameters
    ----------
    errors : array, shape (n,)
        About zero, in order, finite.
    spent : int
        How many smooth things a fit has found from them: it takes likeness with it.

    Returns
    -------
    float
        1 where neighbours know nothing of each other, and where too few are there to tell. [-]

    Notes
    -----
    The mean of n errors whose neighbours correlate by r, and further ones by its powers, varies as that of
    ``n (1 - r) / (1 + r)`` free ones (first-order autoregression). Errors far out, of another kind, are drawn in to
    three standard deviations; a correlation that chance would make (two of its own deviations, 1 / root n) counts as
    none, and none counts beyond `MOST_ALIKE`. Errors that swing to and fro are taken as free. After a fit of p smooth
    things r is found too small by about ``(p + (p + 2) r) / n``, which is put back: of 110 errors at r = 0.8, three
    smooth things taken off, 0.72 was left in the mean of 200 draws, and 0.78 comes back.

    Examples
    --------
    >>> samples_that_hang_together(np.array([1.0, -1.0, 1.0, -1.0] * 10))
    1.0
    >>> samples_that_hang_together(np.repeat([1.0, -1.0, 1.0, -1.0], 10)) > 5.0
    True
    """
    if errors.size < LEAST_ERRORS:
        return 1.0
    usual = MAD_TO_SIGMA * middle(np.abs(errors))
    drawn_in = np.clip(errors, -3.0 * usual, 3.0 * usual)
    whole = float(drawn_in @ drawn_in)
    seen = float(drawn_in[1:] @ drawn_in[:-1]) / whole if whole > 0.0 else 0.0
    if seen <= 2.0 / errors.size**0.5:
        return 1.0
    alike = min(seen + (spent + (spent + 2) * seen) / errors.size, MOST_ALIKE)
    return (1.0 + alike) / (1.0 - alike)
