"""The run's window: which stretch of a log is a run, and what the rest is.

Public: `Decoy`, `RunWindow`, `find_runs`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.car import Car
from analysis.findings import Finding
from analysis.intervals import Interval, find_above, find_true_runs
from analysis.log import Traces
from analysis.quantities import BoolArray, FloatArray
from analysis.track.launch_moment import find_launch_moment
from analysis.track.movement import FRONT, REAR, Movement, read_movement, smoothed

STILL_MPS = 0.8
"""Below this the car counts as standing: wheel sensors read nought, GPS wanders. [m/s]"""
MOVES_MPS = 4.0
"""Staging creep and pushing stay below this. [m/s]"""
BRISK_MPS2 = 2.5
"""A car under power leaves quicker than this; on the return road nobody does. [m/s2]"""
BRISK_TO_MPS = 12.0
"""Speed up to which a departure is judged. [m/s]"""
RUN_DISTANCE_M = 18.3
"""A departure that goes on under power for 60 ft is a run, finished or not. [m]"""
HARDEST_STOP_MPS2 = 28.0
"""No car on wheels and a parachute stops harder all the way: a tire speed that falls quicker was spinning. [m/s2]"""
FULL_THROTTLE = 0.6
"""Share of its travel above which the throttle counts as open. [-]"""
LONGEST_SHIFT_S = 0.8
"""A throttle closed for longer than this is no shift. [s]"""
AFTER_LIFT_S = 4.0
"""How long after the lift the car may still roll towards the finish line. [s]"""
SLOWED_SHARE = 0.7
"""A car slowed to this share of its greatest speed has left the run. [-]"""
LONGEST_RUN_S = 60.0
"""No run down a strip lasts longer. [s]"""


@dataclass(frozen=True, slots=True)
class Decoy:
    """A stretch of the log that is no run. Times on the log's own clock."""

    kind: str
    """``burnout``, ``staging creep``, ``false start``, ``return road``, ``dry hop``."""
    log_start_s: float
    """First moment. [s]"""
    log_end_s: float
    """Last moment. [s]"""


@dataclass(frozen=True, slots=True)
class RunWindow:
    """One run in a log, roughly: the launch is found to a sample or two, the finish only bounded."""

    launch_s: float
    """First forward motion of the run. [s, log]"""
    launch_plus_minus_s: float
    """95 % half-width of it. [s]"""
    stop_s: float
    """The latest moment that can belong to the run: the lift, or the end of the log. [s, log]"""
    lift_s: float | None
    """The driver's lift of the throttle after the pull; None where the log ends or shows none. [s, log]"""
    decoys: tuple[Decoy, ...]
    """What else the log holds before and after this run."""
    evidence: tuple[str, ...]
    """Channels that the launch rests on."""


@dataclass(frozen=True, slots=True)
class _Trip:
    """One movement from rest to rest, or to the log's end; samples [start, stop)."""

    start: int
    stop: int
    peak: int
    peak_mps: float
    start_mps2: float
    distance_m: float


def find_runs(traces: Traces, car: Car) -> tuple[list[RunWindow], list[Finding]]:
    """Find each run in the logs.

    Parameters
    ----------
    traces : Traces
        All channels on the ECU log's clock.
    car : Car
        Driven axle and gearing serve where given.

    Returns
    -------
    list of RunWindow
        In order of time; empty where nothing in the logs is a run.
    list of Finding
        What the windows rest on, and what was doubted.

    Notes
    -----
    A run is a departure from rest under power that goes on for 60 ft or more. Where ground speed is logged it is
    judged by that; else by the driven tires, stretches left out in which they gain or lose speed as no car can;
    else by engine speed and throttle alone.
    """
    movement = read_movement(traces, car)
    if movement.time_s.size == 0:
        return [], []
    speed, basis = _speed_of_car(movement)
    if basis:
        trips = _trips(movement.time_s, speed)
        runs = _choose_runs(trips)
    else:
        speed = np.full(movement.time_s.size, np.nan)
        trips = runs = _pulls(movement)
    findings = [] if basis == movement.ground_basis and basis else [_basis_finding(basis)] if runs else []
    windows = []
    for index, run in enumerate(runs):
        until = runs[index + 1].start if index + 1 < len(runs) else movement.time_s.size
        windows.append(_window(traces, car, movement, speed, (run, until, [t for t in trips if t not in runs])))
    return windows, findings


def _basis_finding(basis: str) -> Finding:
    if basis:
        text = "No log holds ground speed: the run was found by the driven tires, burnouts set aside by how they stop."
        return Finding("run-found-by-driven-wheel", "note", text)
    text = "No log holds a speed: the run was found by engine speed and throttle alone, so its launch is less sure."
    return Finding("run-found-by-engine", "caution", text)


def _speed_of_car(movement: Movement) -> tuple[FloatArray, str]:
    for values, basis in ((movement.ground_mps, movement.ground_basis), (movement.tire_mps, movement.tire_basis)):
        if np.isfinite(values).sum() > 50:
            return _without_spin(movement.time_s, values), basis
    return movement.ground_mps, ""


