"""How slow an engine-speed pick-up may be, by how the engine is seen to swing about the next gear's speed.

An engine that dogs or a biting clutch drag into the next gear falls below that gear's speed and swings back: the
shafts had wound up and ring. A pick-up that averages for long hides the dip, and hides it more than the swing back,
which comes later and is gentler. One that shows a deep dip cannot be slow. One that shows a swing back and hardly a dip
may well be; so may one that shows no dip of quick shifts, though their shafts need not ring. Neither says how slow:
what is open is opened, and values stay as they are for a usual one. Whatever an engine does, what is left of its fall
fades no faster in the log than the pick-up lets it: where each shift's fall fades slowly, so may the pick-up be.

Public: `Swing`, `read_swing`, `LongestLag`, `longest_lag`, `falls_too_sharp`, `USUAL_LAG`, `UNTOLD_LAG_S`,
`PickupEvidence`, `pickup_evidence`, `are_quick`, `is_quick`.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.priors import PICKUP_LAG_PLUS_MINUS_S, PICKUP_LAG_S

USUAL_LAG_S = PICKUP_LAG_S + PICKUP_LAG_PLUS_MINUS_S
"""The longest of usual pick-ups. [s]"""
UNTOLD_LAG_S = 0.015
"""After quick shifts, where a lag moves the lowest engine speed most, so slow a pick-up is always open that no two-step
measures, for shafts that ring deep show a dip through it: a mean over two turns at 6,000 rpm is 10 ms late, behind a
filter of 5. [s] By arithmetic."""
LONGEST_LAG_S = 0.025
"""The longest of any: a mean over three turns at 5,000 to 10,000 rpm, by arithmetic. [s]"""
HIDDEN_DIP = 0.05
"""A dip of less, as a share of the drop, leaves any lag open; of more ever less, straight to what follows. [-] Chosen
on simulated runs of both models and both sets of sensors, seeds 3000..3002 and 9700..9706."""
PLAIN_DIP = 0.15
"""One of this leaves only usual lags open before a shift. [-] Chosen likewise."""
SHOWN_DIP = 0.12
"""One of this does after it, where the price is greater. [-] Chosen likewise."""
DYING, LIVELY = 0.6, 0.8
"""Half a swing later so much of it is left: less is how shafts, clutch and tires damp, more only a slow pick-up makes
of it; straight between. [-] On the same runs usual pick-ups showed 0.7 and less."""
STIFF, RINGING = 0.3, 0.5
"""A dip that is missing counts after a shift only where so much of what there is swings back: a round fall into the
gear without a ring has none. [-] On the same runs."""
LEAST_BACK, LEAST_DIP = 0.015, 0.02
"""A swing back, and a dip, of less are not told from noise and from what the next gear's speed is known to. [-]"""
RINGS_S = 0.12
"""After the next gear carries the dip comes within this. [s]"""
BACK_S = 0.08
"""The swing back comes within this of the dip. [s]"""
SETTLED_S = (0.14, 0.30)
"""Over this stretch the engine runs along a line again. [s]"""
LEAST_SETTLED = 4
"""Of so many samples."""
FADES_FROM = 0.30
"""What is left of a fall is timed from this share of the drop: above it the clutch still drags. [-] By arithmetic."""
FADES_TO = 0.07
"""To this one: below it line and noise tell as much. [-] By arithmetic."""
SLOWEST_LAG_S = 0.045
"""However slowly falls fade, no pick-up is slower: a mean over two turns at 4,000 rpm behind a filter of 30 ms, by
arithmetic. [s]"""
QUICK_S = 0.12
"""Shifts longer than this need not ring: a clutch that slips in takes the dip out. [s]"""


FALLS_REFUTE, SHARP = 2, 0.75
"""So many falls that fade in less than this share of the least that a measured lag lets them say that it was none; one
may be noise. [-], [-] Chosen: falls of one simulated car with a soft two-step fade in 0.65 to 0.83 of it."""


