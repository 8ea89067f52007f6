"""The run's window: which stretch of a log is a run, and what the rest is.

Public: `RunWindow`, `FoundRuns`, `find_runs`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.window import OtherEvent
from passband.analysis.sensors.wheels import FRONT, REAR, axles_of
from passband.analysis.statistics.intervals import Interval, find_true_runs
from passband.analysis.windows.launch_moment import find_launch_moment
from passband.analysis.windows.movement import Movement, read_movement
from passband.analysis.windows.other_events import name_other_events, tell_other_events
from passband.analysis.windows.trips import (
    Trip,
    choose_runs,
    find_pulls,
    find_trips,
    speed_of_car,
    throttle_open,
)

LEAST_RECORDED_S = 1.0
"""A run of which the ECU's log holds less is none of its runs. [s]"""
LIFT_TAKES_S = 0.15
"""A foot that lifts for good is off the throttle within this. [s]"""
OPENED_S = 0.2
"""A shorter open throttle is a blip. [s]"""
SHIFTED_S = 0.6
"""But for one that follows an open throttle within this: a shift shortly before the line, which the foot comes off
again behind. [s]"""
AGAIN_S = 0.1
"""Which may be so short. [s]"""
AFTER_LIFT_S = 4.0
"""How long after the lift the car may still roll towards the finish line. [s]"""
SLOWED_SHARE = 0.7
"""A car slowed to this share of its greatest speed has left the run. [-]"""
LONGEST_RUN_S = 60.0
"""No run down a strip lasts longer. [s]"""


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
    other_events: tuple[OtherEvent, ...]
    """What else the log holds before and after this run."""
    evidence: tuple[str, ...]
    """Channels that the launch rests on."""


@dataclass(frozen=True, slots=True)
class FoundRuns:
    """The runs that the logs of one trip to the line hold."""

    windows: tuple[RunWindow, ...] = ()
    """In order of time; empty where nothing in the logs is a run."""
    findings: tuple[Finding, ...] = ()
    """What the windows rest on, and what was doubted."""


def find_runs(traces: Traces, car: Car) -> FoundRuns:
    """Find each run in the logs.

    Parameters
    ----------
    traces : Traces
        All channels on the ECU log's clock.
    car : Car
        Driven axle and gearing serve where given.

    Returns
    -------
    FoundRuns
        In order of time, perhaps none.

    Notes
    -----
    A run is a departure from rest under power that goes on for 60 ft or more. Where ground speed is logged it is
    judged by that; else by the driven tires, stretches left out in which they gain or lose speed as no car can;
    else by engine speed and throttle alone.
    """
    movement = read_movement(traces, car)
    if movement.time_s.size == 0:
        return FoundRuns()
    speed, basis = speed_of_car(movement)
    trips = find_trips(movement, speed) if basis else []
    runs = [run for run in choose_runs(trips) if _recorded(run, movement, traces)]
    findings = [_launch_missing(movement, trip) for trip in trips if not trip.from_rest and trip not in runs]
    if not runs:
        pulls = [run for run in find_pulls(movement) if np.isnan(speed[run.start])]
        runs, basis = [run for run in pulls if _recorded(run, movement, traces)], ""
    if not runs:
        return FoundRuns(findings=tuple(findings))
    if not basis or basis != movement.ground_basis:
        findings.append(_basis_finding(basis))
    other_events = tuple(name_other_events(movement, speed, runs, [trip for trip in trips if trip not in runs]))
    ends = [run.start for run in runs[1:]] + [movement.time_s.size]
    windows = tuple(
        _window(traces, car, (movement, speed, other_events), run, min(run.stop, end))
        for run, end in zip(runs, ends, strict=True)
    )
    return FoundRuns(windows, (*findings, *tell_other_events(other_events)))


def _recorded(run: Trip, movement: Movement, traces: Traces) -> bool:
    """Whether the first log, the ECU's, holds a second or more of the pull."""
    spans = [channel.time_s[[0, -1]] for channel in traces if channel.log == 0 and channel.time_s.size > 1]
    if not spans:
        return True
    first, last = min(float(span[0]) for span in spans), max(float(span[1]) for span in spans)
    start, stop = (float(movement.time_s[min(at, movement.time_s.size - 1)]) for at in (run.start, run.stop))
    return min(stop, last) - max(start, first) > LEAST_RECORDED_S


