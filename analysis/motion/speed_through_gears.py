"""Speed of a car whose logs hold no speed at all: its engine's, through the gears given.

A run goes up through the gears one by one. Each sharp fall of engine speed by about the step to the next gear is a
shift; between two of them the gear carries and engine speed is car speed. Before the clutch has locked in first gear,
and through a shift, engine speed says nothing of the car and is left out.

Public: `SpeedThroughGears`, `speed_through_gears`, `find_upshifts`, `clutch_locks`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.engine_speed import EngineSpeed, read_engine_speed
from passband.analysis.sensors.priors import SURELY_OPEN
from passband.analysis.statistics.filters import slope, smooth
from passband.analysis.windows.window import RunWindow

NAME = "engine_speed_through_gears"
"""Name of the channel made."""
STEP_SHARE = (0.55, 1.9)
"""A fall of engine speed is a shift where it is so much of the step between the ratios: a biting clutch stops it short,
a flare before it and a slowing car make it longer. [-]"""
FALL_S = 0.25
"""At least the lesser share of the step is lost within this; an engine braked by its car takes longer. [s]"""
FOOT_FALL_S, FOOT_FALL = 0.6, 0.15
"""A foot on a clutch takes longer, and may let the engine up between lift and bite: so long, where the engine loses
this share and more, for which a car would have to brake at 0.25 g from 10 m/s. [s], [-]"""
PULLED_S, PULLED, CLEAR_OF_BITE_S = 1.0, 0.01, 0.9
"""Such a shift ends a pull: the engine has gained so much in the last second, which none held for the launch has; and
falls so long after the clutch has bitten are no hook-up of spinning tires. [s], [-], [s]"""
LOST_UNDER_POWER, LOST_FOR_S, REGAINED = 0.15, 0.3, 0.05
"""A car under power loses no such share of its speed for so long, nor in a shift: a second without drive costs a car of
0.1 g of drag at 20 m/s a twentieth. Where the speed made does, and gains as much again as the last, its gears were not
followed; behind the run a car that slows gains nothing again, whether or not its throttle is logged. [-], [s], [-]"""
BITES_S = 0.6
"""Until so long after the launch engine speed falls because the clutch bites. [s]"""
BITTEN_SHARE, STARTED_MPS = 0.6, 2.0
"""The clutch no longer pulls the engine down, and a fall of it can be a shift, where the car is at this share of what
first gear makes of engine speed, and moves. [-], [m/s]"""
SLIPS_SHARE, MOST_OFF, NEAR_SHARE = 0.06, 0.3, 0.8
"""Tires that grip turn faster than the ground by no more than this, scale and growth in it; and what is off by more is
another gear or a spinning tire, however little is known of the speed: gears lie a fifth and more apart. [-]"""
SETTLES_S, FREE_S = 0.12, 0.04
"""Left out after a fall, while the clutch slips and the drive rings; and before it. [s]"""
CALM_S, RISE_S = 0.06, 0.24
"""Spans over which engine speed and its rise are smoothed to find when the clutch locks. [s]"""
LOCKED_SHARE = 0.85
"""The clutch has locked where engine speed rises at this share of what the car must have gained each second to be at
that speed since the launch: before, it hardly rises. [-]"""
LATEST_LOCK_S = 3.0
"""A clutch that has not locked by then is not seen to lock. [s]"""


@dataclass(frozen=True, slots=True)
class Upshift:
    """A fall of engine speed from one gear to a higher one."""

    start_s: float
    """[s]"""
    end_s: float
    """[s]"""
    gears: int
    """How many gears up."""


@dataclass(frozen=True, slots=True)
class SpeedKnown:
    """The car's speed as another sensor has it, roughly."""

    time_s: FloatArray
    """Rising, shape (n,). [s]"""
    speed_mps: FloatArray
    """Shape (n,). [m/s]"""
    sd_mps: FloatArray
    """What is open of it, its lateness included, shape (n,). [m/s]"""

    def reaches(self, time_s: FloatArray, speed_mps: FloatArray) -> float:
        """The first of the times at which the car is as fast as asked, once it moves; the last where it never is."""
        fast = np.interp(time_s, self.time_s, self.speed_mps, left=0.0) > np.maximum(speed_mps, STARTED_MPS)
        return float(time_s[int(np.argmax(fast))] if fast.any() else time_s[-1])

    def agrees(self, time_s: FloatArray, speed_mps: FloatArray) -> bool:
        """Whether a stretch of the driven tires' speed can be this car's.

        It is taken or left whole: samples left out for lying to one side would draw the rest to the other.
        """
        about = np.interp(time_s, self.time_s, self.speed_mps)
        open_mps = SLIPS_SHARE * about + 2.0 * np.interp(time_s, self.time_s, self.sd_mps)
        near = np.abs(speed_mps - about) < np.minimum(open_mps, MOST_OFF * about)
        return bool(near.size and near.mean() >= NEAR_SHARE)


