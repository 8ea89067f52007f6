"""A clock that jumps far ahead or away and comes back: mended where the rows show it, else a place to cut.

Public: `GoesOn`, `LONGEST_GAP_S`, `ROWS_BESIDE`, `mend_rows_away`, `close_jumps`, `close_restarts`, `long_gaps`,
`columns_go_on`, `values_go_on`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.time.stamps import Stamps
from passband.analysis.results.findings import Finding


class GoesOn(Protocol):
    """Whether the measured values go on from one row to another as between neighbours."""

    def __call__(self, before: int, after: int, /, *, surely_set: bool = False, sets_off: bool = False) -> bool:
        """Of the rows before and after.

        `surely_set` where the stamps alone show that the clock was set there; `sets_off` asks whether the car leaves
        its standstill there and all else that rests stays, as where a clock counts from the launch.
        """


LONGEST_GAP_S = 60.0
"""No run lasts longer: what lies on the two sides of a longer gap is not of one run. [s]"""
GAP_STEPS = 10.0
"""Nor is it a gap where the rows themselves come nearly so seldom. [-]"""
WAYS_BACK = 8
"""Further jumps among which the way back from a jump is looked for."""
PACE_SLACK = 0.02
"""Rows between are counted at the usual interval, known as well as this. [-]"""
ROWS_BESIDE = (6, 24)
"""Rows on each side of a jump along which a channel's course is drawn: at 100 Hz the fewer are shorter than any shift;
the more show channels whose noise hides them else, and are looked at where the fewer show too few moving."""
MOST_RESTARTS = 1000
"""Falls of a clock that are looked at; one that falls more often is no clock."""
MOVES = (7.0, 4.0)
"""A channel moves where its course over so many rows is so many times what it strays from it, in the same order. [-] By
arithmetic, for steady channels that only scatter: of six values a course of 4 strays comes up once in 12, of 7 once in
60; of 24 values a course of 4 less than once in 20,000. An idling engine's dozen channels must not seem to move."""
MEETS_ROWS = 1.5
"""Two courses meet where they lie no further apart than the channel moves in so many rows."""
FEWEST_NEAR, NEAR_MOVES = 6, 4.0
"""The third of a course next to the jump shows a movement of its own from so many rows on, by so many times what it
strays. [-], [-]"""
FEWEST_MOVING = 2
"""Channels that must move at a jump: one may meet by chance."""
HOUR_S, HOUR_STEP_S = 3600.0, 1.0
"""A clock is set for summer or winter by an hour, which shows in rows no further apart than this. By law; a logger that
slept would wake within a row of the full hour once in 36,000 times at 10 rows a second. [s], [s]"""
SET_S = 3.2e7
"""No logger sleeps for a year between two rows: stamps further apart are of a clock that was set. [s]"""
STRAYS_APART = 4.0
"""Channels at rest stay where they are between two rows, to within so many times what they stray. [-]"""
FEWEST_AT_REST, LEAST_STAY = 2, 0.3
"""Channels at rest, each with a scatter of its own, that must stay where they were for a clock to have been set to
nought by the launch, and their share: another recording's temperatures are elsewhere; what the throttle moves steps."""
ROUNDING = 1e-12
"""Share of a value below which its change is that of sums of doubles. [-]"""
MOST_MEET = 0.8
"""Share of them that must meet; a lift or a shift may fall on the very row."""


def long_gaps(known_s: FloatArray, step: float) -> IntArray:
    """Where rising stamps leave a gap that no run can bridge.

    Parameters
    ----------
    known_s : array, shape (n,)
        Stamps that can be read. [s]
    step : float
        Usual interval of the rows. [s]

    Returns
    -------
    array of int
        The row before each.
    """
    return np.flatnonzero(np.diff(known_s) > max(LONGEST_GAP_S, GAP_STEPS * step))


