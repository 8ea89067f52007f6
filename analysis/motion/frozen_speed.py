"""A GPS speed that froze: it holds one value, or none, while the car goes on gaining, and then creeps back to it.

The health checks leave the flat part out; what creeps back afterwards moves, and reads low until it has caught up.

Public: `find_creeping_back`, `tell_creeping_back`, `tell_pauses`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.new_values import find_dropouts
from passband.analysis.windows.window import RunWindow

FREEZES_S, FREEZES_UPDATES = 0.6, 5
"""No new value for so long, and for so many updates. [s], [-] A receiver under trees misses one or two."""
BEFORE_S, AFTER_S = 1.5, 2.0
"""How much of the speed before and after is laid on one smooth curve. [s]"""
PULLS_MPS2 = 2.0
"""Below this pull a speed that froze has lost too little to be told from one that did not. [m/s2]"""
OFF_MPS, OFF_NOISES = 0.25, 3.0
"""What has caught up lies on that curve this well: GPS noise, a torque cut of 60 ms at 8 m/s2, and what a cubic leaves
of a pull that fades; and noises of the channel's own. [m/s], [-]"""
AND_MORE = 0.5
"""What fits may still be short by an eighth of what was lost; a lag that dies out leaves a twentieth after this much of
its time more. [-]"""
LONGEST_S = 6.0
"""After that it is no creeping back but the car. [s]"""
LEAST_LOST_MPS = 0.6
"""A lag that begins smaller moves no split by 5 ms. [m/s]"""
PAUSES_S, PAUSES_PERIODS = 0.9, 1.8
"""A receiver that says nothing new for so long, and for so many of its own periods, has paused: a split passed
meanwhile hangs on what else shows it. [s], [-] By hand: one value missed at 1 Hz is two periods."""
WENT_ON_MPS = 1.0
"""And its car has gained so much meanwhile: one that keeps its speed repeats a value too. [m/s]"""
LEAST_UPDATES = 6
"""Fewer do not tell the receiver's own period."""
LEAST_TAIL_S = 0.25
"""A recovery that is shorter is a sample or two. [s]"""


def find_creeping_back(speed: Channel, window: RunWindow) -> list[tuple[float, float]]:
    """Where a speed reads low because it froze, from the last true value to where it has caught up.

    Parameters
    ----------
    speed : Channel
        GPS speed; held values, or none, where it froze. [m/s]
    window : RunWindow
        The run.

    Returns
    -------
    list of tuple of float
        First and last moment, both themselves true; empty where it never froze, or came back at once. [s]

    Notes
    -----
    After each pause in its new values the speed is laid on one cubic with what was before, leaving out more and more
    after the pause until the rest fits. It does not see a speed that drifts away without a pause, nor one that froze
    within 1.5 s of the launch or comes back within 2 s of the end.
    """
    time_s, values = _updates(speed, window)
    if time_s.size < 12:
        return []
    least_s = max(FREEZES_S, FREEZES_UPDATES / max(speed.rate_hz, 1e-3))
    found: list[tuple[float, float]] = []
    for place in np.flatnonzero(np.diff(time_s) >= least_s).tolist():
        back = _caught_up(time_s, values, place)
        if back is not None and time_s[back] - time_s[place + 1] >= LEAST_TAIL_S:
            found.append((float(time_s[place]), float(time_s[back])))
    return found


def tell_creeping_back(speed: Channel, stretches: list[tuple[float, float]]) -> list[Finding]:
    """What the reader must know of a speed that froze and crept back.

    Parameters
    ----------
    speed : Channel
        As found in.
    stretches : list of tuple of float
        From `find_creeping_back`.

    Returns
    -------
    list of Finding
        One for each.
    """
    return [
        Finding(
            "speed-froze",
            "caution",
            f"{speed.header or speed.name} froze and crept back to the car's speed, from {first:.1f} to {last:.1f} s "
            "of the log: what it reads meanwhile is too low and was left out. Distance there is drawn from what else "
            "shows it.",
            f"{speed.header or speed.name}, {first:.2f} s",
        )
        for first, last in stretches
    ]


