"""A gear counted from zero: what the log calls 0 is the first gear, if the car is driven in it.

Public: `gear_from_one`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding

MOVING_MPS = 5.0
"""Above it a car with a gear in has a clutch that holds, or soon. [m/s]"""
DRIVEN_FOR_S = 0.5
"""A gear that drives shows it for so long; a gearbox passes through neutral in less. [s]"""
LATE = 0.7
"""From this part of a gear's highest speed on its clutch no longer slips; it may up to there in a launch. [-]"""
LOCKED_WITHIN = 0.06
"""Half of the ratios of engine to road speed in one gear lie this close together. [-]"""
LOWER_BY = 1.12
"""A gear's ratio is so many times that of the next: the closest boxes' steps. [-]"""
_SPEEDS = ("ground_speed", "gps_speed", "wheel_speed_driven", "wheel_speed_rl", "wheel_speed_rr", "wheel_speed_fl")


def gear_from_one(log: Log) -> Log:
    """Count a gear from one where the log counts it from zero and drives in its 0.

    Parameters
    ----------
    log : Log
        As understood.

    Returns
    -------
    Log
        The same where 0 may be neutral: the engine is not locked to the road in it, in a ratio below that of 1.
    """
    gear, engine = log.get("gear"), log.get("engine_speed")
    speed = next((found for name in _SPEEDS if (found := log.get(name)) is not None and found.unit == "m/s"), None)
    if gear is None or engine is None or speed is None or gear.confidence >= 1.0 or not gear.values.size:
        return log
    if float(np.nanmin(gear.values)) != 0.0 or np.any(gear.values % 1.0 > 0.0):
        return log
    zero, first = (_ratio(gear, engine, speed, number) for number in (0.0, 1.0))
    if zero is None or first is None or zero < LOWER_BY * first:
        return log
    text = (
        f"{gear.header} counts gears from 0: in its 0 the engine is locked to the road, geared lower than in its 1. "
        "It is read as one more."
    )
    counted = Finding("gear-from-zero", "caution", text, gear.header)
    return log.with_channel(gear, replace(gear, values=gear.values + 1.0), counted)


def _ratio(gear: Channel, engine: Channel, speed: Channel, number: float) -> float | None:
    """Engine speed over road speed in one gear; None where they are not locked, or it is not driven in."""
    held = gear.values[np.clip(np.searchsorted(gear.time_s, speed.time_s, side="right") - 1, 0, None)]
    rows = (held == number) & (speed.values > MOVING_MPS)
    if not rows.any() or float(np.sum(_lasts_s(speed.time_s)[rows])) < DRIVEN_FOR_S:
        return None
    rows &= speed.values > LATE * float(np.max(speed.values[rows]))
    ratios = engine.at(speed.time_s)[rows] / speed.values[rows]
    ratios = ratios[np.isfinite(ratios)]
    if ratios.size < 5:
        return None
    low, middle, high = np.quantile(ratios, [0.25, 0.5, 0.75])
    return float(middle) if high - low <= LOCKED_WITHIN * middle else None


def _lasts_s(time_s: FloatArray) -> FloatArray:
    return np.minimum(np.diff(time_s, append=time_s[-1]), 1.0)
