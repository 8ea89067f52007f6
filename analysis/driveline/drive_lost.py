"""Drive that is lost for good: an axle, a shaft or a coupling that breaks, or a gear that jumps out and stays out.

Public: `tell_drive_lost`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.priors import POWER_ASKED
from passband.analysis.statistics.intervals import find_true_runs

LASTS_S = 0.4
"""The car slows under power for at least so long; a missed shift's neutral may last as long, but a gear follows. [s]"""
COASTS_MPS2 = 0.2
"""It slows by at least this: what air and rolling take from a car at speed. [m/s2]"""
RAN_OFF = 0.10
"""Meanwhile the engine turns more than when the car last pulled, by this share, or holds at its limiter. [-]"""
FIRST_S = 0.7
"""A clutch that is still biting is no lost drive. [s]"""
PULLED_MPS2 = 1.0
"""The car pulled before by at least this. [m/s2]"""
SMOOTH_S = 0.15
"""Acceleration is taken over this long. [s]"""


def tell_drive_lost(motion: Motion, evidence: RunEvidence) -> list[Finding]:
    """Say where the engine ran off while the car slowed and no gear pulled again.

    Parameters
    ----------
    motion : Motion
        ET.
    evidence : RunEvidence
        Engine speed and throttle.

    Returns
    -------
    list of Finding
        A stop, at most one; none where ground speed is made from the drive itself, which then shows nothing of the car.
    """
    engine = evidence.engine
    if engine is None or motion.basis in (SpeedBasis.ENGINE_SPEED, SpeedBasis.DRIVEN_WHEEL):
        return []
    slows = _slows_under_power(motion, evidence)
    for stretch in find_true_runs(slows):
        start_s, stop_s = float(motion.time_s[stretch.start]), float(motion.time_s[stretch.stop - 1])
        if stop_s - start_s < LASTS_S or _pulls_later(motion, stop_s, evidence.end_s):
            continue
        pulled_rpm = float(np.nanmedian(engine.at(np.linspace(start_s - 0.3, start_s - 0.1, 20))))
        ran_to_rpm = float(np.nanmax(engine.at(np.linspace(start_s, stop_s, 50)), initial=0.0))
        if ran_to_rpm > (1.0 + RAN_OFF) * pulled_rpm:
            return [_tell(start_s, ran_to_rpm)]
    return []


def _slows_under_power(motion: Motion, evidence: RunEvidence) -> BoolArray:
    inside = (motion.time_s > evidence.launch_s + FIRST_S) & (motion.time_s < evidence.end_s)
    throttle = evidence.throttle
    if throttle is not None and throttle.known.time_s.size > 1:
        known = throttle.known
        inside &= np.interp(motion.time_s, known.time_s, known.values) > POWER_ASKED * float(known.values.max())
    return np.asarray(inside & (_smooth(motion) < -COASTS_MPS2))


def _smooth(motion: Motion) -> FloatArray:
    step_s = float(np.median(np.diff(motion.time_s)))
    width = max(1, round(SMOOTH_S / step_s))
    return np.convolve(motion.acceleration_mps2, np.ones(width) / width, mode="same")


def _pulls_later(motion: Motion, since_s: float, end_s: float) -> bool:
    later = (motion.time_s > since_s) & (motion.time_s < end_s)
    return bool(later.any() and float(np.max(_smooth(motion)[later])) > PULLED_MPS2)


def _tell(start_s: float, rpm: float) -> Finding:
    text = (
        f"Drive was lost at {start_s:.2f} s: the car slowed under power while the engine ran up to {rpm:.0f} rpm, and "
        "no gear pulled again. Look for a broken axle, shaft or coupling, or a gear that jumped out, before "
        "another run."
    )
    return Finding("drive-lost", "stop", text, f"{start_s:.2f} s from clock start")
