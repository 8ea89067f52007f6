"""What a log holds beside its runs: burnouts, bumps and creep into the beams, false starts, the return road.

Public: `name_other_events`, `tell_other_events`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.window import OtherEvent, OtherEventKind
from passband.analysis.statistics.intervals import Interval, bridge, find_above, find_true_runs
from passband.analysis.windows.movement import Movement, smoothed
from passband.analysis.windows.trips import BRISK_MPS2, MOVES_MPS, STILL_MPS, Trip

CREEPS_MPS = 0.25
"""Slower than this a car is at rest, as far as wheels and GPS can tell. [m/s]"""
SHORTEST_CREEP_S = 0.3
"""Motion shorter than this is a sensor's twitch. [s]"""
LONGEST_BUMP_S, SLOWEST_CREEP_M = 1.0, 0.6
"""Into the beams a car is bumped by a jerk of less than a second, or half a metre; longer motion is creep. [s], [m]"""
ONE_MOTION_S = 0.7
"""Motion with a shorter halt in it is one: wheel sensors drop out below a metre a second. [s]"""
LET_GO_MPS, LET_GO_MPS2 = 1.5, 2.0
"""A car let go comes to more than a walk within a second: so much speed, so much push. [m/s], [m/s2]"""
STARTS = (OtherEventKind.FALSE_START, OtherEventKind.DRY_HOP)
"""Kinds in which the car was let go under power; a hop is a false start where the car was then taken back."""
BACK_WITHIN_S, BACK_LEAST = 20.0, 0.5
"""After a false start the car is rolled back within this, over the way that it had gone: what sensors that are deaf at
a walk leave out of either is no more than half. [s], [-]"""
STANDS_IN_BURNOUT_S = 1.5
"""In a burnout the car stands for longer than this before it rolls out; let go, it moves sooner, though wheels counted
by few teeth may show it a second late. Common practice, no source. [s]"""
SHORTEST_BURNOUT_S = 0.8
"""Tires or engine at work for less, the car at rest: a blip. [s]"""
BURNOUT_SHARE = 0.45
"""Where no tire speed is logged: an engine above this share of its greatest speed works. [-]"""
BURNOUT_END_SHARE = 0.3
"""Until it is below this one, or the throttle has been shut for half a second. [-]"""
LEAST_ASKED = 0.2
"""A throttle that stays below this moves a car into the beams, it does not spin its tires. [-]"""
THROTTLE_SHUT, SHUT_S = 0.04, 0.5
"""A throttle at less than this of its travel is shut; so long, that it was no gear change. [-], [s]"""
RUNS_DOWN_S = 1.0
"""Tires that spun run down within this. [s]"""
BEFORE_LAUNCH_S = 0.3
"""What goes on until so shortly before the launch is the launch's own. [s]"""


def name_other_events(
    movement: Movement, speed_mps: FloatArray, runs: Sequence[Trip], others: Sequence[Trip]
) -> list[OtherEvent]:
    """Name everything in the logs that works or moves and is no run.

    Parameters
    ----------
    movement : Movement
        All traces.
    speed_mps : array, shape (n,)
        Speed of the car on its grid, spin left out; NaN where unknown. [m/s]
    runs, others : sequence of Trip
        The movements that are runs, and those that are not.

    Returns
    -------
    list of OtherEvent
        In order of time.
    """
    time = movement.time_s
    free = np.ones(time.size, dtype=np.bool_)
    for run in runs:
        free[run.start : run.stop] = False
    level = _with_slow_tires(movement, np.nan_to_num(speed_mps))
    moved = bridge(find_true_runs((np.abs(level) > CREEPS_MPS) & free), round(ONE_MOTION_S / movement.step_s))
    slow = [piece for piece in moved if _creeps(piece, level, movement) and _away_from(piece, runs, movement)]
    moves = [(piece, _slow(piece, level, movement.step_s, runs)) for piece in slow]
    moves += [(Interval(trip.start, trip.stop), _quick(trip, runs)) for trip in others]
    # Tires that spin as the car is let go are part of that start; a car that rolls out of a burnout is in a burnout.
    starts = [piece for piece, kind in moves if kind in STARTS]
    first = round(STANDS_IN_BURNOUT_S / movement.step_s)
    burnouts = [
        piece
        for piece in _burnouts(movement, speed_mps, free, runs)
        if not any(_in(piece, [start]) and start.start < piece.start + first for start in starts)
    ]
    named = [(piece, kind) for piece, kind in moves if not _in(piece, burnouts)]
    named = sorted([*named, *((piece, OtherEventKind.BURNOUT) for piece in burnouts)], key=lambda one: one[0].start)
    named = _with_roll_back(named, np.abs(level), movement.step_s)
    return [OtherEvent(kind, float(time[p.start]), float(time[p.stop - 1])) for p, kind in named]


