"""Where engine speed bends down from its trend, as when its torque is cut.

Public: `find_kink`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed, local_line
from passband.analysis.sensors.priors import PICKUP_LATENCY_S

TREND_S = 0.25
"""The trend before a shift is a line over this long: enough to average noise, short enough to stay straight. [s]"""
KINK_RPM_PER_S = 2500.0
"""At a torque cut the slope of engine speed turns down by at least this; boost does not do so in 25 ms. [rpm/s]"""
KINK_SHARE, CUT_RPM_PER_S = 0.25, 7000.0
"""The first bend of at least this share of the sharpest one, or as sharp as the other, is the cut; one before it, less
sharp, where engine speed sinks ever since, as with the torque gone before the dogs go in. A limiter's bounce,
which comes back, is not. [-], [rpm/s]"""
BEHIND_S = 0.12
"""The trend behind a sample is over so long, or three samples. [s]"""
RARE_S = 0.06
"""Where these lie further apart, one before the stretch may be the last before the bend. [s]"""
LASTS_WITHIN_S = 0.0125
"""Where samples lie no further apart than this a cut's bend shows from two of them on; noise bends at one alone. [s]"""
EDGE_PLUS_MINUS_S, GENTLE_PLUS_MINUS_S = 0.0065, 0.0105
"""What the pick-up's unknown pure delay leaves, 95 %; and that together with where on a parabola the bend began: 54
shifts of simulated converter cars (both models, both sets of sensors, seeds 9700..9804) were off by 7 ms, the worst by
17. [s]"""


def find_kink(
    engine: EngineSpeed, *, earliest_s: float, latest_s: float, either_way: bool = False, gently: bool = False
) -> Edge | None:
    """Where engine speed first bends down from its trend.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    earliest_s, latest_s : float
        Where to look. [s]
    either_way : bool
        True to take a bend up as well: an opened clutch may let the engine flare before its torque is gone.
    gently : bool
        True where engine speed bends along a parabola, as behind a converter: its load grows with the turbine's fall.

    Returns
    -------
    Edge or None
        None where it keeps to its trend.

    Notes
    -----
    The slope ahead less the slope of the last tenth of a second shows the bend; a broken line, its second leg rounded
    by the pick-up's lag, is fitted about it and the break that fits best stands.
    """
    t, y = engine.time_s - PICKUP_LATENCY_S, engine.rpm
    ahead_s = max(0.02, 1.5 * engine.step_s)
    rare = engine.step_s > RARE_S
    places = np.flatnonzero((t >= earliest_s - rare * engine.step_s) & (t <= latest_s))
    behind_s = max(BEHIND_S, 2.0 * engine.step_s + 1e-6)
    bends = np.array([_bend(t, y, float(t[place]), ahead_s, behind_s) for place in places])
    if either_way:
        bends = np.abs(bends)
    if bends.size == 0:
        return None
    any_rpm_per_s = max(KINK_RPM_PER_S, 4.0 * engine.noise_rpm / ahead_s)
    least = max(any_rpm_per_s, min(KINK_SHARE * float(bends.max()), CUT_RPM_PER_S))
    bent = np.flatnonzero(_lasting(bends > least, engine.step_s))
    if bent.size == 0:
        return None
    first = int(places[bent[0]])
    if not either_way and not gently:
        earlier = places[: bent[0]][_lasting(bends > any_rpm_per_s, engine.step_s)[: bent[0]]]
        first = next((int(at) for at in earlier if _sinks_on(y, int(at), first, 3.0 * engine.noise_rpm)), first)
    seen_s = float(t[first])
    shown = _Shown(t, y, engine.step_s, engine.lag_s)
    return _fit_break(shown, seen_s=seen_s, ahead_s=ahead_s, either_way=either_way, gently=gently)


def _sinks_on(y: FloatArray, bent: int, falls: int, open_rpm: float) -> bool:
    """Whether engine speed, once bent, nowhere came back to where it was before the sharp fall: a limiter's does."""
    return bool((y[bent + 2 : falls + 1] < y[bent] + open_rpm).all())


def _lasting(bent: BoolArray, step_s: float) -> BoolArray:
    """Bends that the next sample shows as well; all of them where samples are rare."""
    if step_s > LASTS_WITHIN_S or bent.size < 2:
        return bent
    return np.asarray(bent & np.append(bent[1:], True))


def _bend(t: FloatArray, y: FloatArray, at_s: float, ahead_s: float, behind_s: float) -> float:
    """By how much the slope ahead is below the slope behind, in rpm/s; 0 where either is unknown."""
    behind = local_line(t, y, start_s=at_s - behind_s, stop_s=at_s + 1e-6, at_s=at_s)
    beyond = local_line(t, y, start_s=at_s - 1e-6, stop_s=at_s + ahead_s, at_s=at_s)
    return 0.0 if behind is None or beyond is None or behind.samples < 3 else behind.slope - beyond.slope


@dataclass(frozen=True, slots=True)
class _Shown:
    """Engine speed as the pick-up shows it, its pure delay taken off."""

    time_s: FloatArray
    rpm: FloatArray
    step_s: float
    lag_s: float


def _fit_break(shown: _Shown, *, seen_s: float, ahead_s: float, either_way: bool, gently: bool) -> Edge:
    near = (shown.time_s > seen_s - max(TREND_S, 3.5 * shown.step_s)) & (shown.time_s <= seen_s + 1.5 * ahead_s)
    t, y, step_s, lag_s = shown.time_s[near], shown.rpm[near], shown.step_s, shown.lag_s
    tried = np.arange(seen_s - max(0.015, step_s), seen_s + 1.2 * ahead_s, 0.001)
    cost = np.full(tried.size, np.inf)
    for index, start_s in enumerate(tried):
        since = np.maximum(t - start_s, 0.0)
        bent = _bent_gently(since, lag_s) if gently else since - lag_s * (1.0 - np.exp(-since / lag_s))
        design = np.stack([np.ones_like(t), t - seen_s, bent], axis=1)
        fit, *_ = np.linalg.lstsq(design, y, rcond=None)
        if fit[2] < 0 or either_way:
            cost[index] = float(((y - design @ fit) ** 2).sum())
    best = float(tried[int(np.argmin(cost))]) if np.isfinite(cost).any() else seen_s
    open_s = GENTLE_PLUS_MINUS_S if gently else EDGE_PLUS_MINUS_S
    return Edge(best, float(np.hypot(open_s, 0.5 * step_s + 0.6 * max(step_s - 0.01, 0.0))), "engine_speed")


def _bent_gently(since_s: FloatArray, lag_s: float) -> FloatArray:
    """A parabola from zero on, seen through the pick-up's lag."""
    return 0.5 * since_s**2 - lag_s * since_s + lag_s**2 * (1.0 - np.exp(-since_s / lag_s))
