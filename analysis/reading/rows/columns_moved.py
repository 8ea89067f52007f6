"""Which cell of a row is which column's, where rows hold more or fewer cells from some line on.

A value goes on from one row to the next; a cell of another column leaps, or is printed with other decimals.

Public: `find_moved`, `Moved`, `FEWEST_ROWS`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.unusable_values import GREATEST
from passband.analysis.reading.text.cells import number_of

FEWEST_ROWS = 20
"""Rows on each side of a change that are held against each other; fewer may be damage. 0.2 s at 100 Hz."""
MOST_CELLS_MORE = 8
"""Columns that come or go at once; more of them are another table."""
MOST_COLUMNS = 600
"""Columns that are held against each other; the work goes with their number times the cells that come or go."""
LEAP_STEPS = 4.0
"""A column leaps where it changes by more than this many of its greatest steps from row to row beside the change."""
MOST_LEAPING = 0.2
"""Share of columns that may leap in the best way to place them; at a gear change some do."""
OTHER_DECIMALS = 1.0
"""What other decimals count against two columns being one, in leaps."""


@dataclass(frozen=True, slots=True)
class Moved:
    """Where the cells of later rows stand."""

    takes: tuple[int | None, ...]
    """For each column the cell that is its own; None where it has none or none is sure."""
    dropped: tuple[int, ...]
    """Columns that surely have none."""
    extra: tuple[int, ...]
    """Cells that surely are no column's."""


@dataclass(frozen=True, slots=True)
class _Side:
    """One column on one side of the change."""

    edge: float
    """The value nearest to the change."""
    step: float
    """Greatest step between rows."""
    decimals: int


def find_moved(
    before: list[list[str]], after: list[list[str]], *, decimal: str, ends_may_lack: bool = False
) -> Moved | None:
    """Find which cell of later rows goes on from which of earlier ones.

    Parameters
    ----------
    before, after : list of list of str
        Cells of the rows on both sides of the change.
    decimal : str
        ``.`` or ``,``.
    ends_may_lack : bool
        Whether rows leave blanks out at their end as a habit: then that explains fewer cells where it fits.

    Returns
    -------
    Moved or None
        None where no way to place the cells lets the values go on, or the habit explains all.

    Notes
    -----
    The cheapest way to leave out or put in cells in order, by the number of columns that leap; what differs between
    equally cheap ways is not sure, and left out.
    """
    if not before or not after:
        return None
    width, cells = _width(before), _width(after)
    if not 0 < abs(width - cells) <= MOST_CELLS_MORE or max(width, cells) > MOST_COLUMNS or min(width, cells) < 2:
        return None
    old = _sides([row for row in before if len(row) == width], width, decimal, last=True)
    new = _sides([row for row in after if len(row) == cells], cells, decimal, last=False)
    if cells < width:
        cost, pairs = _cheapest([[_cost(a, b) for b in new] for a in old])
    else:
        cost, turned = _cheapest([[_cost(a, b) for a in old] for b in new])
        pairs = [{i for i, row in enumerate(turned) if j in row} for j in range(width)]
        unmatched = [i for i, row in enumerate(turned) if row == {None}]
    if cost > MOST_LEAPING * min(width, cells):
        return None
    if cells > width:
        takes = tuple(next(iter(row)) if len(row) == 1 else None for row in pairs)
        return Moved(takes, (), tuple(unmatched))
    in_place = all(at in row or at >= cells for at, row in enumerate(pairs))
    if ends_may_lack and in_place:
        return None
    sure = tuple(next(iter(row)) if len(row) == 1 else None for row in pairs)
    return Moved(sure, tuple(at for at, row in enumerate(pairs) if row == {None}), ())


def _width(rows: list[list[str]]) -> int:
    lengths = [len(row) for row in rows]
    return max(set(lengths), key=lengths.count, default=0)


def _sides(rows: list[list[str]], width: int, decimal: str, *, last: bool) -> list[_Side | None]:
    """Each column beside the change; None where it holds no numbers there."""
    return [_side([row[at] for row in rows], decimal, last=last) for at in range(width)]


def _side(cells: list[str], decimal: str, *, last: bool) -> _Side | None:
    known = [(number, cell) for cell in cells if (number := number_of(cell, decimal)) is not None]
    known = [(number, cell) for number, cell in known if abs(number) < GREATEST]
    if not known:
        return None
    values: FloatArray = np.array([number for number, _ in known])
    decimals = max(len(cell.partition(decimal)[2]) for _, cell in known)
    step = float(np.max(np.abs(np.diff(values)), initial=0.0))
    return _Side(float(values[-1 if last else 0]), max(step, 10.0**-decimals), decimals)


def _cost(old: _Side | None, new: _Side | None) -> float:
    """How unlike two sides are: 0 where the values go on."""
    if old is None or new is None:
        return 0.0 if old is new else 0.5
    leaps = abs(new.edge - old.edge) > LEAP_STEPS * max(old.step, new.step)
    return float(leaps) + OTHER_DECIMALS * (old.decimals != new.decimals)


def _cheapest(cost: list[list[float]]) -> tuple[float, list[set[int | None]]]:
    """Least cost of placing each of fewer cells in one of more, in order, and what each of the latter may hold."""
    more, fewer = len(cost), len(cost[0])
    slack = more - fewer
    far = float("inf")
    ahead = [[far] * (fewer + 1) for _ in range(more + 1)]
    ahead[0][0] = 0.0
    for i in range(more):
        for j in range(max(i - slack, 0), min(i, fewer) + 1):
            here = ahead[i][j]
            ahead[i + 1][j] = min(ahead[i + 1][j], here)
            if j < fewer:
                ahead[i + 1][j + 1] = min(ahead[i + 1][j + 1], here + cost[i][j])
    back = [[far] * (fewer + 1) for _ in range(more + 1)]
    back[more][fewer] = 0.0
    for i in range(more - 1, -1, -1):
        for j in range(max(i - slack, 0), min(i, fewer) + 1):
            placed = back[i + 1][j + 1] + cost[i][j] if j < fewer else far
            back[i][j] = min(back[i + 1][j], placed)
    best = ahead[more][fewer]
    may: list[set[int | None]] = [set() for _ in range(more)]
    for i in range(more):
        for j in range(max(i - slack, 0), min(i, fewer) + 1):
            if ahead[i][j] + back[i + 1][j] <= best:
                may[i].add(None)
            if j < fewer and ahead[i][j] + cost[i][j] + back[i + 1][j + 1] <= best:
                may[i].add(j)
    return best, may
