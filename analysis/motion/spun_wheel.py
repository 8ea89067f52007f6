"""A lone driven wheel that spun: what its own fall shows, for no car slows down as quickly as tires that take hold.

At a launch it shows without a fall too: no car leaves rest at twice what it pulls with once its tires have hold.

Public: `spun_before_it_fell`, `spun_from_rest_until`, `held_after_outrunning`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray

FALLS_MPS2 = 20.0
"""A wheel that falls at this was faster than the car: brakes give less, on the best tires too. [m/s2] Common practice,
no source."""
FALLS_SHARE = 0.12
"""By so much of its speed. [-] Likewise."""
FALLS_MPS = 1.0
"""And by so much in all. [m/s] Likewise."""
OVER_S = 0.12
"""Within this it falls so far; between samples that lie further apart, in one step. [s]"""
LOWEST_WITHIN_S = 0.3
"""It is at its lowest so soon after, and there with the car. [s]"""
BACK_S = 0.25
"""A wheel that is back at its speed within so long of its lowest swung, as shafts do in a shift, and was with the car
before. [s]"""
BACK_SHARE = 0.95
"""It is back at that share. [-]"""
SWINGS_FROM_S = 1.5
"""From so long after the launch on, for a car that leaves gains as much itself, and tires that shake are seldom with
it. [s]"""
AT_LAUNCH_S = 2.5
"""A wheel that fell so soon after the launch spun from the start: tires that let go there were never with the car.
[s]"""

LOOKED_AT_S = 6.0
"""What a car pulls with is looked for so long after the launch. [s]"""
AFTER_JUMP_S = 0.5
"""From so long after it on. [s]"""
PULL_OVER_S = 0.5
"""As what the wheel gains in so long: a shift's swing lasts less. [s]"""
PULL_PERCENT = 90.0
"""That percentile of it. [%]"""
LAUNCH_OPEN_S = 0.15
"""So well is the launch known beside a lone driven wheel. [s] Chosen on simulated runs."""
JUMPS = 1.6
"""A wheel that is so many times as fast as that pull would have it by then has let go. [-] Chosen likewise."""
LEAST_JUMP_MPS = 3.0
"""And is faster than this. [m/s] Chosen likewise."""
WITH_THE_CAR = 1.15
"""It has hold again where its mean gain since rest is no more than so many times that pull. [-]"""
GAINS_SHARE = 0.4
"""And where it gains that share of it: tires that spin on stand still. [-]"""
GAINS_OVER_S = 0.25
"""Over so long. [s]"""

QUICKEST_MPS2 = 55.0
"""No car gains speed at more: the quickest of all leave at 5 g and a little more. [m/s2] Common practice, no source."""
QUICK_OVER_S = 0.1
"""Over so long. [s]"""
TEETH_SHOW_MPS = 3.0
"""From where teeth come often enough to show it. [m/s]"""
TOP_WITHIN_S = 0.5
"""The engine's limit or the driver ends such a rise so soon. [s]"""
SINKS_SHARE = 0.12
"""A wheel that comes down onto the track spins up as quickly and stays with the car; one that spun sinks by so much of
its highest while the engine pulls. [-]"""
SINKS_FROM_S = 0.25
"""It is lowest no sooner. [s]"""
SINKS_WITHIN_S = 1.2
"""Nor later. [s]"""
STILL_UP_S = 0.08
"""After so long it is not halfway down yet, where a shaft that swings in a shift is back. [s]"""


def spun_before_it_fell(time_s: FloatArray, speed_mps: FloatArray, launch_s: float) -> BoolArray:
    """Which samples of a driven wheel's speed were faster than the car, as a fall after them shows.

    Parameters
    ----------
    time_s, speed_mps : array, shape (n,)
        Rising times [s] and finite speeds [m/s].
    launch_s : float
        First motion. [s]

    Returns
    -------
    array of bool, shape (n,)
        All that was faster than the wheel was once it had fallen, back to where it was slower; at the launch, back to
        rest. It does not see tires that spin without end, or take hold gently.

    Examples
    --------
    >>> time_s = np.arange(0.0, 1.0, 0.1)
    >>> speed_mps = np.array([0.0, 3.0, 8.0, 13.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0])
    >>> spun_before_it_fell(time_s, speed_mps, 0.0).astype(int)
    array([0, 1, 1, 1, 0, 0, 0, 0, 0, 0])
    """
    spun = np.zeros(time_s.size, dtype=np.bool_)
    if time_s.size < 3:
        return spun
    steps = max(1, int(np.searchsorted(time_s - time_s[0], OVER_S) - 1))
    fell = speed_mps[:-steps] - speed_mps[steps:]
    quick = fell > FALLS_MPS2 * (time_s[steps:] - time_s[:-steps])
    enough = fell > np.maximum(FALLS_SHARE * speed_mps[:-steps], FALLS_MPS)
    for top in np.flatnonzero(quick & enough):
        after = (time_s > time_s[top]) & (time_s <= time_s[top + steps] + LOWEST_WITHIN_S)
        low = int(np.flatnonzero(after)[np.argmin(speed_mps[after])])
        back = (time_s > time_s[low]) & (time_s <= time_s[low] + BACK_S)
        swung = time_s[top] > launch_s + SWINGS_FROM_S and bool(np.any(speed_mps[back] > BACK_SHARE * speed_mps[top]))
        if swung:
            continue
        if time_s[low] < launch_s + AT_LAUNCH_S:
            spun[:low] |= time_s[:low] > launch_s
            continue
        slower = np.flatnonzero(speed_mps[:low] <= speed_mps[low])
        spun[int(slower[-1]) + 1 if slower.size else 0 : low] = True
    return spun


