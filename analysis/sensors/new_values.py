"""A channel that its device renews more seldom than it is logged: only the values that are new.

Public: `new_values`, `Dropout`, `find_dropouts`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import BoolArray, FloatArray

RECEIVERS = ("gps_speed", "ground_speed")
"""Those that repeat a value over a dropout. A wheel's stands between two teeth, and that it does tells of its start."""
SLOWER = 0.8
"""A channel that is renewed at less than this share of its rows' rate holds its values. [-]"""
HELD_FROM, BESIDE = 2, 10
"""Repeats of one value that are looked at, for sensors repeat one now and then; and how many new ones to either side
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
    if channel.rate_hz > SLOWER * rows_hz:
        if channel.name not in RECEIVERS:
            return known
        fresh = np.ones(known.values.size, dtype=np.bool_)
        for dropout in find_dropouts(channel):
            fresh[(known.time_s > dropout.first_s) & (known.time_s < dropout.back_s)] = False
    return known if fresh.all() else replace(known, time_s=known.time_s[fresh], values=known.values[fresh])


@dataclass(frozen=True, slots=True)
class Dropout:
    """A stretch over which a receiver repeats its last value, having no newer one."""

    first_s: float
    """When the value was new. [s]"""
    back_s: float
    """When the next one came. [s]"""
    repeats: int
    """Samples between the two that repeat it."""
    leap: float
    """By how much the next one is off it, in the channel's unit."""


def find_dropouts(channel: Channel) -> list[Dropout]:
    """Where a receiver repeats a value while what it measures goes on.

    Parameters
    ----------
    channel : Channel
        NaN samples are left out; those that a health check took out are no repeats.

    Returns
    -------
    list of Dropout
        In order; empty where each of its updates says something new. Only of such as repeat over a dropout.

    Notes
    -----
    It does not see a dropout within a stretch of even speed, nor of fewer than two updates.
    """
    known = channel.known
    if channel.name not in RECEIVERS or known.time_s.size < 4 or channel.rate_hz <= 0:
        return []
    rows_hz = 1.0 / float(np.median(np.diff(known.time_s)))
    first = np.flatnonzero(np.concatenate(([True], np.diff(known.values) != 0)))
    rows = max(rows_hz / channel.rate_hz, 1.0) if channel.rate_hz <= SLOWER * rows_hz else 1.0
    new = replace(known, time_s=known.time_s[first], values=known.values[first])
    return [
        Dropout(
            float(new.time_s[at]), float(new.time_s[at + 1]), int(first[at + 1] - first[at] - 1),
            float(abs(new.values[at + 1] - new.values[at])),
        )
        for at in np.flatnonzero(_leaps_after(new.values, np.diff(first) / rows - 1.0)).tolist()
    ]  # fmt: skip


def _leaps_after(new: FloatArray, repeats: FloatArray) -> BoolArray:
    """True for repeats after which a signal leaps by what it would have gained meanwhile.

    After k repeats one that went on is k + 1 usual changes ahead, one that stood is one: parted midway.
    """
    changes = np.abs(np.diff(new))
    leaps = np.zeros(changes.size, dtype=np.bool_)
    for at in np.flatnonzero(repeats > HELD_FROM - 0.5).tolist():
        beside = np.concatenate((changes[max(at - BESIDE, 0) : at], changes[at + 1 : at + 1 + BESIDE]))
        usual = float(np.median(beside)) if beside.size else np.inf
        leaps[at] = changes[at] > (1.0 + repeats[at] / 2.0) * usual
    return leaps
