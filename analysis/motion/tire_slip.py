"""What driven tires slip as they push: by the pull that the car showed them to hold, and by all that they push against.

A tire's slip goes with the force at the ground, which is the car's acceleration and what air and rolling take; how much
for each newton goes with its stiffness. No log shows that, but a car's greatest pull does: soft tires that hold much
slip little for a given pull, and all tires slip alike, by some hundredths, near what they hold.

Public: `TireSlip`, `expected_slip`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import SLIP_AT_MOST_PULL, SLIP_AT_MOST_PULL_SD, USUAL_DRAG_PER_M

AIR_KG_PER_M3 = 1.2
"""Density: a day's own differs by a tenth, and less of the slip. [kg/m3]"""
PULL_OVER_S, PULL_PERCENT = 0.8, 95.0
"""The greatest pull is that percentile of means over so long: a shift's swing lasts less. [s], [%]"""
PULLS_MPS2 = (4.0, 25.0)
"""No car that runs down a strip pulls less at its most, no tire more. [m/s2]"""


@dataclass(frozen=True, slots=True)
class TireSlip:
    """What is known beforehand of a driven tire's slip."""

    per_mps2: float
    """Slip for each m/s2 of thrust at the ground. [s2/m]"""
    per_mps2_sd: float
    """Standard deviation of that over tires. [s2/m]"""
    drag_per_m: float
    """What air takes off, over speed squared: it is thrust too. [1/m]"""


def expected_slip(time_s: FloatArray, speed_mps: FloatArray, car: Car) -> TireSlip:
    """What a driven tire slips, by the greatest pull of its run.

    Parameters
    ----------
    time_s, speed_mps : array, shape (n,)
        Of the driven tires where they were with the car: rising times [s] and finite speeds [m/s].
    car : Car
        Mass and drag area serve where given.

    Returns
    -------
    TireSlip
        As for the least pull where fewer than three samples show one.

    Examples
    --------
    >>> time_s = np.arange(0.0, 4.0, 0.05)
    >>> slip = expected_slip(time_s, 10.0 * time_s, Car(name="car"))
    >>> round(slip.per_mps2, 5)
    0.0035
    """
    drag = AIR_KG_PER_M3 * car.drag_area / (2.0 * car.mass) if car.drag_area and car.mass else USUAL_DRAG_PER_M
    pull = float(np.clip(_greatest_pull(time_s, speed_mps), *PULLS_MPS2))
    return TireSlip(SLIP_AT_MOST_PULL / pull, SLIP_AT_MOST_PULL_SD / pull, drag)


def _greatest_pull(time_s: FloatArray, speed_mps: FloatArray) -> float:
    """m/s2; 0 where too little is seen."""
    if time_s.size < 3 or time_s[-1] - time_s[0] < PULL_OVER_S:
        return 0.0
    begins = time_s[time_s <= time_s[-1] - PULL_OVER_S]
    gained = np.interp(begins + PULL_OVER_S, time_s, speed_mps) - np.interp(begins, time_s, speed_mps)
    return float(np.percentile(gained, PULL_PERCENT)) / PULL_OVER_S