@dataclass(frozen=True, slots=True)
class Swing:
    """How an engine swung about the next gear's speed, seen through a usual pick-up."""

    dip: float
    """How far it fell below, as a share of its drop. [-]"""
    back: float
    """How far it rose above half a swing later, likewise; of an engine that never fell below, from its lowest. [-]"""
    fades_s: float = 0.0
    """Time constant with which the last of its fall is seen to fade; 0 where that is not seen. [s]"""


def read_swing(engine: EngineSpeed, start_s: float, end_s: float, *, rpm_before: float) -> Swing | None:
    """How the engine swung in one shift.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    start_s, end_s : float
        The shift. [s]
    rpm_before : float
        Engine speed where it starts. [rpm]

    Returns
    -------
    Swing or None
        None where too few samples lie after the shift, or engine speed did not fall.

    Notes
    -----
    The next gear's speed is a line through what engine speed settles to, drawn back: no ratio and no wheel is asked, so
    slip of the tires that goes on does not matter.
    """
    sharp = engine.sharpened()
    near = (sharp.time_s >= start_s) & (sharp.time_s <= end_s + SETTLED_S[1])
    since_s, rpm = sharp.time_s[near] - end_s, sharp.rpm[near]
    settled, rings = since_s > SETTLED_S[0], since_s < RINGS_S
    if settled.sum() < LEAST_SETTLED or not rings.any():
        return None
    rise, level = np.polyfit(since_s[settled], rpm[settled], 1)
    drop = rpm_before - float(level)
    if not drop > 0.0:
        return None
    off = (rpm - level - rise * since_s) / drop
    lowest = int(np.argmin(off[rings]))
    after = (since_s >= since_s[lowest]) & (since_s < since_s[lowest] + BACK_S)
    back = float(off[after].max()) - max(float(off[lowest]), 0.0)
    time_s = engine.true_time_s
    seen = (time_s >= start_s) & (time_s <= end_s + SETTLED_S[1])
    left = (engine.rpm[seen] - level - rise * (time_s[seen] - end_s)) / drop
    return Swing(-float(off[lowest]), back, _fades(time_s[seen], left))


def _fades(time_s: FloatArray, left: FloatArray) -> float:
    """The time constant of the last of a fall, as logged, of what is left of the drop; 0 where it is not seen. [s]."""
    passed_s = []
    for share in (FADES_FROM, FADES_TO):
        below = np.flatnonzero((left[:-1] > share) & (left[1:] <= share))
        if not below.size:
            return 0.0
        at = int(below[0])
        part = float((left[at] - share) / (left[at] - left[at + 1]))
        passed_s.append(float(time_s[at]) + part * float(time_s[at + 1] - time_s[at]))
    return max((passed_s[1] - passed_s[0]) / float(np.log(FADES_FROM / FADES_TO)), 0.0)


@dataclass(frozen=True, slots=True)
class LongestLag:
    """The longest lag that a run's own shifts leave open to its pick-up."""

    before_s: float
    """For engine speed before a shift, where a longer one moves little: whatever is not ruled out. [s]"""
    after_s: float
    """For the lowest engine speed of a shift: what the swings give reason to fear. [s]"""


USUAL_LAG = LongestLag(USUAL_LAG_S, USUAL_LAG_S)
"""Where nothing tells of more."""


def longest_lag(swings: Sequence[Swing], *, quick: bool) -> LongestLag:
    """The longest lag that a run's own shifts leave open to its pick-up.

    Parameters
    ----------
    swings : sequence of Swing
        Of each shift that shows one; none behind a converter, which softens every shift.
    quick : bool
        Whether the run's shifts are: a clutch that slips in need not let the engine dip.

    Returns
    -------
    LongestLag
        `USUAL_LAG` where there is no swing, and nothing would show it.

    Notes
    -----
    The median over the shifts counts: one whose tires spin does not decide. Of how slowly falls fade the least does: a
    clutch that slips in and tires that take hold make a fall slower than its pick-up, nothing makes it faster. It does
    not see a pure delay, nor a mean over turns, which ends sharply. A quick shift whose shafts hardly ring looks like a
    slow pick-up; so does an engine that runs up once more as its throttle opens.
    """
    if not swings:
        return USUAL_LAG
    dip, back = (statistics.median(sides) for sides in zip(*((one.dip, one.back) for one in swings), strict=True))
    left = back / max(dip, LEAST_DIP) if back > LEAST_BACK else 0.0
    lively = _share(left, DYING, LIVELY)
    before, after = (_share(dip, plain, HIDDEN_DIP) if quick else 0.0 for plain in (PLAIN_DIP, SHOWN_DIP))
    fades_s = min(min((one.fades_s for one in swings if one.fades_s > 0.0), default=0.0), SLOWEST_LAG_S)
    after_s = _opened(max(after * _share(left, STIFF, RINGING), lively))
    return LongestLag(max(_opened(max(before, lively)), fades_s), max(after_s, fades_s))