def _with_slow_tires(movement: Movement, speed_mps: FloatArray) -> FloatArray:
    """Below what undriven wheels and GPS can tell, the driven tires' own speed, as long as nobody asks for power."""
    tire, asked = np.nan_to_num(movement.tire_mps), np.nan_to_num(movement.throttle, nan=1.0)
    tire = smoothed(tire, span_s=SHORTEST_CREEP_S)
    slow = (np.abs(speed_mps) < CREEPS_MPS) & (tire > CREEPS_MPS) & (tire < MOVES_MPS) & (asked < LEAST_ASKED)
    near, out = round(RUNS_DOWN_S / movement.step_s), speed_mps.copy()
    for piece in find_true_runs(slow):  # tires that spun run down through such speeds as well
        if float(tire[max(piece.start - near, 0) : piece.stop + near].max()) < MOVES_MPS:
            out[piece.start : piece.stop] = tire[piece.start : piece.stop]
    return out


def _creeps(piece: Interval, level: FloatArray, movement: Movement) -> bool:
    long = (piece.stop - piece.start) * movement.step_s > SHORTEST_CREEP_S
    return long and float(np.abs(level[piece.start : piece.stop]).max()) < MOVES_MPS


def _in(piece: Interval, others: Sequence[Interval]) -> bool:
    return any(other.start < piece.stop and piece.start < other.stop for other in others)


def _away_from(piece: Interval, runs: Sequence[Trip], movement: Movement) -> bool:
    """False for the first metre of a run and its last, which are slow as well."""
    near = round(BEFORE_LAUNCH_S / movement.step_s)
    return all(piece.stop < run.start - near or piece.start > run.stop + near for run in runs)


def _quick(trip: Trip, runs: Sequence[Trip]) -> OtherEventKind:
    if all(trip.start > run.start for run in runs):
        return OtherEventKind.RETURN_ROAD
    return OtherEventKind.DRY_HOP if trip.start_mps2 > BRISK_MPS2 else OtherEventKind.STAGING_CREEP


def _slow(piece: Interval, level: FloatArray, step_s: float, runs: Sequence[Trip]) -> OtherEventKind:
    inside = np.abs(level[piece.start : piece.stop])
    if all(piece.start > run.start for run in runs):
        return OtherEventKind.RETURN_ROAD
    peak = int(np.argmax(inside))
    push = float(inside[peak]) / max(peak * step_s, step_s)
    if inside[peak] > LET_GO_MPS and push > LET_GO_MPS2:
        return OtherEventKind.DRY_HOP
    if inside.size * step_s < LONGEST_BUMP_S or float(inside.sum()) * step_s < SLOWEST_CREEP_M:
        return OtherEventKind.BUMP_IN
    return OtherEventKind.STAGING_CREEP


def _with_roll_back(
    named: list[tuple[Interval, OtherEventKind]], level: FloatArray, step_s: float
) -> list[tuple[Interval, OtherEventKind]]:
    """A brisk start that stopped, and a slow motion over as long a way: the car was rolled back to the line.

    Speeds have no sign. A car that hops and then creeps into the beams goes another way than it came.
    """
    out = list(named)
    for index, ((piece, kind), (after, kind_after)) in enumerate(pairwise(named)):
        soon = (after.start - piece.stop) * step_s < BACK_WITHIN_S
        if kind in STARTS and kind_after is OtherEventKind.STAGING_CREEP and soon:
            there, back = (float(level[one.start : one.stop].sum()) for one in (piece, after))
            if BACK_LEAST * there < back < there / BACK_LEAST:
                out[index], out[index + 1] = (piece, OtherEventKind.FALSE_START), (after, OtherEventKind.ROLLED_BACK)
    return out


