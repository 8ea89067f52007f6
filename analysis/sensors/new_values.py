"""A channel that its device renews more seldom than it is logged: only the values that are new.

Public: `new_values`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import BoolArray, FloatArray

RECEIVERS = ("gps_speed", "ground_speed")
"""Those that repeat a value over a dropout. A wheel's stands between two teeth, and that it does tells of its start."""
HELD_FROM, BESIDE = 2, 10
"""Repeats of one value that are looked at, for sensors repeat one now and then; and how many samples to either side
tell by how much it usually changes. [-], [-]"""


def new_values(channel: Channel) -> Channel:
    """The samples of a channel that say something new: a value held on a faster grid counts once.

    Parameters
    ----------
    channel : Channel
        NaN samples are left out.

    Returns
    -------
    Channel
        Where the channel updates more slowly than its rows come, the first row of each new value; else all but those
        that a receiver repeats over a dropout: it leaps after them, as what goes on unseen does.
    """
    known = channel.known
    if known.time_s.size < 4:
        return known
    rows_hz = 1.0 / float(np.median(np.diff(known.time_s)))
    fresh = np.concatenate(([True], np.diff(known.values) != 0))
    if channel.rate_hz > 0.8 * rows_hz:
        if channel.name not in RECEIVERS:
            return known
        fresh = ~_held_over_dropouts(known.values, fresh)
    return known if fresh.all() else replace(known, time_s=known.time_s[fresh], values=known.values[fresh])


def _held_over_dropouts(values: FloatArray, fresh: BoolArray) -> BoolArray:
    """True for repeats after which a signal leaps by what it would have gained meanwhile.

    After k repeats one that went on is k + 1 usual changes ahead, one that stood is one: parted midway.
    """
    held = np.zeros(values.size, dtype=np.bool_)
    first = np.flatnonzero(fresh)
    changes = np.abs(np.diff(values))
    for begin, back in zip(first[:-1].tolist(), first[1:].tolist(), strict=True):
        repeats = back - begin - 1
        if repeats < HELD_FROM:
            continue
        beside = np.concatenate((changes[max(begin - BESIDE, 0) : begin], changes[back : back + BESIDE]))
        usual = float(np.median(beside[beside > 0])) if np.any(beside > 0) else np.inf
        held[begin + 1 : back] = changes[back - 1] > (1.0 + repeats / 2.0) * usual
    return held