def _launch_missing(movement: Movement, trip: Trip) -> Finding:
    at = float(movement.time_s[trip.start])
    text = (
        f"At {at:.1f} s, where the record of speed begins, the car moves already: its launch is not in the log, so "
        "that movement was not taken for a run."
    )
    return Finding("launch-not-in-log", "caution", text, f"{at:.2f} s")


def _basis_finding(basis: str) -> Finding:
    if basis:
        text = "No log holds ground speed: the run was found by the driven tires, burnouts set aside by how they stop."
        return Finding("run-found-by-driven-wheel", "note", text)
    text = "No log holds a speed: the run was found by engine speed and throttle alone, so its launch is less sure."
    return Finding("run-found-by-engine", "caution", text)


def _window(
    traces: Traces, car: Car, found: tuple[Movement, FloatArray, tuple[OtherEvent, ...]], run: Trip, until: int
) -> RunWindow:
    movement, speed, other_events = found
    undriven, driven = _names(car)
    near = float(movement.time_s[run.start])
    converter = car.has_converter
    moment = find_launch_moment(traces, near_s=near, undriven=undriven, driven=driven, converter=converter)
    lift = _lift(movement, run, until)
    return RunWindow(
        launch_s=moment.time_s,
        launch_plus_minus_s=moment.plus_minus_s,
        stop_s=_stop(movement.time_s, speed, run, until, lift),
        lift_s=lift,
        other_events=other_events,
        evidence=moment.evidence,
    )


def _names(car: Car) -> tuple[tuple[str, ...], tuple[str, ...]]:
    axles = axles_of(car)
    driven = axles.driven or (*FRONT, *REAR)
    return (*axles.undriven, "ground_speed", "gps_speed"), ("wheel_speed_driven", *driven)


def _lift(movement: Movement, run: Trip, stop: int) -> float | None:
    """Last moment of open throttle near the greatest speed; None where the throttle's log ends before it."""
    opened = throttle_open(movement)
    last = min(run.peak + round(1.0 / movement.step_s), stop, opened.size)
    pieces: list[Interval] = []
    for piece in find_true_runs(opened[run.start : last]):
        follows = bool(pieces) and (piece.start - pieces[-1].stop) * movement.step_s < SHIFTED_S
        if (piece.stop - piece.start) * movement.step_s > (AGAIN_S if follows else OPENED_S):
            pieces.append(piece)
    if not pieces or run.start + pieces[-1].stop >= opened.size - 2:
        return None
    end = run.start + pieces[-1].stop
    if not np.isfinite(movement.throttle[end:last]).any():
        return None  # its log ends here, the run may go on
    return float(movement.time_s[_foot_moves(movement, end)]) if end < last else None


def _foot_moves(movement: Movement, closed: int) -> int:
    """The sample before which the throttle still stood where it was: a lift ends the run as it begins."""
    back = round(LIFT_TAKES_S / movement.step_s)
    before = movement.throttle[max(closed - 2 * back, 0) : max(closed - back, 1)]
    if closed < 2 or not np.isfinite(before).any():
        return closed
    still = float(np.nanmedian(before)) - 0.05
    at = closed
    while at > closed - back and at > 1 and np.nan_to_num(movement.throttle[at - 1]) < still:
        at -= 1
    return at - 1 if at < closed or np.nan_to_num(movement.throttle[closed]) < still else closed


def _stop(time_s: FloatArray, speed: FloatArray, run: Trip, stop: int, lift_s: float | None) -> float:
    last = float(time_s[min(stop, time_s.size) - 1])
    slowed = np.flatnonzero(np.nan_to_num(speed[run.peak : stop], nan=np.inf) < SLOWED_SHARE * run.peak_mps)
    if slowed.size:
        last = min(last, float(time_s[run.peak + slowed[0]]))
    if lift_s is not None:
        last = min(last, lift_s + AFTER_LIFT_S)
    return min(last, float(time_s[run.start]) + LONGEST_RUN_S)