def mend_rows_away(stamps: Stamps) -> Stamps:
    """Put rows whose stamps stand far away between those before and after, where these follow as the rows count.

    Parameters
    ----------
    stamps : Stamps
        As far as they are mended.

    Returns
    -------
    Stamps
        Mended, with a finding of it.
    """
    rows, step = stamps.rows, stamps.step_s
    known = stamps.time_s[rows]
    jumps = np.flatnonzero(np.abs(np.diff(known)) > max(LONGEST_GAP_S, GAP_STEPS * step)).tolist()
    mended: list[tuple[int, int, float]] = []
    done = -1
    for place, leaves in enumerate(jumps):
        if leaves < done:
            continue
        for back in jumps[place + 1 : place + 1 + WAYS_BACK]:
            again = back + 1
            expected = (again - leaves) * step
            if abs(known[again] - known[leaves] - expected) > PACE_SLACK * expected + 0.6 * step:
                continue
            mended.append((leaves, again, float(known[leaves + 1] - known[leaves])))
            known[leaves : again + 1] = np.linspace(known[leaves], known[again], again - leaves + 1)
            done = again
            break
    if not mended:
        return stamps
    out = stamps.time_s.copy()
    out[rows] = known
    count = sum(again - leaves - 1 for leaves, again, _ in mended)
    text = (
        f"The stamps of {count} rows stand away from the others, by {max(abs(by) for _, _, by in mended):.3g} s at "
        "most, and then come back to where the rows had gone on; they were put between their neighbours."
    )
    finding = Finding("time-stamps-mended", "caution", text, f"row {int(rows[mended[0][0] + 1]) + 1}")
    return stamps.moved(out).with_findings(finding)


def close_jumps(stamps: Stamps, goes_on: GoesOn) -> Stamps:
    """Move what follows a jump of the clock back, where the measured values show that no time has passed.

    Parameters
    ----------
    stamps : Stamps
        As far as they are mended.
    goes_on : function
        Asked of the rows before and after each jump.

    Returns
    -------
    Stamps
        Mended, with a finding of it.
    """
    time, rows = stamps.time_s, stamps.rows
    closed: list[tuple[int, float]] = []
    less = np.zeros(time.size)
    for gap in long_gaps(time[rows], stamps.step_s).tolist():
        before, after = int(rows[gap]), int(rows[gap + 1])
        ahead = float(time[after] - time[before])
        was_set = ahead > SET_S and goes_on(before, after, surely_set=True)
        if was_set or goes_on(before, after) or _is_set_by_an_hour(ahead - stamps.step_s, stamps.step_s):
            less[after] = ahead - stamps.step_s
            closed.append((after, ahead))
    if not closed:
        return stamps
    times = "once" if len(closed) == 1 else f"{len(closed)} times"
    text = (
        f"The clock jumps ahead {times}, by {max(by for _, by in closed):.3g} s"
        f"{' at most' if len(closed) > 1 else ''}, while the measured values go on from row to row; what follows was "
        "moved back to go on evenly, so times across the jump are less sure."
    )
    finding = Finding("clock-jumped-ahead", "caution", text, f"row {closed[0][0] + 1}")
    return stamps.moved(time - np.cumsum(less)).with_findings(finding)