def _without_spin(time_s: FloatArray, speed_mps: FloatArray) -> FloatArray:
    """Speed with nought in stretches that end, or begin, as no car can: tires spun or locked there."""
    calm = smoothed(speed_mps, span_s=0.1)
    level = np.nan_to_num(calm)
    step = float(time_s[1] - time_s[0])
    out = np.array(calm)
    for piece in find_above(level, on=MOVES_MPS, off=STILL_MPS):
        peak = float(level[piece.start : piece.stop].max())
        high = piece.start + np.flatnonzero(level[piece.start : piece.stop] > 0.7 * peak)
        rest = (piece.stop - high[-1]) * step
        ended = piece.stop < level.size and np.isfinite(calm[piece.stop])
        if ended and 0.7 * peak / max(rest, step) > HARDEST_STOP_MPS2:
            out[piece.start : piece.stop] = 0.0
    return out


def _trips(time_s: FloatArray, speed_mps: FloatArray) -> list[_Trip]:
    level = np.nan_to_num(speed_mps)
    step = float(time_s[1] - time_s[0])
    trips = []
    for piece in find_above(level, on=MOVES_MPS, off=STILL_MPS):
        inside = level[piece.start : piece.stop]
        peak = piece.start + int(np.argmax(inside))
        goal = min(BRISK_TO_MPS, 0.8 * float(inside.max()))
        start, reached = _departure(inside, goal)
        trips.append(
            _Trip(
                piece.start + start,
                piece.stop,
                peak,
                float(inside.max()),
                (goal - STILL_MPS) / max((reached - start) * step, step),
                float(np.sum(level[piece.start + start : peak + 1]) * step),
            )
        )
    return trips


def _departure(speed_mps: FloatArray, goal_mps: float) -> tuple[int, int]:
    """Where a trip's pull begins: the last slow moment before it first reaches the goal; rolling starts too."""
    reached = int(np.argmax(speed_mps >= goal_mps))
    slow = np.flatnonzero(speed_mps[:reached] < 1.5 * STILL_MPS)
    return (int(slow[-1]) if slow.size else 0), reached


def _choose_runs(trips: list[_Trip]) -> list[_Trip]:
    brisk = [trip for trip in trips if trip.start_mps2 > BRISK_MPS2]
    full = [trip for trip in brisk if trip.distance_m > RUN_DISTANCE_M and trip.peak_mps > BRISK_TO_MPS]
    if full:
        return full
    return [max(brisk, key=lambda trip: trip.distance_m)] if brisk else []


def _open(movement: Movement) -> BoolArray:
    """Where the engine is asked for power: throttle open, else engine speed high."""
    if np.isfinite(movement.throttle).sum() > 50:
        return np.nan_to_num(movement.throttle) > FULL_THROTTLE
    rpm = np.nan_to_num(movement.engine_rpm)
    return rpm > 0.5 * float(np.percentile(rpm, 99.5))


def _pulls(movement: Movement) -> list[_Trip]:
    """Stretches of power with upshifts in them, where nothing shows speed."""
    step = movement.step_s
    rpm = np.nan_to_num(smoothed(movement.engine_rpm, span_s=0.1))
    if not (rpm > 0).any():
        return []
    stretches = _bridge(find_true_runs(_open(movement)), round(LONGEST_SHIFT_S / step))
    high = float(np.percentile(rpm, 99.5))
    pulls = []
    for piece in stretches:
        if (piece.stop - piece.start) * step < 2.5:
            continue
        falls = _upshifts(rpm[piece.start : piece.stop], step)
        if falls.size == 0:
            continue
        first = piece.start + int(falls[0])
        start = _leaves_plateau(rpm, piece.start, first, step, 0.3 * high)
        pulls.append(
            _Trip(start, piece.stop, piece.stop - 1, float("nan"), float(falls.size), float(piece.stop - start))
        )
    if not pulls:
        return []
    most = max(pull.distance_m for pull in pulls)
    return [pull for pull in pulls if pull.distance_m > 0.5 * most]


def _bridge(pieces: list[Interval], gap: int) -> list[Interval]:
    joined: list[Interval] = []
    for piece in pieces:
        if joined and piece.start - joined[-1].stop <= gap:
            joined[-1] = Interval(joined[-1].start, piece.stop)
        else:
            joined.append(piece)
    return joined


def _upshifts(rpm: FloatArray, step_s: float) -> FloatArray:
    """Samples at which engine speed is about to fall by a tenth within 0.4 s and pulls again after it."""
    ahead = max(round(0.4 / step_s), 1)
    if rpm.size < 3 * ahead:
        return np.zeros(0)
    falls = rpm[ahead:] < 0.9 * rpm[:-ahead]
    found = []
    for piece in find_true_runs(falls):
        low = piece.start + ahead
        later = rpm[low : low + round(0.8 / step_s)]
        if later.size > 3 and later[-1] > later.min() + 50 and rpm[max(piece.start - ahead, 0)] < rpm[piece.start]:
            found.append(piece.start)
    return np.array(found, dtype=np.float64)


