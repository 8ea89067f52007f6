"""A limit above the end of its sensor: what is cut off flat there was at least that, and may have been more.

Public: `cut_off_at`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.log import Channel
from passband.analysis.reading.health.flatlines import find_saturated

CUT_OFF = frozenset({"manifold_pressure", "boost", "back_pressure", "exhaust_temperature"})
"""Channels whose sensors end within what an engine does, and that harm by being too high."""


def cut_off_at(channel: Channel) -> float | None:
    """The level at which a channel is cut off flat, as reading tells it; None where it is not.

    Parameters
    ----------
    channel : Channel
        About the time that a limit looks at; its own or made of another.

    Examples
    --------
    >>> time_s = np.arange(1000) / 100.0
    >>> noise = np.random.default_rng(1).normal(0.0, 1e3, 1000)
    >>> pressure_pa = np.minimum(150e3 + 80e3 * np.sin(time_s) + noise, 200e3)
    >>> cut_off_at(Channel("manifold_pressure", "MAP", "Pa", "Pa", time_s, pressure_pa, 100.0))
    200000.0
    """
    if family_of(channel.name) not in CUT_OFF:
        return None
    known = channel.known
    if known.time_s.size < 2:
        return None
    rate_hz = known.rate_hz or 1.0 / float(np.median(np.diff(known.time_s)))
    where = find_saturated(known.time_s, known.values, rate_hz=rate_hz)
    return float(known.values[where[0].start]) if where else None
