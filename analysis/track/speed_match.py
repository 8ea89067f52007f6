"""Two logs laid over each other by speed, where they share no engine speed: whatever turns with the wheels will do.

Ground, wheel, shaft and, in any one gear, engine speed differ by factors that hardly change; the rate of change of
their logarithms is the same. It needs neither gearing nor tire, and a gear change is only a moment of disagreement.

Public: `SpeedMatch`, `match_by_speed`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analysis.car import Car
from analysis.correlation import find_peak_between_samples
from analysis.filters import even_grid, own_updates, resample, slope
from analysis.log import Channel, Log
from analysis.quantities import FloatArray
from analysis.track.engine_copy import despike
from analysis.track.movement import FRONT, REAR

SEARCH_HZ, SEARCH_SPAN_S = 20.0, 0.3
"""Grid of the search over all lags, and the span over which rates of change are taken: a shift shows in both."""
FINE_HZ, FINE_SPAN_S, FINE_REACH_S = 100.0, 0.24, 0.3
"""The same for the fine search around its best lag, and how far that goes."""
LEAST_MPS = 4.0
"""Slower than this a logarithm's change is mostly noise. [m/s]"""
LEAST_RPM = 600.0
"""An engine below this does not run. [rpm]"""
SLACK_PER_S, SLACK_SHARE = 0.04, 0.25
"""Two rates of change agree within this: slip comes and goes, sensors ripple. [1/s], share"""
LEAST_CHANGE_PER_S = 0.02
"""Steady speed says nothing of time. [1/s]"""
LEAST_MOVING_S = 2.0
"""The other log must hold this much of a pull. [s]"""
MOST_SAMPLES = 400
"""So many samples of the other log settle the lag; more only cost time."""
DELAYS_S: dict[str, tuple[float, float]] = {
    "engine_speed": (0.0135, 0.004),
    "driveshaft_speed": (0.017, 0.007),
    "gps_speed": (0.150, 0.045),
    "ground_speed": (0.050, 0.040),
}
"""How late each kind of speed is, and the standard deviation over devices: engine speed 5 to 20 ms, GPS 0.1 to 0.2 s
and more with its own filter; a speed of unknown origin anything between. [s]"""
WHEEL_DELAY_S = (0.027, 0.009)
"""The same for a wheel: 10 to 40 ms. [s]"""
LAG_BIAS_S, LAG_SIGMA_S = 0.020, 0.025
"""What a lag of two speeds comes out short by, and the deviation: at a cut the driven tire loses its slip before the
car loses speed, and gains it again before. [s]"""
ENGINE_LAG_BIAS_S, ENGINE_LAG_SIGMA_S = 0.065, 0.040
"""The same against engine speed, which falls into the next gear while the car pulls already. [s]"""


@dataclass(frozen=True, slots=True)
class SpeedMatch:
    """Where another log's clock lies by speed."""

    offset_s: float
    """ECU time of the other log's nought, sensors' usual delays allowed for. [s]"""
    sigma_s: float
    """Its standard deviation. [s]"""
    pivot_s: float
    """Middle of the matched stretch on the other log's clock. [s]"""
    disagreement: float
    """Share of the moving time in which the two do not agree at the best lag, 0..1. [-]"""
    next_best: float
    """The same at the best lag elsewhere. [-]"""
    channels: tuple[str, ...]
    """What was matched: ECU's, other's."""


def match_by_speed(ecu: Log, other: Log, *, car: Car) -> SpeedMatch | None:
    """Lay another log over the ECU's by speed.

    Parameters
    ----------
    ecu, other : Log
        Each on its own clock.
    car : Car
        Its driven axle tells which wheels do not slip.

    Returns
    -------
    SpeedMatch or None
        None where one holds no speed, or no pull to match, or the best lag lies at the search's edge.
    """
    own, theirs = _best_of(ecu, _own_order(car)), _best_of(other, _other_order(car))
    if own is None or theirs is None:
        return None
    coarse = _search(own, theirs, rate_hz=SEARCH_HZ, span_s=SEARCH_SPAN_S)
    if coarse is None:
        return None
    lag, cost, elsewhere, pivot = coarse
    fine = _refine(own, theirs, lag)
    if fine is None:
        return None
    own_late, own_sigma = _delay(own)
    other_late, other_sigma = _delay(theirs)
    by_engine = own.name == "engine_speed"
    short, found = (ENGINE_LAG_BIAS_S, ENGINE_LAG_SIGMA_S) if by_engine else (LAG_BIAS_S, LAG_SIGMA_S)
    sigma = float(np.sqrt(own_sigma**2 + other_sigma**2 + found**2 + (0.15 / max(theirs.rate_hz, 0.5)) ** 2))
    return SpeedMatch(fine + short + other_late - own_late, sigma, pivot, cost, elsewhere, (own.name, theirs.name))


def _own_order(car: Car) -> tuple[str, ...]:
    driven = {"front": FRONT, "rear": REAR}.get(car.driven_axle or "", (*REAR, *FRONT))
    others = tuple(name for name in (*REAR, *FRONT) if name not in driven)
    return ("wheel_speed_driven", "driveshaft_speed", *others, *driven, "ground_speed", "gps_speed", "engine_speed")


