"""How a receiver's filters bend what it tells of speed: they make it late, and round off where acceleration changes.

A speed that changes evenly is only late. Where acceleration changes, at the launch, in shifts, as it falls down the
track, a filtered speed differs from the same speed so much later by half the kernel's variance times the change of
acceleration over time: 3 cm/s for a receiver that smooths over a quarter of a second and a car whose pull falls by
1 m/s2 a second; a start seems 0.1 s early. The kernel is taken as two equal time constants, as a tracking loop and a
navigation filter behind it have; how wide it is, the run shows where something else shows how sharply the car moved.

Public: `bend_of_filter`, `rounded_off`, `RoundedOff`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray

REACH = 14.0
"""The kernel is followed for so many of its time constants: a ten-thousandth of its variance is left. [-] By
arithmetic."""
STEP = 0.1
"""By such a share its variance is moved to see what that does. [-]"""


@dataclass(frozen=True, slots=True)
class RoundedOff:
    """What a filter does to a speed beside making it late, on the speed's own grid; arrays of shape (n,)."""

    bend: FloatArray
    """What is shown less what was, lateness taken out. [m/s]"""
    by_smear: FloatArray
    """How that goes with half the kernel's variance. [m/s over s2]"""


def rounded_off(speed_mps: FloatArray, smear_s2: float, *, step_s: float) -> RoundedOff:
    """What a filter makes of a speed, and how that goes with its kernel.

    Parameters
    ----------
    speed_mps : array, shape (n,)
        On an even grid. [m/s]
    smear_s2 : float
        Half the variance of the kernel, > 0. [s2]
    step_s : float
        Of the grid, > 0. [s]

    Returns
    -------
    RoundedOff
        Next to nothing where the kernel is narrower than the grid.
    """
    wider, narrower = (
        bend_of_filter(speed_mps, float(np.sqrt(2.0 * smear_s2 * (1.0 + by))), step_s=step_s) for by in (STEP, -STEP)
    )
    return RoundedOff((wider + narrower) / 2.0, (wider - narrower) / (2.0 * STEP * smear_s2))


def bend_of_filter(speed_mps: FloatArray, width_s: float, *, step_s: float) -> FloatArray:
    """A speed as it passes a filter of two equal time constants, its lateness taken out, less the speed itself.

    Parameters
    ----------
    speed_mps : array, shape (n,)
        On an even grid; it is taken to stand as at its first before it, and to go on as at its last after it. [m/s]
    width_s : float
        Standard deviation of the kernel, root 2 times each time constant, > 0. [s]
    step_s : float
        Of the grid, > 0. [s]

    Returns
    -------
    array, shape (n,)
        [m/s]

    Examples
    --------
    >>> at = np.arange(0.0, 4.0, 0.005)
    >>> bend = bend_of_filter(0.5 * 2.0 * at**2, 0.1, step_s=0.005)
    >>> round(float(bend[400]), 4)
    0.01
    """
    constant_s = width_s / np.sqrt(2.0)
    at = np.arange(int(np.ceil(REACH * constant_s / step_s)) + 2) * step_s
    kernel = at * np.exp(-at / constant_s)
    kernel /= kernel.sum()
    late_s = float(kernel @ at)
    ahead = int(np.ceil(late_s / step_s)) + 1
    last = speed_mps[-1] + (speed_mps[-1] - speed_mps[-2]) * np.arange(1, ahead + 1)
    whole = np.concatenate((np.full(at.size - 1, speed_mps[0]), speed_mps, last))
    filtered = np.convolve(whole, kernel, mode="valid")
    places = np.arange(speed_mps.size) + late_s / step_s
    return np.asarray(np.interp(places, np.arange(filtered.size), filtered) - speed_mps)
