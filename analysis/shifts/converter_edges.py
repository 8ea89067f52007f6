"""Where a shift behind a converter starts and ends: no cut tells it, engine speed does.

The box lets one clutch pack go and fills the next. Engine speed stops rising where the ratio begins to change; where
the old pack lets go before the new one holds, it flares up first, and the car stops pulling. Where the converter's
own clutch opens before the shift the engine flares up as well, but the car pulls on: that is not yet the shift.

Public: `find_ratio_change`, `find_takeover`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed, Line, local_line
from passband.analysis.shifts.fall import Fall
from passband.analysis.shifts.kink import find_kink
from passband.analysis.statistics.filters import slope

FALL_LASTS_S = 0.25
"""The fall's first half is over within this of where the ratio began to change. [s]"""
FLARE_LASTS_S = 0.8
"""An engine let loose between two packs is caught again within this. [s]"""
FLARE_RPM_PER_S = 2000.0
"""A flare's slope is steeper than the pull's by at least this. [rpm/s]"""
FLARE_SHARE = 0.8
"""And by that share of it. [-]"""
SHORT_STEP_S = 0.02
"""A flare is over within a step longer than this: it may have begun anywhere in it. [s]"""
RISE_S = 0.1
"""A flare is at its steepest within this. [s]"""
LET_GO_S, LET_GO_PLUS_MINUS_S = 0.01, 0.04
"""A pack begins to let go so long before engine speed shows it, and by so much that may differ. Common practice, no
source. [s]"""
FLUID_LATE_S, TAKEOVER_PLUS_MINUS_S = 0.03, 0.035
"""The engine follows its turbine through the fluid, so its fall lets up so long after the pack holds; 95 % half-width
of when the next gear has taken over: packs that share the torque give no one moment. [s], [s] Chosen on 10 simulated
converter runs of both models (seeds 9300 to 9303, both sets of sensors), which had been 21 to 54 ms late."""
SEEN_AFTER_S = 0.06
"""A car's acceleration shows a lost pull so long after. [s] By how far fused acceleration is smeared."""
LEAST_SEEN_S = 0.06
"""It is looked at for at least so long. [s] Likewise."""
PULLS_ON = 0.5
"""At that share of what it was before the flare the car pulls on. [-]"""
TURNS_OVER_S = 0.03
"""Where an engine stops rising it turns over along a parabola for so long to each side. [s] By arithmetic: a pack takes
20 to 60 ms to bring it down."""
FINE_STEP_S = 0.015
"""Rows further apart show that and no bend, closer ones both. [s]"""
TOPS_NOISE = 2.0
"""The engine may have been at its highest wherever it is within so many times its noise of it. [-]"""
TOP_PLUS_MINUS_S = 0.018
"""And its pick-up later by up to this than a usual one: a mean over three turns is late by up to 20 ms more, and behind
a converter no ring shows it. [s] By arithmetic."""
STEEP = 0.5
"""A stretch of the fall is steep from this share of its steepest slope on. [-]"""
EASED = 0.75
"""It has let up at this share. [-]"""


def find_ratio_change(
    engine: EngineSpeed, fall: Fall, *, earliest_s: float, motion: Motion | None = None
) -> Edge | None:
    """The moment at which engine speed stops rising as the ratio changes, or flares as the old gear lets go.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    fall : Fall
        The fall into the next gear.
    earliest_s : float
        The gear before was not yet in earlier than this. [s]
    motion : Motion, optional
        Tells whether the car pulled on while the engine flared.

    Returns
    -------
    Edge or None
        None where engine speed bends nowhere.

    Notes
    -----
    Engine speed turns over about its highest; the bend that lines to both sides of it show lies before that where it
    turns over gently, and after it where the fall gathers pace for a tenth of a second. Where the car is not seen to
    pull on or to stop, a flare's beginning stands, and its plus-minus reaches to its end.
    """
    early_s = max(fall.middle_s - FALL_LASTS_S, earliest_s)
    bent = find_kink(engine, earliest_s=early_s, latest_s=fall.middle_s, gently=True)
    top = _top(engine, fall, earliest_s)
    if top is not None:
        bent = _stopped_rising(engine, top, bent)
    flared_s = _flare(engine, fall, earliest_s)
    if flared_s is None:
        return bent
    about = Edge(flared_s - LET_GO_S, LET_GO_PLUS_MINUS_S + 0.5 * engine.step_s, "engine_speed")
    if bent is None or about.time_s >= bent.time_s:
        return about if bent is None else bent
    pulled_on = _pulled_on(motion, flared_s, bent.time_s)
    if pulled_on is None:
        open_s = float(np.hypot(about.plus_minus_s, bent.time_s - about.time_s))
        return Edge(about.time_s, open_s, "engine_speed")
    return bent if pulled_on else about


@dataclass(frozen=True, slots=True)
class _Top:
    """Where engine speed was at its highest."""

    time_s: float
    """The middle of where it may have been. [s]"""
    since_s: float
    """Surely lower until here. [s]"""
    until_s: float
    """Surely lower from here on. [s]"""


def _top(engine: EngineSpeed, fall: Fall, earliest_s: float) -> _Top | None:
    """Where engine speed was at its highest before the fall; None where no sample lies there."""
    inside = np.flatnonzero(
        (engine.true_time_s > max(fall.middle_s - FLARE_LASTS_S, earliest_s)) & (engine.true_time_s < fall.middle_s)
    )
    if inside.size == 0:
        return None
    rpm, time_s = engine.rpm[inside], engine.true_time_s[inside]
    high = time_s[rpm >= rpm.max() - TOPS_NOISE * engine.noise_rpm]
    first_s, last_s = float(high[0]), float(high[-1])
    return _Top(0.5 * (first_s + last_s), first_s, last_s)


