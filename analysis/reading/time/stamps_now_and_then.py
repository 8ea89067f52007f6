"""Rows of which only every so manieth carries a time: those between follow each other evenly.

Public: `between_stamps`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passband.analysis.quantities import FloatArray

MOST_ROWS_A_STAMP = 100
"""Rows that share a stamp: more would leave their times to the evenness of the logger alone."""
FEWEST_STAMPS = 5
"""Fewer show no habit."""
ALIKE = 0.9
"""Share of the stamps that must be as many rows apart as most are. [-]"""
MOVES = 0.2
"""Share of the rows without a time in which a measured value must differ from the row before. [-]"""


def between_stamps(time_s: FloatArray, columns: Sequence[FloatArray]) -> FloatArray | None:
    """Times of all rows where every so manieth has one.

    Parameters
    ----------
    time_s : array, shape (n,)
        One a row, NaN where the row has none. [s]
    columns : sequence of array, shape (n,)
        Values of the columns that hold one in each row.

    Returns
    -------
    array, shape (n,) or None
        None where stamps are not evenly many rows apart, or nothing moves in the rows between. [s]

    Examples
    --------
    >>> t = np.array([0.0, np.nan, 0.2, np.nan, 0.4, np.nan, 0.6, np.nan, 0.8, np.nan])
    >>> between_stamps(t, [np.arange(10.0)]).round(3).tolist()
    [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9]
    >>> between_stamps(t, [np.arange(10) // 2 * 1.0]) is None
    True
    """
    stamped = np.flatnonzero(np.isfinite(time_s))
    if stamped.size < FEWEST_STAMPS or stamped.size == time_s.size:
        return None
    apart = np.diff(stamped)
    rows = int(np.median(apart))
    if not 2 <= rows <= MOST_ROWS_A_STAMP or np.mean(apart == rows) < ALIKE or np.any(np.diff(time_s[stamped]) <= 0):
        return None
    if stamped[0] >= rows or time_s.size - 1 - stamped[-1] > rows:
        return None
    without = np.flatnonzero(np.isnan(time_s[1:])) + 1
    if not any(np.mean(one[without] != one[without - 1]) >= MOVES for one in columns):
        return None
    step = float(np.median(np.diff(time_s[stamped]) / apart))
    places = np.arange(time_s.size)
    filled = np.interp(places, stamped, time_s[stamped])
    filled = np.where(places < stamped[0], time_s[stamped[0]] - step * (stamped[0] - places), filled)
    after = time_s[stamped[-1]] + step * (places - stamped[-1])
    return np.asarray(np.where(places > stamped[-1], after, filled), dtype=np.float64)
