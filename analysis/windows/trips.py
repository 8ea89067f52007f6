"""Stretches in which the car moves, and which of them are runs.

Public: `Trip`, `speed_of_car`, `find_trips`, `choose_runs`, `find_pulls`, `throttle_open`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.priors import POWER_ASKED
from passband.analysis.statistics.intervals import Interval, bridge, find_above, find_true_runs
from passband.analysis.windows.movement import Movement, smoothed

STILL_MPS = 0.8
"""Below this the car counts as standing: wheel sensors read zero, GPS wanders. [m/s]"""
MOVES_MPS = 4.0
"""Staging creep and pushing stay below this. [m/s]"""
BRISK_MPS2 = 2.5
"""A car under power leaves quicker than this; on the return road nobody does. [m/s2]"""
BRISK_TO_MPS = 12.0
"""Speed up to which a departure is judged. [m/s]"""
LEAST_POWER_S = 0.8
"""A run has the throttle open for longer; nobody drives back to the pits so. [s]"""
RUN_DISTANCE_M = 18.3
"""A departure that goes on under power for 60 ft is a run, finished or not. [m]"""
SLOW_PEAK_MPS = 50.0
"""Tires in a burnout turn slower than this; below it no parachute is out. [m/s]"""
HARDEST_STOP_MPS2, HARDEST_START_MPS2 = 14.0, 25.0
"""No car brakes from such a speed, or gains most of it, quicker than this: the driven tires spun. [m/s2]"""
SPIN_STOP_MPS2 = 40.0
"""No car stops quicker, parachute and all, whatever the channel is called. [m/s2]"""
LONGEST_SHIFT_S = 1.5
"""A throttle closed for longer than this is no shift, not even a missed one. [s]"""
ROLLS_ON_S = 4.0
"""Where no speed is known, the car may be under way for so long after the throttle has closed. [s]"""
SHORTEST_PULL_S = 2.5
"""Power held for less is a blip or the start of a burnout. [s]"""
FEATHERS = 0.3
"""A throttle that stood open and is held back no further than this goes on asking for power. [-]"""
LEAST_UPSHIFT, FALLS_FOR_S = 0.1, 0.4
"""Share of engine speed that an upshift takes at least, and within what; as a clutch that bites does. [-], [s]"""
PULLS_AGAIN_S, PULLS_AGAIN_RPM, CALM_S = 2.0, 50.0, 0.3
"""After an upshift engine speed rises by so much within so long, noise and a coarse logger's steps smoothed over a
third of a second: behind a converter in the top gear of two it gains little more than 100 rpm/s. [s], [rpm], [s]"""
PLATEAU_S, PLATEAU_SPREAD, OFF_PLATEAU, OFF_FOR_S = 0.35, 0.035, 0.025, 0.06
"""A two-step, or a converter's stall, holds engine speed within 3.5 % for a third of a second and more; the launch
leaves it by 2.5 % for so long. [s], [-], [-], [s]"""

RAISED_FROM, RAISED_WITHIN_S, LEAST_PLATEAU = 0.5, 1.0, 0.35
"""The engine is raised to its launch speed, a third and more of the speed it is shifted at, from below half of that,
within a second of the throttle's opening. [-], [s], [-]"""


@dataclass(frozen=True, slots=True)
class Trip:
    """One movement from rest to rest, or to the log's end; samples [start, stop) of a `Movement`."""

    start: int
    """Last slow sample before it pulls away."""
    stop: int
    """First sample at rest again."""
    peak: int
    """Sample of the greatest speed."""
    peak_mps: float
    """Greatest speed; NaN where no speed is known. [m/s]"""
    start_mps2: float
    """Mean acceleration from rest to 12 m/s, or to most of a lower peak. [m/s2]"""
    distance_m: float
    """From the start to the greatest speed; NaN where no speed is known. [m]"""
    from_rest: bool = True
    """False where the record of speed begins with the car on the move."""
    under_power: bool = True
    """False where the throttle shows that nobody asked for power."""


def speed_of_car(movement: Movement) -> tuple[FloatArray, str]:
    """Speed of the car as well as the logs tell it.

    Parameters
    ----------
    movement : Movement
        All traces.

    Returns
    -------
    array, shape (n,)
        Zero where only the tires turn, NaN where nothing is known. [m/s]
    str
        The channel it rests on; empty where no log holds a speed.
    """
    if np.isfinite(movement.ground_mps).sum() > 50:
        return _without_spin(movement.step_s, movement.ground_mps, tires=False), movement.ground_basis
    if np.isfinite(movement.tire_mps).sum() > 50:
        return _without_spin(movement.step_s, movement.tire_mps, tires=True), movement.tire_basis
    return movement.ground_mps, ""


