"""What a timing slip says by itself, where no log shows how the car moved.

Public: `SlipRun`, `read_slip_alone`, `distance_by_slip_alone`, `USUAL_LAUNCH_TO_CLOCK_S`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.given.car import Slip
from passband.analysis.motion.distance import (
    PRINTED_PLUS_MINUS_MPS,
    PRINTED_PLUS_MINUS_S,
    ROLLOUT_SD_M,
    TOLD_ROLLOUT_SD_M,
    USUAL_ROLLOUT_M,
)
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import Distance, Split, Trap
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding

LEAST_MARKS = 2
"""One time alone says nothing of how speed grew."""
POWER_OF_WAY = 2.0 / 3.0
"""At constant power time goes with distance to this: in it, times at the marks lie on a line that bends little."""
BETWEEN_MARKS = 0.04
"""95 % of a speed read off between marks, as a share: between constant power and constant force, with the usual marks,
it is off by up to 3.5 %. [-]"""
GROWTH_POWER, GROWTH_POWER_PLUS_MINUS = 0.33, 0.2
"""Speed grows with distance from rest to this: 1/3 at constant power, 1/2 at constant force, less against the air. So
at the line it is that much higher than the mean of its trap. [-]"""
HALF_TRAP_M = 33 * FOOT_M
"""A trap is the last 66 ft. [m]"""
USUAL_LAUNCH_TO_CLOCK_S = 0.25
"""From first motion to clock start: 0.27 m at 0.6 to 1.5 g. [s]"""
STEP_M = 0.25
"""Of the way on which the speed is laid out. [m]"""


@dataclass(frozen=True, slots=True)
class SlipRun:
    """A run as its slip tells it."""

    distance: Distance
    """Splits and traps as printed."""
    way_m: FloatArray
    """Even, from clock start to the last mark, shape (n,). [m]"""
    speed_mps: FloatArray
    """There, by the times at the marks. [m/s]"""
    time_s: float
    """At the last mark. [s, ET]"""
    end_speed: Estimate
    """At the last mark. [m/s]"""


def read_slip_alone(slip: Slip | None, *, rollout_m: float | None, finish_ft: int) -> SlipRun | None:
    """Lay a slip's times out as a run.

    Parameters
    ----------
    slip : Slip or None
        The run's.
    rollout_m : float or None
        As given. [m]
    finish_ft : int
        Marks beyond it are left aside. [ft]

    Returns
    -------
    SlipRun or None
        None without a slip, or with fewer than two times.

    Notes
    -----
    Time is interpolated over (distance from rest) to the power 2/3, monotone: exact at constant power. It does not see
    a shift or a lift between two marks.
    """
    marks = [] if slip is None else [(ft, time) for ft, time in slip.times if time is not None and ft <= finish_ft]
    if slip is None or len(marks) < LEAST_MARKS:
        return None
    rollout = rollout_m or USUAL_ROLLOUT_M
    way = np.arange(0.0, marks[-1][0] * FOOT_M + STEP_M / 2, STEP_M)
    speed = _speed_on(way, marks, rollout)
    traps = {feet: trap for feet, trap in ((660, slip.v660), (1320, slip.v1320)) if trap and feet <= marks[-1][0]}
    splits = tuple(
        Split(feet, Estimate(time, PRINTED_PLUS_MINUS_S), _speed_at(feet, way, speed, traps)) for feet, time in marks
    )
    distance = Distance(
        basis="timing slip alone",
        rollout_m=Estimate(rollout, 1.96 * (TOLD_ROLLOUT_SD_M if rollout_m else ROLLOUT_SD_M)),
        scale=None,
        splits=splits,
        traps=tuple(Trap(feet, Estimate(trap, PRINTED_PLUS_MINUS_MPS)) for feet, trap in traps.items()),
        wheelspin=(),
    )
    return SlipRun(distance, way, speed, marks[-1][1], splits[-1].speed_mps)


def distance_by_slip_alone() -> Finding:
    """The finding for a run that only its slip tells of."""
    text = (
        "No wheel, shaft or GPS speed covers the run: splits and traps are the slip's own, and speeds between its "
        "marks are read off its times. Log a wheel speed, a driveshaft or GPS speed."
    )
    return Finding("distance-by-slip-alone", "caution", text)


def _speed_on(way_m: FloatArray, marks: list[tuple[int, float]], rollout_m: float) -> FloatArray:
    from scipy.interpolate import PchipInterpolator  # not for a mere start

    from_rest = np.array([rollout_m, *(feet * FOOT_M + rollout_m for feet, _ in marks)])
    times = np.array([0.0, *(time for _, time in marks)])
    by_bent_way = PchipInterpolator(from_rest**POWER_OF_WAY, times).derivative()
    here = way_m + rollout_m
    seconds_per_metre = by_bent_way(here**POWER_OF_WAY) * POWER_OF_WAY * here ** (POWER_OF_WAY - 1.0)
    return np.asarray(1.0 / np.maximum(seconds_per_metre, 1e-3), dtype=np.float64)


def _speed_at(feet: int, way_m: FloatArray, speed_mps: FloatArray, traps: dict[int, float]) -> Estimate:
    if feet in traps:
        per_power = HALF_TRAP_M / (feet * FOOT_M)
        value = (1.0 + GROWTH_POWER * per_power) * traps[feet]
        return Estimate(value, GROWTH_POWER_PLUS_MINUS * per_power * traps[feet] + PRINTED_PLUS_MINUS_MPS)
    value = float(np.interp(feet * FOOT_M, way_m, speed_mps))
    return Estimate(value, BETWEEN_MARKS * value)
