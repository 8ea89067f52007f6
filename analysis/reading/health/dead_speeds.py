"""Speeds whose sensor gave up while the car went on, which only another speed can tell from a wheel that stands.

Public: `without_dead_speeds`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.health.speed_scale import SPEEDS
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import Interval, find_true_runs

MOVES_MPS = 10.0
"""A car that goes faster in another log moves beyond doubt. [m/s]"""
FELL_FROM_MPS = 8.0
"""Sensors read zero below a walking pace; what falls from here has not rolled out. [m/s]"""
ZERO = 0.01
"""Share of the speed before below which it is zero. [-]"""
FELL_WITHIN_ROWS = 2
"""A signal that is lost is gone by the second sample."""
LEAST_LOST_S = 0.4
"""Shorter dropouts come back, and are told by that. [s]"""
WITNESSED_S, LEAST_WITNESSED = 1.0, 0.5
"""How long after the fall another speed is looked at, and how many of its samples in it must be known. [s], [-]"""
WITNESS_SHARE = 0.5
"""A witness goes at half of the lost speed at least: another wheel of the car, not its driveshaft's creep. [-]"""
BRAKED_MPS = 3.0
"""A car loses no more within that second by rolling, air and engine; one that loses more brakes, and a braked wheel may
lock. [m/s]"""


def without_dead_speeds(logs: Sequence[Log]) -> list[Log]:
    """Leave out what speeds say at zero while the car moves.

    Parameters
    ----------
    logs : sequence of Log
        All logs of a run; speeds in m/s.

    Returns
    -------
    list of Log
        A speed that is zero throughout while another shows motion is NaN throughout; one that falls to zero in a step,
        while another of the same log goes on, is NaN for as long as it stays there. A finding tells each.

    Notes
    -----
    A brake may lock a wheel within a sample of a slow log, so a step alone proves nothing: the car must go on as a car
    does that nobody brakes. A wheel that falls to zero while no other speed is in its log is left as it is.
    """
    speeds = [channel for log in logs for channel in log.channels if _is_speed(channel)]
    moves = any(float(np.nanmax(channel.values, initial=0.0)) > MOVES_MPS for channel in speeds)
    return [_looked_at(log) for log in logs] if moves else list(logs)


def _is_speed(channel: Channel) -> bool:
    return channel.name in SPEEDS and channel.unit == "m/s"


def _looked_at(log: Log) -> Log:
    for channel in log.channels:
        if not _is_speed(channel):
            continue
        known = channel.known
        if known.values.size > 50 and not known.values.any():
            text = (
                f"{channel.header} is flat: it stays at zero while the car moves, as a dead sensor does; it is "
                "left out."
            )
            silent = replace(channel, values=np.full(channel.values.shape, np.nan))
            log = log.with_channel(channel, silent, _told(log, channel, Finding("flat-channel", "caution", text)))
        else:
            log = _without_lost(log, channel)
    return log


def _told(log: Log, channel: Channel, finding: Finding) -> Finding:
    return replace(finding, where=f"{log.name}, {channel.header}")


def _without_lost(log: Log, channel: Channel) -> Log:
    known = channel.known
    falls = _falls_to_zero(known)
    if not falls:
        return log
    others = [other.known for other in log.channels if other is not channel and _is_speed(other)]
    lost = [piece for piece in falls if any(_goes_on(known, piece, other) for other in others)]
    if not lost:
        return log
    place = np.flatnonzero(np.isfinite(channel.values))
    values = channel.values.copy()
    for piece in lost:
        values[place[piece.start : piece.stop]] = np.nan
    first = lost[0]
    until = "to the end of its log" if lost[-1].stop == known.values.size else "and comes back"
    text = (
        f"{channel.header} falls from {known.values[first.start - 1]:.1f} m/s to zero in one step at "
        f"{known.time_s[first.start]:.2f} s and stays there {until}, while another speed of the log goes on: its "
        "signal was lost; these samples are left out. Check that sensor and its plug."
    )
    return log.with_channel(
        channel, replace(channel, values=values), _told(log, channel, Finding("speed-dropouts", "caution", text))
    )


def _falls_to_zero(known: Channel) -> list[Interval]:
    """Stretches at zero, the falling sample with them, that begin by a step from a speed."""
    values = known.values
    if values.size < 50 or float(values.max()) < FELL_FROM_MPS:
        return []
    level = ZERO * float(values.max())
    found = []
    for piece in find_true_runs(np.abs(values) <= level):
        start = piece.start
        while start > 0 and piece.start - start < FELL_WITHIN_ROWS - 1 and values[start - 1] < FELL_FROM_MPS:
            start -= 1
        last = min(piece.stop, values.size - 1)
        if start > 0 and values[start - 1] >= FELL_FROM_MPS and known.time_s[last] - known.time_s[start] > LEAST_LOST_S:
            found.append(Interval(start, piece.stop))
    return found


def _goes_on(known: Channel, piece: Interval, other: Channel) -> bool:
    """Whether another speed, known before and after a fall, goes on as if nothing had happened."""
    before_s = float(known.time_s[piece.start - 1])
    last = min(piece.stop, known.time_s.size) - 1
    until_s = min(before_s + WITNESSED_S, float(known.time_s[last]))
    seen = (other.time_s >= before_s) & (other.time_s <= until_s)
    after: FloatArray = other.values[seen]
    due = LEAST_WITNESSED * other.rate_hz * (until_s - before_s)
    if after.size < max(2.0, due):
        return False
    least = max(WITNESS_SHARE * float(known.values[piece.start - 1]), FELL_FROM_MPS)
    return bool(after.min() > least and after[-1] > after[0] - BRAKED_MPS)
