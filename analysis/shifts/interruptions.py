"""What held a pull back within a gear: a lift of the foot, or the engine on its limiter. Neither is a shift.

Public: `Interruption`, `find_lifts`, `find_limiter`, `tell_interruptions`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.priors import LIFTED
from passband.analysis.statistics.intervals import find_true_runs

LEAST_LIFT_S = 0.12
"""A shorter one is the linkage's bounce. [s]"""
TOP_SHARE = 0.985
"""On its limiter an engine turns within this share of the highest it turned. [-]"""
STUCK_RPM_PER_S = 400.0
"""It rises no faster than this. [rpm/s]"""
RISING_RPM_PER_S = 800.0
"""And rose at least as fast as this before it got there. [rpm/s]"""
STUCK_SPAN_S, BEFORE_S = 0.1, 0.25
"""Slopes are taken over so long, there and before. [s]"""
CHOPS_S = 0.12
"""A limiter that cuts and fires again swings engine speed 8 times a second and quicker, by one to three per cent; a
mean over so long shows that it stands. [s] Common practice, no source."""
CHOP_SPAN_S = 0.25
"""So do slopes over this. [s]"""
LEAST_LIMITER_S = 0.12
"""A shorter stay is a late shift's own moment. [s]"""
STOOD = 0.05
"""An engine that loses less while the throttle is shut was out of gear: in gear a lift slows it. [-]"""
PULLED_DOWN = 0.12
"""If it loses more than this as the throttle opens again, it is pulled into a taller gear: in gear the throttle takes
it up. [-] About the least step between gears."""
PULLED_WITHIN_S = 0.25
"""Within so long. [s]"""
SHUT_SHARE = 0.35
"""A foot that changes gear takes the throttle below this share of the run's own; one that feathers it for its tires
does not. [-] Common practice, no source."""
AROUND_SHIFT_S = 0.35
"""After a shift the foot, the boost and the driveline take so long to settle. [s]"""


@dataclass(frozen=True, slots=True)
class Interruption:
    """One stretch that held the pull back."""

    kind: Literal["lift", "limiter", "hidden shift", "feathered"]
    """What it was; a hidden shift is a change of gear which ground speed does not show, and a feathered throttle was
    held back without being shut."""
    start_s: float
    """[s, ET]"""
    end_s: float
    """[s, ET]"""


class HasEdges(Protocol):
    """What is needed of a shift."""

    @property
    def time_s(self) -> float:
        """When drive torque is cut."""

    @property
    def end_s(self) -> float:
        """When the next gear carries."""


def find_lifts(evidence: RunEvidence, shifts: Sequence[HasEdges]) -> list[Interruption]:
    """Find lifts of the foot between the shifts of a run.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run; the lift that ends it is not among them.
    shifts : sequence of Shift
        What lies in them is theirs.

    Returns
    -------
    list of Interruption
        In order; empty where no throttle is logged. One that changed the gear, which spinning tires hide from the path
        through the gears, is a hidden shift.
    """
    channel, end_s = evidence.throttle, evidence.end_s
    known = channel.known.within(evidence.launch_s, end_s - 0.02) if channel is not None else None
    if known is None or known.time_s.size < 10:
        return []
    usual = float(np.quantile(known.values, 0.9))
    down = (known.values < LIFTED * usual) & ~_in_shifts(known.time_s, shifts, before_s=0.05)
    runs = [(float(known.time_s[run.start]), float(known.time_s[run.stop - 1])) for run in find_true_runs(down)]
    lasting = [(a, b) for a, b in runs if b - a >= LEAST_LIFT_S and b < end_s - LEAST_LIFT_S]
    one_gear = evidence.car.gear_ratios is not None and len(evidence.car.gear_ratios) == 1
    found = []
    for a, b in lasting:
        shut = float(known.within(a, b).values.min()) < SHUT_SHARE * usual
        ends_in_shift = any(shift.time_s < b + PULLED_WITHIN_S and shift.end_s > b for shift in shifts)
        hidden = shut and not ends_in_shift and not one_gear and _changed_gear(evidence.engine, a, b)
        found.append(Interruption("hidden shift" if hidden else "lift" if shut else "feathered", a, b))
    return found


def _changed_gear(engine: EngineSpeed | None, start_s: float, end_s: float) -> bool:
    """Whether the engine stood while the throttle was shut and was pulled down as it opened again."""
    if engine is None:
        return False
    first, last = (float(engine.at(moment)) for moment in (start_s, end_s))
    since = (engine.true_time_s >= end_s) & (engine.true_time_s < end_s + PULLED_WITHIN_S)
    stood = last > (1.0 - STOOD) * first
    return bool(stood and since.any() and engine.rpm[since].min() < (1.0 - PULLED_DOWN) * last)


