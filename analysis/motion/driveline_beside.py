"""The driveline beside a GPS speed that stands alone: it shows when the car did what GPS tells late and seldom.

GPS has the level of the speed, the driven tires have its course: between GPS samples, and how late GPS is. They slip
and grow, by shares that GPS shows.

Public: `driveline_beside`, `disagrees`, `tell_timed`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.factors import SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.speed_through_gears import SpeedKnown, speed_through_gears
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.priors import GROWTH, GROWTH_SD, SLIP_PER_MPS2, SLIP_PER_MPS2_SD
from passband.analysis.windows.window import RunWindow

ENGINE_SD_S = 0.008
"""What is open of the pick-up's delay, a deviation: from a tooth an ignition to a mean over three turns. [s]"""
NOISE_MPS = 0.15
"""Least noise of the driven tires' speed, what drive and tires twist in it. [m/s] Chosen on 84 simulated runs
(kind `gps_alone`, seeds 7000 to 7027, both models)."""
SCALE_SD, DRIFT_CHANGE = 0.02, 0.004
"""What is open of its scale, the tire's size under load in it; and by what the scale may differ every second and a half
beside slip and growth: tires warm, the track changes. [-] Chosen on the same runs."""
EVERY_S, LEAST_SAMPLES = 0.04, 25
"""Samples so far apart are taken, for nearer ones err alike; and the fewest that show a course: a second. [s], [-]"""
KNOWN_AT = 200
"""Points at which it is asked what GPS alone leaves open. [-]"""
GPS_OFF_MPS, OFF_SHARE = 0.5, 0.1
"""A receiver is seldom off by so much, and the launch's few samples are not this share of a run's. [m/s], [-]"""


def driveline_beside(traces: Traces, car: Car, window: RunWindow, alone: Posterior) -> SpeedSensor | None:
    """Engine speed through the gears given, as a speed sensor whose scale, slip and growth GPS shows.

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
    SpeedSensor or None
        None where the gearing is not given, behind a converter, and where the tires spin through most of the run.
    """
    coarse = alone.time_s[:: max(1, alone.time_s.size // KNOWN_AT)]
    known = SpeedKnown(coarse, np.interp(coarse, alone.time_s, alone.speed), alone.deviation(alone.rows_speed(coarse)))
    geared = speed_through_gears(traces, car, window, about=known)
    samples = _thinned(geared.speed.known) if geared.speed is not None else None
    if samples is None or samples.time_s.size < LEAST_SAMPLES:
        return None
    return SpeedSensor(
        samples.name, samples.time_s, samples.values, NOISE_MPS, 0.0, ENGINE_SD_S, SCALE_SD,
        SLIP_PER_MPS2, GROWTH, GROWTH_SD, slip_sd=SLIP_PER_MPS2_SD, drift_change=DRIFT_CHANGE,
        let_go_s=geared.let_go_s,
    )  # fmt: skip


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


def tell_timed(gps: SpeedSensor, both: Posterior) -> Finding:
    """What the driveline showed.

    Parameters
    ----------
    gps : SpeedSensor
        Its samples.
    both : Posterior
        The fit with the driveline.

    Returns
    -------
    Finding
        How late GPS speed is.
    """
    late_ms = 1e3 * both.parameter(f"delay {gps.name}")
    text = (
        f"Ground speed rests on {gps.name} alone. When the car was so fast was taken from engine speed through the "
        f"gears, against which it comes {late_ms:.0f} ms late."
    )
    return Finding("gps-timed-by-engine", "note", text, gps.name)


def _thinned(known: Channel) -> Channel:
    step = max(round(EVERY_S * known.rate_hz), 1)
    return replace(known, time_s=known.time_s[::step], values=known.values[::step])
