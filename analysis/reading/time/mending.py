"""Time stamps that do not rise evenly: mended where the mending is certain, cut where it is not.

Public: `MendedTime`, `mend_time`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.time.candidates import ticks_evenly
from passband.analysis.reading.time.clock_jumps import GoesOn, close_jumps, long_gaps, mend_rows_away
from passband.analysis.results.findings import Finding

COUNTER_SIZES = (2.0**16, 2.0**24, 2.0**32)
"""Counts after which a counter starts again from zero, in the written unit."""
ROUND_SIZES = (1e4, 1e5, 1e6)
"""The same for a counter of so many digits; a round number of seconds is also when a restart may chance to fall."""
SMALL_SIZES = (1e2, 1e3)
"""The same for a counter of two or three digits, and for seconds of a minute or an hour: believed where the log began
amid a count, or the measured values go on."""
CLOCK_SIZES_S = (60.0, 3600.0, 43200.0, 86400.0)
"""Seconds after which a clock's face starts again."""
GAP_ROWS = 3.5
"""A step of more than so many row intervals is a gap: jitter and one lost row stay below it."""
GAP_LEAST_S = 0.05
"""A gap shorter than this hides nothing of a run: the quickest shift takes longer."""
SAME_MOMENT_SHARE = 0.15
"""Share of equal neighbours above which the stamps are printed too coarsely, rather than rows repeated."""
TICKS_FITTED = 5
"""Ticks of a coarse clock through whose first rows its pace is drawn; fewer, and it is drawn through all rows."""
SET_BACK_S = 2.0
"""A clock is corrected by no more than this; a longer step backward is another recording. [s]"""
FROM_THE_START = 0.5
"""A step to the first half of what was recorded so far may be a restart, and is cut, not closed."""
FEWEST_ROWS = 3
"""Rows that a recording must have; fewer are set aside."""
MOST_RECORDINGS = 50
"""Recordings looked for in one file, the longest; a clock that starts again more often is none."""
STANDS_SHARE = 0.02
"""A recording that lasts less than this share of what its rows take at the usual interval is of a clock that stands."""
LONGEST_RECORDING_S = 86400.0
"""A recording that lasts longer has no time that can be believed: at ten rows a second it would be 100 MB. [s]"""


@dataclass(frozen=True, slots=True)
class MendedTime:
    """Time stamps that rise, and which rows they belong to."""

    time_s: FloatArray
    """One per row; NaN where the row is set aside. [s]"""
    pieces: tuple[tuple[int, int], ...]
    """Rows ``[start, stop)`` of each recording: more than one where the clock started again."""
    findings: tuple[Finding, ...]
    """What was mended, cut or set aside."""
    of_pieces: tuple[tuple[Finding, ...], ...] = ()
    """Of `findings`, those of each piece alone: what another recording of the file need not be told of."""


