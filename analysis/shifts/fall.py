"""The fall of engine speed from one gear into the next: what every shift is known by.

Public: `Fall`, `find_fall`, `find_fall_by_depth`, `lost_within`, `QUICK_S`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.engine_speed import EngineSpeed

QUICK_S = 0.13
"""A shift under full throttle falls into the next gear within this of its cut. [s]"""
STAYS_S = 0.05
"""A fall stays at least so long: noise, a limiter's chop and tire shake do not. [s]"""
FALL_S = 0.3
"""The fall itself, from mid-way between the gears to its lowest point, is over within this. [s]"""
FALL_SHARE = 0.5
"""A fall that spinning tires cut short still goes through so much of the step between the gears. [-]"""


@dataclass(frozen=True, slots=True)
class Fall:
    """The fall of engine speed from one gear's level to the next one's."""

    middle_s: float
    """Where it is mid-way between the levels, as logged. [s]"""
    bottom_s: float
    """Where it stops falling, as logged. [s]"""


def find_fall(engine: EngineSpeed, half_way_rpm: FloatArray, *, earliest_s: float, latest_s: float) -> Fall | None:
    """Find the fall of engine speed through mid-way between two gears.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    half_way_rpm : array, shape (n,)
        Engine speed mid-way between the two gears' levels at each sample of `engine`. [rpm]
    earliest_s, latest_s : float
        Where to look; the first fall that stays is meant. [s]

    Returns
    -------
    Fall or None
        None where engine speed does not pass.
    """
    above = engine.rpm - half_way_rpm
    inside = (engine.time_s[1:] >= earliest_s) & (engine.time_s[1:] <= latest_s)
    stay = max(2, round(STAYS_S / engine.step_s))
    passed = [
        int(place)
        for place in np.flatnonzero((above[:-1] > 0) & (above[1:] <= 0) & inside)
        if (above[place + 1 : place + 1 + stay] <= 0).all()
    ]
    if not passed:
        return None
    index = passed[0]
    span = above[index] - above[index + 1]
    middle_s = float(engine.time_s[index] + (engine.time_s[index + 1] - engine.time_s[index]) * above[index] / span)
    return Fall(middle_s, _bottom_s(engine, index + 1, middle_s))


def _bottom_s(engine: EngineSpeed, index: int, middle_s: float) -> float:
    """Where a fall that is under way at a sample stops falling."""
    rise = max(3.0 * engine.noise_rpm, 0.002 * float(engine.rpm[index - 1]))
    lowest = index
    for later in range(index, engine.rpm.size):
        if engine.rpm[later] < engine.rpm[lowest]:
            lowest = later
        elif engine.rpm[later] > engine.rpm[lowest] + rise or engine.time_s[later] > middle_s + FALL_S:
            break
    return float(engine.time_s[lowest])


def find_fall_by_depth(engine: EngineSpeed, step: float, *, earliest_s: float, latest_s: float) -> Fall | None:
    """Find the fall between two gears where spinning tires keep the engine above mid-way between their levels.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    step : float
        Log step between the two gears' ratios, positive. [-]
    earliest_s, latest_s : float
        Where to look. [s]

    Returns
    -------
    Fall or None
        None where engine speed nowhere loses `FALL_SHARE` of the step within `QUICK_S`.
    """
    width = max(round(QUICK_S / engine.step_s), 1)
    if engine.rpm.size <= width:
        return None
    log = np.log(np.maximum(engine.rpm, 1.0))
    lost = log[:-width] - log[width:]
    inside = (engine.time_s[:-width] >= earliest_s) & (engine.time_s[width:] <= latest_s)
    if not inside.any() or float(lost[inside].max()) < FALL_SHARE * step:
        return None
    first = int(np.flatnonzero(inside)[np.argmax(lost[inside])])
    fallen = log[first : first + width + 1]
    index = first + int(np.argmax(fallen <= 0.5 * (fallen[0] + fallen[-1])))
    return Fall(float(engine.time_s[index]), _bottom_s(engine, max(index, 1), float(engine.time_s[index])))


def lost_within(engine: EngineSpeed, fall: Fall) -> float:
    """What a fall takes within `QUICK_S` at the most.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    fall : Fall
        As found.

    Returns
    -------
    float
        Log of engine speed before over that after; 0 where samples are too few. [-]
    """
    width = max(round(QUICK_S / engine.step_s), 1)
    near = (engine.time_s >= fall.middle_s - QUICK_S) & (engine.time_s <= fall.middle_s + QUICK_S)
    log = np.log(np.maximum(engine.rpm[near], 1.0))
    return float((log[:-width] - log[width:]).max()) if log.size > width else 0.0