def find_limiter(evidence: RunEvidence, shifts: Sequence[HasEdges]) -> list[Interruption]:
    """Find stretches of a run in which the engine turned as high as it could and rose no more.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run.
    shifts : sequence of Shift
        What lies in them is theirs.

    Returns
    -------
    list of Interruption
        In order; empty where no engine speed is known.

    Notes
    -----
    It is told by engine speed alone: near the highest of the run, flat by itself or where its chopping is evened out,
    after a rise. An engine that runs out of breath
    near the finish line in its last gear rises slowly all along and is not meant.
    """
    if evidence.engine is None:
        return []
    time_s, rpm = evidence.engine.true_time_s, evidence.engine.rpm
    inside = (time_s > evidence.launch_s + AROUND_SHIFT_S) & (time_s < evidence.end_s)
    inside &= ~_in_shifts(time_s, shifts, before_s=0.0)
    if inside.sum() < 10:
        return []
    least, calm = TOP_SHARE * float(rpm[inside].max()), _mean_about(time_s, rpm, CHOPS_S)
    stands = (rpm > least) & (np.abs(_slope(time_s, rpm, STUCK_SPAN_S)) < STUCK_RPM_PER_S)
    chops = (calm > least) & (np.abs(_slope(time_s, calm, CHOP_SPAN_S)) < STUCK_RPM_PER_S)
    stretches = find_true_runs(inside & (stands | chops))
    found = [(float(time_s[run.start]), float(time_s[run.stop - 1])) for run in stretches]
    return [
        Interruption("limiter", start, stop)
        for start, stop in _joined(found)
        if stop - start >= LEAST_LIMITER_S and _rose_before(time_s, rpm, start)
    ]


def tell_interruptions(found: Sequence[Interruption]) -> list[Finding]:
    """Say what held the pull back.

    Parameters
    ----------
    found : sequence of Interruption
        Lifts and limiters.

    Returns
    -------
    list of Finding
        One for each.
    """
    return [_tell(each) for each in found]


def _tell(held: Interruption) -> Finding:
    long, where = f"{held.end_s - held.start_s:.2f} s", f"{held.start_s:.2f} s from clock start"
    if held.kind == "lift":
        text = f"The driver lifted and went back on the throttle in a gear for {long}: no shift was counted there."
        return Finding("lift-in-gear", "note", text, where)
    if held.kind == "feathered":
        text = (
            f"The driver lifted in part, the throttle held back and not shut, in a gear for {long}, as one pedals "
            "tires that spin: no shift was counted there."
        )
        return Finding("lift-in-gear", "note", text, where)
    if held.kind == "hidden shift":
        text = (
            f"The throttle was shut for {long}, the engine stood, and fell as it opened again: a change of gear that "
            "spinning tires hide. It is not in the table, and the gears of shifts after it may be named one too low."
        )
        return Finding("shift-not-measured", "caution", text, where)
    text = f"The engine stood on its limiter for {long}: it rose no more before the next shift or the line."
    return Finding("limiter-in-gear", "note", text, where)


def _in_shifts(time_s: FloatArray, shifts: Sequence[HasEdges], *, before_s: float) -> BoolArray:
    inside = np.zeros(time_s.size, dtype=np.bool_)
    for shift in shifts:
        inside |= (time_s > shift.time_s - before_s) & (time_s < shift.end_s + AROUND_SHIFT_S)
    return inside


def _slope(time_s: FloatArray, values: FloatArray, span_s: float) -> FloatArray:
    half = 0.5 * span_s
    rise = np.interp(time_s + half, time_s, values) - np.interp(time_s - half, time_s, values)
    return np.asarray(rise / span_s, dtype=np.float64)


def _mean_about(time_s: FloatArray, values: FloatArray, span_s: float) -> FloatArray:
    """Mean over a span about each time."""
    summed = np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * np.diff(time_s))))
    ends = [np.clip(time_s + side * span_s / 2, time_s[0], time_s[-1]) for side in (-1, 1)]
    first, last = (np.interp(end, time_s, summed) for end in ends)
    return np.asarray((last - first) / np.maximum(ends[1] - ends[0], 1e-9), dtype=np.float64)


def _joined(pieces: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A limiter's chop parts the stretch for less than a tenth of a second."""
    joined: list[tuple[float, float]] = []
    for start, stop in pieces:
        if joined and start - joined[-1][1] < STUCK_SPAN_S:
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    return joined


def _rose_before(time_s: FloatArray, rpm: FloatArray, start_s: float) -> bool:
    earlier, at = np.interp([start_s - STUCK_SPAN_S - BEFORE_S, start_s - STUCK_SPAN_S], time_s, rpm)
    return bool(at - earlier > RISING_RPM_PER_S * BEFORE_S)
