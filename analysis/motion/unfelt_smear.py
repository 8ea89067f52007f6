"""What a receiver's smoothing makes of a run that no accelerometer felt.

There the smoothest motion looks likeliest, for which a receiver would smear nothing: its smear (half the variance of
its filters' kernel, see `receiver_filter.py`) cannot be sought beside the speed. But it is late by what it smooths over
and by what it takes to send, so it smooths over no longer than it is late, and how late it is the driveline shows. What
another smear would change of the speed is seen from a second fit: it is what stays open.

Public: `more_smeared`, `take_smear_in`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.motion.factors import SpeedSensor
from passband.analysis.motion.open_errors import SMEARED
from passband.analysis.motion.posterior import Posterior
from passband.analysis.sensors.priors import (
    GPS_SMEAR_S2,
    GPS_SMEAR_SD_S2,
    SMEAR_OF_LATENESS,
    SMEAR_OPEN_OF_LATENESS,
)

STEP_S2 = 0.006
"""By so much a receiver's smear is moved to see what that does: a kernel 0.08 s wide becomes one of 0.13. [s2]"""
LATENESS_KNOWN_S = 0.04
"""A receiver's lateness that is known so well tells of its smear, a deviation. [s]"""


@dataclass(frozen=True, slots=True)
class _Smear:
    likely_s2: float
    """[s2]"""
    open_s2: float
    """A standard deviation. [s2]"""


def more_smeared(gps: SpeedSensor) -> SpeedSensor:
    """A receiver that smooths over longer.

    Parameters
    ----------
    gps : SpeedSensor
        Whose smear is kept.

    Returns
    -------
    SpeedSensor
        For the second fit.
    """
    return replace(gps, smear_s2=gps.smear_s2 + STEP_S2)


def take_smear_in(posterior: Posterior, smeared: Posterior, gps: SpeedSensor) -> None:
    """Move a speed to the smear that the receiver's lateness makes likely, and leave open what that leaves open.

    Parameters
    ----------
    posterior : Posterior
        The fit; its speed is moved and gains a mode.
    smeared : Posterior
        The same with `more_smeared`.
    gps : SpeedSensor
        As it was fitted.
    """
    count = posterior.time_s.size
    by_smear = (smeared.mean[:count] - posterior.mean[:count]) / STEP_S2
    smear = _by_lateness(gps, posterior)
    posterior.mean[:count] += (smear.likely_s2 - gps.smear_s2) * by_smear
    posterior.modes[SMEARED] = smear.open_s2 * by_smear


def _by_lateness(gps: SpeedSensor, posterior: Posterior) -> _Smear:
    name = f"delay {gps.name}"
    known = name in posterior.names
    if not known or float(posterior.deviation(posterior.row_parameter(name)[None])[0]) > LATENESS_KNOWN_S:
        return _Smear(GPS_SMEAR_S2, GPS_SMEAR_SD_S2)
    late_s = float(np.clip(posterior.parameter(name), 0.0, None))
    return _Smear(SMEAR_OF_LATENESS * late_s**2, SMEAR_OPEN_OF_LATENESS * late_s**2)
