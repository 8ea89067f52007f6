"""Moments at which the drive is cut, as two devices see them: the car's push falls off, the engine leaves its trend.

A shift, or a lift, shows in a dash's accelerometer and in the ECU's engine speed. Both sensors are late by little,
so such moments tell the offset of two clocks from the age of a copy sent between them.

Public: `EventLag`, `find_thrust_falls`, `find_engine_departure`, `measure_event_lag`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.filters import own_updates
from analysis.fits import fit_robust_least_squares, spread
from analysis.log import Channel
from analysis.quantities import FloatArray
from analysis.track.engine_copy import despike

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
LOW_SHARE, HIGH_SHARE = 0.2, 0.55
"""The line through these shares of the fall, carried back, is its start. [-]"""
LEAST_DEPARTURE_RPM = 35.0
"""Engine speed off its trend by less is ripple. [rpm]"""
SEARCH_S = 0.09
"""How far from a fall of the push the engine's departure is looked for. [s]"""
PUSH_AFTER_ENGINE_S, PUSH_AFTER_ENGINE_SIGMA_S = 0.014, 0.008
"""How much later a fall starts in an accelerometer's record than the engine's departure in engine speed: the
accelerometer's delay (10 to 30 ms) and the driveline's unwinding (5 to 15), less the pick-up's delay (5 to 20);
and the standard deviation over cars and devices. [s]"""
EVENT_SIGMA_S = 0.006
"""What one event scatters even at high rates. [s]"""
OUTLYING_S = 0.035
"""An event this far from the middle one saw something else. [s]"""


