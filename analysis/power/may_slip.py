"""Where the clutch may be what lets an engine run ahead of its gear: the launch, shifts, a clutch that gives out.

Public: `slip_of_clutch`, `first_locked`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.shifts import Shift
from passband.analysis.statistics.intervals import bridge, find_true_runs

LAUNCH_SLIP_S, LONG_SLIP_S = 0.2, 0.5
"""An engine ahead of its gear for longer, in the launch's gear and in any, is a clutch that slips, not a ring of the
drive nor a sensor's moment. [s]"""
BREAK_S = 0.04
"""A break in a slip is no shorter. [s]"""
UNDER_WAY_MPS = 3.0
"""From this speed on engine and tires tell whether the clutch holds. [m/s]"""
SETTLE_S = 0.12
"""Time after a shift in which the drive still rings; chosen for torque-cut shifts at 100 to 500 Hz. [s]"""


def slip_of_clutch(
    ahead: BoolArray, motion: Motion, spinning: BoolArray, shifts: Sequence[Shift], *, step_s: float
) -> BoolArray:
    """Where an engine ahead of its gear is a clutch that slips.

    Parameters
    ----------
    ahead : array of bool, shape (n,)
        The engine turns faster than its gear asks for.
    motion : Motion
        On the same grid, ET.
    spinning : array of bool, shape (n,)
        Wheelspin that is believed.
    shifts : sequence of Shift
        ET.
    step_s : float
        Step of the grid. [s]

    Returns
    -------
    array of bool, shape (n,)
        False where it is a ring of the drive, or tires that may look alike.
    """
    slipping = _without_breaks(ahead, step_s)
    return slipping & _can_slip(motion, slipping, spinning, shifts)


def first_locked(slipping: BoolArray, speed_mps: FloatArray) -> int:
    """When the clutch first holds, the car under way.

    Parameters
    ----------
    slipping : array of bool, shape (n,)
        The clutch slips.
    speed_mps : array, shape (n,)
        Ground speed. [m/s]

    Returns
    -------
    int
        Index of that sample; the size where it never does.

    Examples
    --------
    >>> first_locked(np.array([True, True, False]), np.array([0.0, 5.0, 6.0]))
    2
    """
    locked = ~slipping & (speed_mps > UNDER_WAY_MPS)
    return int(np.argmax(locked)) if locked.any() else slipping.size


def _without_breaks(slipping: BoolArray, step_s: float) -> BoolArray:
    """Slip about the threshold is one slip: noise breaks it for moments."""
    out = np.zeros(slipping.size, dtype=np.bool_)
    for piece in bridge(find_true_runs(slipping), round(BREAK_S / step_s)):
        out[piece.start : piece.stop] = True
    return out


def _can_slip(motion: Motion, slipping: BoolArray, spinning: BoolArray, shifts: Sequence[Shift]) -> BoolArray:
    """True where a clutch may slip: from the launch until it first locks, about shifts, and where it does for long.

    For long counts only where the tires' own speed is known: from the ground alone tires that slip look alike.
    Where tires that spun take hold again they pull the driveline down and the clutch lets go once more, until it locks;
    and where boost comes up under an engine that bogged, torque outgrows the clutch a second time.
    """
    near = np.arange(slipping.size) < first_locked(slipping, motion.speed_mps)
    first_shift_s = min((shift.time_s for shift in shifts), default=math.inf)
    for shift in shifts:
        near |= (motion.time_s >= shift.time_s - 0.02) & (motion.time_s <= shift.end_s + 2.0 * SETTLE_S)
    for stretch in find_true_runs(slipping):
        after_spin = spinning[max(0, stretch.start - 1) : stretch.stop].any()
        start_s, stop_s = float(motion.time_s[stretch.start]), float(motion.time_s[stretch.stop - 1])
        least_s = LAUNCH_SLIP_S if stop_s < first_shift_s else LONG_SLIP_S
        shown = bool(np.isfinite(motion.tire_speed_mps[stretch.start : stretch.stop]).all())
        near[stretch.start : stretch.stop] |= bool(after_spin) or (shown and stop_s - start_s > least_s)
    return near
