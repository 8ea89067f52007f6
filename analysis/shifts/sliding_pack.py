"""Whether the next gear's pack still slid where a converter's fall had first let up.

A weak pack carries the torque and hardly more: the engine comes down onto a shelf that the converter's slip makes, the
pack slides for half a second, and only as it holds does the engine fall again. A converter that locks draws the engine
down a second time as well, with the gear long in. Four things part the two: a pack that holds ends its fall sharply,
where one that slides lets the engine settle more and more slowly; a gear that carries leaves the engine little ahead of
it; it does not let the engine run away from the road; and a converter that is still open after the second fall did not
make it. What they leave undecided is left open.

Public: `TakenOver`, `settle_takeovers`, `LaterFall`, `find_later_fall`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.shifts.converter_edges import FLUID_LATE_S, TAKEOVER_PLUS_MINUS_S
from passband.analysis.statistics.filters import slope

SLIDES_FOR_S = 0.85
"""A pack that slides for longer after the ratio began to change burns: what falls later is the converter's lock-up.
[s] Common practice, no source."""
FALLS_ON_SHARE, FALLS_ON_NOISE = 0.015, 6.0
"""A second fall takes the engine down by at least this share of its speed, and by so many times its noise. [-], [-]"""
FALLS_WITHIN_S = 0.5
"""A second fall is over within this. [s]"""
SLOPE_SPAN_S, STEEPER = 0.05, 1.6
"""Slopes are taken over the one; a second fall is steeper than the shelf before it by the other. [s], [-]"""
RUNS_AWAY = 0.05
"""An engine that gains so much on the road, log, is not held by the gear. [-]"""
GRIPS_LEAD = 0.10
"""An engine that leads the next gear by less, log, stands where a converter in a gear that carries lets it. [-] As
`CONVERTER_AHEAD` of `driveline/ratios.py`."""
OPEN_LEAD, STILL_EASES = 0.05, 0.02
"""A converter that leads by the first and comes down by the second within `EASES_WITHIN_S` is open. [-], [-]"""
EASES_WITHIN_S = (0.08, 0.35)
"""So long after a fall the two are looked at. [s]"""
SETTLES = 1.4
"""A fall whose last two fifths, down to its tenth, take so many times as long as the two before them settles: one at an
even rate takes as long, one that dies away 2.7 times. [-] By arithmetic."""


@dataclass(frozen=True, slots=True)
class TakenOver:
    """A shift behind a converter, as its first fall shows it."""

    start_s: float
    """Where the ratio began to change. [s]"""
    end: Edge
    """Where the fall had first let up."""
    turbine_rpm: FloatArray
    """What the next gear asks of the turbine at each of the engine's samples, shape (n,). [rpm]"""


def settle_takeovers(
    shifts: Sequence[TakenOver], engine: EngineSpeed, *, by_shaft: bool, lifts_s: FloatArray
) -> list[Edge]:
    """Where the next gear carries in each shift of a run, second falls allowed for.

    Parameters
    ----------
    shifts : sequence of TakenOver
        All that the run shows, in order.
    engine : EngineSpeed
        Noise out.
    by_shaft : bool
        Whether the turbine's speed is by a shaft or a driven wheel: by the ground, tires that spin look like a pack.
    lifts_s : array, shape (m,)
        When the foot came off, and when the run ends: an engine that falls then falls with its torque. [s]

    Returns
    -------
    list of Edge
        One a shift: the same where no second fall follows or the converter's lock-up made it, the second fall's end
        where the pack did, and open over what is left of it where nothing tells.
    """
    ends = []
    for place, shift in enumerate(shifts):
        coming_s = shifts[place + 1].start_s if place + 1 < len(shifts) else float(engine.true_time_s[-1])
        until_s = min([coming_s, *lifts_s[lifts_s > shift.end.time_s]])
        later = find_later_fall(engine, start_s=shift.start_s, taken_s=shift.end.time_s, until_s=until_s)
        ends.append(shift.end if later is None else _settled(engine, shift, later, by_shaft=by_shaft))
    return ends


@dataclass(frozen=True, slots=True)
class LaterFall:
    """A fall of engine speed after its fall into the next gear had let up."""

    top_s: float
    """Where it begins. [s]"""
    bottom_s: float
    """Where it ends. [s]"""


