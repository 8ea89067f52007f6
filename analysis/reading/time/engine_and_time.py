"""What an engine can do in the time that a log says its rows take.

Rows a second and more apart catch an engine under way at other speeds each time: it climbs through its whole range in
two or three seconds and falls by a third within a tenth. One that moves smoothly from row to row through most of its
range was logged much faster, and the unit of time is written wrong.

Public: `rows_follow_the_engine`, `turns_too_quickly`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.fits import quantiles

LEAST_ROWS = 150
"""Fewer rows show no engine's ways: at 100 rows a second they are too short for a pull through the range."""
LEAST_RANGE = 0.4
"""Between its low and its high tenth an engine that only idled moves by less than this share of its highest. [-]"""
MOST_STEP = 0.12
"""Followed, an engine moves by less of its range from row to row: a shift's fall of half its range takes 40 ms and
more. [-]"""
OF_ROWS = 0.995
"""On this share of the rows. [-]"""
MOST_LEAPS = 6
"""Steps greater than that which a short log may have all the same: a launch and five shifts. [-]"""

QUICKEST_RPM_PER_S = 90e3
"""No engine changes its speed faster for longer than a shift: as for the gate against false samples. [rev/min/s]"""
SWING = 0.05
"""A rise or fall counts from such a share of the engine's highest speed on: less is noise, or a limiter's beat. [-]"""
BLOCKS, SHORTEST_BLOCK = 400, 3
"""Rises and falls are those of medians of so many blocks of rows, of so many rows at least."""
TURNING_RPM = 2500.0
"""Highest speed from which numbers are an engine's in rev/min. [rev/min]"""


def turns_too_quickly(rpm: FloatArray, lasts_s: float) -> bool:
    """Whether an engine goes through its range in less time than any can.

    Parameters
    ----------
    rpm : array, shape (n,)
        Engine speed. [rev/min]
    lasts_s : float
        How long all rows last. [s]

    Examples
    --------
    >>> rpm = np.linspace(1000.0, 8000.0, 100)
    >>> turns_too_quickly(rpm, 0.01), turns_too_quickly(rpm, 1.0)
    (True, False)
    """
    known = rpm[np.isfinite(rpm)]
    if known.size < 10 or float(np.sum(np.abs(np.diff(known)))) <= QUICKEST_RPM_PER_S * lasts_s:
        return False
    low, high = quantiles(known, (0.02, 0.98))
    most = QUICKEST_RPM_PER_S * lasts_s
    return bool(high > TURNING_RPM and (high - low > most or _moved(known, SWING * high) > most))


def _moved(values: FloatArray, least: float) -> float:
    """All that values rise and fall, but for moves below the least; by medians, so that no spike counts."""
    rows = max(values.size // BLOCKS, SHORTEST_BLOCK)
    blocks = np.sort(values[: values.size // rows * rows].reshape(-1, rows), axis=1)
    values = 0.5 * (blocks[:, (rows - 1) // 2] + blocks[:, rows // 2])
    moved, rising, edge = 0.0, True, float(values[0])
    turned_at = edge
    for value in values.tolist():
        if (value > edge) == rising:
            edge = value
        elif abs(value - edge) > least:
            moved, rising, turned_at, edge = moved + abs(edge - turned_at), not rising, edge, value
    return moved + abs(edge - turned_at)


def rows_follow_the_engine(rpm: FloatArray) -> bool:
    """Whether rows come so fast that they show an engine's every move.

    Parameters
    ----------
    rpm : array, shape (n,)
        Engine speed, one per row, in any unit; NaN where blank.

    Returns
    -------
    bool
        False too where the engine's moves are too small to tell.

    Examples
    --------
    >>> t = np.linspace(0.0, 20.0, 4000)
    >>> rpm = 4000.0 + 3000.0 * np.sin(t)
    >>> rows_follow_the_engine(rpm), rows_follow_the_engine(rpm[::200].repeat(200)[: rpm.size])
    (True, False)
    """
    known = rpm[np.isfinite(rpm)]
    if known.size < LEAST_ROWS:
        return False
    low, high = quantiles(known, (0.02, 0.98))
    if not high > 0 or (high - low) < LEAST_RANGE * high:
        return False
    steps = np.abs(np.diff(known))
    moving = steps[steps > 0]
    if moving.size < 0.2 * known.size:
        return False
    leaps = int(np.sum(steps >= MOST_STEP * (high - low)))
    return leaps <= max((1.0 - OF_ROWS) * steps.size, MOST_LEAPS)
