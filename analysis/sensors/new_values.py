"""A channel that its device renews more seldom than it is logged: only the values that are new.

Public: `new_values`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel


def new_values(channel: Channel) -> Channel:
    """The samples of a channel that say something new: a value held on a faster grid counts once.

    Parameters
    ----------
    channel : Channel
        NaN samples are left out.

    Returns
    -------
    Channel
        Where the channel updates more slowly than its rows come, the first row of each new value; else all.
    """
    known = channel.known
    if known.time_s.size < 4:
        return known
    rows_hz = 1.0 / float(np.median(np.diff(known.time_s)))
    if channel.rate_hz > 0.8 * rows_hz:
        return known
    fresh = np.concatenate(([True], np.diff(known.values) != 0))
    return replace(known, time_s=known.time_s[fresh], values=known.values[fresh])