def find_later_fall(engine: EngineSpeed, *, start_s: float, taken_s: float, until_s: float) -> LaterFall | None:
    """A second fall of engine speed within one shift.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    start_s, taken_s : float
        Where the ratio began to change, and where the fall had let up. [s]
    until_s : float
        Where the next shift starts. [s]

    Returns
    -------
    LaterFall or None
        None where the engine goes on from where the fall had let up.
    """
    time_s = engine.true_time_s
    until_s = min(start_s + SLIDES_FOR_S + FALLS_WITHIN_S, until_s)
    inside = np.flatnonzero((time_s > taken_s) & (time_s < until_s))
    if inside.size < 4:
        return None
    span_s = max(SLOPE_SPAN_S, 3.0 * engine.step_s)
    steep = slope(engine.rpm, step_s=engine.step_s, span_s=span_s)[inside]
    time_s, rpm = time_s[inside], engine.rpm[inside]
    least = max(FALLS_ON_SHARE * float(rpm[0]), FALLS_ON_NOISE * engine.noise_rpm)
    for shelf in np.flatnonzero((steep[1:-1] >= steep[:-2]) & (steep[1:-1] > steep[2:])) + 1:
        ahead = np.flatnonzero((time_s >= time_s[shelf]) & (time_s <= time_s[shelf] + FALLS_WITHIN_S + span_s))
        bottom = ahead[int(np.argmin(rpm[ahead]))]
        steepest = float(steep[shelf : bottom + 1].min())
        if rpm[shelf] - rpm[bottom] < least or steepest > STEEPER * min(float(steep[shelf]), 0.0):
            continue
        gentle = np.flatnonzero(steep[shelf : bottom + 1] > 0.5 * (steepest + float(steep[shelf])))
        turned = np.flatnonzero(np.diff(gentle) > 1)
        top_s = float(time_s[shelf + int(gentle[turned[0] if turned.size else -1])])
        return LaterFall(top_s, float(time_s[bottom])) if top_s < start_s + SLIDES_FOR_S else None
    return None


def _settled(engine: EngineSpeed, shift: TakenOver, later: LaterFall, *, by_shaft: bool) -> Edge:
    """The end of a shift with a second fall."""
    time_s = engine.true_time_s
    lead = np.log(np.maximum(engine.rpm, 1.0) / np.maximum(shift.turbine_rpm, 1.0))
    least_s = float(np.hypot(TAKEOVER_PLUS_MINUS_S, engine.step_s))
    end_s, held_s = shift.end.time_s, max(later.bottom_s - FLUID_LATE_S, shift.end.time_s)
    ran_away = _ran_away(lead[(time_s > end_s + FLUID_LATE_S) & (time_s <= later.top_s)])
    if ran_away and by_shaft:
        return replace(shift.end, time_s=held_s, plus_minus_s=least_s)
    grips = float(np.interp(later.top_s, time_s, lead)) < GRIPS_LEAD
    if not ran_away and (grips or not _settles(engine, shift.start_s, later.top_s)):
        return shift.end
    if _stays_open(time_s, lead, later.bottom_s):
        return replace(shift.end, time_s=held_s, plus_minus_s=least_s)
    half_s = 0.5 * (held_s - end_s)
    return replace(shift.end, time_s=end_s + half_s, plus_minus_s=float(np.hypot(least_s, half_s)))


def _settles(engine: EngineSpeed, start_s: float, shelf_s: float) -> bool:
    """Whether engine speed came down onto its shelf more and more slowly."""
    inside = (engine.true_time_s >= start_s) & (engine.true_time_s <= shelf_s)
    time_s, rpm = engine.true_time_s[inside], engine.rpm[inside]
    if rpm.size < 4:
        return True
    top = int(np.argmax(rpm))
    fallen = np.maximum.accumulate(rpm[top] - rpm[top:])
    if not fallen[-1] > 0.0:
        return True
    tenth_s, half_s, last_s = np.interp(np.array([0.1, 0.5, 0.9]) * fallen[-1], fallen, time_s[top:])
    return bool(last_s - half_s > SETTLES * (half_s - tenth_s))


def _ran_away(lead: FloatArray) -> bool:
    """Whether the engine gained on the road before its second fall."""
    return lead.size > 0 and float(np.max(lead - np.minimum.accumulate(lead))) > RUNS_AWAY


def _stays_open(time_s: FloatArray, lead: FloatArray, bottom_s: float) -> bool:
    """Whether the converter is open after a fall, and comes down as turbine speed rises."""
    since = (time_s > bottom_s + EASES_WITHIN_S[0]) & (time_s < bottom_s + EASES_WITHIN_S[1])
    if np.count_nonzero(since) < 3:
        return False
    first, last = float(lead[since][0]), float(lead[since][-1])
    return last > OPEN_LEAD and first - last > STILL_EASES