def _other_order(car: Car) -> tuple[str, ...]:
    undriven = {"front": REAR, "rear": FRONT}.get(car.driven_axle or "", ())
    others = tuple(name for name in (*FRONT, *REAR) if name not in undriven)
    return (*undriven, "gps_speed", "ground_speed", *others, "wheel_speed_driven", "driveshaft_speed")


def _best_of(log: Log, names: tuple[str, ...]) -> Channel | None:
    for name in names:
        channel = log.get(name)
        if channel is not None and channel.known.values.size > 20:
            high = float(np.percentile(channel.known.values, 99))
            if high > (4 * LEAST_RPM if channel.unit == "rpm" else 2 * LEAST_MPS):
                return _renewed(channel.known)
    return None


def _renewed(channel: Channel) -> Channel:
    keep = own_updates(channel.time_s, channel.values, rate_hz=channel.rate_hz)
    row = float(np.median(np.diff(channel.time_s)))
    age = 0.0 if keep.all() else row / 3
    values = channel.values
    if channel.name == "engine_speed":
        values = despike(channel.time_s, values)
    return replace(channel, time_s=channel.time_s[keep] - age, values=values[keep])


def _delay(channel: Channel) -> tuple[float, float]:
    return DELAYS_S.get(channel.name, WHEEL_DELAY_S)


def _growth(channel: Channel, grid: FloatArray, span_s: float) -> FloatArray:
    """Rate of change of the logarithm on a grid; NaN where slow or unknown, per second."""
    least = LEAST_RPM if channel.unit == "rpm" else LEAST_MPS
    values = resample(channel.time_s, channel.values, grid, max_gap_s=max(0.6, 2.5 / max(channel.rate_hz, 0.1)))
    values = np.where(np.nan_to_num(values) > least, values, np.nan)
    with np.errstate(invalid="ignore"):
        return slope(np.log(values), step_s=float(grid[1] - grid[0]), span_s=span_s, order=1)


def _span(channel: Channel, rate_hz: float) -> FloatArray:
    return even_grid(float(channel.time_s[0]), float(channel.time_s[-1]), rate_hz=rate_hz)


def _wanted(theirs: Channel, grid: FloatArray, span_s: float) -> tuple[FloatArray, FloatArray]:
    """Times and rates of change of the moving samples, thinned."""
    growth = _growth(theirs, grid, span_s)
    use = np.flatnonzero(np.isfinite(growth) & (np.abs(growth) > LEAST_CHANGE_PER_S))
    use = use[:: max(use.size // MOST_SAMPLES, 1)]
    return grid[use], growth[use]


def _disagreement(found: FloatArray, wanted: FloatArray) -> FloatArray:
    """0 where two rates of change are one, 1 where they are apart or one is unknown."""
    apart = np.abs(found - wanted) / (SLACK_PER_S + SLACK_SHARE * np.abs(wanted))
    return np.where(np.isfinite(apart), np.minimum(apart, 1.0), 1.0)


def _search(
    own: Channel, theirs: Channel, *, rate_hz: float, span_s: float
) -> tuple[float, float, float, float] | None:
    """Best lag over all, its disagreement, the best elsewhere, and the middle of what was matched."""
    grid, other_grid = _span(own, rate_hz), _span(theirs, rate_hz)
    if min(grid.size, other_grid.size) < 10:
        return None
    time, wanted = _wanted(theirs, other_grid, span_s)
    if time.size * (other_grid.size / max(time.size, 1)) / rate_hz < LEAST_MOVING_S or time.size < 20:
        return None
    growth = _growth(own, grid, span_s)
    sample = np.round((time - other_grid[0]) * rate_hz).astype(np.int64)
    unknown = np.full(other_grid.size, np.nan)
    padded = np.concatenate((unknown, growth, unknown))
    lags = np.arange(-other_grid.size + 1, grid.size)
    cost = np.array([float(_disagreement(padded[other_grid.size + sample + lag], wanted).mean()) for lag in lags])
    best = int(np.argmin(cost))
    elsewhere = np.abs(lags - lags[best]) > 0.6 * rate_hz
    next_best = float(cost[elsewhere].min()) if elsewhere.any() else 1.0
    lag_s = float(grid[0] - other_grid[0] + lags[best] / rate_hz)
    return lag_s, float(cost[best]), next_best, float(np.mean(time))


def _refine(own: Channel, theirs: Channel, lag_s: float) -> float | None:
    grid, other_grid = _span(own, FINE_HZ), _span(theirs, FINE_HZ)
    time, wanted = _wanted(theirs, other_grid, FINE_SPAN_S)
    growth = _growth(own, grid, FINE_SPAN_S)
    lags = lag_s + np.arange(-FINE_REACH_S, FINE_REACH_S + 1e-9, 0.01)
    cost = np.array(
        [_disagreement(np.interp(time + lag, grid, growth, left=np.nan, right=np.nan), wanted).mean() for lag in lags]
    )
    # Ripple of the cost over neighbouring lags is sampling, not agreement.
    calm = np.convolve(cost, np.ones(5) / 5, mode="valid")
    best = int(np.argmin(calm))
    if best in (0, calm.size - 1):
        return None
    peak = find_peak_between_samples(-calm[best - 1], -calm[best], -calm[best + 1])
    return float(lags[best + 2] + 0.01 * peak.at)