def _leaves_plateau(rpm: FloatArray, start: int, first_shift: int, step_s: float, least_rpm: float) -> int:
    """Where engine speed first leaves a steady level held for 0.4 s or more; else where the stretch starts."""
    hold = round(0.4 / step_s)
    for index in range(max(start - hold, 0), max(first_shift - hold, 0)):
        held = rpm[index : index + hold]
        level = float(np.median(held))
        if level < least_rpm or float(np.ptp(held)) > 0.06 * level:
            continue
        away = np.flatnonzero(np.abs(rpm[index:first_shift] - level) > 0.06 * level)
        return index + int(away[0]) if away.size else index
    return start


def _window(
    traces: Traces, car: Car, movement: Movement, speed: FloatArray, around: tuple[_Trip, int, list[_Trip]]
) -> RunWindow:
    run, until, others = around
    time = movement.time_s
    undriven, driven = _names(traces, car)
    moment = find_launch_moment(traces, near_s=float(time[run.start]), undriven=undriven, driven=driven)
    lift = _lift(movement, run, min(until, run.stop))
    stop = _stop(time, speed, run, min(until, run.stop), lift)
    return RunWindow(
        launch_s=moment.time_s,
        launch_plus_minus_s=moment.plus_minus_s,
        stop_s=stop,
        lift_s=lift,
        decoys=_decoys(movement, speed, run, others),
        evidence=moment.evidence,
    )


def _names(traces: Traces, car: Car) -> tuple[tuple[str, ...], tuple[str, ...]]:
    front = tuple(name for name in FRONT if traces.get(name) is not None)
    rear = tuple(name for name in REAR if traces.get(name) is not None)
    undriven, driven = {"front": (rear, front), "rear": (front, rear)}.get(car.driven_axle or "", ((), front + rear))
    return (*undriven, "ground_speed", "gps_speed"), ("wheel_speed_driven", *driven)


def _lift(movement: Movement, run: _Trip, stop: int) -> float | None:
    """Last moment of open throttle near the greatest speed; None where the log ends before it."""
    opened = _open(movement)
    last = min(run.peak + round(1.0 / movement.step_s), stop, opened.size)
    pieces = [p for p in find_true_runs(opened[run.start : last]) if (p.stop - p.start) * movement.step_s > 0.2]
    if not pieces or run.start + pieces[-1].stop >= opened.size - 2:
        return None
    end = run.start + pieces[-1].stop
    return float(movement.time_s[end]) if end < last else None


def _stop(time_s: FloatArray, speed: FloatArray, run: _Trip, stop: int, lift_s: float | None) -> float:
    last = float(time_s[min(stop, time_s.size) - 1])
    slowed = np.flatnonzero(np.nan_to_num(speed[run.peak : stop], nan=np.inf) < SLOWED_SHARE * run.peak_mps)
    if slowed.size:
        last = min(last, float(time_s[run.peak + slowed[0]]))
    if lift_s is not None:
        last = min(last, lift_s + AFTER_LIFT_S)
    return min(last, float(time_s[run.start]) + LONGEST_RUN_S)


def _decoys(movement: Movement, speed: FloatArray, run: _Trip, others: list[_Trip]) -> tuple[Decoy, ...]:
    time = movement.time_s
    found = [Decoy("burnout", float(time[a]), float(time[b - 1])) for a, b in _burnouts(movement, speed, run)]
    for trip in others:
        kind = (
            "return road" if trip.start > run.start else "dry hop" if trip.start_mps2 > BRISK_MPS2 else "staging creep"
        )
        found.append(Decoy(kind, float(time[trip.start]), float(time[trip.stop - 1])))
    slow = np.nan_to_num(speed)
    for piece in find_true_runs((slow > 0.25) & (slow < MOVES_MPS)):
        if piece.stop < run.start and (piece.stop - piece.start) * movement.step_s > 0.4:
            found.append(Decoy("staging creep", float(time[piece.start]), float(time[piece.stop - 1])))
    return tuple(sorted(found, key=lambda decoy: decoy.log_start_s))


def _burnouts(movement: Movement, speed: FloatArray, run: _Trip) -> list[tuple[int, int]]:
    """Stretches in which tires or engine work while the car stands or all but stands, before the run."""
    still = ~(np.nan_to_num(speed) > MOVES_MPS)
    tire = np.nan_to_num(movement.tire_mps)
    if (tire > 0).any():
        busy = find_above(np.where(still, tire, 0.0), on=MOVES_MPS, off=STILL_MPS)
    else:
        rpm = np.nan_to_num(movement.engine_rpm)
        busy = find_above(np.where(still, rpm, 0.0), on=0.5 * float(rpm.max()), off=0.3 * float(rpm.max()))
    step = movement.step_s
    return [
        (piece.start, piece.stop)
        for piece in busy
        if (piece.stop - piece.start) * step > 0.8 and piece.stop < run.start - round(0.3 / step)
    ]