def _burnouts(movement: Movement, speed_mps: FloatArray, free: BoolArray, runs: Sequence[Trip]) -> list[Interval]:
    """Stretches in which tires or engine work while the car stands, or all but stands, before a run."""
    still = free & ~(np.nan_to_num(speed_mps) > MOVES_MPS)
    step = movement.step_s
    pieces = [*_by_tires(movement, still), *_by_engine(movement, still)]
    near = round(BEFORE_LAUNCH_S / step)
    last = max((run.start for run in runs), default=free.size)
    found: list[Interval] = []
    for piece in sorted(pieces, key=lambda one: one.start):
        own_launch = any(piece.start < run.start <= piece.stop + near for run in runs)
        if (piece.stop - piece.start) * step < SHORTEST_BURNOUT_S or own_launch or piece.start > last:
            continue
        if found and piece.start <= found[-1].stop:
            found[-1] = Interval(found[-1].start, max(piece.stop, found[-1].stop))
        else:
            found.append(piece)
    return found


def _by_tires(movement: Movement, still: BoolArray) -> list[Interval]:
    tire = np.where(still, np.nan_to_num(movement.tire_mps), 0.0)
    return find_above(tire, on=MOVES_MPS, off=STILL_MPS)


def _by_engine(movement: Movement, still: BoolArray) -> list[Interval]:
    """Where no tire speed is known: engine speed high, the throttle not shut for long."""
    unknown = still & ~np.isfinite(movement.tire_mps)
    rpm = np.nan_to_num(smoothed(movement.engine_rpm, span_s=0.1))
    if not unknown.any() or not (rpm > 0).any():
        return []
    shut = np.zeros(rpm.size, dtype=np.bool_)
    for piece in find_true_runs(np.nan_to_num(movement.throttle, nan=1.0) < THROTTLE_SHUT):
        if (piece.stop - piece.start) * movement.step_s > SHUT_S:
            shut[piece.start : piece.stop] = True
    most = float(np.percentile(rpm[rpm > 0], 99.5))
    asked = np.nan_to_num(movement.throttle, nan=1.0)
    at_work = np.where(unknown & ~shut, rpm, 0.0)
    return [
        piece
        for piece in find_above(at_work, on=BURNOUT_SHARE * most, off=BURNOUT_END_SHARE * most)
        if float(asked[piece.start : piece.stop].max()) > LEAST_ASKED
    ]


def tell_other_events(other_events: Sequence[OtherEvent]) -> list[Finding]:
    """What a reader must know of them.

    Parameters
    ----------
    other_events : sequence of OtherEvent
        In order of time.

    Returns
    -------
    list of Finding
        Notes on false starts and bumps into the beams; burnouts and creep go without saying.
    """
    found = []
    for event in other_events:
        where = f"{event.log_start_s:.2f} s"
        if event.kind is OtherEventKind.FALSE_START:
            text = (
                f"False start: at {event.log_start_s:.1f} s of the log the car left, stopped by "
                f"{event.log_end_s:.1f} s and was taken back; it was not taken for the run."
            )
            found.append(Finding("false-start", "note", text, where))
    bumps = [event for event in other_events if event.kind is OtherEventKind.BUMP_IN]
    if bumps:
        times = ", ".join(f"{bump.log_start_s:.1f}" for bump in bumps[:6])
        count = f"{len(bumps)} times" if len(bumps) > 1 else "once"
        text = f"The car was bumped into the beams {count} (at {times} s of the log); none of it is the launch."
        found.append(Finding("bumped-in", "note", text, f"{bumps[0].log_start_s:.2f} s"))
    return found