def spun_from_rest_until(time_s: FloatArray, speed_mps: FloatArray, launch_s: float) -> float | None:
    """When a driven wheel that let go as the car left had hold again, by what the car pulls with from then on.

    Parameters
    ----------
    time_s, speed_mps : array, shape (n,)
        Rising times [s] and finite speeds [m/s].
    launch_s : float
        First motion. [s]

    Returns
    -------
    float or None
        None where the wheel leaves rest no quicker than the car may. [s]

    Examples
    --------
    >>> time_s = np.arange(0.0, 6.0, 0.1)
    >>> wheel_mps = np.maximum(8.0 * time_s, np.minimum(60.0 * time_s, 16.0))
    >>> round(spun_from_rest_until(time_s, wheel_mps, 0.0), 1)
    1.9
    """
    near = (time_s > launch_s) & (time_s < launch_s + LOOKED_AT_S + PULL_OVER_S)
    time, speed = time_s[near], speed_mps[near]
    begins = time[(time > launch_s + AFTER_JUMP_S) & (time < launch_s + LOOKED_AT_S)]
    if begins.size < 3 or time[-1] < launch_s + LOOKED_AT_S / 2.0:
        return None
    gained = np.interp(begins + PULL_OVER_S, time, speed) - np.interp(begins, time, speed)
    pull = float(np.percentile(gained, PULL_PERCENT)) / PULL_OVER_S
    jumps = (speed > LEAST_JUMP_MPS) & (speed > JUMPS * pull * (time - launch_s + LAUNCH_OPEN_S))
    if pull <= 0.0 or not jumps.any():
        return None
    gains = (np.interp(time + GAINS_OVER_S, time, speed) - speed) / GAINS_OVER_S
    held = (speed < WITH_THE_CAR * pull * (time - launch_s)) & (gains > GAINS_SHARE * pull)
    after = np.flatnonzero(held & (np.arange(time.size) > np.flatnonzero(jumps)[-1]))
    return float(time[after[0]] if after.size else time[-1])


def held_after_outrunning(
    time_s: FloatArray, speed_mps: FloatArray, *, launch_s: float, until_s: float
) -> float | None:
    """When a wheel had hold again that left a launch quicker than any car does, and sank while the engine pulled.

    Parameters
    ----------
    time_s, speed_mps : array, shape (n,)
        Rising times [s] and finite speeds [m/s].
    launch_s, until_s : float
        First motion, and where the driver lifts. [s]

    Returns
    -------
    float or None
        Where it was lowest; None where it did not, or samples lie too far apart to show it. [s]

    Examples
    --------
    >>> time_s = np.arange(0.0, 3.0, 0.05)
    >>> car_mps = 8.0 * time_s
    >>> wheel_mps = np.where(time_s < 1.2, np.maximum(car_mps, np.minimum(70.0 * time_s, 19.0 - 4.0 * time_s)), car_mps)
    >>> round(held_after_outrunning(time_s, wheel_mps, launch_s=0.0, until_s=3.0), 2)
    1.2
    >>> held_after_outrunning(time_s, car_mps, launch_s=0.0, until_s=3.0) is None
    True
    """
    near = (time_s > launch_s) & (time_s < min(launch_s + AT_LAUNCH_S + SINKS_WITHIN_S, until_s))
    time, speed = time_s[near], speed_mps[near]
    if time.size < 5 or float(np.median(np.diff(time))) > QUICK_OVER_S:
        return None
    gained = np.interp(time + QUICK_OVER_S, time, speed) - speed
    quick = np.flatnonzero((speed > TEETH_SHOW_MPS) & (gained > QUICKEST_MPS2 * QUICK_OVER_S))
    if not quick.size:
        return None
    rises = (time >= time[quick[0]]) & (time <= time[quick[0]] + TOP_WITHIN_S)
    top = int(np.argmax(np.where(rises, speed, 0.0)))
    sinks = np.flatnonzero((time >= time[top] + SINKS_FROM_S) & (time <= time[top] + SINKS_WITHIN_S))
    if not sinks.size:
        return None
    low = int(sinks[np.argmin(speed[sinks])])
    gently = np.interp(time[top] + STILL_UP_S, time, speed) > 0.5 * (speed[top] + speed[low])
    return float(time[low]) if gently and speed[low] < (1.0 - SINKS_SHARE) * speed[top] else None
