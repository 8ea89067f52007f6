"""Moments at which the drive is cut, as two devices see them: the car's push falls off, the engine leaves its trend.

A shift, or a lift, shows in a dash's accelerometer and in the ECU's engine speed. `analysis.clocks.cut_match` lays the
one on the other.

Public: `EngineDeparture`, `find_thrust_falls`, `find_engine_departure`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.fits import fit_robust_least_squares, medians, spread

LEAST_PUSH_MPS2 = 2.0
"""Forward acceleration from which a fall is looked for. [m/s2]"""
LEAST_FALL_MPS2, LEAST_FALL_SHARE = 1.5, 0.5
"""How much of it must go within `FALL_S`: m/s2, and as a share. Hops and bumps take less."""
FALL_S = 0.13
"""A cut torque is gone within this. [s]"""
TREND_S = 0.4
"""Both signals are held against their own course over this long before. [s]"""
APART_S = 0.35
"""Two falls closer than this are one: a driveline swings back. [s]"""
FALL_LENGTHS_S = (0.015, 0.03, 0.06)
"""A cut by the ignition is through in 15 ms, a throttle takes longer. [s]"""
FALL_LAGS_S = (0.004, 0.008, 0.016, 0.032)
"""Time constant of each of the two lags that such a fall passes: what unwinds (shafts, tires) and the accelerometer's
filter, which may be of second order itself. It starts gently, however fast torque goes; through one lag alone its start
was found late, the later the slower the filter. By octaves, to what a low-pass of 5 Hz makes of it. [s]"""
EARLIEST_S, LATEST_S = -0.14, 0.06
"""Starts are looked for from so long before the first quarter of a fall to so long after. [s]"""
UNLIKE_SHAPE = 0.05
"""A fall may differ from such a shape by this share of its depth. [-]"""
LEAST_DEPARTURE_RPM = 35.0
"""Engine speed off its trend by less is ripple. [rpm]"""
FEWEST_ROWS = 3
"""Fewer rows of engine speed about a moment show no departure. [-]"""
SEARCH_S = 0.09
"""How far from a fall of the push the engine's departure is looked for. [s]"""
DEPARTS_S = 0.03
"""The course an engine leaves on is taken over this long. [s]"""
PUSH_AFTER_FALL_S, PUSH_AFTER_LIFT_S, PUSH_AFTER_FLARE_S = 0.006, 0.008, -0.004
"""How much later a fall starts in an accelerometer's record than the engine's departure in engine speed: the dead
times of the two are nearly alike (4 to 12 ms, 4 to 9). Where the engine falls, torque is cut with the clutch closed,
and the driveline unwinds, and a tire near its limit gives up slip, before the car feels it; a foot's lift lets it go by
and by; where it flares, the clutch has let the car go before the engine has gained anything. [s] Chosen between the
simulators at hand: by the one's cars and accelerometers the first is 4 ms, by another's 22."""
DRAGGED_S = 0.08
"""What an engine loses within this tells whether it is dragged into its next gear. [s]"""
DRAGGED = 0.1
"""It is where it loses that share; one that loses less was let go with the foot. [-]"""


@dataclass(frozen=True, slots=True)
class EngineDeparture:
    """When engine speed leaves its course, and which way."""

    time_s: float
    """[s]"""
    up: bool
    """True for a flare."""
    dragged: bool
    """True where it falls into its next gear at once, as after a torque cut."""

    @property
    def push_after_s(self) -> float:
        """How much later an accelerometer shows the push fall, in seconds, as a rule."""
        if self.up:
            return PUSH_AFTER_FLARE_S
        return PUSH_AFTER_FALL_S if self.dragged else PUSH_AFTER_LIFT_S


def find_thrust_falls(time_s: FloatArray, acceleration_mps2: FloatArray) -> FloatArray:
    """Find the starts of sudden falls of forward acceleration.

    Parameters
    ----------
    time_s, acceleration_mps2 : array, shape (n,)
        Rising sample times [s] and forward acceleration, without NaN. [m/s2]

    Returns
    -------
    array, shape (m,)
        Starts in order of time; empty where there is none. [s]

    Notes
    -----
    A ramp seen through a filter is fitted to the samples from the course before to the deepest; a fall lies between
    samples 40 ms apart as well as between samples 10 ms apart, only less surely.
    """
    if time_s.size < 10:
        return np.zeros(0)
    step = float(np.median(np.diff(time_s)))
    width = max(round(FALL_S / step), 2)
    found: list[float] = []
    resume = 0
    for index in _falls(acceleration_mps2, width):
        if index >= resume:
            start = _start_of_fall(time_s, acceleration_mps2, float(time_s[index]))
            if start is not None:
                found.append(start)
                resume = index + 1 + round(APART_S / step)
    return np.array(found)


def _falls(acceleration_mps2: FloatArray, width: int) -> list[int]:
    """Samples that pass the first quarter of a fall from the course before to the lowest ahead."""
    last = acceleration_mps2.size - width
    if last <= width:
        return []
    lowest = sliding_window_view(acceleration_mps2, width)[width:last].min(axis=1)
    here, prior = acceleration_mps2[width:last], acceleration_mps2[width - 1 : last - 1]
    might = np.flatnonzero((here < prior) & (prior - lowest > 0.5 * LEAST_FALL_MPS2))
    led = np.concatenate((np.full(width, np.nan), acceleration_mps2))
    before = medians(sliding_window_view(led, 2 * width)[might])
    fall = before - lowest[might]
    quarter = before - 0.25 * fall
    falls = (here[might] < quarter) & (quarter < prior[might]) & (before > LEAST_PUSH_MPS2)
    falls &= fall > np.maximum(LEAST_FALL_MPS2, LEAST_FALL_SHARE * before)
    return [int(index) for index in width + might[falls]]


