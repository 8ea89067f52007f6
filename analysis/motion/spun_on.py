"""A lone driven wheel that spins on after the launch, through gears: what its later falls say of all before.

A car under power does not slow down: it was never faster than its driven wheel was to be again. A throttle that is
held back, a wheel that stands or sinks at full throttle, speed gained as no tire gives it: all of them end in a wheel
that is slower later, and that alone is asked for. Where it falls in a shift, or as the tires take hold, it is with the
car.

Public: `SpunOn`, `spun_on_from_rest`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.intervals import Interval, find_true_runs

FASTER_SHARE = 0.18
"""A wheel so much faster than it is to be again spun; a shaft's swing in a shift, a lift or a missed gear take less.
[-] Chosen."""
FASTER_FROM_MPS = 3.0
"""Above this. [m/s] Chosen."""
BEGINS_WITHIN_S = 1.0
"""A wheel that spins from the start does so within this of the launch. [s]"""
GOES_ON_WITHIN_S = 1.5
"""One that has had hold for so long had it for good. [s]"""
AHEAD = 1.5
"""Unless it was meanwhile so many times as fast as an even gain to where it has hold next. [-]"""
LOWEST_SHARE = 0.02
"""It is at its lowest where it is within this of the slowest that it is to be again. [-]"""
SPUN_FOR_S = 0.06
"""What is shorter is a ring of the wheel's own. [s]"""
SWUNG_SHARE = 0.95
"""A wheel that is back at that share of its speed swung, as shafts do at 5 Hz and more. [-]"""
SWUNG_S = 0.15
"""Within so long of its lowest. [s]"""
ABOVE_SHARE, BELOW_SHARE = 0.12, 0.4
"""A car whose tires spin gains speed about evenly from rest, for they push as hard as they can: a lowest so far above
or below the even gain up to a later one was not with the car. [-], [-]"""


@dataclass(frozen=True, slots=True)
class SpunOn:
    """A start on tires that spun until they had hold, and where the wheel was with the car meanwhile."""

    held_s: float
    """From when on the wheel was with the car. [s]"""
    touched_s: FloatArray
    """When it was for a moment, in order, shape (n,). [s]"""
    touched_mps: FloatArray
    """What it showed then, shape (n,). [m/s]"""


def spun_on_from_rest(time_s: FloatArray, speed_mps: FloatArray, *, launch_s: float, until_s: float) -> SpunOn | None:
    """Until when a driven wheel that let go at the launch spun on, by how slow it was to be again.

    Parameters
    ----------
    time_s, speed_mps : array, shape (n,)
        Rising times [s] and finite speeds [m/s].
    launch_s : float
        First motion. [s]
    until_s : float
        The last moment of open throttle: from then on a car slows down. [s]

    Returns
    -------
    SpunOn or None
        None where the wheel never is much faster than later on, or has hold again for good within its first spin.

    Notes
    -----
    It does not see tires that take hold gently and never fall back: a wheel that only rises shows no spin.

    Examples
    --------
    >>> time_s = np.arange(0.0, 8.0, 0.05)
    >>> wheel_mps = np.interp(time_s, [0.0, 0.3, 2.0, 2.2, 2.5, 4.5, 4.8, 8.0], [0, 20, 22, 11, 28, 30, 24, 36])
    >>> found = spun_on_from_rest(time_s, wheel_mps, launch_s=0.0, until_s=8.0)
    >>> round(found.held_s, 1), found.touched_s.round(1), found.touched_mps.round(0)
    (4.8, array([2.2]), array([11.]))
    """
    inside = (time_s > launch_s) & (time_s <= until_s) & np.isfinite(speed_mps)
    time, speed = time_s[inside], speed_mps[inside]
    if time.size < 10:
        return None
    to_be = np.minimum.accumulate(speed[::-1])[::-1]
    faster = (speed > (1.0 + FASTER_SHARE) * to_be) & (speed > FASTER_FROM_MPS)
    spins = [piece for piece in find_true_runs(faster) if time[piece.stop - 1] - time[piece.start] >= SPUN_FOR_S]
    lows: list[int] = []
    swung: list[bool] = []
    ended_s, ended_mps = launch_s, 0.0
    for place, spin in enumerate(spins):
        low = _lowest(speed, to_be, spin)
        since_s = float(time[spin.start]) - ended_s
        meanwhile = slice(int(np.searchsorted(time, ended_s)), spin.start + 1)
        even_mps = np.interp(time[meanwhile], [ended_s, time[low]], [ended_mps, speed[low]])
        with_the_car = float(np.median(speed[meanwhile] - AHEAD * even_mps)) < 0.0
        if with_the_car and since_s > (GOES_ON_WITHIN_S if lows else BEGINS_WITHIN_S):
            break
        if place + 1 < len(spins) and spins[place + 1].start <= low:
            continue  # it spun again before it was down
        lows.append(low)
        swung.append(_swung(time, speed, spin, low))
        ended_s, ended_mps = float(time[low]), float(speed[low])
    while swung and swung[-1]:
        lows.pop()
        swung.pop()
    if not lows:
        return None
    touched = _even(time[lows] - launch_s, speed[lows])
    held = lows[-1]
    kept = [low for low, with_the_car in zip(lows[:-1], touched[:-1], strict=True) if with_the_car]
    return SpunOn(float(time[held]), time[kept], speed[kept])


def _lowest(speed: FloatArray, to_be: FloatArray, spin: Interval) -> int:
    """The first sample after a spin at which the wheel is about as slow as it is to be again."""
    down = np.flatnonzero(speed[spin.stop :] <= (1.0 + LOWEST_SHARE) * to_be[spin.stop :])
    return spin.stop + int(down[0])


def _swung(time: FloatArray, speed: FloatArray, spin: Interval, low: int) -> bool:
    """Whether a wheel went back to where it was before its lowest: a swing, and not the end of a spin."""
    top = float(speed[spin.start : low + 1].max())
    back = speed[(time > time[low]) & (time <= time[low] + SWUNG_S)]
    return bool(back.size and back.max() > SWUNG_SHARE * top)


def _even(since_s: FloatArray, speed: FloatArray) -> list[bool]:
    """Which of the lowest lie about on the even gain from rest up to each later one that does."""
    good = [False] * since_s.size
    pace = np.inf
    for at in range(since_s.size - 1, -1, -1):
        own = float(speed[at] / max(since_s[at], 1e-3))
        good[at] = at == since_s.size - 1 or (1.0 - BELOW_SHARE) * pace < own < (1.0 + ABOVE_SHARE) * pace
        pace = min(pace, own) if good[at] else pace
    return good
