"""Which axis of an accelerometer points forward: as its name says, or as the speed of the same car shows.

A logger is screwed in askew, its axes swapped, its sign turned. Clocks and launches need only the axis and the sign;
scale and tilt are for `analysis.motion.accelerometer`.

Public: `forward_acceleration`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.filters import even_grid, resample, slope

AXES = ("acceleration", "acceleration_lateral", "acceleration_vertical")
SPEEDS = (
    "wheel_speed_fl", "wheel_speed_fr", "wheel_speed_rl", "wheel_speed_rr",
    "gps_speed", "ground_speed", "wheel_speed_driven",
)  # fmt: skip
GRID_HZ, SPAN_S = 10.0, 0.6
"""Grid, and span over which speed's rate of change is taken: seconds of pull tell an axis. [Hz], [s]"""
SURE = 0.6
"""Correlation from which an axis is believed to show speed's rate of change. [-]"""
MUCH_BETTER = 1.25
"""Another axis must fit better than the named one by this factor to be taken instead: askew is not swapped. [-]"""


def forward_acceleration(channels: Sequence[Channel]) -> Channel | None:
    """The acceleration along the car, whatever it is called and whichever way it points.

    Parameters
    ----------
    channels : sequence of Channel
        All channels of one log, or of several on one clock.

    Returns
    -------
    Channel or None
        Named ``acceleration``, forward positive; the channel of that name as it stands where no speed of the same log
        shows better; None where no log holds an accelerometer.
    """
    named = next((channel for channel in channels if channel.name == AXES[0]), None)
    axes = [channel for channel in channels if channel.name in AXES and (named is None or channel.log == named.log)]
    speed = _speed_beside(channels, axes)
    if speed is None:
        return named
    grid = even_grid(float(speed.time_s[0]), float(speed.time_s[-1]), rate_hz=GRID_HZ)
    gain = slope(
        resample(speed.time_s, speed.values, grid, max_gap_s=max(1.0, 2.5 / max(speed.rate_hz, 0.1))),
        step_s=1 / GRID_HZ,
        span_s=SPAN_S,
        order=1,
    )
    likeness = [(axis, _likeness(axis, grid, gain)) for axis in axes]
    best, score = max(likeness, key=lambda one: abs(one[1]))
    as_named = next((value for axis, value in likeness if axis is named), 0.0)
    if abs(score) < SURE or (as_named > 0 and abs(score) < MUCH_BETTER * as_named):
        return named
    return replace(best, name=AXES[0], values=best.values * np.sign(score))


def _speed_beside(channels: Sequence[Channel], axes: Sequence[Channel]) -> Channel | None:
    """A speed that moved, of the same log if it holds one."""
    if not axes:
        return None
    found = [
        channel.known
        for name in SPEEDS
        for channel in channels
        if channel.name == name and channel.known.values.size > 20 and np.ptp(channel.known.values) > 8.0
    ]
    same = [channel for channel in found if channel.log == axes[0].log]
    return next(iter(same or found), None)


def _likeness(axis: Channel, grid: FloatArray, gain: FloatArray) -> float:
    """Correlation of an axis with speed's rate of change; 0 where they do not overlap."""
    values = resample(axis.time_s, axis.values, grid, max_gap_s=1.0)
    both = np.isfinite(values) & np.isfinite(gain) & (np.abs(gain) < 60.0)
    if both.sum() < 20 or np.std(values[both]) == 0 or np.std(gain[both]) == 0:
        return 0.0
    return float(np.corrcoef(values[both], gain[both])[0, 1])
