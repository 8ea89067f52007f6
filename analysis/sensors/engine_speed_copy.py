"""Where the ECU's log ends before the run does: engine speed carried on by another device's copy of it.

Public: `Copy`, `find_copy`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.filters import own_updates

LEAST_MISSING_S = 0.1
"""A log that ends so shortly before the run does needs no other. [s]"""
EARLIEST_S, LATEST_S = -0.1, 0.3
"""A copy sent over a bus is late by 10 to 100 ms, and its clock may have been matched on just that. [s]"""
ALIKE = 0.015
"""A copy agrees with what it copies to within this share, once its delay is out. [-]"""
LEAST_OVERLAP_S = 1.0
"""It must be seen to agree over at least this long. [s]"""


@dataclass(frozen=True, slots=True)
class Copy:
    """Engine speed after the end of the ECU's log, on the ECU's own delay."""

    time_s: FloatArray
    """Shape (n,), evenly spaced as the ECU's were. [s]"""
    rpm: FloatArray
    """Shape (n,). [rpm]"""
    step_s: float
    """Time between the copy's own updates. [s]"""


def find_copy(time_s: FloatArray, rpm: FloatArray, traces: Traces, *, stop_s: float) -> Copy | None:
    """Find another device's engine speed that goes on where the ECU's ends.

    Parameters
    ----------
    time_s, rpm : array, shape (n,)
        The ECU's, noise out. [s], [rpm]
    traces : Traces
        Looked through for another engine speed.
    stop_s : float
        Until when engine speed is wanted. [s]

    Returns
    -------
    Copy or None
        None where nothing is missing or no copy agrees.
    """
    if time_s.size < 10 or stop_s < time_s[-1] + LEAST_MISSING_S:
        return None
    for channel in traces:
        if channel.name == "engine_speed" and channel.known.time_s.size > 10:
            copy = _carry_on(time_s, rpm, channel.known, stop_s)
            if copy is not None:
                return copy
    return None


def _carry_on(time_s: FloatArray, rpm: FloatArray, channel: Channel, stop_s: float) -> Copy | None:
    renewed = own_updates(channel.time_s, channel.values, rate_hz=channel.rate_hz)
    at_s, values = channel.time_s[renewed], channel.values[renewed]
    if at_s.size < 10 or at_s[-1] < time_s[-1] + LEAST_MISSING_S:
        return None
    both = (at_s > time_s[0] + LATEST_S) & (at_s < time_s[-1] + EARLIEST_S)
    copy_step_s = float(np.median(np.diff(at_s)))
    if both.sum() * copy_step_s < LEAST_OVERLAP_S:
        return None
    tried = np.arange(EARLIEST_S, LATEST_S, 0.005)
    off = [float(np.median(np.abs(np.interp(at_s[both] - late, time_s, rpm) - values[both]))) for late in tried]
    best = int(np.argmin(off))
    if off[best] > ALIKE * float(np.median(rpm)):
        return None
    step_s = float(np.median(np.diff(time_s)))
    last_s = min(stop_s, float(at_s[-1]) - float(tried[best]))
    grid = np.arange(float(time_s[-1]) + step_s, last_s, step_s)
    return Copy(grid, np.interp(grid + float(tried[best]), at_s, values), copy_step_s) if grid.size else None
