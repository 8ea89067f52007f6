"""A speed whose name does not say what measured it, and that wanders at rest: a position receiver's.

A wheel or shaft is counted, and a counter shows nothing of a car that stands. A receiver's speed is never quite zero.

Public: `speed_of_receiver`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Log
from passband.analysis.channels.recognition import VAGUE
from passband.analysis.results.findings import Finding

REST_MPS = 0.5
"""Less is rest or creep. [m/s]"""
WANDERS_MPS = 0.2
"""Half of a receiver's values at rest lie below this. [m/s]"""
FEWEST_AT_REST = 20
"""Samples at rest needed."""
NEW_AT_REST = 0.5
"""Which share of them must be other than zero and than the one before. [-]"""


def speed_of_receiver(log: Log) -> Log:
    """Take a ground speed of a vague name for a receiver's where it wanders at rest.

    Parameters
    ----------
    log : Log
        As understood; speeds in m/s.

    Returns
    -------
    Log
        The same where the log names a receiver's speed, where the user said what it is, or where nothing wanders.
    """
    speed = log.get("ground_speed")
    if speed is None or speed.unit != "m/s" or speed.confidence >= VAGUE or log.get("gps_speed") is not None:
        return log
    values = speed.known.values
    resting = np.flatnonzero(values < REST_MPS)
    at_rest = values[resting]
    if at_rest.size < FEWEST_AT_REST or float(np.median(at_rest)) >= WANDERS_MPS:
        return log
    anew = (at_rest != 0.0) & (at_rest != values[np.maximum(resting - 1, 0)])
    if float(np.mean(anew)) < NEW_AT_REST:
        return log
    text = (
        f"{speed.header} does not say what measured it; it wanders about zero while the car stands, as a position "
        "receiver's speed does and a counted wheel's does not: it is taken for gps_speed."
    )
    return log.with_channel(
        speed, replace(speed, name="gps_speed"), Finding("speed-of-receiver", "note", text, speed.header)
    )