@dataclass(frozen=True, slots=True)
class EventLag:
    """Where the falls of push in one log lie against the engine's departures in another."""

    lag_s: float
    """Median of (fall on the other's clock, carried over by the offset given) less (departure on the ECU's). [s]"""
    sigma_s: float
    """Its standard deviation, sensors' delays and driveline included. [s]"""
    events: int
    """Events near the median."""
    outlying: int
    """Events that lie further off."""
    unmatched: int
    """Falls that lie within the ECU's record but have no departure near."""
    scatter_s: float
    """Mean distance of the near events from their median. [s]"""


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
    The line through 20 and 55 % of the fall, carried back to the course before it.
    """
    if time_s.size < 10:
        return np.zeros(0)
    step = float(np.median(np.diff(time_s)))
    width = max(round(FALL_S / step), 2)
    found: list[float] = []
    index = width
    while index < time_s.size - width:
        before = float(np.median(acceleration_mps2[max(index - 2 * width, 0) : index]))
        least = float(acceleration_mps2[index : index + width].min())
        fall = before - least
        quarter = before - 0.25 * fall
        falling = acceleration_mps2[index] < quarter and acceleration_mps2[index - 1] > quarter
        if before > LEAST_PUSH_MPS2 and fall > max(LEAST_FALL_MPS2, LEAST_FALL_SHARE * before) and falling:
            start = _start_of_fall(time_s, acceleration_mps2, float(time_s[index]))
            if start is not None:
                found.append(start)
                index += round(APART_S / step)
        index += 1
    return np.array(found)


def _trend(time_s: FloatArray, values: FloatArray, until_s: float) -> tuple[FloatArray, float] | None:
    """Level, slope and time of reference of the course before, and the noise about it."""
    before = (time_s > until_s - TREND_S) & (time_s < until_s)
    if before.sum() < 4:
        return None
    rows = np.column_stack([np.ones(int(before.sum())), time_s[before] - until_s])
    fit = fit_robust_least_squares(rows, values[before], rounds=4)
    if not np.isfinite(fit.parameters).all():
        return None
    return fit.parameters, spread(values[before] - rows @ fit.parameters)


def _start_of_fall(time_s: FloatArray, values: FloatArray, near_s: float) -> float | None:
    trend = _trend(time_s, values, near_s - 0.05)
    around = (time_s > near_s - 0.08) & (time_s < near_s + FALL_S)
    if trend is None or around.sum() < 2:
        return None
    (level, slope), noise = trend
    time = time_s[around]
    off = level + slope * (time - near_s + 0.05) - values[around]
    depth = float(off.max())
    if depth < max(1.2, 6 * noise):
        return None
    deep = int(np.argmax(off > HIGH_SHARE * depth))
    low, high = (_last_crossing(time, off, deep, share * depth) for share in (LOW_SHARE, HIGH_SHARE))
    if low is None or high is None:
        return None
    return low - (high - low) * LOW_SHARE / (HIGH_SHARE - LOW_SHARE)


def _last_crossing(time_s: FloatArray, rising: FloatArray, index: int, level: float) -> float | None:
    while index > 0 and rising[index - 1] > level:
        index -= 1
    if index == 0:
        return None
    share = (level - rising[index - 1]) / (rising[index] - rising[index - 1])
    return float(time_s[index - 1] + share * (time_s[index] - time_s[index - 1]))


def find_engine_departure(time_s: FloatArray, engine_rpm: FloatArray, *, near_s: float) -> float | None:
    """Find when engine speed leaves its course, up or down, near a moment.

    Parameters
    ----------
    time_s, engine_rpm : array, shape (n,)
        Rising sample times [s] and engine speed, without NaN. [rpm]
    near_s : float
        The departure is looked for within 90 ms of this. [s]

    Returns
    -------
    float or None
        None where it does not leave its course there, or has left it before. [s]
    """
    trend = _trend(time_s, engine_rpm, near_s - SEARCH_S)
    around = (time_s > near_s - SEARCH_S) & (time_s < near_s + SEARCH_S)
    if trend is None or around.sum() < 3:
        return None
    (level, slope), noise = trend
    time = time_s[around]
    off = engine_rpm[around] - level - slope * (time - near_s + SEARCH_S)
    least = max(4 * noise, LEAST_DEPARTURE_RPM)
    hits = np.flatnonzero(np.abs(off) > least)
    if hits.size == 0 or hits[0] == 0:
        return None
    away = off * np.sign(off[hits[0]])
    crossings = []
    for height in (least, 2.5 * least):
        above = np.flatnonzero(away > height)
        if above.size == 0 or above[0] == 0:
            return None
        crossings.append(_last_crossing(time, away, int(above[0]), height))
    first, second = crossings
    if first is None or second is None:
        return None
    return first - min((second - first) / 1.5, 0.04)


def measure_event_lag(own: Channel, acceleration: Channel, *, offset_s: float, rate_ppm: float) -> EventLag | None:
    """How much later falls of push come than the engine's departures, the other clock carried over as given.

    Parameters
    ----------
    own : Channel
        The ECU's engine speed.
    acceleration : Channel
        Forward acceleration of the other log, on that log's clock.
    offset_s, rate_ppm : float
        Where the other clock lies, good to 60 ms.

    Returns
    -------
    EventLag or None
        None where no event shows in both.
    """
    known = acceleration.known
    keep = own_updates(known.time_s, known.values, rate_hz=known.rate_hz)
    time = offset_s + known.time_s[keep] * (1 + rate_ppm * 1e-6)
    rpm = despike(own.time_s, own.values)
    sound = np.isfinite(rpm)
    engine_time, rpm = own.time_s[sound], rpm[sound]
    if engine_time.size < 10:
        return None
    lags: list[float] = []
    unmatched = 0
    for fall in find_thrust_falls(time, known.values[keep]):
        if not engine_time[0] + TREND_S < fall < engine_time[-1] - SEARCH_S:
            continue
        departure = find_engine_departure(engine_time, rpm, near_s=float(fall))
        if departure is None:
            unmatched += 1
        else:
            lags.append(float(fall) - departure)
    if not lags:
        return None
    # The densest cluster: a fall met with the wrong departure lies anywhere.
    middle = max(lags, key=lambda one: sum(abs(lag - one) < OUTLYING_S for lag in lags))
    near = [lag for lag in lags if abs(lag - middle) < OUTLYING_S]
    scatter = EVENT_SIGMA_S + 0.25 / max(known.rate_hz, 1.0) + 0.15 / max(own.rate_hz, 1.0)
    sigma = float(np.hypot(PUSH_AFTER_ENGINE_SIGMA_S, scatter / np.sqrt(len(near))))
    centre = float(np.median(near))
    apart = float(np.mean(np.abs(np.array(near) - centre)))
    return EventLag(centre, sigma, len(near), len(lags) - len(near), unmatched, apart)