def mend_time(
    written_s: FloatArray, *, unit_s: float = 1.0, clock_face: bool = False, goes_on: GoesOn | None = None
) -> MendedTime:
    """Make time stamps rise.

    Parameters
    ----------
    written_s : array, shape (n,)
        As the log has them, NaN where a stamp cannot be read. [s]
    unit_s : float
        Seconds in one count of the written unit, for the wrap-around of a counter.
    clock_face : bool
        Whether they are hours, minutes and seconds, which start again at midnight.
    goes_on : function, optional
        Whether the measured values go on between two rows as between neighbours; without it a clock that jumps far
        ahead parts two recordings.

    Returns
    -------
    MendedTime
        Strictly rising within each piece, NaN apart.

    Notes
    -----
    In order: stamps that stand out of a rising row are put between their neighbours; a fall by the size of a counter
    is undone; a small step backward is closed, and a jump ahead across which the measured values go on; any fall or
    gap of more than `LONGEST_GAP_S` that is left parts two recordings; stamps printed too coarsely are spread evenly;
    repeated rows are set aside. No piece lasts longer than `LONGEST_RECORDING_S`.
    """
    time = np.array(written_s, dtype=np.float64)
    findings: list[Finding] = []
    if _is_even(time):
        return MendedTime(time, ((0, time.size),), ())
    step = _usual_step(time)
    if step is None:
        return MendedTime(np.full(time.shape, np.nan), (), ())
    time, told = _fill_unreadable(time, step)
    findings += told
    time, told = _mend_outliers(time, step)
    findings += told
    time, told = mend_rows_away(time, step)
    findings += told
    time, told = _undo_wraps(time, step, unit_s, clock_face)
    if not told:
        time, told = _undo_small_wraps(time, step, unit_s, goes_on)
    findings += told
    time, told = _close_backward_steps(time, step)
    findings += told
    if goes_on is not None:
        time, told = close_jumps(time, step, goes_on)
        findings += told
    pieces, told = _cut_at_restarts(time, step)
    findings += told
    of_pieces: list[tuple[Finding, ...]] = []
    for start, stop in pieces:
        time[start:stop], told = _part_equal_stamps(time[start:stop], step, first=start)
        time[start:stop], more = _without_standing_rows(time[start:stop], first=start)
        of_pieces.append((*told, *more, *_gaps(time[start:stop], step, first=start)))
        findings += of_pieces[-1]
    held = [bool(np.isfinite(time[start:stop]).sum() >= FEWEST_ROWS) for start, stop in pieces]
    pieces = list(itertools.compress(pieces, held))
    of_pieces = list(itertools.compress(of_pieces, held))
    return MendedTime(time, tuple(pieces), tuple(findings), tuple(of_pieces))


def _is_even(time: FloatArray) -> bool:
    """Whether nothing is to be done, as for most logs: all stamps readable, rising, and no step a gap."""
    if time.size < FEWEST_ROWS:
        return False
    steps = np.diff(time)
    least, most = float(steps.min()), float(steps.max())
    lasts = float(time[-1] - time[0])
    return least > 0 and most <= max(GAP_ROWS * least, GAP_LEAST_S) and lasts <= LONGEST_RECORDING_S  # NaN fails all


def _usual_step(time: FloatArray) -> float | None:
    steps = np.diff(time[np.isfinite(time)])
    rising = steps[steps > 0]
    if 0 < rising.size < 0.05 * steps.size and ticks_evenly(steps):
        return float(np.median(rising) / np.median(np.diff(np.flatnonzero(steps > 0))))  # many rows to each tick
    return float(np.median(rising)) if rising.size else None


def _rows(number: int) -> str:
    return f"{number} row{'s' if number != 1 else ''}"


def _at(time: FloatArray, row: int) -> str:
    known = time[: row + 1]
    known = known[np.isfinite(known)]
    first = time[np.isfinite(time)][0]
    return f"row {row + 1}, {float(known[-1] - first):.3f} s" if known.size else f"row {row + 1}"


def _fill_unreadable(time: FloatArray, step: float) -> tuple[FloatArray, list[Finding]]:
    """Stamps that cannot be read, put between their neighbours where these are as far apart as the rows say."""
    bad = ~np.isfinite(time)
    if not bad.any():
        return time, []
    rows = np.arange(time.size)
    filled = np.interp(rows, rows[~bad], time[~bad], left=np.nan, right=np.nan)
    before = np.maximum.accumulate(np.where(bad, -1, rows))
    after = np.minimum.accumulate(np.where(bad, time.size, rows)[::-1])[::-1]
    inside = bad & (before >= 0) & (after < time.size)
    width = np.where(inside, after - before, 1)
    span = np.where(inside, time[np.minimum(after, time.size - 1)] - time[np.maximum(before, 0)], 0.0)
    sure = inside & (np.abs(span - width * step) < 0.5 * step * np.sqrt(width) + 1e-9)
    out = np.where(sure, filled, np.where(bad, np.nan, time))
    findings = []
    lost = int((bad & ~sure).sum())
    if lost:
        where = _at(out, int(np.flatnonzero(bad & ~sure)[0]))
        findings.append(
            Finding("rows-without-time", "caution", f"{_rows(lost)} without a readable time were set aside.", where)
        )
    if sure.any():
        where = _at(out, int(np.flatnonzero(sure)[0]))
        findings.append(
            Finding(
                "time-filled",
                "note",
                f"{_rows(int(sure.sum()))} had no readable time and were placed between their neighbours.",
                where,
            )
        )
    return np.asarray(out), findings


