"""The driveline beside a GPS speed that stands alone: it shows when the car did what GPS tells late and seldom.

GPS has the level of the speed, the driven tires have its course: between GPS samples, and how late GPS is. They slip
and grow, by shares that GPS shows.

Public: `driveline_beside`, `disagrees`, `DrivelineBeside`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.factors import SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.speed_through_gears import FREE_S, SETTLES_S, SpeedKnown, speed_through_gears
from passband.analysis.sensors.priors import GROWTH, GROWTH_SD, SLIP_PER_MPS2, SLIP_PER_MPS2_SD
from passband.analysis.windows.window import RunWindow

ENGINE_SD_S = 0.008
NOISE_MPS = 0.15
SCALE_SD = 0.02
DRIFT_CHANGE = 0.004
EVERY_S = 0.04
LEAST_SAMPLES = 25
KNOWN_AT = 200
GPS_OFF_MPS, OFF_SHARE = 0.5, 0.1


@dataclass(frozen=True, slots=True)
class DrivelineBeside:
    """What the driveline shows beside a GPS speed."""

    sensor: SpeedSensor | None
    """The driven tires' speed; None where too little of it agrees with GPS."""
    shifts_s: tuple[tuple[float, float], ...]
    """Where the drive lets go and takes hold. [s]"""


def driveline_beside(traces: Traces, car: Car, window: RunWindow, alone: Posterior) -> DrivelineBeside:
    """Engine speed through the gears told, as a speed sensor whose scale, slip and growth GPS shows.

    Parameters
    ----------
    traces : Traces
        Needs engine speed.
    car : Car
        Gears and tires.
    window : RunWindow
        The run.
    alone : Posterior
        The speed as GPS alone has it.

    Returns
    -------
    DrivelineBeside
        Without a sensor where the gearing is not told, behind a converter, and where the tires spin.
    """
    coarse = alone.time_s[:: max(1, alone.time_s.size // KNOWN_AT)]
    known = SpeedKnown(coarse, np.interp(coarse, alone.time_s, alone.speed), alone.deviation(alone.rows_speed(coarse)))
    geared = speed_through_gears(traces, car, window, about=known)
    shifts = tuple((one.start_s - FREE_S, one.end_s + SETTLES_S) for one in geared.shifts)
    samples = _thinned(geared.speed.known) if geared.speed is not None else None
    if samples is None or samples.time_s.size < LEAST_SAMPLES:
        return DrivelineBeside(None, shifts)
    sensor = SpeedSensor(
        samples.name, samples.time_s, samples.values, NOISE_MPS, 0.0, ENGINE_SD_S, SCALE_SD,
        SLIP_PER_MPS2, GROWTH, GROWTH_SD, slip_sd=SLIP_PER_MPS2_SD, drift_change=DRIFT_CHANGE,
    )  # fmt: skip
    return DrivelineBeside(sensor, shifts)


def disagrees(gps: SpeedSensor, both: Posterior) -> bool:
    """Whether a fit with the driveline passes GPS by: then the driveline is not the car's.

    Parameters
    ----------
    gps : SpeedSensor
        Its samples.
    both : Posterior
        The fit.

    Returns
    -------
    bool
        True where a tenth of the samples or more lie further off than a receiver errs.
    """
    moment = gps.time_s - both.parameter(f"delay {gps.name}")
    inside = (moment > both.time_s[0]) & (moment < both.time_s[-1])
    off = np.abs(gps.speed_mps - np.interp(moment, both.time_s, both.speed))[inside]
    return bool(off.size == 0 or np.mean(off > GPS_OFF_MPS) >= OFF_SHARE)


def _thinned(known: Channel) -> Channel:
    step = max(round(EVERY_S * known.rate_hz), 1)
    return replace(known, time_s=known.time_s[::step], values=known.values[::step])
