"""Time stamps that do not rise evenly: mended where the mending is certain, cut where it is not.

Public: `MendedTime`, `mend_time`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from analysis.findings import Finding
from analysis.quantities import BoolArray, FloatArray, IntArray

COUNTER_SIZES = (2.0**16, 2.0**24, 2.0**32, 1e4, 1e5, 1e6)
"""Counts after which a counter starts again from nought, in the written unit."""
CLOCK_SIZES_S = (60.0, 3600.0, 43200.0, 86400.0)
"""Seconds after which a clock's face starts again."""
GAP_ROWS = 3.5
"""A step of more than so many row intervals is a gap: jitter and one lost row stay below it."""
GAP_LEAST_S = 0.05
"""A gap shorter than this hides nothing of a run: the quickest shift takes longer."""
SAME_MOMENT_SHARE = 0.15
"""Share of equal neighbours above which the stamps are printed too coarsely, rather than rows repeated."""
FEWEST_ROWS = 3
"""Rows that a recording must have; fewer are set aside."""


@dataclass(frozen=True, slots=True)
class MendedTime:
    """Time stamps that rise, and which rows they belong to."""

    time_s: FloatArray
    """One per row; NaN where the row is set aside. [s]"""
    pieces: tuple[tuple[int, int], ...]
    """Rows ``[start, stop)`` of each recording: more than one where the clock started again."""
    findings: tuple[Finding, ...]
    """What was mended, cut or set aside."""


def mend_time(written_s: FloatArray, *, unit_s: float = 1.0, clock_face: bool = False) -> MendedTime:
    """Make time stamps rise.

    Parameters
    ----------
    written_s : array, shape (n,)
        As the log has them, NaN where a stamp cannot be read. [s]
    unit_s : float
        Seconds in one count of the written unit, for the wrap-around of a counter.
    clock_face : bool
        Whether they are hours, minutes and seconds, which start again at midnight.

    Returns
    -------
    MendedTime
        Strictly rising within each piece, NaN apart.

    Notes
    -----
    In order: single stamps that stand out of a rising row are put between their neighbours; a fall by the
    size of a counter is undone; stamps printed too coarsely are spread evenly; repeated rows are set aside; any fall
    that is left parts two recordings.
    """
    time = np.array(written_s, dtype=np.float64)
    findings: list[Finding] = []
    step = _usual_step(time)
    if step is None:
        return MendedTime(np.full(time.shape, np.nan), (), ())
    time, told = _fill_unreadable(time, step)
    findings += told
    time, told = _mend_outliers(time, step)
    findings += told
    time, told = _undo_wraps(time, step, unit_s, clock_face)
    findings += told
    pieces, told = _cut_at_restarts(time, step)
    findings += told
    for start, stop in pieces:
        time[start:stop], told = _part_equal_stamps(time[start:stop], step, first=start)
        findings += told
        findings += _gaps(time[start:stop], step, first=start)
    return MendedTime(time, tuple(pieces), tuple(findings))


def _usual_step(time: FloatArray) -> float | None:
    steps = np.diff(time[np.isfinite(time)])
    rising = steps[steps > 0]
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
            Finding("rows-without-time", "note", f"{_rows(lost)} without a readable time were set aside.", where)
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
        f"{len(mended)} time stamp{'s' if many else ''} stood out of the rising row and "
        f"{'were' if many else 'was'} put between {'their' if many else 'its'} neighbours."
    )
    return out, [Finding("time-stamps-mended", "note", text, where)]


def _goes_on(before: float, after: float, expected: float, step: float) -> bool:
    return bool(abs(after - before - expected) <= 0.6 * step)


def _undo_wraps(time: FloatArray, step: float, unit_s: float, clock_face: bool) -> tuple[FloatArray, list[Finding]]:
    out = time.copy()
    rows = np.flatnonzero(np.isfinite(out))
    falls = np.flatnonzero(np.diff(out[rows]) < 0)
    sizes = [size * unit_s for size in COUNTER_SIZES] + (list(CLOCK_SIZES_S) if clock_face else [])
    mended: list[int] = []
    for fall in falls.tolist():
        jump = float(out[rows[fall + 1]] - out[rows[fall]])
        size = next((size for size in sizes if abs(jump + size - step) <= 1.5 * step and size > 20 * step), None)
        if size is not None:
            out[rows[fall + 1] :] += size
            mended.append(int(rows[fall + 1]))
    if not mended:
        return time, []
    text = f"The time counter ran over {len(mended)} time{'s' if len(mended) != 1 else ''} and was counted on."
    return out, [Finding("time-counter-ran-over", "note", text, _at(out, mended[0]))]


def _cut_at_restarts(time: FloatArray, step: float) -> tuple[list[tuple[int, int]], list[Finding]]:
    rows = np.flatnonzero(np.isfinite(time))
    falls = np.flatnonzero(np.diff(time[rows]) < 0)
    edges = [0, *(int(rows[fall + 1]) for fall in falls), time.size]
    pieces = [(a, b) for a, b in itertools.pairwise(edges) if np.isfinite(time[a:b]).sum() >= FEWEST_ROWS]
    findings: list[Finding] = []
    kept = sum(b - a for a, b in pieces)
    if len(pieces) > 1:
        text = (
            f"The time starts again {len(pieces) - 1} time{'s' if len(pieces) > 2 else ''}: the log is read "
            f"as {len(pieces)} recordings."
        )
        findings.append(Finding("clock-restarted", "note", text, f"row {pieces[1][0] + 1}"))
    if kept < time.size and pieces:
        text = f"{_rows(time.size - kept)} stood between two falls of the time and were set aside."
        findings.append(Finding("rows-out-of-order", "note", text, ""))
    return pieces, findings


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
    return out, [Finding("repeated-time-stamps", "note", text, f"row {first + int(repeated[0]) + 1}")]


def _spread(known: FloatArray) -> FloatArray:
    """Equal stamps set apart: evenly over all rows where that fits every stamp, else evenly within each stamp."""
    quantum = float(np.min(np.diff(known), where=np.diff(known) > 0, initial=np.inf))
    rows = np.arange(known.size)
    pace, first = (float(term) for term in np.polyfit(rows, known, 1))
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
    return [Finding("time-gaps", "note", text, f"row {first + longest + 2}, {float(known[longest] - known[0]):.3f} s")]