def _mend_outliers(time: FloatArray, step: float) -> tuple[FloatArray, list[Finding]]:
    """Up to three stamps in a row that leave a rising row which goes on as if they were not there."""
    rows = np.flatnonzero(np.isfinite(time))
    known = time[rows]
    if known.size < 4:
        return time, []
    mended: list[int] = []
    suspects = np.flatnonzero((np.diff(known) < 0) | (np.diff(known) > GAP_ROWS * step))
    done = -1
    for at in suspects.tolist():
        if at < done or at < 0:
            continue
        for width in (1, 2, 3):
            good, again = at, at + width + 1
            if again >= known.size or not _goes_on(known[good], known[again], (width + 1) * step, step):
                continue
            inner = known[good + 1 : again]
            if np.all((inner > known[good]) & (inner < known[again])) and np.all(np.diff(known[good : again + 1]) > 0):
                break
            known[good + 1 : again] = np.linspace(known[good], known[again], width + 2)[1:-1]
            mended.extend(range(good + 1, again))
            done = again
            break
    if not mended:
        return time, []
    out = time.copy()
    out[rows] = known
    where = _at(out, int(rows[mended[0]]))
    many = len(mended) != 1
    text = (
        f"{len(mended)} time stamp{'s step' if many else ' steps'} backward or ahead out of the rising row and "
        f"{'were' if many else 'was'} put between {'their' if many else 'its'} neighbours."
    )
    return out, [Finding("time-stamps-mended", "caution", text, where)]


def _goes_on(before: float, after: float, expected: float, step: float) -> bool:
    return bool(abs(after - before - expected) <= 0.6 * step)


def _undo_wraps(time: FloatArray, step: float, unit_s: float, clock_face: bool) -> tuple[FloatArray, list[Finding]]:
    known = np.flatnonzero(np.isfinite(time))
    round_s = [size * unit_s for size in ROUND_SIZES] + (list(CLOCK_SIZES_S) if clock_face else [])
    sizes = [size * unit_s for size in COUNTER_SIZES] + round_s
    wraps: list[tuple[int, float]] = []
    for fall in np.flatnonzero(np.diff(time[known]) < 0).tolist():
        before, after = float(time[known[fall]]), float(time[known[fall + 1]])
        size = next((size for size in sizes if _ran_over(before, after, size, step)), None)
        if size is not None:
            wraps.append((int(known[fall + 1]), size))
    if len(wraps) == 1 and wraps[0][1] in round_s and abs(time[wraps[0][0]] - time[known[0]]) <= 0.6 * step:
        return time, []  # it starts again from where the log began, after a round time by chance: a restart
    if not wraps:
        return time, []
    more = np.zeros(time.size)
    more[[row for row, _ in wraps]] = [size for _, size in wraps]
    out = time + np.cumsum(more)
    text = f"The time counter ran over {len(wraps)} time{'s' if len(wraps) != 1 else ''} and was counted on."
    return out, [Finding("time-counter-ran-over", "note", text, _at(out, wraps[0][0]))]


def _undo_small_wraps(
    time: FloatArray, step: float, unit_s: float, goes_on: GoesOn | None
) -> tuple[FloatArray, list[Finding]]:
    """A counter that shows no more than a minute, or two or three digits, counted on."""
    known = np.flatnonzero(np.isfinite(time))
    falls = np.flatnonzero(np.diff(time[known]) < 0)
    first = float(time[known[0]])
    for size in (*(size * unit_s for size in SMALL_SIZES), 60.0, 3600.0):
        wraps = [
            int(known[fall + 1])
            for fall in falls.tolist()
            if _ran_over(float(time[known[fall]]), float(time[known[fall + 1]]), size, step)
            and 0 <= time[known[fall + 1]] <= 1.5 * step
            and (first > 2 * step or (goes_on is not None and goes_on(int(known[fall]), int(known[fall + 1]))))
        ]
        if wraps and len(wraps) == falls.size:
            more = np.zeros(time.size)
            more[wraps] = size
            out = time + np.cumsum(more)
            text = (
                f"The time counter starts again from zero after {size:.4g} s, {len(wraps)} "
                f"time{'s' if len(wraps) != 1 else ''}, while the rows go on; it was counted on."
            )
            return out, [Finding("time-counter-ran-over", "note", text, _at(out, wraps[0]))]
    return time, []