def _stopped_rising(engine: EngineSpeed, top: _Top, bent: Edge | None) -> Edge:
    """Where engine speed stopped rising: the top of a parabola about its highest, and its bend where rows show it."""
    half_s, from_top_s = max(TURNS_OVER_S, 1.6 * engine.step_s), engine.true_time_s - top.time_s
    near = np.abs(from_top_s) < half_s
    turned_s = 0.0
    if near.sum() >= 3:
        curve, rise, _ = (float(term) for term in np.polyfit(from_top_s[near], engine.rpm[near], 2))
        turned_s = float(np.clip(-0.5 * rise / curve, -half_s, half_s)) if curve < 0.0 else 0.0
    level_s = max(0.5 * (top.until_s - top.since_s) - half_s, 0.0)  # on a limiter, say: anywhere along it
    open_s = float(np.hypot(np.hypot(TOP_PLUS_MINUS_S, 0.5 * engine.step_s), level_s))
    turned = Edge(top.time_s + turned_s, open_s, "engine_speed")
    if bent is None or top.until_s + engine.step_s < bent.time_s:
        return turned
    apart_s = bent.time_s - turned.time_s
    if engine.step_s > FINE_STEP_S:
        return replace(turned, plus_minus_s=float(np.hypot(turned.plus_minus_s, 0.5 * apart_s)))
    return Edge(turned.time_s + 0.5 * apart_s, float(np.hypot(bent.plus_minus_s, 0.5 * apart_s)), "engine_speed")


def _pulled_on(motion: Motion | None, flared_s: float, topped_s: float) -> bool | None:
    """Whether the car pulled on while the engine flared; None where that is too short to see, or motion too poor."""
    if motion is None or motion.basis is SpeedBasis.ENGINE_SPEED:
        return None
    usual = (motion.time_s > flared_s - FALL_LASTS_S) & (motion.time_s < flared_s)
    since = (motion.time_s > flared_s + SEEN_AFTER_S) & (motion.time_s < topped_s)
    if topped_s - flared_s < SEEN_AFTER_S + LEAST_SEEN_S or not usual.any() or not since.any():
        return None
    pull = float(np.median(motion.acceleration_mps2[usual]))
    return bool(float(np.mean(motion.acceleration_mps2[since])) > PULLS_ON * pull)


def _flare(engine: EngineSpeed, fall: Fall, earliest_s: float) -> float | None:
    """Since when the engine rose out of its pull before it fell; None where it did not."""
    t = engine.true_time_s
    near = t[(t > max(fall.middle_s - FLARE_LASTS_S, earliest_s)) & (t < fall.middle_s)]
    found = (_rose_out(engine, float(at_s)) for at_s in near)
    return next((moment for moment in found if moment is not None), None)


def _rose_out(engine: EngineSpeed, at_s: float) -> float | None:
    """Where a line through the pull until a moment meets the steepest rise soon after, if that then tops out."""
    ahead_s = max(0.03, 1.5 * engine.step_s)

    def line(start_s: float, stop_s: float) -> Line | None:
        return local_line(engine.true_time_s, engine.rpm, start_s=start_s - 1e-6, stop_s=stop_s + 1e-6, at_s=at_s)

    pull, over = line(at_s - 0.15, at_s), line(at_s + RISE_S, at_s + 2.5 * RISE_S)
    starts = np.arange(at_s, at_s + RISE_S, engine.step_s)
    legs = [leg for start in starts if (leg := line(float(start), float(start) + ahead_s)) is not None]
    if pull is None or pull.samples < 3 or over is None or not legs:
        return None
    steepest = max(legs, key=lambda leg: leg.slope)
    least = max(FLARE_RPM_PER_S, FLARE_SHARE * pull.slope, 4.0 * engine.noise_rpm / ahead_s)
    if legs[0].slope - pull.slope < least or over.slope > pull.slope:
        return None
    met_s = at_s + max((pull.value - steepest.value) / (steepest.slope - pull.slope), 0.0)
    return met_s + 0.5 * max(engine.step_s - SHORT_STEP_S, 0.0)


def find_takeover(engine: EngineSpeed, fall: Fall, *, start_s: float) -> Edge:
    """The moment at which the next gear of a converter's box has taken over: engine speed's fall lets up.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    fall : Fall
        The fall into the next gear.
    start_s : float
        Where the ratio began to change. [s]

    Returns
    -------
    Edge
        The end of the first steep stretch of the fall: after it the engine only creeps down with the converter's slip,
        or, a while later, is drawn down further as the converter locks.
    """
    steep = slope(engine.rpm, step_s=engine.step_s, span_s=max(0.05, 3 * engine.step_s))
    t = engine.true_time_s
    inside = np.flatnonzero((t > start_s) & (t < fall.bottom_s))
    if inside.size == 0 or not float(steep[inside].min()) < 0.0:
        return Edge(fall.bottom_s - engine.late_s, TAKEOVER_PLUS_MINUS_S, "engine_speed")
    falling = inside[steep[inside] < STEEP * float(steep[inside].min())]
    first = falling[: int(np.argmax(np.append(np.diff(falling) > 1, True))) + 1]
    steepest = int(first[np.argmin(steep[first])])
    easing = np.flatnonzero(steep[steepest:] > EASED * steep[steepest])
    last = steepest + int(easing[0]) if easing.size else steepest
    taken_s = max(float(t[last]) - FLUID_LATE_S, start_s)
    return Edge(taken_s, float(np.hypot(TAKEOVER_PLUS_MINUS_S, engine.step_s)), "engine_speed")