def close_restarts(stamps: Stamps, goes_on: GoesOn) -> Stamps:
    """Move what follows a fall of the clock on, where the measured values show that the rows go on.

    Parameters
    ----------
    stamps : Stamps
        As far as they are mended.
    goes_on : function
        Asked of the rows before and after each fall.

    Returns
    -------
    Stamps
        Mended, with a finding of it.
    """
    time, rows = stamps.time_s, stamps.rows
    more, fell = np.zeros(time.size), []
    for fall in np.flatnonzero(np.diff(time[rows]) < 0)[:MOST_RESTARTS].tolist():
        before, after = int(rows[fall]), int(rows[fall + 1])
        back = float(time[before] - time[after])
        from_launch = abs(float(time[after])) <= 1.5 * stamps.step_s and goes_on(before, after, sets_off=True)
        if goes_on(before, after) or from_launch or _is_set_by_an_hour(back + stamps.step_s, stamps.step_s):
            fell.append((after, back))
            more[after] = fell[-1][1] + stamps.step_s
    if not fell:
        return stamps
    times = f"{len(fell)} times" if len(fell) > 1 else "once"
    text = (
        f"The clock falls back {times}, by {max(by for _, by in fell):.3g} s{' at most' if len(fell) > 1 else ''}, "
        "while the measured values go on from row to row; what follows was moved to go on evenly, so times across it "
        "are less sure."
    )
    finding = Finding("clock-set-back", "caution", text, f"row {fell[0][0] + 1}")
    return stamps.moved(time + np.cumsum(more)).with_findings(finding)


def _is_set_by_an_hour(by_s: float, step_s: float) -> bool:
    """Whether a clock was set by an hour between two rows, to within a row."""
    return step_s <= HOUR_STEP_S and abs(abs(by_s) - HOUR_S) < 1.5 * step_s


def columns_go_on(table: Table, times: Collection[int | None]) -> GoesOn:
    """Judge by a table's columns whether two rows are neighbours in time.

    Parameters
    ----------
    table : Table
        The rows.
    times : collection of int
        Columns that hold the time.

    Returns
    -------
    function
        Of the row before and the row after a jump. Only channels that move there can tell; where fewer than two do
        the answer is no. Where the clock surely was set, one that moves is enough if those at rest stay where they are.
    """
    columns = [
        column.values
        for at, column in enumerate(table.columns)
        if at not in times and column.values is not None and column.rows is None
    ]

    def goes_on(before: int, after: int, /, *, surely_set: bool = False, sets_off: bool = False) -> bool:
        if sets_off:
            return any(
                _set_off(_rows_of(columns, before + 1 - many, many), _rows_of(columns, after, many), least)
                for many, least in zip(ROWS_BESIDE, MOVES, strict=True)
                if columns and before + 1 >= many <= table.rows - after
            )
        fewest = 1 if surely_set else FEWEST_MOVING
        for many, least in zip(ROWS_BESIDE, MOVES, strict=True):
            if before + 1 < many or after + many > table.rows:
                return False
            ahead = slice(before + 1 - many, before + 1), slice(after, after + many)
            upto, since = (np.array([values[side] for values in columns]) for side in ahead)
            meets = _meet(upto, since, least) if columns else np.empty(0, dtype=bool)
            if meets.size >= fewest:
                stay = _stay(upto, since, least) if surely_set else np.empty(0, dtype=bool)
                return float(np.mean(meets)) >= MOST_MEET and (not stay.size or float(np.mean(stay)) >= MOST_MEET)
        return False

    return goes_on


def values_go_on(before: FloatArray, after: FloatArray) -> bool:
    """Judge by measured values whether the end of one table and the beginning of another are neighbours in time.

    Parameters
    ----------
    before, after : array, shape (channels, rows)
        The last and the first rows of the same channels, at least as many as the most of `ROWS_BESIDE`.

    Returns
    -------
    bool
        Whether those that move there meet, and those at rest stay where they were; no where none moves.
    """
    for many, least in zip(ROWS_BESIDE, MOVES, strict=True):
        upto, since = before[:, -many:], after[:, :many]
        meets, stay = _meet(upto, since, least), _stay(upto, since, least)
        enough = meets.size >= FEWEST_MOVING or (meets.size == 1 and stay.size >= FEWEST_AT_REST)
        if enough and float(np.mean(meets)) >= MOST_MEET and (not stay.size or float(np.mean(stay)) >= MOST_MEET):
            return True
    return False


