"""Even grids, smoothing, slopes and delays of sampled signals: what every stage shares.

Grids: `even_grid`, `resample`, `own_updates`. Smoothing: `savitzky_golay_weights`, `smooth`, `slope`. Extremes:
`greatest_near`. Sensors: `delayed`. See `analysis.statistics.correlation` for likeness at a lag,
`analysis.statistics.fits` for robust fits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.statistics.fits import middle


def even_grid(start_s: float, stop_s: float, *, rate_hz: float) -> FloatArray:
    """Evenly spaced times from `start_s` up to at most `stop_s`.

    Parameters
    ----------
    start_s, stop_s : float
        First time, and the time not to pass. [s]
    rate_hz : float
        Samples per second, > 0. [Hz]

    Returns
    -------
    array, shape (n,)
        Times; empty where `stop_s` lies before `start_s`. [s]

    Raises
    ------
    ValueError
        If `rate_hz` is not > 0.

    Examples
    --------
    >>> even_grid(1.0, 1.25, rate_hz=10.0).round(6).tolist()
    [1.0, 1.1, 1.2]
    """
    if not rate_hz > 0:
        raise ValueError(f"rate_hz must be > 0, got {rate_hz}")
    count = math.floor((stop_s - start_s) * rate_hz + 1e-9) + 1
    return start_s + np.arange(max(count, 0)) / rate_hz


def resample(time_s: FloatArray, values: FloatArray, at_s: FloatArray, *, max_gap_s: float) -> FloatArray:
    """Values at other times: linear between samples, NaN outside the record and inside long gaps.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising sample times [s] and values; NaN values are passed over.
    at_s : array, shape (m,)
        Times wanted. [s]
    max_gap_s : float
        Samples further apart than this are not joined. [s]

    Returns
    -------
    array, shape (m,)
        In the unit of `values`; NaN where nothing is known.

    Examples
    --------
    >>> resample(np.array([0.0, 1.0, 5.0]), np.array([0.0, 2.0, 6.0]), np.array([0.5, 3.0]), max_gap_s=2.0).tolist()
    [1.0, nan]
    """
    known = np.isfinite(values)
    time, value = time_s[known], values[known]
    if time.size == 0:
        return np.full(np.shape(at_s), np.nan)
    found = np.interp(at_s, time, value, left=np.nan, right=np.nan)
    if np.diff(time).max(initial=0.0) > max_gap_s:
        after = np.clip(np.searchsorted(time, at_s, side="left"), 1, time.size - 1)
        on_sample = (time[after] == at_s) | (time[after - 1] == at_s)
        found[(time[after] - time[after - 1] > max_gap_s) & ~on_sample] = np.nan
    return found


def own_updates(time_s: FloatArray, values: FloatArray, *, rate_hz: float) -> BoolArray:
    """Mark the samples at which a held signal was renewed.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising sample times [s] and values.
    rate_hz : float
        Rate at which the signal really updates. [Hz]

    Returns
    -------
    array of bool, shape (n,)
        True at the first sample of each value, and again where a value has stood for longer than one and a half
        of its own periods (it was renewed by an equal one, once a period); all True where the log is no quicker
        than the signal.

    Examples
    --------
    >>> own_updates(np.arange(6) * 0.02, np.array([1.0, 1.0, 2.0, 2.0, 3.0, 3.0]), rate_hz=25.0).tolist()
    [True, False, True, False, True, False]
    """
    if time_s.size < 3 or not rate_hz > 0 or middle(np.diff(time_s)) > 0.7 / rate_hz:
        return np.ones(time_s.size, dtype=np.bool_)
    changed = np.concatenate(([True], values[1:] != values[:-1]))
    first = np.flatnonzero(changed)
    since_change = time_s - time_s[first[np.cumsum(changed) - 1]]
    periods = np.floor(np.maximum(since_change * rate_hz - 0.5, 0.0))
    renewed = np.concatenate(([False], (periods[1:] > periods[:-1]) & ~changed[1:]))
    return np.asarray(changed | renewed, dtype=np.bool_)


@lru_cache(maxsize=64)
def _weights(window: int, order: int, derivative: int) -> FloatArray:
    at = np.arange(window) - window // 2
    powers = at[:, None].astype(np.float64) ** np.arange(order + 1)
    weights: FloatArray = np.linalg.pinv(powers)[derivative] * math.factorial(derivative)
    weights.flags.writeable = False  # one array for all who ask
    return weights


def savitzky_golay_weights(window: int, *, order: int, derivative: int = 0) -> FloatArray:
    """Weights of a sliding polynomial fit, for the centre sample.

    Parameters
    ----------
    window : int
        Odd number of samples.
    order : int
        Degree of the polynomial, ``derivative <= order < window``.
    derivative : int
        0 for the value, 1 for the slope per sample, ...

    Returns
    -------
    array, shape (window,)
        To be multiplied with the samples in order of time and summed. [-]

    Raises
    ------
    ValueError
        If the window is even or too short, or the derivative higher than the polynomial.

    Notes
    -----
    Rows of the pseudo-inverse of the matrix of powers of the sample number, times the factorial of the derivative.

    Examples
    --------
    >>> (savitzky_golay_weights(5, order=2) * 35).round(9).tolist()
    [-3.0, 12.0, 17.0, 12.0, -3.0]
    """
    if window < 1 or window % 2 == 0 or not 0 <= derivative <= order < window:
        raise ValueError(f"need an odd window > order >= derivative, got {window=}, {order=}, {derivative=}")
    return np.array(_weights(window, order, derivative))


@dataclass(frozen=True, slots=True)
class _Ends:
    """How the two ends of a record are read off its first and its last full fit."""

    fit: FloatArray
    """Samples of a window to the polynomial's coefficients."""
    head: FloatArray
    """Coefficients to the first half window."""
    tail: FloatArray
    """Coefficients to the last half window."""


