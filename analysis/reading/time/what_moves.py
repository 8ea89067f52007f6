"""What moves in a table, before its columns are understood: engine, vehicle and the way covered, over all rows.

Public: `moves_of`.
"""

from __future__ import annotations

import re

import numpy as np

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import conversion_for
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.positions import METRES_PER_DEG
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.time.unit_of_time import Moves

SPEEDS = ("ground_speed", "gps_speed", "wheel_speed_")
PLACES = 400
"""A way along positions is counted between so many places: more would count what a receiver wanders."""

_DISTANCE = re.compile(r"(?i)\s*(?:\w+ )?(?:distance|dist|strecke|weg|wegstrecke|distanza|distancia|afstand)\s*")


def moves_of(table: Table, header: Header) -> Moves:
    """Engine speed by its name, speed in a written unit, and the way by a distance or by positions.

    Parameters
    ----------
    table : Table
        As read.
    header : Header
        Names and units.
    """
    named = {
        match.channel: at
        for at, column in reversed(list(enumerate(table.columns)))
        if column.values is not None and column.values.size
        for match in recognise_name(header.bare[at])[:1]
    }
    engine = named.get("engine_speed")
    return Moves(
        None if engine is None else table.columns[engine].over(table.rows),
        _speed(table, header, named),
        _distance(table, header) if (along := _along(table, named)) is None else along,
    )


def _speed(table: Table, header: Header, named: dict[str, int]) -> FloatArray | None:
    by_unit = [  # "MPH": a speed that says no more
        ("ground_speed", at)
        for at, column in enumerate(table.columns)
        if column.values is not None and header.units[at] and header.units[at] == header.bare[at]
    ]
    for channel, at in (*named.items(), *by_unit):
        conversion = conversion_for(header.units[at], kept="m/s") if header.units[at] else None
        if channel.startswith(SPEEDS) and conversion is not None:
            return table.columns[at].over(table.rows) * conversion.scale
    return None


def _distance(table: Table, header: Header) -> FloatArray | None:
    for at, column in enumerate(table.columns):
        if column.values is None or not header.units[at] or not _DISTANCE.fullmatch(header.bare[at]):
            continue
        conversion = conversion_for(header.units[at], kept="m")
        known = column.values[np.isfinite(column.values)]
        if conversion is not None and known.size and np.all(np.diff(known) >= 0):
            return column.over(table.rows) * conversion.scale
    return None


def _along(table: Table, named: dict[str, int]) -> FloatArray | None:
    """The way along positions; NaN between the places at which it is counted."""
    if not {"latitude", "longitude"} <= set(named):
        return None
    north, east = (table.columns[named[name]].over(table.rows) for name in ("latitude", "longitude"))
    known = np.flatnonzero(np.isfinite(north) & np.isfinite(east) & (np.abs(north) > 1e-6))
    places = known[:: max(known.size // PLACES, 1)]
    if places.size < 2 or np.ptp(north[places]) > 1.0 or np.ptp(east[places]) > 1.0 or np.abs(north[places]).max() > 90:
        return None
    narrow = np.cos(np.radians(float(np.median(north[places]))))
    steps = METRES_PER_DEG * np.hypot(np.diff(north[places]), narrow * np.diff(east[places]))
    way = np.full(table.rows, np.nan)
    way[places] = np.concatenate(([0.0], np.cumsum(steps)))
    return way