def _meet(before: FloatArray, after: FloatArray, least: float) -> BoolArray:
    """Which of the channels that move have courses that meet half-way, on two sides of shape (channels, rows).

    A side moves where all of it does and its third next to the jump too: what came to rest before the jump, or began to
    move a while after it, tells nothing of the rows between. All channels at once: 250 asked one by one at 90 jumps of
    a file of 1 MB took 3 s.
    """
    known = np.isfinite(before).all(axis=1) & np.isfinite(after).all(axis=1)
    before, after = before[known], after[known]
    third = before.shape[1] // 3
    ahead, since = _courses(before), _courses(after)
    moving = ahead.move(least), since.move(least)
    if third >= FEWEST_NEAR:
        near = _courses(before[:, -third:]), _courses(after[:, :third])
        moving = moving[0] & near[0].move(NEAR_MOVES), moving[1] & near[1].move(NEAR_MOVES)
    apart = (since.middle - 0.5 * since.rise) - (ahead.middle + 0.5 * ahead.rise)
    a_row = np.maximum(np.abs(ahead.rise), np.abs(since.rise)) / before.shape[1]
    meet: BoolArray = np.abs(apart) <= MEETS_ROWS * a_row + 2 * np.maximum(ahead.stray, since.stray)
    return np.asarray(meet[moving[0] | moving[1]])


def _rows_of(columns: Sequence[FloatArray], first: int, many: int) -> FloatArray:
    return np.array([one[first : first + many] for one in columns])


def _set_off(before: FloatArray, after: FloatArray, least: float) -> bool:
    """Whether one of the channels, of shape (channels, rows), leaves a standstill, and most at rest stay.

    A standstill is nought without any stray, as of a speed. What the throttle opens with, as lambda, may step there.
    """
    known = np.isfinite(before).all(axis=1) & np.isfinite(after).all(axis=1)
    before, after = before[known], after[known]
    ahead, since = _courses(before), _courses(after)
    begins = since.middle - 0.5 * since.rise
    near = np.abs(begins - ahead.middle) <= MEETS_ROWS * np.abs(since.rise) / before.shape[1] + 2 * since.stray
    leaves = (np.ptp(before, axis=1) == 0.0) & (ahead.middle == 0.0) & since.move(least) & (since.rise > 0.0) & near
    rest = ~(ahead.move(least) | since.move(least)) & (np.ptp(before, axis=1) > 0.0)
    stay = _stay(before[rest], after[rest], least)
    return bool(leaves.any() and FEWEST_AT_REST <= int(stay.sum()) >= LEAST_STAY * stay.size)


def _stay(before: FloatArray, after: FloatArray, least: float) -> BoolArray:
    """Which of the channels at rest on both sides, of shape (channels, rows), are where they were."""
    known = np.isfinite(before).all(axis=1) & np.isfinite(after).all(axis=1)
    ahead, since = _courses(before[known]), _courses(after[known])
    rest = ~(ahead.move(least) | since.move(least))
    near = STRAYS_APART * np.maximum(ahead.stray, since.stray) + ROUNDING * np.abs(ahead.middle)
    stay: BoolArray = np.abs(since.middle - ahead.middle) <= near
    return np.asarray(stay[rest])


@dataclass(frozen=True, slots=True)
class _Courses:
    """A line through some rows of each channel, in its unit; shape (channels,)."""

    middle: FloatArray
    rise: FloatArray
    """From the first row's beginning to the last one's end."""
    stray: FloatArray

    def move(self, least: float) -> BoolArray:
        return np.asarray(np.abs(self.rise) > np.maximum(least * self.stray, ROUNDING * np.abs(self.middle)))


def _courses(values: FloatArray) -> _Courses:
    rows = values.shape[1]
    at = np.arange(rows) - 0.5 * (rows - 1)
    slope = values @ at / (at @ at)
    middle = values.mean(axis=1)
    return _Courses(middle, slope * rows, np.std(values - middle[:, None] - slope[:, None] * at, axis=1))