def _without_spin(step_s: float, speed_mps: FloatArray, *, tires: bool) -> FloatArray:
    """Speed with zero in stretches that begin, or end, as no car can; driven tires are trusted less."""
    calm = smoothed(speed_mps, span_s=0.1)
    level = np.nan_to_num(calm)
    out = np.array(calm)
    for piece in find_above(level, on=MOVES_MPS, off=STILL_MPS):
        inside = level[piece.start : piece.stop]
        peak = float(inside.max())
        high = np.flatnonzero(inside > 0.7 * peak)
        low = high[-1] + int(np.argmax(np.append(inside[high[-1] :], 0.0) < 0.2 * peak))
        seen = piece.stop < level.size and np.isfinite(calm[piece.stop])
        stop = 0.5 * peak / max((low - high[-1]) * step_s, step_s) if seen else 0.0
        start = 0.7 * peak / max(int(high[0]) * step_s, step_s)
        doubted = tires and peak < SLOW_PEAK_MPS
        jumped = doubted and peak > BRISK_TO_MPS and start > HARDEST_START_MPS2
        if jumped or stop > (HARDEST_STOP_MPS2 if doubted else SPIN_STOP_MPS2):
            out[piece.start : piece.stop] = 0.0
    return out


def find_trips(movement: Movement, speed_mps: FloatArray) -> list[Trip]:
    """Find each movement of the car quicker than creep.

    Parameters
    ----------
    movement : Movement
        All traces.
    speed_mps : array, shape (n,)
        Speed of the car on its grid. [m/s]

    Returns
    -------
    list of Trip
        In order of time; empty where the car never moves.
    """
    level = np.nan_to_num(speed_mps)
    step = movement.step_s
    opened = throttle_open(movement)
    knows = np.isfinite(movement.throttle)
    trips = []
    for piece in find_above(level, on=MOVES_MPS, off=STILL_MPS):
        inside = level[piece.start : piece.stop]
        peak = int(np.argmax(inside))
        goal = min(BRISK_TO_MPS, 0.8 * float(inside[peak]))
        reached = int(np.argmax(inside >= goal))
        # A car that rolls up to its launch pulls away from its last slow moment.
        slow = np.flatnonzero(inside[:reached] < 1.5 * STILL_MPS)
        start = int(slow[-1]) if slow.size else 0
        trips.append(
            Trip(
                start=piece.start + start,
                stop=piece.stop,
                peak=piece.start + peak,
                peak_mps=float(inside[peak]),
                start_mps2=(goal - STILL_MPS) / max((reached - start) * step, step),
                distance_m=float(np.sum(inside[start : peak + 1]) * step),
                from_rest=bool(inside[start] < MOVES_MPS),
                under_power=_under_power(knows, opened, slice(piece.start + start, piece.start + peak + 1), step),
            )
        )
    return trips


def _under_power(knows: BoolArray, opened: BoolArray, pull: slice, step_s: float) -> bool:
    """Whether the throttle was open for most of a second, or half of a shorter pull; true where it is not logged."""
    logged = int(knows[pull].sum())
    if logged * step_s < 0.5 * LEAST_POWER_S:
        return True
    return float(opened[pull].sum()) >= min(LEAST_POWER_S / step_s, 0.5 * logged)


def choose_runs(trips: list[Trip]) -> list[Trip]:
    """Of all movements those that are runs.

    Parameters
    ----------
    trips : list of Trip
        With speeds.

    Returns
    -------
    list of Trip
        Each that left briskly, under power, and went on for 60 ft; where none did, the brisk one that went farthest
        (an aborted run).
    """
    brisk = [trip for trip in trips if trip.start_mps2 > BRISK_MPS2 and trip.from_rest and trip.under_power]
    full = [trip for trip in brisk if trip.distance_m > RUN_DISTANCE_M and trip.peak_mps > BRISK_TO_MPS]
    if full:
        return full
    return [max(brisk, key=lambda trip: trip.distance_m)] if brisk else []