def falls_too_sharp(swings: Sequence[Swing], engine: EngineSpeed) -> bool:
    """Whether a run's falls fade faster than the lag that its two-step showed would let them: then it was none.

    Parameters
    ----------
    swings : sequence of Swing
        Of the run's shifts.
    engine : EngineSpeed
        With the lag.

    Returns
    -------
    bool
        True where two falls or more are so sharp.

    Notes
    -----
    A two-step that brings its torque back softly leaps as slowly as a slow pick-up shows a hard one's leaps. What falls
    sharply speaks against the lag, and so does a mean over turns, which is shorter at a shift than it was on the
    two-step.
    """
    least_s = SHARP * (engine.lag_s - engine.lag_plus_minus_s)
    return sum(0.0 < swing.fades_s < least_s for swing in swings) >= FALLS_REFUTE


def _share(value: float, none: float, whole: float) -> float:
    """0 at one value, 1 at another, straight between and no further."""
    return min(max((value - none) / (whole - none), 0.0), 1.0)


def _opened(share: float) -> float:
    return USUAL_LAG_S + share * (LONGEST_LAG_S - USUAL_LAG_S)


@dataclass(frozen=True, slots=True)
class PickupEvidence:
    """What a run's own shifts tell of how slow its engine speed's pick-up may be."""

    lag_s: float
    """The longest lag that they give reason to fear; a usual one's where nothing tells of more. [s]"""
    dip: float | None
    """How far the engine fell below the next gear, share of its drop, their median; None without a swing. [-]"""
    back: float | None
    """How far it swung back, likewise. [-]"""


def pickup_evidence(engine: EngineSpeed | None, shifts: Sequence[Shift], *, converter: bool = False) -> PickupEvidence:
    """What a run's own shifts tell of its pick-up.

    Parameters
    ----------
    engine : EngineSpeed or None
        Of the run, on the clock of the shifts; None where not logged.
    shifts : sequence of Shift
        All its shifts.
    converter : bool
        Whether a converter softens them: then they tell nothing.

    Returns
    -------
    PickupEvidence
        That of a usual one where no shift shows a swing.
    """
    if engine is None or converter:
        return PickupEvidence(USUAL_LAG_S, None, None)
    told = [(shift, before) for shift in shifts if (before := known(shift.rpm_before)) is not None]
    found = [read_swing(engine, shift.time_s, shift.end_s, rpm_before=before.value) for shift, before in told]
    swings = [swing for swing in found if swing is not None]
    if not swings:
        return PickupEvidence(engine.longest_lag_s, None, None)
    dip, back = statistics.median(one.dip for one in swings), statistics.median(one.back for one in swings)
    fear = longest_lag(swings, quick=are_quick(shifts)).after_s
    return PickupEvidence(engine.longest_lag_s if engine.lag_measured else fear, dip, back)


def is_quick(durations_s: Sequence[float]) -> bool:
    """Whether shifts of such lengths are quick, by their median: such ones ring.

    Parameters
    ----------
    durations_s : sequence of float
        Of all shifts of a run. [s]

    Returns
    -------
    bool
        False where there is none.
    """
    return bool(durations_s) and statistics.median(durations_s) < QUICK_S


def are_quick(shifts: Sequence[Shift]) -> bool:
    """Whether a run's shifts are quick.

    Parameters
    ----------
    shifts : sequence of Shift
        All shifts of the run.

    Returns
    -------
    bool
        False where there is none.
    """
    return is_quick([shift.duration_s for shift in shifts])
