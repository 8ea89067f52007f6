"""Two logs laid over each other by speed, where they share no engine speed: whatever turns with the wheels will do.

Ground, wheel, shaft and, in any one gear, engine speed differ by factors that hardly change; the rate of change of
their logarithms is the same. It needs neither gearing nor tire, and a gear change is only a moment of disagreement.

Public: `SpeedMatch`, `match_by_speed`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.clocks.opinions import Opinion
from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.despiking import despike
from passband.analysis.sensors.priors import (
    ENGINE_SPEED,
    GPS_IN_MATCH,
    SHAFT_IN_MATCH,
    UNKNOWN_SPEED_IN_MATCH,
    WHEEL_IN_MATCH,
)
from passband.analysis.sensors.wheels import FRONT, REAR, axles_of
from passband.analysis.statistics.correlation import find_peak_between_samples
from passband.analysis.statistics.filters import even_grid, own_updates, resample, slope

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
LAGS_AT_ONCE = 256
"""Lags looked at in one go: quick, and small in memory."""
PLACES, APART_S = 4, 0.6
"""So many places are kept, further apart than this: torque cuts choose among them. [s]"""
BLOCKS = 12
"""Stretches of the pull that are left out in turn (a delete-block jackknife), each some 0.7 s: about a gear."""
JACKKNIFE = 0.5
"""A jackknife makes too much of a minimum that leaps: what is usual of it is within the deviation of a lag anyway, and
half of it holds where a place is doubtful, as behind a slipping converter. Chosen on simulated runs. [-]"""
MOST_SAMPLES = 400
"""So many samples of the other log settle the lag; more only cost time."""
PERIOD_SIGMA = 0.15
"""What a sensor's own period leaves open, in periods. [-]"""
LATENESS = {
    "engine_speed": ENGINE_SPEED,
    "driveshaft_speed": SHAFT_IN_MATCH,
    "gps_speed": GPS_IN_MATCH,
    "ground_speed": UNKNOWN_SPEED_IN_MATCH,
}
"""How late each kind of speed is in such a match; any other channel is a wheel's."""
LAG_BIAS_S, LAG_SIGMA_S = 0.020, 0.025
"""What a lag of two speeds comes out short by, and the deviation: at a cut the driven tire loses its slip before the
car loses speed, and gains it again before. [s]"""
ENGINE_LAG_BIAS_S, ENGINE_LAG_SIGMA_S = 0.065, 0.040
"""The same against engine speed, which falls into the next gear while the car pulls already. [s]"""


@dataclass(frozen=True, slots=True)
class SpeedMatch:
    """Where another log's clock lies by speed."""

    offset_s: float
    """ECU time of the other log's zero, sensors' usual delays allowed for. [s]"""
    sigma_s: float
    """Its standard deviation. [s]"""
    pivot_s: float
    """Middle of the matched stretch on the other log's clock. [s]"""
    disagreement: float
    """Share of the moving time in which the two do not agree at the best lag, 0..1. [-]"""
    channels: tuple[str, ...]
    """What was matched: ECU's, other's."""


def match_by_speed(ecu: Log, other: Log, *, car: Car) -> list[SpeedMatch]:
    """Lay another log over the ECU's by speed.

    Parameters
    ----------
    ecu, other : Log
        Each on its own clock.
    car : Car
        Its driven axle tells which wheels do not slip.

    Returns
    -------
    list of SpeedMatch
        The likeliest places, best first; empty where one log holds no speed, or no pull to match.

    Notes
    -----
    At each lag the share of the other's moving time is counted in which the rates of change of the logarithms do not
    agree. A lag at the edge of its fine search is no answer and is left out.
    """
    own, theirs = _best_of(ecu, _own_order(car)), _best_of(other, _other_order(car))
    if own is None or theirs is None:
        return []
    found = [(place, _refine(own, theirs, place.lag_s)) for place in _search(own, theirs)]
    return [_as_match(own, theirs, place, lag) for place, lag in found if lag is not None]


