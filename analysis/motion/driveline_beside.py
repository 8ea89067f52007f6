"""The driveline beside a GPS speed that stands alone: it shows when the car did what GPS tells late and seldom.

GPS has the level of the speed, the driven tires have its course: between GPS samples, and how late GPS is. They slip
and grow, by shares that GPS shows.

Public: `driveline_beside`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.factors import SpeedSensor
from passband.analysis.motion.speed_through_gears import speed_through_gears
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import GROWTH, GROWTH_SD, SLIP_PER_MPS2, SLIP_PER_MPS2_SD
from passband.analysis.windows.window import RunWindow

ENGINE_SD_S = 0.008
NOISE_MPS = 0.15
SCALE_SD = 0.02
DRIFT_CHANGE = 0.004
EVERY_S = 0.04


def driveline_beside(traces: Traces, car: Car, window: RunWindow) -> SpeedSensor | None:
    """Engine speed through the gears told, as a speed sensor whose scale, slip and growth another shows."""
    channel = speed_through_gears(traces, car, window).speed
    if channel is None:
        return None
    samples = _thinned(channel.known)
    if samples.time_s.size < 10:
        return None
    return SpeedSensor(
        channel.name, samples.time_s, samples.values, NOISE_MPS, 0.0, ENGINE_SD_S, SCALE_SD,
        SLIP_PER_MPS2, GROWTH, GROWTH_SD, slip_sd=SLIP_PER_MPS2_SD, drift_change=DRIFT_CHANGE,
    )  # fmt: skip


def _thinned(known: Channel) -> Channel:
    step = max(round(EVERY_S * known.rate_hz), 1)
    from dataclasses import replace
    return replace(known, time_s=known.time_s[::step], values=known.values[::step])
