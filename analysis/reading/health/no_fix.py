"""What a receiver says while it has no fix: it coasts on its own filter, moves on, and measures nothing.

A value that stands still, or none, tells a lost fix by itself (`flatlines.py`, `sensors/new_values.py`). One that a
receiver carries on with looks like a car's; the count of satellites beside it tells the two apart.

Public: `without_a_fix`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import BoolArray
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import find_true_runs

FIX_NEEDS = 4
"""Three coordinates and the receiver's own clock are four unknowns: fewer satellites give no fix. [-] By arithmetic."""
LEAST_LOST_S = 0.3
"""A count that dips for less is a count's, and what was lost meanwhile moves no split. [s]"""
MOVES_MPS = 5.0
"""A car that stands is not misread by a receiver that carries on: nothing is said of a start under a roof. [m/s]"""


def without_a_fix(log: Log) -> Log:
    """Leave out what a receiver's speed says while too few satellites are counted.

    Parameters
    ----------
    log : Log
        Speeds in m/s; a count of satellites beside them, or none.

    Returns
    -------
    Log
        GPS speed NaN where the count says that it had no fix while the car moved, and one finding for all of that; the
        same log where there is no count, or one that never reaches a fix and so counts something else.

    Notes
    -----
    It does not see how long the receiver's filter still creeps back once it has a fix again: `find_creeping_back` does.
    """
    count = next((one.known for one in log.channels if one.name == "satellites" and one.known.time_s.size), None)
    if count is None or float(np.median(count.values)) < FIX_NEEDS:
        return log
    for channel in log.channels:
        if channel.name == "gps_speed" and channel.unit == "m/s":
            log = _looked_at(log, channel, count)
    return log


def _looked_at(log: Log, channel: Channel, count: Channel) -> Log:
    place = np.clip(np.searchsorted(count.time_s, channel.time_s, side="right") - 1, 0, None)
    lost = _lost_under_way(channel, count.values[place] < FIX_NEEDS)
    if not lost.any():
        return log
    pieces = find_true_runs(lost)
    said = ", ".join(
        f"{channel.time_s[piece.stop - 1] - channel.time_s[piece.start]:.1f} s from {channel.time_s[piece.start]:.2f} s"
        for piece in pieces[:3]
    )
    text = (
        f"{channel.header} had no fix for {said}{' and more' if len(pieces) > 3 else ''}: fewer than {FIX_NEEDS} "
        "satellites were counted, and what a receiver says meanwhile it carries on from before. It was left out; look "
        "at the antenna's place, or log a wheel speed or an accelerometer beside it."
    )
    where = f"{log.name}, {channel.header}, {channel.time_s[pieces[0].start]:.2f} s"
    kept = np.where(lost, np.nan, channel.values)
    return log.with_channel(channel, replace(channel, values=kept), Finding("gps-no-fix", "caution", text, where))


def _lost_under_way(channel: Channel, few: BoolArray) -> BoolArray:
    """Too few satellites for long enough, about a moment at which the car moved."""
    lost = np.zeros(few.size, dtype=np.bool_)
    for piece in find_true_runs(few):
        last = min(piece.stop, few.size - 1)
        about = channel.values[max(piece.start - 1, 0) : last + 1]
        lasts_s = float(channel.time_s[last] - channel.time_s[piece.start])
        if lasts_s >= LEAST_LOST_S and float(np.nan_to_num(about).max()) > MOVES_MPS:
            lost[piece.start : piece.stop] = True
    return lost
