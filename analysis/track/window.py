"""The run's window: which stretch of a log is a run, and what the rest is.

Public: `Decoy`, `RunWindow`, `find_runs`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.car import Car
from analysis.findings import Finding
from analysis.intervals import find_above, find_true_runs
from analysis.log import Traces
from analysis.quantities import FloatArray
from analysis.track.launch_moment import find_launch_moment
from analysis.track.movement import FRONT, REAR, Movement, read_movement
from analysis.track.trips import (
    BRISK_MPS2,
    MOVES_MPS,
    STILL_MPS,
    Trip,
    choose_runs,
    find_pulls,
    find_trips,
    speed_of_car,
    throttle_open,
)

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
    speed, basis = speed_of_car(movement)
    if basis:
        trips = find_trips(movement, speed)
        runs = choose_runs(trips)
    else:
        speed = np.full(movement.time_s.size, np.nan)
        trips = runs = find_pulls(movement)
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


def _window(
    traces: Traces, car: Car, movement: Movement, speed: FloatArray, around: tuple[Trip, int, list[Trip]]
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


def _lift(movement: Movement, run: Trip, stop: int) -> float | None:
    """Last moment of open throttle near the greatest speed; None where the log ends before it."""
    opened = throttle_open(movement)
    last = min(run.peak + round(1.0 / movement.step_s), stop, opened.size)
    pieces = [p for p in find_true_runs(opened[run.start : last]) if (p.stop - p.start) * movement.step_s > 0.2]
    if not pieces or run.start + pieces[-1].stop >= opened.size - 2:
        return None
    end = run.start + pieces[-1].stop
    return float(movement.time_s[end]) if end < last else None


def _stop(time_s: FloatArray, speed: FloatArray, run: Trip, stop: int, lift_s: float | None) -> float:
    last = float(time_s[min(stop, time_s.size) - 1])
    slowed = np.flatnonzero(np.nan_to_num(speed[run.peak : stop], nan=np.inf) < SLOWED_SHARE * run.peak_mps)
    if slowed.size:
        last = min(last, float(time_s[run.peak + slowed[0]]))
    if lift_s is not None:
        last = min(last, lift_s + AFTER_LIFT_S)
    return min(last, float(time_s[run.start]) + LONGEST_RUN_S)


def _decoys(movement: Movement, speed: FloatArray, run: Trip, others: list[Trip]) -> tuple[Decoy, ...]:
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


def _burnouts(movement: Movement, speed: FloatArray, run: Trip) -> list[tuple[int, int]]:
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