def _as_match(own: Channel, theirs: Channel, place: _Place, lag: Opinion) -> SpeedMatch:
    """Sensors' usual delays, and what a lag of speeds comes out short by, allowed for."""
    by_engine = own.name == "engine_speed"
    short, found = (ENGINE_LAG_BIAS_S, ENGINE_LAG_SIGMA_S) if by_engine else (LAG_BIAS_S, LAG_SIGMA_S)
    ours, other = (LATENESS.get(channel.name, WHEEL_IN_MATCH) for channel in (own, theirs))
    period_s = 1.0 / max(theirs.rate_hz, 0.5)
    causes = (ours.sigma_s, other.sigma_s, max(found, JACKKNIFE * lag.sigma), PERIOD_SIGMA * period_s)
    sigma = float(np.linalg.norm(causes))
    offset = lag.value + short + other.late_s - ours.late_s
    return SpeedMatch(offset, sigma, place.pivot_s, place.disagreement, (own.name, theirs.name))


def _own_order(car: Car) -> tuple[str, ...]:
    driven = axles_of(car).driven or (*REAR, *FRONT)
    others = tuple(name for name in (*REAR, *FRONT) if name not in driven)
    return ("wheel_speed_driven", "driveshaft_speed", *others, *driven, "ground_speed", "gps_speed", "engine_speed")


def _other_order(car: Car) -> tuple[str, ...]:
    undriven = axles_of(car).undriven
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


@dataclass(frozen=True, slots=True)
class _Place:
    lag_s: float
    disagreement: float
    pivot_s: float


def _search(own: Channel, theirs: Channel) -> list[_Place]:
    """The best lags of all, further apart than a shift lasts, best first."""
    grid, other_grid = _span(own, SEARCH_HZ), _span(theirs, SEARCH_HZ)
    if min(grid.size, other_grid.size) < 10:
        return []
    time, wanted = _wanted(theirs, other_grid, SEARCH_SPAN_S)
    if time.size < LEAST_MOVING_S * SEARCH_HZ / 2:
        return []
    growth = _growth(own, grid, SEARCH_SPAN_S)
    sample = np.round((time - other_grid[0]) * SEARCH_HZ).astype(np.int64)
    unknown = np.full(other_grid.size, np.nan)
    padded = np.concatenate((unknown, growth, unknown))
    lags = np.arange(-other_grid.size + 1, grid.size)
    met = other_grid.size + sample
    blocks = [lags[at : at + LAGS_AT_ONCE, None] for at in range(0, lags.size, LAGS_AT_ONCE)]
    cost = np.concatenate([_disagreement(padded[met + block], wanted).mean(axis=1) for block in blocks])
    places: list[_Place] = []
    for _ in range(PLACES):
        best = int(np.argmin(cost))
        if cost[best] >= 1.0:
            break
        lag = float(grid[0] - other_grid[0] + lags[best] / SEARCH_HZ)
        places.append(_Place(lag, float(cost[best]), float(np.mean(time))))
        cost[np.abs(lags - lags[best]) <= APART_S * SEARCH_HZ] = 1.0
    return places


def _refine(own: Channel, theirs: Channel, lag_s: float) -> Opinion | None:
    """The best lag near another, and by leaving out one block of time after another how well it is known."""
    grid, other_grid = _span(own, FINE_HZ), _span(theirs, FINE_HZ)
    time, wanted = _wanted(theirs, other_grid, FINE_SPAN_S)
    growth = _growth(own, grid, FINE_SPAN_S)
    lags = lag_s + np.arange(-FINE_REACH_S, FINE_REACH_S + 1e-9, 0.01)
    cost = np.stack(
        [_disagreement(np.interp(time + lag, grid, growth, left=np.nan, right=np.nan), wanted) for lag in lags]
    )
    lag = _least(lags, cost)
    if lag is None:
        return None
    blocks = np.array_split(np.arange(time.size), BLOCKS)
    others = [_least(lags, np.delete(cost, block, axis=1)) for block in blocks if block.size]
    # An edge of the search is as far as is known.
    left_out = np.array([lag + FINE_REACH_S if other is None else other for other in others])
    sigma = float(np.sqrt((left_out.size - 1) * np.mean((left_out - left_out.mean()) ** 2)))
    return Opinion(lag, sigma)


def _least(lags: FloatArray, cost: FloatArray) -> float | None:
    """The lag of least mean cost between the grid's; None at an edge."""
    # Ripple of the cost over neighbouring lags is sampling, not agreement.
    calm = np.convolve(cost.mean(axis=1), np.ones(5) / 5, mode="valid")
    best = int(np.argmin(calm))
    if best in (0, calm.size - 1):
        return None
    peak = find_peak_between_samples(-calm[best - 1], -calm[best], -calm[best + 1])
    return float(lags[best + 2] + 0.01 * peak.at)