def tell_pauses(speed: Channel, window: RunWindow) -> list[Finding]:
    """What the reader must know of a receiver that said nothing new for a while, or repeated itself.

    Parameters
    ----------
    speed : Channel
        GPS speed. [m/s]
    window : RunWindow
        The run.

    Returns
    -------
    list of Finding
        One note for all pauses of the run; none where each value came in its turn, or where the pause is told as
        repeats of one value (`motion/repeated_speed.py`).
    """
    time_s, values = _updates(speed, window)
    if time_s.size < LEAST_UPDATES:
        return []
    gaps_s = np.diff(time_s)
    long = gaps_s > max(PAUSES_S, PAUSES_PERIODS * float(np.median(gaps_s)))
    paused = np.flatnonzero(long & (np.abs(np.diff(values)) > WENT_ON_MPS))
    repeats = find_dropouts(speed)
    told = [any(one.first_s < time_s[at + 1] and one.back_s > time_s[at] for one in repeats) for at in paused]
    paused = paused[~np.array(told, dtype=bool)]
    if not paused.size:
        return []
    each = ", ".join(f"{gaps_s[place]:.1f} s from {time_s[place]:.1f} s" for place in paused[:3].tolist())
    text = (
        f"GPS speed shows nothing new for {each}{' and more' if paused.size > 3 else ''} of the log, and the "
        "car went on gaining: what it did there is drawn from what else shows it, and is as sure as that."
    )
    return [Finding("gps-pauses", "note", text, f"{speed.header or speed.name}, {time_s[paused[0]]:.2f} s")]


def _updates(speed: Channel, window: RunWindow) -> tuple[FloatArray, FloatArray]:
    """The new values within the run: a repeated one is none."""
    known = speed.known
    inside = (known.time_s > window.launch_s) & (known.time_s < window.stop_s)
    time_s, values = known.time_s[inside], known.values[inside]
    fresh = np.concatenate(([True], np.diff(values) != 0.0))[: values.size]
    return time_s[fresh], values[fresh]


def _caught_up(time_s: FloatArray, values: FloatArray, place: int) -> int | None:
    """The first update after a pause from which the speed lies on one curve with what was before it."""
    before = (time_s >= time_s[place] - BEFORE_S) & (np.arange(time_s.size) <= place)
    if before.sum() < 5 or time_s[place] - time_s[0] < BEFORE_S:
        return None
    rate = np.polyfit(time_s[before], values[before], 1)[0]
    noise = float(np.std(values[before] - np.polyval(np.polyfit(time_s[before], values[before], 2), time_s[before])))
    if rate < PULLS_MPS2:
        return None
    for back in range(place + 1, time_s.size):
        after = (np.arange(time_s.size) >= back) & (time_s <= time_s[back] + AFTER_S)
        if time_s[back] > time_s[place + 1] + LONGEST_S or time_s[-1] < time_s[back] + AFTER_S / 2 or after.sum() < 5:
            return None
        curve, off = _curve(time_s, values, before | after)
        if off < max(OFF_MPS, OFF_NOISES * noise) and _fades(curve, time_s[place] - time_s[back]):
            lost = float(np.polyval(curve, time_s[place + 1] - time_s[back]) - values[place + 1])
            more_s = AND_MORE * (time_s[back] - time_s[place + 1])
            return int(np.searchsorted(time_s[:-1], time_s[back] + more_s)) if lost > LEAST_LOST_MPS else None
    return None


def _curve(time_s: FloatArray, values: FloatArray, used: BoolArray) -> tuple[FloatArray, float]:
    """A cubic about the first update after the pause that is used, and how far off it leaves one at worst."""
    about = float(time_s[used][np.argmax(np.diff(time_s[used])) + 1])
    curve = np.polyfit(time_s[used] - about, values[used], 3)
    off = np.abs(values[used] - np.polyval(curve, time_s[used] - about))
    return np.asarray(curve, dtype=np.float64), float(np.quantile(off, 0.95))


def _fades(curve: FloatArray, pause_s: float) -> bool:
    """Whether the curve's pull is no greater after the pause than before it, as an engine's is not at more speed."""
    pull = np.polyder(curve)
    return bool(np.polyval(pull, 0.0) <= 1.1 * np.polyval(pull, pause_s))