@lru_cache(maxsize=64)
def _ends(window: int, order: int, derivative: int) -> _Ends:
    half = window // 2
    at = np.arange(half) - half
    powers = np.arange(order + 1)
    fit = np.linalg.pinv((np.arange(window) - half)[:, None].astype(np.float64) ** powers)
    factor = np.array([math.prod(range(k - derivative + 1, k + 1)) if k >= derivative else 0 for k in powers])
    head = factor * at[:, None].astype(np.float64) ** np.maximum(powers - derivative, 0)
    tail = factor * (at[:, None] + half + 1.0) ** np.maximum(powers - derivative, 0)
    return _Ends(np.asarray(fit, dtype=np.float64), head, tail)


def _slide(values: FloatArray, step_s: float, span_s: float, order: int, derivative: int) -> FloatArray:
    half = max(round(0.5 * span_s / step_s), (order + 1) // 2, 1)
    window = 2 * half + 1
    if values.shape[-1] < window:
        return np.full(values.shape, np.nan)
    # `convolve` turns its second argument round, so the weights are given in reverse.
    weights = _weights(window, order, derivative)[::-1]
    rows = values.reshape(-1, values.shape[-1])
    inner = np.array([np.convolve(row, weights, mode="valid") for row in rows])
    ends = _ends(window, order, derivative)
    head = (rows[:, :window] @ ends.fit.T) @ ends.head.T
    tail = (rows[:, -window:] @ ends.fit.T) @ ends.tail.T
    return (np.concatenate((head, inner, tail), axis=1) / step_s**derivative).reshape(values.shape)


def smooth(values: FloatArray, *, step_s: float, span_s: float, order: int = 2) -> FloatArray:
    """An evenly sampled signal smoothed by a sliding polynomial (Savitzky-Golay).

    Parameters
    ----------
    values : array, shape (n,)
        Evenly sampled.
    step_s : float
        Time between samples. [s]
    span_s : float
        Width of the sliding fit, rounded to an odd number of samples, at least order + 1. [s]
    order : int
        Degree of the polynomial.

    Returns
    -------
    array, shape (n,)
        NaN within half a span of a NaN, and everywhere if the record is shorter than the span. The ends are
        read off the first and the last full fit.

    Examples
    --------
    >>> smooth(np.array([2.0, 2, 5, 2, 1, 0, 1, 4, 9]), step_s=1.0, span_s=4.0).round(2).tolist()
    [1.66, 3.17, 3.54, 2.86, 0.66, 0.17, 1.0, 4.0, 9.0]
    """
    return _slide(np.asarray(values, dtype=np.float64), step_s, span_s, order, 0)


def slope(values: FloatArray, *, step_s: float, span_s: float, order: int = 2) -> FloatArray:
    """Rate of change of an evenly sampled signal, by a sliding polynomial (Savitzky-Golay).

    Parameters
    ----------
    values : array, shape (..., n)
        Evenly sampled; several signals by row.
    step_s : float
        Time between samples. [s]
    span_s : float
        Width of the sliding fit, rounded to an odd number of samples, at least order + 1. [s]
    order : int
        Degree of the polynomial.

    Returns
    -------
    array, shape (..., n)
        Per second; NaN within half a span of a NaN, and everywhere if the record is shorter than the span.

    Examples
    --------
    >>> slope(np.array([0.0, 1.0, 4.0, 9.0, 16.0]), step_s=1.0, span_s=2.0).round(9).tolist()
    [0.0, 2.0, 4.0, 6.0, 8.0]
    """
    return _slide(np.asarray(values, dtype=np.float64), step_s, span_s, order, 1)


def greatest_near(values: FloatArray, *, reach: int) -> FloatArray:
    """The greatest of each sample's neighbourhood.

    Parameters
    ----------
    values : array, shape (..., n)
        Without NaN; several signals by row.
    reach : int
        Neighbours to either side, >= 0. [samples]

    Returns
    -------
    array, shape (..., n)
        At the ends of the record the neighbourhood ends with it.

    Notes
    -----
    The greatest of ever longer stretches, each of two half as long: the cost goes with the reach's logarithm.

    Examples
    --------
    >>> greatest_near(np.array([3.0, 1, 0, 0, 2]), reach=1).tolist()
    [3.0, 3.0, 1.0, 2.0, 2.0]
    """
    window, length = 2 * reach + 1, 1
    size = values.shape[-1]
    greatest = np.full((*values.shape[:-1], size + 2 * reach), -np.inf)
    greatest[..., reach : reach + size] = values
    while length < window:
        step = min(length, window - length)
        greatest = np.maximum(greatest[..., :-step], greatest[..., step:])
        length += step
    return greatest


def delayed(time_s: FloatArray, values: FloatArray, *, latency_s: float = 0.0, lag_s: float = 0.0) -> FloatArray:
    """What a sensor with a dead time and a first-order lag would have shown of a signal.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Evenly spaced times [s] and the signal, without NaN; held before its first sample.
    latency_s : float
        Dead time; may be negative to undo one. [s]
    lag_s : float
        Time constant of the filter, >= 0; below a tenth of a step it is added to the dead time. [s]

    Returns
    -------
    array, shape (n,)
        At the same times.

    Raises
    ------
    ValueError
        If `lag_s` is negative.

    Notes
    -----
    The filter's exact answer to straight lines between samples: with q = exp(-h/T), slope s and step h,
    y1 = q y0 + (1 - q) x0 + s (h - T (1 - q)).

    Examples
    --------
    >>> ramp = np.arange(0.0, 1.0, 0.01)
    >>> round(float(ramp[-1] - delayed(ramp, ramp, latency_s=0.02, lag_s=0.03)[-1]), 6)
    0.05
    """
    if lag_s < 0:
        raise ValueError(f"lag_s must be >= 0, got {lag_s}")
    if time_s.size < 2:
        return np.array(values, dtype=np.float64)
    step = float(time_s[1] - time_s[0])
    if lag_s < 0.1 * step:
        return np.interp(time_s - latency_s - lag_s, time_s, values)
    moved = np.interp(time_s - latency_s, time_s, values)
    keep = math.exp(-step / lag_s)
    gain = step - lag_s * (1 - keep)
    driven = (1 - keep) * moved[:-1] + np.diff(moved) / step * gain
    return _leak(moved[0], driven, keep)


def _leak(first: float, driven: FloatArray, keep: float) -> FloatArray:
    """y[0] = first, y[i + 1] = keep * y[i] + driven[i], in blocks of one matrix product each."""
    block = 64
    count = -(-driven.size // block)
    padded = np.zeros(count * block)
    padded[: driven.size] = driven
    power = keep ** np.arange(block + 1)
    below = np.subtract.outer(np.arange(block), np.arange(block))
    response = np.where(below >= 0, power[np.maximum(below, 0)], 0.0)
    own = padded.reshape(count, block) @ response.T
    before, whole = [first], float(power[-1])
    for last in own[:-1, -1].tolist():
        before.append(last + whole * before[-1])
    out = own + power[1:] * np.array(before)[:, None]
    return np.concatenate(([first], out.ravel()[: driven.size]))
