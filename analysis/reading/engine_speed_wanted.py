"""Logs none of which has an engine speed: the columns that may be it, for whoever knows the car to say which.

Public: `may_be_engine_speed`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Log
from passband.analysis.results.doubt import ColumnOffered

MOST_OFFERED = 100
"""Columns offered at most, so that an answer stays short; those whose values fit come first."""


def may_be_engine_speed(files: Sequence[tuple[Log, ...]]) -> tuple[ColumnOffered, ...]:
    """The columns that may be engine speed, likely ones first, each once.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file, none of which holds an engine speed.

    Returns
    -------
    tuple of ColumnOffered
        Those that were taken for no channel, or for a shaft's speed; they change, and stay above zero but for noise.

    Notes
    -----
    What an engine does is not asked of the values: where they show it the column is likely, and where they do not, as
    in a log of another unit, the name may still tell a person.
    """
    offered = {
        (log.layout, channel.header): column
        for recordings in files
        for log in recordings
        for channel in log.channels
        if (column := _offered(log, channel)) is not None
    }
    return tuple(sorted(offered.values(), key=lambda one: not one.likely)[:MOST_OFFERED])


def _offered(log: Log, channel: Channel) -> ColumnOffered | None:
    known = channel.values[np.isfinite(channel.values)]
    if (kind_of(channel.name) is not None and channel.name != "driveshaft_speed") or not known.size:
        return None
    least, greatest = float(known.min()), float(known.max())
    if not -least < greatest or least == greatest:
        return None
    asked = any(doubt.column == channel.header and "engine_speed" in doubt.channels for doubt in log.doubts)
    unit = channel.logged.unit if channel.logged else channel.unit_written
    if channel.logged:
        least, greatest = channel.logged.value(least), channel.logged.value(greatest)
    return ColumnOffered(log.name, log.layout, channel.header, asked, unit, least, greatest)
