"""Rows whose stamps do not rise above those before: spread where they are printed too coarsely, else set aside.

Public: `set_apart`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.time.stamps import Stamps, count_of_rows
from passband.analysis.results.findings import Finding

TICKS_FITTED = 5
"""Ticks of a coarse clock through whose first rows its pace is drawn; fewer, and it is drawn through all rows."""
SAME_MOMENT_SHARE = 0.15
"""Share of equal neighbours above which the stamps are printed too coarsely, rather than rows repeated."""

COARSE_FROM, FEWEST_TICKS = 0.6, 10
"""The same share from the first such row on, where the digits of a stamp run out amid a log (``99.98``, ``100``), and
the stamps that must follow there. Rows sent twice are a half. [-]"""


def set_apart(stamps: Stamps) -> Stamps:
    """Make the stamps of one recording rise strictly.

    Parameters
    ----------
    stamps : Stamps
        That fall nowhere.

    Returns
    -------
    Stamps
        Coarse ones spread, repeated rows NaN, with findings of both.
    """
    return _without_standing_rows(_part_equal_stamps(stamps))


def _part_equal_stamps(stamps: Stamps) -> Stamps:
    """Spread coarse stamps, set repeated rows aside."""
    rows = stamps.rows
    known = stamps.time_s[rows]
    equal = np.diff(known) <= 0
    count = int(equal.sum())
    if not count:
        return stamps
    out = stamps.time_s.copy()
    if count > SAME_MOMENT_SHARE * known.size:
        out[rows] = _spread(known)
        text = (
            "Time stamps are printed more coarsely than the rows follow each other; rows of one stamp were "
            "spread evenly."
        )
        return stamps.moved(out).with_findings(Finding("coarse-time-stamps", "note", text, ""))
    where = np.flatnonzero(equal)
    stretch = known[where[0] :]
    if count > COARSE_FROM * stretch.size and np.count_nonzero(np.diff(stretch) > 0) >= FEWEST_TICKS:
        spread = _spread(stretch)
        out[rows[where[0] :]] = spread + (stretch[0] - spread[0])  # its first row follows on a stamp that is fine
        text = (
            f"From row {stamps.first_row + int(rows[where[0]]) + 1} on time stamps are printed more coarsely than the "
            "rows follow each other; rows of one stamp were spread evenly."
        )
        return stamps.moved(out).with_findings(Finding("coarse-time-stamps", "note", text, ""))
    repeated = rows[1:][equal]
    out[repeated] = np.nan
    text = f"{count_of_rows(count)} repeat the time of the row before and were set aside."
    return stamps.moved(out).with_findings(_repeated(stamps, int(repeated[0]), text))


def _without_standing_rows(stamps: Stamps) -> Stamps:
    """Rows set aside whose stamps, spread as far as they can be, still do not rise: too large to tell apart."""
    rows = stamps.rows
    known = stamps.time_s[rows]
    before = np.maximum.accumulate(np.concatenate(([-np.inf], known[:-1])))
    standing = rows[known <= before]
    if not standing.size:
        return stamps
    out = stamps.time_s.copy()
    out[standing] = np.nan
    text = f"The stamps of {count_of_rows(standing.size)} do not rise above those before and were set aside."
    return stamps.moved(out).with_findings(_repeated(stamps, int(standing[0]), text))


def _repeated(stamps: Stamps, row: int, text: str) -> Finding:
    return Finding("repeated-time-stamps", "caution", text, f"row {stamps.first_row + row + 1}")


def _spread(known: FloatArray) -> FloatArray:
    """Equal stamps set apart: evenly over all rows where that fits every stamp, else evenly within each stamp."""
    quantum = float(np.min(np.diff(known), where=np.diff(known) > 0, initial=np.inf))
    rows = np.arange(known.size)
    ticks = rows[1:][np.diff(known) > 0]
    on = ticks if ticks.size >= TICKS_FITTED else rows  # a tick's first row is the nearest to its stamp
    pace, first = (float(term) for term in np.polyfit(on, known[on], 1))
    even = first + pace * rows
    if float(np.max(np.abs(even - known))) <= 1.05 * quantum:
        return np.asarray(even)
    starts = np.flatnonzero(np.concatenate(([True], np.diff(known) > 0)))
    sizes = np.diff(np.concatenate((starts, [known.size])))
    stamps = known[starts]
    room = np.concatenate((np.diff(stamps), [pace * sizes[-1]]))
    within = rows - np.repeat(starts, sizes)
    return np.asarray(np.repeat(stamps, sizes) + within * np.repeat(np.minimum(room, 2 * pace * sizes) / sizes, sizes))