def throttle_open(movement: Movement) -> BoolArray:
    """Where the engine is asked for power: throttle open, else engine speed high.

    Parameters
    ----------
    movement : Movement
        All traces.

    Returns
    -------
    array of bool, shape (n,)
        False where nothing is known.
    """
    if np.isfinite(movement.throttle).sum() > 50:
        return np.asarray(np.nan_to_num(movement.throttle) > POWER_ASKED, dtype=np.bool_)
    rpm = np.nan_to_num(movement.engine_rpm)
    return np.asarray(rpm > 0.5 * float(np.percentile(rpm, 99.5)), dtype=np.bool_)


def find_pulls(movement: Movement) -> list[Trip]:
    """Find runs where nothing shows speed: stretches of power with upshifts in them.

    Parameters
    ----------
    movement : Movement
        All traces; engine speed, and throttle if it is there.

    Returns
    -------
    list of Trip
        In order of time, starting where engine speed leaves its plateau; speeds are NaN.
    """
    step = movement.step_s
    rpm = np.nan_to_num(smoothed(movement.engine_rpm, span_s=0.1))
    if not (rpm > 0).any():
        return []
    high = float(np.percentile(rpm, 99.5))
    pulls = []
    for piece in bridge(_asked(movement), round(LONGEST_SHIFT_S / step)):
        if (piece.stop - piece.start) * step < SHORTEST_PULL_S:
            continue
        if shifted := _upshifts(rpm[piece.start : piece.stop], step):
            # An engine that is dragged off its stall falls as in a shift: that it left is seen a moment later.
            until = min(piece.start + shifted[0] + round((FALLS_FOR_S + 2 * OFF_FOR_S) / step), piece.stop)
            held = Interval(piece.start, until)  # what it is held at later is not for the launch
            start = _leaves_plateau(rpm, held, step, high)
            stop = min(piece.stop + round(ROLLS_ON_S / step), rpm.size)
            pulls.append(Trip(start, stop, piece.stop - 1, float("nan"), float("nan"), float("nan")))
    longest = max((pull.peak - pull.start for pull in pulls), default=0)
    return [pull for pull in pulls if pull.peak - pull.start > 0.5 * longest]


def _asked(movement: Movement) -> list[Interval]:
    """Stretches in which power is asked for, a foot that feathers the throttle for grip in between."""
    if np.isfinite(movement.throttle).sum() > 50:
        return find_above(np.nan_to_num(movement.throttle), on=POWER_ASKED, off=FEATHERS)
    return find_true_runs(throttle_open(movement))


def _upshifts(rpm: FloatArray, step_s: float) -> list[int]:
    """Samples at which engine speed is about to fall within that, and after which it pulls again."""
    ahead = max(round(FALLS_FOR_S / step_s), 1)
    if rpm.size < 3 * ahead:
        return []
    found, calm = [], smoothed(rpm, span_s=CALM_S)
    for piece in find_true_runs(rpm[ahead:] < (1 - LEAST_UPSHIFT) * rpm[:-ahead]):
        later = calm[piece.start + ahead : piece.start + ahead + round(PULLS_AGAIN_S / step_s)]
        rose = rpm[max(piece.start - ahead, 0)] < rpm[piece.start]
        if rose and later.size > 3 and np.max(later - np.minimum.accumulate(later)) > PULLS_AGAIN_RPM:
            found.append(piece.start)
    return found


def _leaves_plateau(rpm: FloatArray, piece: Interval, step_s: float, high_rpm: float) -> int:
    """Where engine speed leaves the first level it is held at after it was raised for the launch."""
    reach = round(RAISED_WITHIN_S / step_s)
    begin = max(piece.start - reach, 0)
    for from_share in (RAISED_FROM, LEAST_PLATEAU):  # a slow converter's stall lies below half of where it is shifted
        slow = np.flatnonzero(rpm[begin : piece.start + reach] < from_share * high_rpm)
        since = begin + int(slow[-1]) if slow.size else piece.start
        left = _plateau_end(rpm, since, piece.stop, step_s, LEAST_PLATEAU * high_rpm)
        if left is not None:
            return left
    return piece.start


def _plateau_end(rpm: FloatArray, since: int, until: int, step_s: float, least_rpm: float) -> int | None:
    hold, few = round(PLATEAU_S / step_s), max(round(OFF_FOR_S / step_s), 1)
    for index in range(since, until - hold - few):
        held = rpm[index : index + hold]
        if float(np.median(held)) < least_rpm or float(np.ptp(held)) > PLATEAU_SPREAD * float(np.median(held)):
            continue
        for end in range(index + hold, until - few):
            level = float(np.median(rpm[end - hold : end]))
            if np.all(np.abs(rpm[end : end + few] - level) > OFF_PLATEAU * level):
                return end
        return None
    return None