def _ran_over(before: float, after: float, size: float, step: float) -> bool:
    """Whether a fall is that of a counter of some size: it never shows the size itself, and goes on by one row."""
    return 20 * step < size and before < size * (1 - 1e-9) and abs(after - before + size - step) <= 1.5 * step


def _close_backward_steps(time: FloatArray, step: float) -> tuple[FloatArray, list[Finding]]:
    """A clock set back a little while the rows go on: what follows is moved to follow on at the usual interval."""
    rows = np.flatnonzero(np.isfinite(time))
    first = float(time[rows[0]])
    closed: list[tuple[int, float]] = []
    more, moved = np.zeros(time.size), 0.0
    for fall in np.flatnonzero(np.diff(time[rows]) < 0).tolist():
        here, after = int(rows[fall]), int(rows[fall + 1])
        back = float(time[here] - time[after])
        if back > SET_BACK_S or time[after] + moved - first < FROM_THE_START * (time[here] + moved - first):
            continue
        more[after] = back + step
        moved += back + step
        closed.append((after, back))
    if not closed:
        return time, []
    out = time + np.cumsum(more)
    times = f"{len(closed)} times, by {max(back for _, back in closed):.3g} s at most" if len(closed) > 1 else "once"
    by = "" if len(closed) > 1 else f" by {closed[0][1]:.3g} s"
    text = (
        f"The time steps backward {times}{by} while the rows go on; what follows was moved to go on evenly, so times "
        "across the step are less sure."
    )
    return out, [Finding("clock-set-back", "caution", text, _at(out, closed[0][0]))]


def _cut_at_restarts(time: FloatArray, step: float) -> tuple[list[tuple[int, int]], list[Finding]]:
    rows = np.flatnonzero(np.isfinite(time))
    falls = np.flatnonzero(np.diff(time[rows]) < 0)
    gaps = long_gaps(time[rows], step)
    cuts = sorted({*falls.tolist(), *gaps.tolist()})
    edges = [0, *(int(rows[cut + 1]) for cut in cuts), time.size]
    parts = list(itertools.pairwise(edges))
    enough = [(a, b) for a, b in parts if np.isfinite(time[a:b]).sum() >= FEWEST_ROWS]
    too_long = [piece for piece in enough if _lasts_s(time, piece) > LONGEST_RECORDING_S]
    stands = [(a, b) for a, b in enough if _lasts_s(time, (a, b)) <= STANDS_SHARE * (b - a - 1) * step]
    longest = sorted(set(enough).difference(too_long, stands), key=lambda piece: piece[0] - piece[1])
    pieces = sorted(longest[:MOST_RECORDINGS])
    findings = [*_too_long(time, too_long), *_clock_stands(stands)]
    if len(pieces) > 1 or (gaps.size and pieces):
        findings += _cuts_given(time[rows], falls, gaps, pieces)
    kept = sum(b - a for a, b in [*pieces, *too_long, *stands])
    if kept < time.size and pieces:
        text = f"{_rows(time.size - kept)} stood between two steps of the time, too few to read, and were set aside."
        findings.append(Finding("rows-out-of-order", "caution", text, ""))
    return pieces, findings


def _lasts_s(time: FloatArray, piece: tuple[int, int]) -> float:
    known = time[slice(*piece)]
    known = known[np.isfinite(known)]
    return float(known[-1] - known[0])


def _too_long(time: FloatArray, pieces: list[tuple[int, int]]) -> list[Finding]:
    return [
        Finding(
            "recording-too-long",
            "caution",
            f"{_rows(stop - start)} span {_lasts_s(time, (start, stop)):.3g} s, more than the "
            f"{LONGEST_RECORDING_S / 3600:.0f} h that a recording may last: their time cannot be believed and they "
            "were set aside.",
            f"row {start + 1}",
        )
        for start, stop in pieces
    ]


