"""Behind a converter: how fast the engine turns at each speed of the turbine, as one run showed it.

At full throttle an engine and its converter settle, at each turbine speed, to one engine speed and one turbine torque:
the engine's torque and the pump's, which goes with the square of engine speed at each speed ratio (SAE J643 measures
converters so; from memory), meet in one point only. So the pair is treated as one engine that turns with the gearbox,
whose torque is the turbine's; engine speed is read off this curve. No stall ratio and no capacity need be known.

Public: `TurbineLink`, `fit_link`, `turns_by_ratios`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.whatif.torque import fit_torque

LEAST_SLOPE = 0.05
"""Engine speed rises with turbine speed by so much at the least, so each has one place on the curve. Chosen. [-]"""
USUAL_LEAD = 1.04
"""How much faster than the turbine an engine turns at the end of top gear where final drive or circumference is not
given; differences do not feel it. Common practice, no source. [-]"""


@dataclass(frozen=True, slots=True)
class TurbineLink:
    """Engine speed against turbine speed, both rising."""

    turbine_rpm: FloatArray
    """Even nodes, shape (n,). [rpm]"""
    engine_rpm: FloatArray
    """Shape (n,). [rpm]"""

    def engine_of(self, turbine_rpm: FloatArray | float) -> FloatArray:
        """Engine speed at a turbine speed; straight on beyond the last node. [rpm]."""
        at = np.asarray(turbine_rpm, dtype=np.float64)
        return np.interp(at, self.turbine_rpm, self.engine_rpm) + self._beyond(at)

    def turbine_of(self, engine_rpm: float) -> float:
        """Turbine speed at an engine speed within the curve. [rpm]."""
        return float(np.interp(engine_rpm, self.engine_rpm, self.turbine_rpm))

    def _beyond(self, turbine_rpm: FloatArray) -> FloatArray:
        slope = (self.engine_rpm[-1] - self.engine_rpm[-2]) / (self.turbine_rpm[-1] - self.turbine_rpm[-2])
        return np.asarray(slope * np.maximum(turbine_rpm - self.turbine_rpm[-1], 0.0))


def fit_link(turbine_rpm: FloatArray, engine_rpm: FloatArray, weight: FloatArray) -> TurbineLink:
    """Engine speed against turbine speed from the samples of all gears.

    Parameters
    ----------
    turbine_rpm, engine_rpm : array, shape (n,)
        Samples under load. [rpm]
    weight : array, shape (n,)
        Time that each stands for. [s]

    Returns
    -------
    TurbineLink
        Smooth as a torque curve is, and made to rise.

    Raises
    ------
    ValueError
        If there are fewer than ten samples.
    """
    one_gear = np.ones(turbine_rpm.size, dtype=np.int64)
    curve = fit_torque(turbine_rpm, engine_rpm, one_gear, weight, falls_from_peak=False)
    least = LEAST_SLOPE * np.arange(curve.rpm.size) * (curve.rpm[1] - curve.rpm[0])
    rising = np.maximum.accumulate(curve.torque - least) + least
    return TurbineLink(curve.rpm, np.asarray(np.maximum(rising, curve.rpm)))


def turns_by_ratios(
    car: Car, gears: int, *, engine_rpm: FloatArray, speed_mps: FloatArray, gear: IntArray
) -> FloatArray | None:
    """The turbine's angle per metre in each gear.

    Parameters
    ----------
    car : Car
        Its ratios are needed; final drive and circumference where they are given.
    gears : int
        How many the run used.
    engine_rpm, speed_mps : array, shape (n,)
        Samples under load. [rpm], [m/s]
    gear : array of int, shape (n,)
        From 1.

    Returns
    -------
    array, shape (gears,), or None
        [rad/m]; None where no ratios are given, or too few.
    """
    ratios = np.array(car.gear_ratios or [], dtype=np.float64)[:gears]
    if ratios.size < gears or not engine_rpm.size:
        return None
    if car.final_drive is not None and car.tire_circumference is not None:
        return np.asarray(2.0 * math.pi * ratios * car.final_drive / car.tire_circumference)
    last = gear == gear.max()
    lead = float(np.median((engine_rpm[last] / speed_mps[last])[-20:])) * math.pi / 30.0
    return np.asarray(ratios / ratios[int(gear.max()) - 1] * lead / USUAL_LEAD)