def _trend(time_s: FloatArray, values: FloatArray, until_s: float) -> tuple[FloatArray, float] | None:
    """Level, slope and time of reference of the course before, and the noise about it."""
    before = _between(time_s, until_s - TREND_S, until_s)
    time = time_s[before]
    if time.size < 4:
        return None
    rows = np.column_stack([np.ones(time.size), time - until_s])
    fit = fit_robust_least_squares(rows, values[before], rounds=4)
    if not np.isfinite(fit.parameters).all():
        return None
    return fit.parameters, spread(values[before] - rows @ fit.parameters)


def _between(time_s: FloatArray, start_s: float, stop_s: float) -> slice:
    """Samples after `start_s` and before `stop_s`."""
    return slice(int(time_s.searchsorted(start_s, side="right")), int(time_s.searchsorted(stop_s, side="left")))


def _start_of_fall(time_s: FloatArray, values: FloatArray, near_s: float) -> float | None:
    trend = _trend(time_s, values, near_s - 0.06)
    around = _between(time_s, near_s - 0.15, near_s + FALL_S)
    time = time_s[around]
    if trend is None or time.size < 3:
        return None
    (level, slope), noise = trend
    off = level + slope * (time - near_s + 0.06) - values[around]
    deepest = int(np.argmax(off))
    if off[deepest] < max(1.2, 6 * noise) or deepest < 1:
        return None
    # Up to the first bottom only: the driveline swings back, and again.
    bottom = int(np.argmax(off > 0.25 * off[deepest]))
    while bottom < deepest and off[bottom + 1] > off[bottom]:
        bottom += 1
    return _fit_fall(time[: bottom + 1], off[: bottom + 1], near_s, noise) if bottom >= 1 else None


def _fit_fall(time_s: FloatArray, off: FloatArray, near_s: float, noise: float) -> float | None:
    """Start of the fall that fits the samples up to the deepest best: between samples far apart many do as well.

    Over shapes of a few lengths and lags, starts are weighed by how well they fit, and their mean is taken.
    """
    starts = near_s + np.arange(EARLIEST_S, LATEST_S, 0.002)
    shapes = [(length, lag) for lag in FALL_LAGS_S for length in FALL_LENGTHS_S]
    missed = np.empty((len(shapes), starts.size))
    for row, (length, lag) in enumerate(shapes):
        shape = _fall_shape(time_s[None, :] - starts[:, None], length, lag)
        size = np.sum(shape * shape, axis=1)
        depth = np.sum(shape * off, axis=1) / np.where(size > 0, size, 1.0)
        missed[row] = np.sum((off - depth[:, None] * shape) ** 2, axis=1)
    least = int(np.argmin(missed)) % starts.size
    if not 0 < least < starts.size - 1:
        return None
    unlike = max(noise, UNLIKE_SHAPE * float(off.max()))
    weight = np.exp(-0.5 * (missed - missed.min()) / unlike**2)
    return float(np.sum(weight * starts) / weight.sum())


def _fall_shape(since_s: FloatArray, length_s: float, lag_s: float) -> FloatArray:
    """A ramp of that length from 0 to 1, seen through two lags one after the other."""

    def after(since: FloatArray) -> FloatArray:
        late = np.maximum(since, 0.0)
        return late - 2.0 * lag_s + np.exp(-late / lag_s) * (late + 2.0 * lag_s)

    return (after(since_s) - after(since_s - length_s)) / length_s


def find_engine_departure(time_s: FloatArray, engine_rpm: FloatArray, *, near_s: float) -> EngineDeparture | None:
    """Find when engine speed leaves its course, up or down, near a moment.

    Parameters
    ----------
    time_s, engine_rpm : array, shape (n,)
        Rising sample times [s] and engine speed, without NaN. [rpm]
    near_s : float
        The departure is looked for within 90 ms of this. [s]

    Returns
    -------
    EngineDeparture or None
        None where it does not leave its course there, or has left it before.
    """
    trend = _trend(time_s, engine_rpm, near_s - SEARCH_S)
    around = _between(time_s, near_s - SEARCH_S, near_s + SEARCH_S)
    time = time_s[around]
    if trend is None or time.size < FEWEST_ROWS:
        return None
    (level, slope), noise = trend
    off = engine_rpm[around] - level - slope * (time - near_s + SEARCH_S)
    hits = np.flatnonzero(np.abs(off) > max(4 * noise, LEAST_DEPARTURE_RPM))
    if hits.size == 0 or hits[0] == 0:
        return None
    first = int(hits[0])
    up = bool(off[first] > 0)
    # The line through what follows, carried back to the course before.
    last = max(int(np.searchsorted(time, time[first] + DEPARTS_S)), first + 2)
    if last > time.size:
        return None
    leg, size = time[first:last], np.abs(off[first:last])
    if leg.size > 1 and size[-1] > size[0]:
        steep = float(np.polyfit(leg - leg[0], size, 1)[0])
        start = float(leg[0] - size[0] / steep)
    else:
        start = float(time[first - 1])
    start = max(start, float(time[first - 1]) - 0.5 * DEPARTS_S)
    left, later = np.interp([start, start + DRAGGED_S], time_s, engine_rpm)
    return EngineDeparture(start, up, dragged=bool(later < (1.0 - DRAGGED) * left))