def _clock_stands(pieces: list[tuple[int, int]]) -> list[Finding]:
    return [
        Finding(
            "clock-stands-still",
            "caution",
            f"The time stands still over {_rows(stop - start)}: they cannot be placed and were set aside.",
            f"row {start + 1}",
        )
        for start, stop in pieces
    ]


def _cuts_given(known: FloatArray, falls: IntArray, gaps: IntArray, pieces: list[tuple[int, int]]) -> list[Finding]:
    as_many = f"the log is read as {len(pieces)} recordings, each with its own time."
    findings = []
    if falls.size and len(pieces) > 1:
        number = falls.size if gaps.size else len(pieces) - 1
        text = (
            f"The time steps backward and starts again {number} time{'s' if number > 1 else ''}, as when a logger is "
            f"restarted: {as_many}"
        )
        findings.append(Finding("clock-restarted", "caution", text, f"row {pieces[1][0] + 1}"))
    if gaps.size:
        longest = float(np.diff(known)[gaps].max())
        often = f"{gaps.size} times, by {longest:.3g} s at most" if gaps.size > 1 else f"by {longest:.3g} s"
        text = (
            f"The time jumps ahead {often}, as when a logger sleeps or its clock is set: "
            f"{as_many if len(pieces) > 1 else 'what lies beyond is too little to read.'}"
        )
        where = f"row {pieces[min(1, len(pieces) - 1)][0] + 1}"
        findings.append(Finding("clock-jumped", "caution", text, where))
    return findings


def _part_equal_stamps(time: FloatArray, step: float, *, first: int) -> tuple[FloatArray, list[Finding]]:
    """Make stamps that do not rise do so: spread coarse ones, set repeated rows aside."""
    rows = np.flatnonzero(np.isfinite(time))
    known = time[rows]
    equal = np.diff(known) <= 0
    count = int(equal.sum())
    if not count:
        return time, []
    out = time.copy()
    if count > SAME_MOMENT_SHARE * known.size:
        out[rows] = _spread(known)
        text = (
            "Time stamps are printed more coarsely than the rows follow each other; rows of one stamp were "
            "spread evenly."
        )
        return out, [Finding("coarse-time-stamps", "note", text, "")]
    repeated: IntArray = rows[1:][equal]
    out[repeated] = np.nan
    text = f"{_rows(count)} repeat the time of the row before and were set aside."
    return out, [Finding("repeated-time-stamps", "caution", text, f"row {first + int(repeated[0]) + 1}")]


def _without_standing_rows(time: FloatArray, *, first: int) -> tuple[FloatArray, list[Finding]]:
    """Rows set aside whose stamps, spread as far as they can be, still do not rise: too large to tell apart."""
    rows = np.flatnonzero(np.isfinite(time))
    known = time[rows]
    before = np.maximum.accumulate(np.concatenate(([-np.inf], known[:-1])))
    standing = rows[known <= before]
    if not standing.size:
        return time, []
    out = time.copy()
    out[standing] = np.nan
    text = f"The stamps of {_rows(standing.size)} do not rise above those before and were set aside."
    return out, [Finding("repeated-time-stamps", "caution", text, f"row {first + int(standing[0]) + 1}")]


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


def _gaps(time: FloatArray, step: float, *, first: int) -> list[Finding]:
    known = time[np.isfinite(time)]
    steps = np.diff(known)
    gap: BoolArray = steps > max(GAP_ROWS * step, GAP_LEAST_S)
    if not gap.any():
        return []
    longest = int(np.argmax(steps))
    text = (
        f"{int(gap.sum())} gap{'s' if gap.sum() > 1 else ''} in the time, {float(steps[gap].sum()):.3g} s together; "
        f"the longest is {float(steps[longest]):.3g} s."
    )
    return [
        Finding("time-gaps", "caution", text, f"row {first + longest + 2}, {float(known[longest] - known[0]):.3f} s")
    ]
