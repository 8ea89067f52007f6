"""Whether the flag or lever that tells of a shift's cut is on time: engine speed falls upon its cut, never before it.

A flag reaches the log by a bus and another device's cycle, and may come tens of milliseconds after the cut; a button
or a lever's strain may come before it, by the box's own wait. Either is the same in every shift of a run, and engine
speed shows it: by how much it has bent before the flag, or how long it goes on as if there were none.

Public: `Told`, `settle_flags`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.shifts.kink import find_kink

FLAGS = frozenset({"shift_cut", "shift_lever"})
"""What may be logged by another device than engine speed, or be the driver's wish."""
LATEST_S = 0.12
"""A flag comes no later than this after its cut: the engine is in the next gear by then. [s]"""
KNEE_EARLY_S, KNEE_LATE_S = 0.001, 0.017
"""Engine speed is seen to bend from so long before to so long after a flag that is on time: -1 to 17 ms in 35 runs of
three simulators with both sets of sensors; what each shift leaves open comes on top. [s], [s]"""
SOONER_S, LATER_S, BEND_OPEN = (0.006, 0.010), (0.004, 0.008), 0.5
"""A flag that comes before the bend by more than the second of the first pair, or after it by more than that of the
other, is not put right where an honest one may do so too, but all the way to the bend is open, and so much of what the
bend leaves open itself; by less than the first of them, none. Flags on time lay from 7 ms before to 4 after in 40 runs
of three simulators (medians over a run's shifts; seeds 6200 and 6201). [s], [s], [-]"""
FEWEST = 2
"""One shift's bend may be tires that take hold; so many that agree are the flag's own. [shifts]"""
MOST_NOISY = 0.3
"""Where noise took a larger share of the samples about a flag, engine speed's bend is not seen. [-]"""


@dataclass(frozen=True, slots=True)
class Told:
    """A shift's start as found, and where its bend in engine speed may lie."""

    start: Edge
    """As found."""
    earliest_s: float
    """The gear before was not yet in earlier. [s]"""
    fallen_s: float
    """Engine speed has fallen into the next gear. [s]"""


@dataclass(frozen=True, slots=True)
class _Late:
    """By how much a flag came after the bend in engine speed."""

    by_s: float
    """Less than nothing where it came before. [s]"""
    open_s: float
    """95 % half-width. [s]"""


def settle_flags(told: Sequence[Told], engine: EngineSpeed) -> list[Edge]:
    """The starts of a run's shifts, those told by a flag that engine speed shows to be late or early put right.

    Parameters
    ----------
    told : sequence of Told
        In order, whatever tells them.
    engine : EngineSpeed
        Noise out.

    Returns
    -------
    list of Edge
        One for each. The same where no flag tells it, or where fewer than `FEWEST` bends are seen; where they lie where
        an honest flag's may, open to what they lie beyond where most do.

    Notes
    -----
    The flag's own lateness is the median over the run's shifts; what the shifts differ in, and the pick-up's delay,
    which they share, make the plus-minus. A late flag whose lateness is not the same in all shifts says no more than
    the bend itself, which stands then. An early one is believed to be early only where all agree.
    """
    late = [_lateness(one, engine) if one.start.evidence in FLAGS else None for one in told]
    seen = [one for one in late if one is not None]
    if len(seen) < FEWEST:
        return [one.start for one in told]
    by_s = float(np.median([one.by_s for one in seen]))
    open_s = float(np.median([one.open_s for one in seen]))
    alike = all(abs(one.by_s - by_s) <= one.open_s for one in seen)
    if -KNEE_LATE_S - open_s <= by_s <= KNEE_EARLY_S + open_s or (by_s < 0 and not alike):
        return [_opened(one.start, _Late(by_s, open_s)) if alike else one.start for one in told]
    return [_put_right(one, own, by_s, alike=alike) for one, own in zip(told, late, strict=True)]


def _opened(start: Edge, late: _Late) -> Edge:
    """A start that a flag tells, less sure by what engine speed leaves open of the flag."""
    if start.evidence not in FLAGS:
        return start
    (none_s, all_s), by_s = LATER_S if late.by_s > 0.0 else SOONER_S, abs(late.by_s)
    share = float(np.clip((by_s - none_s) / (all_s - none_s), 0.0, 1.0))
    return replace(start, plus_minus_s=float(np.hypot(start.plus_minus_s, share * (by_s + BEND_OPEN * late.open_s))))


def _lateness(one: Told, engine: EngineSpeed) -> _Late | None:
    """By how much a shift's flag came after engine speed bent; None where no bend is seen."""
    start, early_s = one.start, max(one.earliest_s, one.start.time_s - LATEST_S)
    about = (engine.true_time_s > early_s) & (engine.true_time_s < one.fallen_s)
    if not about.any() or float(np.mean(engine.noisy[about])) > MOST_NOISY:
        return None
    knee = find_kink(engine, earliest_s=early_s, latest_s=one.fallen_s)
    if knee is None:
        return None
    return _Late(start.time_s - knee.time_s, float(np.hypot(start.plus_minus_s, knee.plus_minus_s)))


def _put_right(one: Told, own: _Late | None, by_s: float, *, alike: bool) -> Edge:
    """A flag's start less what it is late by."""
    start = one.start
    if start.evidence not in FLAGS:
        return start
    if own is None:
        return replace(start, time_s=start.time_s - by_s, plus_minus_s=float(np.hypot(start.plus_minus_s, by_s)))
    shift_s = by_s if alike else own.by_s
    return Edge(start.time_s - shift_s, own.open_s, "engine_speed")
