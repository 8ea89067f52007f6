"""Wheelspin: where the driven tires turned faster than the ground went by.

Public: `tire_speed_from_engine`, `find_wheelspin`, `with_wheelspin`, `tell_wheelspin`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.driveline.behind_converter import spin_behind_converter
from passband.analysis.driveline.gears import gear_at
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.distance import SpeedBasis, Wheelspin
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import Gears
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.priors import DRIVEN_TIRE_LATE_S, GROWTH
from passband.analysis.statistics.intervals import find_above

SPIN_MPS = 1.5
"""A tire that outruns the ground by less is gripping, or its sensor is late. [m/s]"""
SPIN_ON = 0.15
"""Share of tire speed that is slip from which a tire spins: grip peaks near it. [-]"""
SPIN_OFF = 0.10
"""Below it the tire grips again. [-]"""
SPIN_LASTS_S = 0.08
"""A shorter one is a hop or a sensor's ring. [s]"""

ALONE_LASTS_S = 0.25
"""The same of a driven wheel that all of the car's speed rests on: shafts swing about it in a shift for less. [s]"""


def tire_speed_from_engine(engine_rpm: FloatArray, overall_ratio: FloatArray, *, circumference_m: float) -> FloatArray:
    """Surface speed of the driven tires from engine speed in a locked gear.

    Parameters
    ----------
    engine_rpm : array, shape (n,)
        [rpm]
    overall_ratio : array, shape (n,)
        Engine turns per turn of the wheel; NaN where no gear carries. [-]
    circumference_m : float
        [m]

    Returns
    -------
    array, shape (n,)
        NaN where the ratio is. [m/s]

    Examples
    --------
    >>> tire_speed_from_engine(np.array([6000.0]), np.array([10.0]), circumference_m=2.0)
    array([20.])
    """
    return np.asarray(engine_rpm / 60.0 / overall_ratio * circumference_m)


def find_wheelspin(
    time_s: FloatArray, ground_mps: FloatArray, tire_mps: FloatArray
) -> tuple[tuple[Wheelspin, ...], FloatArray]:
    """Find each episode in which the tire outruns the ground.

    Parameters
    ----------
    time_s, ground_mps, tire_mps : array, shape (n,)
        Even grid [s] and speeds [m/s]; NaN is no spin.

    Returns
    -------
    tuple of Wheelspin
        In order; empty where none.
    array, shape (n,)
        The score: share of tire speed that is slip, zero where it is under 1.5 m/s.

    Notes
    -----
    Both must hold: slip speed over 1.5 m/s and share over 0.15, for 80 ms. What is less is grip.
    """
    slip = tire_mps - ground_mps
    share = np.where(slip > SPIN_MPS, slip / np.maximum(tire_mps, 0.1), 0.0)
    share = np.nan_to_num(share, nan=0.0)
    found = []
    for piece in find_above(share, on=SPIN_ON, off=SPIN_OFF):
        start, stop = float(time_s[piece.start]), float(time_s[min(piece.stop, time_s.size - 1)])
        if stop - start >= SPIN_LASTS_S:
            found.append(Wheelspin(start, stop, float(share[piece.start : piece.stop].max())))
    return tuple(found), share


def with_wheelspin(
    motion: Motion, evidence: RunEvidence, *, gears: Gears | None, follow_s: float | None = None
) -> Motion:
    """The motion with the driven tires' surface speed and the episodes of wheelspin.

    Parameters
    ----------
    motion : Motion
        ET.
    evidence : RunEvidence
        Of the run; circumference and ratios serve where no wheel or shaft sensor is logged.
    gears : Gears or None
        Needed where engine speed must show the tire's.
    follow_s : float, optional
        From when it does: before, the clutch slips. [s, ET]

    Returns
    -------
    Motion
        `tire_speed_mps`, `spinning`, `wheelspin` filled in; unchanged where nothing shows the tire's speed. Where
        ground speed itself rests on it, only where it was not believed for long is told.
    """
    channel = evidence.tires
    if channel is None and motion.basis is SpeedBasis.ENGINE_SPEED:
        return motion
    time = motion.time_s
    if channel is not None:
        known = channel.known
        tire = np.interp(time + DRIVEN_TIRE_LATE_S, known.time_s, known.values, left=np.nan, right=np.nan)
    else:
        tire = _from_engine(motion, evidence, gears)
        if gears is not None and not motion.through_driveline:
            tire = np.where(time >= (np.inf if follow_s is None else follow_s), tire, np.nan)
    tire = tire * (1.0 + GROWTH * motion.speed_mps**2)
    if motion.through_driveline:
        told = () if channel is None else find_wheelspin(time, motion.speed_mps, tire)[0]
        long = tuple(one for one in told if one.end_s - one.start_s >= ALONE_LASTS_S)
        return replace(motion, tire_speed_mps=tire, wheelspin=long, spinning=_inside(time, long))
    episodes, _ = find_wheelspin(time, motion.speed_mps, tire)
    if channel is None and evidence.converter:
        episodes = spin_behind_converter(motion, evidence, gears)
    return replace(motion, tire_speed_mps=tire, spinning=_inside(time, episodes), wheelspin=episodes)


def _inside(time_s: FloatArray, episodes: tuple[Wheelspin, ...]) -> BoolArray:
    spinning = np.zeros(time_s.size, dtype=np.bool_)
    for episode in episodes:
        spinning |= (time_s >= episode.start_s) & (time_s <= episode.end_s)
    return spinning


def tell_wheelspin(motion: Motion, evidence: RunEvidence) -> list[Finding]:
    """What is open of wheelspin that no sensor at the driven tires shows.

    Parameters
    ----------
    motion : Motion
        As of `with_wheelspin`.
    evidence : RunEvidence
        Whether a sensor shows the driven tires.

    Returns
    -------
    list of Finding
        None where a sensor shows the tires, or none spun.
    """
    if not motion.wheelspin or evidence.tires is not None or motion.wheelspin[0].peak_slip is None:
        return []
    first = motion.wheelspin[0]
    share = first.peak_slip or 0.0
    text = (
        f"No log shows the driven tires' speed: from {first.start_s:.2f} s the engine ran up to "
        f"{100 * share:.0f} % ahead of the ground; taken for wheelspin, but a slipping clutch looks alike; "
        "power's plus-minus holds both."
    )
    return [Finding("wheelspin-or-clutch", "note", text, f"{first.start_s:.2f} s from clock start")]


def _from_engine(motion: Motion, evidence: RunEvidence, gears: Gears | None) -> FloatArray:
    zero, car, engine = np.full(motion.time_s.size, np.nan), evidence.car, evidence.engine
    if gears is None or car.tire_circumference is None or not gears.overall_ratios or evidence.converter:
        return zero  # a converter slips itself
    if engine is None:
        return zero
    ratios = np.array([np.nan] + [ratio.value for ratio in gears.overall_ratios])
    ratio = ratios[np.clip(gear_at(motion.time_s, gears.intervals), 0, ratios.size - 1)]
    noisy = np.interp(motion.time_s, engine.true_time_s, engine.noisy.astype(np.float64)) > 0.0
    rpm = np.where(noisy, np.nan, engine.at(motion.time_s))
    return tire_speed_from_engine(rpm, ratio, circumference_m=car.tire_circumference)
