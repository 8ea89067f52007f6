"""When an engine left its gear for good, before the fall into the next: by then the shift had started.

In gear an engine turns with the wheels to some thousandths. A clutch that opens under a cut lets it hang below its gear
for a tenth of a second and more, packs that hand drive over draw it down gently, a lift without a throttle logged lets
it flare and sink: the bend that is sharpest is then not the first, but the gear is left from the first one on.

The constants are chosen, no source: with them nothing changed on runs of our own models and the independent simulator,
and 16 of 21 late starts of another were mended.

Public: `find_left`, `LeftGear`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.shifts.fall import Fall

BACK_S = 0.6
"""The gear is left no longer than this before the fall. [s]"""
STEADY_S = 0.35
"""Before that engine and wheels were seen together over so long. [s]"""
APART_S = 0.01
"""Up to so long before. [s]"""
STEADY = 0.004
"""They turn together where their ratio strays by less, a deviation, log. [-]"""
LEAST = 0.004
"""The engine has left where it is off by this. [-]"""
SIGMAS = 4.0
"""And by so many deviations. [-]"""
WITH_S = 0.04
"""An engine with its gear again for so long had not left it for good: what swings past it is sooner gone. [s]"""
LEVEL = 0.02
"""They turn together in that gear, and not with tires that spin or a clutch that slips, within this of its ratio; by
the ground, within `STEADY`. [-]"""
NOISES = 3.0
"""It rises over what it had turned by more than so many times its noise. [-]"""
DRAWN_BACK_S = 0.05
"""Where it began to leave is drawn back by no more. [s]"""
SLOPE_S = 0.02
"""Along its way over so long. [s]"""


@dataclass(frozen=True, slots=True)
class LeftGear:
    """When an engine had left its gear."""

    seen_s: float
    """First seen off it; the shift started no later. [s]"""
    began_s: float
    """Where its way from there is drawn back to its gear. [s]"""


def find_left(
    engine: EngineSpeed,
    this_gear_rpm: FloatArray,
    *,
    fall: Fall,
    earliest_s: float,
    by_ground: bool,
    alone: bool = False,
) -> LeftGear | None:
    """When the engine left its gear for good, before its fall into the next.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    this_gear_rpm : array, shape (n,)
        What the engine would turn in the gear before at each sample's true time. [rpm]
    fall : Fall
        The fall into the next gear.
    earliest_s : float
        The gear before was not yet in earlier than this. [s]
    by_ground : bool
        True where that is by ground speed that the engine did not make: an engine that rises from it may as well spin
        its tires, one that sinks below a gear that held it does not.
    alone : bool
        True where nothing but the engine shows the car: there it may flare without having been seen to run ahead.

    Returns
    -------
    LeftGear or None
        None where it was not seen to turn with its gear before, or never left it until the fall; and where it rises
        over what it had turned: on a limiter it is still in gear.
    """
    time_s = engine.true_time_s
    use = (time_s > fall.middle_s - BACK_S - STEADY_S) & (time_s >= earliest_s) & (time_s <= fall.middle_s)
    use &= np.isfinite(this_gear_rpm) & (this_gear_rpm > 0.0)
    time_s, rpm, ratio = time_s[use], engine.rpm[use], np.log(engine.rpm[use] / this_gear_rpm[use])
    least = max(LEAST, SIGMAS * engine.noise_rpm / float(rpm.max())) if time_s.size else LEAST
    for at in np.flatnonzero(time_s > fall.middle_s - BACK_S):
        before = ratio[(time_s >= time_s[at] - STEADY_S) & (time_s <= time_s[at] - max(APART_S, 0.5 * engine.step_s))]
        if before.size < max(4, 0.5 * (STEADY_S - APART_S) / engine.step_s):
            continue
        level = float(np.median(before))
        strays = 1.48 * float(np.median(np.abs(before - level)))
        off = ratio[at:] - level
        near = np.abs(off) < max(least, SIGMAS * strays)
        if strays > STEADY or near[0] or _stays(near, engine.step_s):
            continue
        rises = float(rpm[at:].max()) > float(rpm[:at].max()) + NOISES * engine.noise_rpm
        if abs(level) > (STEADY if by_ground else LEVEL) or (by_ground and off[0] > 0.0) or (rises and not alone):
            return None
        return LeftGear(float(time_s[at]), _began(time_s[at:], off, engine.step_s))
    return None


def _stays(near: BoolArray, step_s: float) -> bool:
    """Whether the engine is with its gear again for long enough."""
    count = max(2, int(np.ceil(WITH_S / step_s)))
    return bool(near.size >= count and np.convolve(near, np.ones(count), mode="valid").max() >= count - 0.5)


def _began(time_s: FloatArray, off: FloatArray, step_s: float) -> float:
    """Where the way off the gear is drawn back to it. [s]."""
    count = max(2, int(SLOPE_S / step_s))
    since_s, off = time_s[:count] - time_s[0], off[:count]
    rate = float(np.polyfit(since_s, off, 1)[0]) if off.size > 1 else 0.0
    back_s = float(off[0]) / rate if rate * float(off[0]) > 0.0 else DRAWN_BACK_S
    return float(time_s[0]) - min(back_s, DRAWN_BACK_S)