@dataclass(frozen=True, slots=True)
class SpeedThroughGears:
    """The car's speed as its engine's shows it."""

    speed: Channel | None = None
    """Surface speed of the driven tires where a gear carries, on the engine's true times; None where the gearing is not
    given, behind a converter, or where no first gear is seen to carry. [m/s]"""
    findings: tuple[Finding, ...] = ()
    """On what it rests, or what to tell."""
    let_go_s: tuple[tuple[float, float], ...] = ()
    """Where the drive lets go and takes hold again: its shifts. [s]"""


def speed_through_gears(
    traces: Traces, car: Car, window: RunWindow, *, about: SpeedKnown | None = None
) -> SpeedThroughGears:
    """The car's speed by its engine's, where gears and tires are given.

    Parameters
    ----------
    traces : Traces
        Needs engine speed; a throttle shows where the foot lifts for a shift.
    car : Car
        Overall ratios and the driven tires' circumference.
    window : RunWindow
        The run.
    about : SpeedKnown, optional
        The car's speed as another sensor has it: where that is far from what the gear makes of engine speed, the gear
        is another, or clutch or tires slip.

    Returns
    -------
    SpeedThroughGears
        The speed where it can be had.

    Notes
    -----
    Taken for granted: the run starts in first gear and no gear is changed but up. Wheelspin passes for speed.
    """
    ratios, around = car.overall_ratios, car.tire_circumference
    launch_s, stop_s = window.launch_s, window.stop_s
    if ratios is None or around is None:
        return SpeedThroughGears(None, (_not_given(),))
    engine = read_engine_speed(traces, start_s=launch_s - 0.5, stop_s=stop_s)
    if car.has_converter or engine is None:
        return SpeedThroughGears()
    bitten_s = _bitten(engine, about, around / ratios[0], launch_s)
    shifts = find_upshifts(engine, ratios, start_s=bitten_s, stop_s=stop_s)
    first_end_s = shifts[0].start_s if shifts else stop_s
    locked_s = clutch_locks(engine, launch_s=launch_s, stop_s=first_end_s)
    if locked_s is None and about is None:
        return SpeedThroughGears()
    speed = np.full(engine.rpm.size, np.nan)
    gear, begins_s = 0, first_end_s if locked_s is None else locked_s
    foot_down = _foot_down(engine, traces)
    for shift in [*shifts, Upshift(stop_s, stop_s, 0)]:
        carried = (engine.true_time_s >= begins_s) & (engine.true_time_s <= shift.start_s - FREE_S) & foot_down
        its = engine.rpm[carried] / 60.0 * around / ratios[gear]
        if about is None or about.agrees(engine.true_time_s[carried], its):
            speed[carried] = its
        gear, begins_s = gear + shift.gears, shift.end_s + SETTLES_S
    if about is None and _loses_under_power(speed, engine.step_s):
        return SpeedThroughGears(None, (_gears_not_followed(),))
    source = traces.get("engine_speed")
    channel = Channel(
        name=NAME,
        header="engine speed through the gears",
        unit="m/s",
        unit_written="",
        time_s=engine.true_time_s,
        values=speed,
        rate_hz=1.0 / engine.step_s,
        confidence=1.0,
        log=source.log if source is not None else 0,
    )
    let_go = tuple((shift.start_s - FREE_S, shift.end_s + SETTLES_S) for shift in shifts)
    return SpeedThroughGears(channel, (_rests_on_engine(len(shifts)),), let_go)


