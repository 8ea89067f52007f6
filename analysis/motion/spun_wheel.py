"""A lone driven wheel that spun: what its own fall shows, for no car slows down as quickly as tires that take hold.

Public: `spun_before_it_fell`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray

FALLS_MPS2, FALLS_SHARE, FALLS_MPS = 20.0, 0.12, 1.0
"""A wheel that falls at the first, by so much of its speed and so much in all, was faster than the car: brakes give
less than the first, on the best tires too. [m/s2], [-], [m/s] Common practice, no source."""
OVER_S = 0.12
"""Within this it falls so far; between samples that lie further apart, in one step. [s]"""
LOWEST_WITHIN_S = 0.3
"""It is at its lowest so soon after, and there with the car. [s]"""
AT_LAUNCH_S = 2.5
"""A wheel that fell so soon after the launch spun from the start: tires that let go there were never with the car.
[s]"""


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
        if time_s[low] < launch_s + AT_LAUNCH_S:
            spun[:low] |= time_s[:low] > launch_s
            continue
        slower = np.flatnonzero(speed_mps[:low] <= speed_mps[low])
        spun[int(slower[-1]) + 1 if slower.size else 0 : low] = True
    return spun
