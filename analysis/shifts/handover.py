"""A shift that is handed from one clutch pack to the next under power: where it starts, which engine speed shows late.

In a dual clutch, or a box with packs and bands, the next gear's pack takes torque while the old one still holds: the
drive begins to be handed over with the engine still turning in the old gear, and only once the old pack slips does
engine speed turn. A torque cut is the other way round: engine speed bends at once, slowly, and falls when the dogs go
in. The two are told apart by the fall, even from its first moment on or late and steep, and by the pull, which a cut
takes away.

Public: `start_of_handover`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed, local_line
from passband.analysis.shifts.fall import Fall

TURNS_AFTER_S, TURNS_PLUS_MINUS_S = 0.012, 0.024
"""Engine speed turns so long after the hand-over began, 95 % half-width with it: at once where the old pack is dropped
as the new one bites, up to 40 ms later where they exchange the torque first. Common practice, no source. [s], [s]"""
RESTS_S = 0.025
"""Packs that exchange torque take the pull from an engine that still turns in the old gear: it stops rising then, and
turns down more than this later. [s] By arithmetic: packs exchange torque over 40 to 100 ms."""
RESTED_S = 0.16
"""And less than this later: one that rests longer is on its limiter. [s] By arithmetic."""
RISES_S = 0.12
"""It rose until then, for so long. [s]"""
TOPS_NOISE, RESTS_OPEN, LEAST_RISE = 2.0, 0.4, 4.0
"""It may have stopped rising wherever it is within so many times its noise of its highest; a bend so late may be the
start itself, of tires that took hold before it: so much of what lies between is open. It had
risen if by more than so many times its noise. [-], [-], [-]"""
FIRST_SHARE = 0.25
"""A fall is timed from its bend to this share of it. [-]"""
LAST_SHARE = 0.75
"""And on to this one: at one rate that takes twice as long; of a fall that gathers pace from nothing, as the square of
time, 0.73 times. An engine that is cut first and dragged down later takes less still. [-] By arithmetic."""
EVEN = 1.0
"""An even fall takes more than so many times as long. [-]"""
PULLED_ON_SHARE = 0.6
"""A pull that falls below this of what it was was cut: what is handed over is at least the step between two gears.
[-]"""
FELT_ON_SHARE = 0.8
"""One that an accelerometer shows to stay above this until the engine is half-way down was not: a cut takes it first,
an engine that packs draw down pushes, and only once it is down the car has what the next gear gives. [-]"""
USUAL_S = (0.3, 0.05)
"""What it was: over this stretch before. [s]"""


def start_of_handover(engine: EngineSpeed, turned: Edge, fall: Fall, motion: Motion, *, felt: bool) -> Edge:
    """The start of a shift whose engine speed alone shows it: earlier than it turns where drive was handed over.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    turned : Edge
        Where engine speed bends down.
    fall : Fall
        Into the next gear.
    motion : Motion
        Whether the car pulled on; one that is made from engine speed does not tell.
    felt : bool
        Whether an accelerometer is in it, which a cut would not escape.

    Returns
    -------
    Edge
        The same where the fall or the pull shows a torque cut. Where engine speed had stopped rising well before it
        turned down, from there: a cut lets it do neither.
    """
    even = _even(engine, turned, fall)
    rested = _rested(engine, turned) if even else None
    if rested is not None:
        return rested
    kept_on = even and _kept_pull(motion, turned, until_s=fall.bottom_s) > PULLED_ON_SHARE
    if not kept_on and not (felt and _kept_pull(motion, turned, until_s=fall.middle_s) > FELT_ON_SHARE):
        return turned
    open_s = float(np.hypot(turned.plus_minus_s, TURNS_PLUS_MINUS_S))
    return replace(turned, time_s=turned.time_s - TURNS_AFTER_S, plus_minus_s=open_s)


def _rested(engine: EngineSpeed, turned: Edge) -> Edge | None:
    """Where an engine that had risen came to rest before it turned down; None where it did not."""
    time_s, rpm = engine.true_time_s, engine.rpm
    before = np.flatnonzero((time_s > turned.time_s - RESTED_S) & (time_s < turned.time_s + engine.step_s))
    if before.size < 3:
        return None
    high = before[rpm[before] >= rpm[before].max() - TOPS_NOISE * engine.noise_rpm]
    first_s, last_s = float(time_s[high[0]]), float(time_s[high[-1]])
    top_s = 0.5 * (first_s + last_s)
    rests_s = turned.time_s - top_s
    rose = local_line(time_s, rpm, start_s=top_s - RISES_S, stop_s=top_s, at_s=top_s)
    if rests_s < RESTS_S + 0.5 * engine.step_s or rose is None or high[0] == before[0]:
        return None
    if rose.slope * RISES_S < LEAST_RISE * engine.noise_rpm:
        return None
    open_s = float(np.hypot(np.hypot(turned.plus_minus_s, TURNS_PLUS_MINUS_S), RESTS_OPEN * rests_s))
    return replace(turned, time_s=top_s, plus_minus_s=open_s)


def _even(engine: EngineSpeed, turned: Edge, fall: Fall) -> bool:
    """Whether engine speed falls evenly from where it turned, and does not wait for the next gear to drag it down."""
    time_s, stop_s = engine.true_time_s, fall.bottom_s - engine.late_s
    inside = (time_s >= turned.time_s) & (time_s <= stop_s)
    high, low = (float(np.interp(at, time_s, engine.rpm)) for at in (turned.time_s, stop_s))
    if inside.sum() < 2 or not high > low:
        return False
    at_s = np.concatenate([[turned.time_s], time_s[inside]])
    fallen = np.concatenate([[0.0], np.maximum.accumulate((high - engine.rpm[inside]) / (high - low))])
    first_s, last_s = np.interp((FIRST_SHARE, LAST_SHARE), fallen, at_s)
    return bool(last_s - first_s > EVEN * (first_s - turned.time_s))


def _kept_pull(motion: Motion, turned: Edge, *, until_s: float) -> float:
    """The least share of its pull that the car kept from where engine speed turned until a moment; 1 if unseen."""
    usual = (motion.time_s > turned.time_s - USUAL_S[0]) & (motion.time_s < turned.time_s - USUAL_S[1])
    since = (motion.time_s > turned.time_s - USUAL_S[1]) & (motion.time_s < until_s)
    if motion.basis is SpeedBasis.ENGINE_SPEED or not usual.any() or not since.any():
        return 1.0
    pull = float(np.median(motion.acceleration_mps2[usual]))
    return float(motion.acceleration_mps2[since].min()) / pull if pull > 0.0 else 1.0
