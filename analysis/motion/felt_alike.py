"""One accelerometer that is late twice: it tells when the car began to move, and where its log's clock lies.

Torque cuts that an accelerometer feels lay its log on the ECU's clock. One that is later than expected has the log laid
as much too early, and then shows the first motion as much too late. What its sampling and its device's cycle make of
that cancels; its filter's does not, for a fall's start is found with the filter taken out (`clocks/thrust_falls.py`).
Only what is left moves the clock start or leaves it open.

Public: `SpeedOnClock`, `lay_on_clock`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.motion.factors import COMMON
from passband.analysis.motion.ground_speed import GroundSpeed
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.sensors.priors import ACCELEROMETER_SAMPLED


@dataclass(frozen=True, slots=True)
class SpeedOnClock:
    """A ground speed on the ECU log's clock."""

    ground: GroundSpeed
    """With what is left of its accelerometer's lateness."""
    open_s: float
    """95 % half-width of what the clocks leave open of when. [s]"""


def lay_on_clock(ground: GroundSpeed, traces: Traces, clocks: Sequence[ClockMatch]) -> SpeedOnClock:
    """Take out of a ground speed's lateness what it shares with the clock that it lies on.

    Parameters
    ----------
    ground : GroundSpeed
        From `fuse_ground_speed`.
    traces : Traces
        What it was made of.
    clocks : sequence of ClockMatch
        Of the further logs, in the order in which their channels come.

    Returns
    -------
    SpeedOnClock
        As it was, with the widest of the clocks, where its sensors lie on several logs, or nothing that was felt laid
        the clock.
    """
    open_s = max((match.run_plus_minus_s for match in clocks), default=0.0)
    order = list(dict.fromkeys(channel.log for channel in traces))
    if len(order) != len(clocks) + 1 or ground.log not in order[1:] or ground.felt_log != ground.log:
        return SpeedOnClock(ground, open_s)
    match = clocks[order.index(ground.log) - 1]
    # Of what is open of its lateness so much is sampling's, and of that so much cancels.
    sampled = min(ACCELEROMETER_SAMPLED.sigma_s / ground.felt_sd_s, 1.0) ** 2
    left = float(np.sqrt(1.0 - sampled + sampled * (1.0 - match.felt_share) ** 2))
    posterior = ground.posterior.copy()
    posterior.time_s = posterior.time_s + sampled * match.felt_share * posterior.later_s
    posterior.modes[COMMON] = left * posterior.modes[COMMON]
    known_s = min(2.0 * match.felt_share * ACCELEROMETER_SAMPLED.sigma_s, match.run_plus_minus_s)
    left_s = float(np.sqrt(match.run_plus_minus_s**2 - known_s**2))
    return SpeedOnClock(replace(ground, posterior=posterior, late_share=left), left_s)