def find_upshifts(engine: EngineSpeed, ratios: Sequence[float], *, start_s: float, stop_s: float) -> list[Upshift]:
    """The falls of engine speed that are changes up, first gear engaged at the start.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    ratios : sequence of float
        Overall, first gear first. [-]
    start_s, stop_s : float
        Where to look. [s]

    Returns
    -------
    list of Upshift
        In order; no more than there are gears above the first.
    """
    log = np.log(np.maximum(engine.rpm, 1.0))
    width, wide = (max(round(span / engine.step_s), 1) for span in (FALL_S, FOOT_FALL_S))
    quick, slow = _fall_within(log, width), _fall_within(log, wide)
    back = min(max(round(PULLED_S / engine.step_s), 1), log.size)
    pulled = log - np.concatenate((np.full(back, np.inf), log[: log.size - back])) > PULLED
    slow = np.where(pulled & (engine.time_s >= start_s + CLEAR_OF_BITE_S), slow, 0.0)
    fall_ahead = np.where(slow > FOOT_FALL, slow, quick)
    found: list[Upshift] = []
    gear, at = 0, int(np.searchsorted(engine.time_s, start_s))
    last = int(np.searchsorted(engine.time_s, stop_s))
    while gear < len(ratios) - 1 and at < last - 1:
        step = math.log(ratios[gear] / ratios[gear + 1])
        hits = np.flatnonzero(fall_ahead[at:last] > STEP_SHARE[0] * step)
        if hits.size == 0:
            break
        # the top is where the fall ahead is deepest, the bottom where engine speed turns up again
        first = at + int(hits[0])
        reach = wide if slow[first] > FOOT_FALL else width
        top = first + int(np.argmax(log[first : first + reach + 1]))
        bottom = _bottom(log, top + int(np.argmin(log[top : min(top + reach, last) + 1])), last)
        depth = float(log[top] - log[bottom])
        gears = _gears_up(depth, ratios, gear)
        if gears:
            found.append(Upshift(float(engine.true_time_s[top]), float(engine.true_time_s[bottom]), gears))
            gear += gears
        at = max(bottom, top + 1) + max(width // 2, 1)
    return found


def _fall_within(log: FloatArray, width: int) -> FloatArray:
    """How far each sample stands above the lowest of the next few."""
    padded = np.concatenate((log, np.full(width, np.inf)))
    return np.asarray(log - np.lib.stride_tricks.sliding_window_view(padded, width + 1).min(axis=1))


def _bottom(log: FloatArray, top: int, last: int) -> int:
    """Where a fall ends: no lower sample among the next few."""
    lowest = top
    for at in range(top + 1, last):
        if log[at] < log[lowest]:
            lowest = at
        elif log[at] > log[lowest] + 0.01:
            break
    return lowest


def _gears_up(depth: float, ratios: Sequence[float], gear: int) -> int:
    """How many gears up a fall is; 0 for one that is no shift."""
    one = math.log(ratios[gear] / ratios[gear + 1])
    if not STEP_SHARE[0] * one <= depth:
        return 0
    if depth <= STEP_SHARE[1] * one or gear + 2 >= len(ratios):
        return 1
    two = math.log(ratios[gear] / ratios[gear + 2])
    return 2 if abs(depth - two) < abs(depth - one) else 1


def _bitten(engine: EngineSpeed, about: SpeedKnown | None, metres_per_turn: float, launch_s: float) -> float:
    """When the clutch no longer pulls the engine down: the car is near its speed in first gear, the engine rises.

    A fall that goes on from before is the bite's own, however long it takes, and no shift.
    """
    time, since_s = engine.true_time_s, launch_s + BITES_S
    if about is not None:
        since_s = max(since_s, about.reaches(time, BITTEN_SHARE * engine.rpm / 60.0 * metres_per_turn))
    rises = (slope(engine.rpm, step_s=engine.step_s, span_s=CALM_S, order=1) > 0.0) & (time >= since_s)
    return float(time[int(np.argmax(rises))]) if rises.any() else since_s


def clutch_locks(engine: EngineSpeed, *, launch_s: float, stop_s: float) -> float | None:
    """When the clutch has locked after the launch.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    launch_s, stop_s : float
        First motion and the end of first gear. [s]

    Returns
    -------
    float or None
        None where engine speed never rises as a car's would. [s]

    Notes
    -----
    A locked engine goes with the car: under a pull that is steady since the launch its speed is its rise times the
    time since then. While the clutch slips it is higher than that and hardly rises.
    """
    inside = (engine.true_time_s > launch_s + 0.1) & (engine.true_time_s < min(stop_s, launch_s + LATEST_LOCK_S))
    if inside.sum() < 8:
        return None
    calm = smooth(engine.rpm, step_s=engine.step_s, span_s=CALM_S, order=1)
    rise = slope(engine.rpm, step_s=engine.step_s, span_s=RISE_S, order=1)
    since = np.where(inside, engine.true_time_s - launch_s, np.nan)
    goes = inside & (rise * since >= LOCKED_SHARE * calm)
    return float(engine.true_time_s[int(np.argmax(goes))]) if goes.any() else None


def _loses_under_power(speed_mps: FloatArray, step_s: float) -> bool:
    """Whether the speed made falls as no car's does while it is under power."""
    known = speed_mps[np.isfinite(speed_mps)]
    if not known.size:
        return False
    below = known < (1.0 - LOST_UNDER_POWER) * np.maximum.accumulate(known)
    regained = np.maximum.accumulate(known[::-1])[::-1] > (1.0 + REGAINED) * known
    return int((below & regained).sum()) * step_s > LOST_FOR_S


def _foot_down(engine: EngineSpeed, traces: Traces) -> BoolArray:
    """Whether the throttle is open at each sample; everywhere where it is not logged."""
    throttle = traces.get("throttle")
    if throttle is None or throttle.known.values.size < 20:
        return np.ones(engine.rpm.size, dtype=np.bool_)
    at = throttle.at(engine.true_time_s)
    return np.asarray(~(at < SURELY_OPEN * float(np.nanmax(at, initial=0.0))))


def _not_given() -> Finding:
    text = (
        "No log holds a wheel, shaft or GPS speed. With the gear ratios, the final drive and the driven tires' "
        "circumference given, the car's speed could be had from its engine's."
    )
    return Finding("speed-needs-gearing", "note", text)


def _gears_not_followed() -> Finding:
    text = (
        "No log holds a wheel, shaft or GPS speed, and engine speed through the gears given would be that of a car "
        "that loses speed under power: its shifts were not followed, or the tires spun. No speed was made of it. Log "
        "a wheel or GPS speed."
    )
    return Finding("gears-not-followed", "caution", text, "engine_speed")


def _rests_on_engine(shifts: int) -> Finding:
    text = (
        f"No log holds a wheel, shaft or GPS speed: the car's was made from engine speed through the gears given, from "
        f"first up over {shifts} shift{'' if shifts == 1 else 's'}. Until the clutch had locked it is a guess, and "
        "wheelspin passes for speed: distance, splits and power are rough. Log a wheel or GPS speed."
    )
    return Finding("ground-speed-from-engine", "caution", text, "engine_speed")
