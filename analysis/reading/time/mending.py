"""Time stamps that do not rise evenly: mended where the mending is certain, cut where it is not.

Public: `MendedTime`, `mend_time`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.reading.text.counted import were
from passband.analysis.reading.time.candidates import ticks_evenly
from passband.analysis.reading.time.clock_jumps import GoesOn, close_jumps, close_restarts, mend_rows_away
from passband.analysis.reading.time.equal_stamps import set_apart
from passband.analysis.reading.time.parted_recordings import FEWEST_ROWS, LONGEST_RECORDING_S, part_recordings
from passband.analysis.reading.time.stamps import Stamps, count_of_rows
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import find_true_runs

COUNTER_SIZES = (2.0**16, 2.0**24, 2.0**32)
"""Counts after which a counter starts again from zero, in the written unit."""
ROUND_SIZES = (1e4, 1e5, 1e6)
"""The same for a counter of so many digits; a round number of seconds is also when a restart may chance to fall."""
SMALL_SIZES = (1e2, 2.0**8, 1e3, 2.0**10, 2.0**12)
"""The same for a counter of two or three digits, or of eight to twelve bits, and for seconds of a minute
or an hour: believed where the log began amid a count, or the measured values go on."""
HALF_DAY_S = 43200.0
CLOCK_SIZES_S = (60.0, 3600.0, HALF_DAY_S, 86400.0)
"""Seconds after which a clock's face starts again."""
GAP_ROWS = 3.5
"""A step of more than so many row intervals is a gap: jitter and one lost row stay below it."""
GAP_LEAST_S = 0.05
"""A gap shorter than this hides nothing of a run: the quickest shift takes longer."""
FEWEST_SLOWER, ALIKE, MOSTLY_ALIKE = 5, 0.25, 0.9
"""Long steps in a row, and how like each other most are, that make them another rate: rows lost by chance are not
evenly many each time. [-], [-], [-]"""
SET_BACK_S = 2.0
"""A clock is corrected by no more than this; a longer step backward is another recording. [s]"""
FROM_THE_START = 0.5
"""A step to the first half of what was recorded so far may be a restart, and is cut, not closed."""


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
        As the log has them, NaN or infinite where a stamp cannot be read. [s]
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
    is undone; a small step backward is closed, and a fall or jump across which the measured values go on; any fall or
    gap of more than `LONGEST_GAP_S` that is left parts two recordings; stamps printed too coarsely are spread evenly;
    repeated rows are set aside. No piece lasts longer than `LONGEST_RECORDING_S`.
    """
    time = np.where(np.isfinite(written_s), written_s, np.nan)
    if _is_even(time):
        return MendedTime(time, ((0, time.size),), ())
    step = _usual_step(time)
    if step is None:
        return MendedTime(np.full(time.shape, np.nan), (), ())
    stamps = mend_rows_away(_mend_outliers(_fill_unreadable(Stamps(time, step))))
    counted_on = _undo_wraps(stamps, unit_s, clock_face)
    stamps = _close_backward_steps(_undo_small_wraps(stamps, unit_s, goes_on) if counted_on is stamps else counted_on)
    if goes_on is not None:
        stamps = close_jumps(close_restarts(stamps, goes_on), goes_on)
    return _in_pieces(stamps)


def _in_pieces(stamps: Stamps) -> MendedTime:
    """The recordings that the stamps hold, each made to rise strictly."""
    parted = part_recordings(stamps)
    time, findings = stamps.time_s.copy(), [*stamps.findings, *parted.findings]
    held: list[tuple[int, int]] = []
    of_pieces: list[tuple[Finding, ...]] = []
    for start, stop in parted.pieces:
        piece = _tell_gaps(set_apart(stamps.piece(start, stop)))
        time[start:stop] = piece.time_s
        findings += piece.findings
        if piece.rows.size >= FEWEST_ROWS:
            held.append((start, stop))
            of_pieces.append(piece.findings)
    return MendedTime(time, tuple(held), tuple(findings), tuple(of_pieces))


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


def _fill_unreadable(stamps: Stamps) -> Stamps:
    """Stamps that cannot be read, put between their neighbours where these are as far apart as the rows say."""
    time, step = stamps.time_s, stamps.step_s
    bad = ~np.isfinite(time)
    if not bad.any():
        return stamps
    rows = np.arange(time.size)
    filled = np.interp(rows, rows[~bad], time[~bad], left=np.nan, right=np.nan)
    before = np.maximum.accumulate(np.where(bad, -1, rows))
    after = np.minimum.accumulate(np.where(bad, time.size, rows)[::-1])[::-1]
    inside = bad & (before >= 0) & (after < time.size)
    width = np.where(inside, after - before, 1)
    span = np.where(inside, time[np.minimum(after, time.size - 1)] - time[np.maximum(before, 0)], 0.0)
    sure = inside & (np.abs(span - width * step) < 0.5 * step * np.sqrt(width) + 1e-9)
    stamps = stamps.moved(np.where(sure, filled, np.where(bad, np.nan, time)))
    lost, placed = np.flatnonzero(bad & ~sure), np.flatnonzero(sure)
    if lost.size:
        text = f"{count_of_rows(lost.size)} without a readable time {were(lost.size)} set aside."
        stamps = stamps.with_findings(Finding("rows-without-time", "caution", text, stamps.place(int(lost[0]))))
    if placed.size:
        number = count_of_rows(placed.size)
        text = f"{number} had no readable time and {were(placed.size)} placed between their neighbours."
        stamps = stamps.with_findings(Finding("time-filled", "note", text, stamps.place(int(placed[0]))))
    return stamps


def _mend_outliers(stamps: Stamps) -> Stamps:
    """Up to three stamps in a row that leave a rising row which goes on as if they were not there."""
    rows, step = stamps.rows, stamps.step_s
    known = stamps.time_s[rows]
    if known.size < 4:
        return stamps
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
        return stamps
    out = stamps.time_s.copy()
    out[rows] = known
    stamps = stamps.moved(out)
    many = len(mended) != 1
    text = (
        f"{len(mended)} time stamp{'s step' if many else ' steps'} backward or ahead out of the rising row and "
        f"{'were' if many else 'was'} put between {'their' if many else 'its'} neighbours."
    )
    return stamps.with_findings(Finding("time-stamps-mended", "caution", text, stamps.place(int(rows[mended[0]]))))


def _goes_on(before: float, after: float, expected: float, step: float) -> bool:
    return bool(abs(after - before - expected) <= 0.6 * step)


def _undo_wraps(stamps: Stamps, unit_s: float, clock_face: bool) -> Stamps:
    time, known, step = stamps.time_s, stamps.rows, stamps.step_s
    round_s = [size * unit_s for size in ROUND_SIZES] + (list(CLOCK_SIZES_S) if clock_face else [])
    sizes = [size * unit_s for size in COUNTER_SIZES] + round_s
    wraps: list[tuple[int, float]] = []
    for fall in np.flatnonzero(np.diff(time[known]) < 0).tolist():
        before, after = float(time[known[fall]]), float(time[known[fall + 1]])
        size = next((size for size in sizes if _ran_over(before, after, size, step)), None)
        if clock_face and before < HALF_DAY_S + 3600.0 and _ran_over(0.0, after - before, HALF_DAY_S, step):
            size = HALF_DAY_S  # of twelve hours, where one o'clock follows on twelve
        if size is not None:
            wraps.append((int(known[fall + 1]), size))
    if len(wraps) == 1 and wraps[0][1] in round_s and abs(time[wraps[0][0]] - time[known[0]]) <= 0.6 * step:
        return stamps  # it starts again from where the log began, after a round time by chance: a restart
    if not wraps:
        return stamps
    more = np.zeros(time.size)
    more[[row for row, _ in wraps]] = [size for _, size in wraps]
    stamps = stamps.moved(time + np.cumsum(more))
    text = f"The time counter ran over {len(wraps)} time{'s' if len(wraps) != 1 else ''} and was counted on."
    return stamps.with_findings(Finding("time-counter-ran-over", "note", text, stamps.place(wraps[0][0])))


def _undo_small_wraps(stamps: Stamps, unit_s: float, goes_on: GoesOn | None) -> Stamps:
    """A counter that shows no more than a minute, or two or three digits, counted on."""
    time, known, step = stamps.time_s, stamps.rows, stamps.step_s
    falls = np.flatnonzero(np.diff(time[known]) < 0)
    amid = float(time[known[0]]) > 2 * step
    highest = float(np.max(time[known])) / unit_s
    sizes = [size * unit_s for size in SMALL_SIZES if not _is_of_bits(size) or highest >= 10.0 ** int(np.log10(size))]
    for size in (*sizes, 60.0, 3600.0):
        wraps = [
            int(known[fall + 1])
            for fall in falls.tolist()
            if _ran_over(float(time[known[fall]]), float(time[known[fall + 1]]), size, step)
            and 0 <= time[known[fall + 1]] <= 1.5 * step
            and (amid or (goes_on is not None and goes_on(int(known[fall]), int(known[fall + 1]))))
        ]
        if wraps and len(wraps) == falls.size:
            more = np.zeros(time.size)
            more[wraps] = size
            stamps = stamps.moved(time + np.cumsum(more))
            text = (
                f"The time counter starts again from zero after {size:.4g} s, {len(wraps)} "
                f"time{'s' if len(wraps) != 1 else ''}, while the rows go on; it was counted on."
            )
            return stamps.with_findings(Finding("time-counter-ran-over", "note", text, stamps.place(wraps[0])))
    return stamps


def _is_of_bits(size: float) -> bool:
    """Whether a counter's size is a power of two; it shows counts beyond the power of ten below it."""
    return float(np.log2(size)).is_integer()


def _ran_over(before: float, after: float, size: float, step: float) -> bool:
    """Whether a fall is that of a counter of some size: it never shows the size itself, and goes on by one row."""
    return 20 * step < size and before < size * (1 - 1e-9) and abs(after - before + size - step) <= 1.5 * step


def _close_backward_steps(stamps: Stamps) -> Stamps:
    """A clock set back a little while the rows go on: what follows is moved to follow on at the usual interval."""
    time, rows = stamps.time_s, stamps.rows
    first = float(time[rows[0]])
    closed: list[tuple[int, float]] = []
    more, moved = np.zeros(time.size), 0.0
    for fall in np.flatnonzero(np.diff(time[rows]) < 0).tolist():
        here, after = int(rows[fall]), int(rows[fall + 1])
        back = float(time[here] - time[after])
        if back > SET_BACK_S or time[after] + moved - first < FROM_THE_START * (time[here] + moved - first):
            continue
        more[after] = back + stamps.step_s
        moved += back + stamps.step_s
        closed.append((after, back))
    if not closed:
        return stamps
    stamps = stamps.moved(time + np.cumsum(more))
    times = f"{len(closed)} times, by {max(back for _, back in closed):.3g} s at most" if len(closed) > 1 else "once"
    by = "" if len(closed) > 1 else f" by {closed[0][1]:.3g} s"
    text = (
        f"The time steps backward {times}{by} while the rows go on; what follows was moved to go on evenly, so times "
        "across the step are less sure."
    )
    return stamps.with_findings(Finding("clock-set-back", "caution", text, stamps.place(closed[0][0])))


def _of_another_rate(steps: FloatArray, gap: BoolArray) -> BoolArray:
    """Which long steps are those of a logger that writes more rarely for a while, as before and after an event."""
    slower = np.zeros(gap.size, dtype=bool)
    for run in find_true_runs(gap):
        held = steps[run.start : run.stop]
        usual = float(np.median(held))
        if held.size >= FEWEST_SLOWER and np.mean(np.abs(held[1:-1] - usual) <= ALIKE * usual) >= MOSTLY_ALIKE:
            slower[run.start : run.stop] = held <= (1.0 + ALIKE) * usual
    return slower


def _tell_gaps(stamps: Stamps) -> Stamps:
    known = stamps.time_s[stamps.rows]
    steps = np.diff(known)
    gap: BoolArray = steps > max(GAP_ROWS * stamps.step_s, GAP_LEAST_S)
    slower = _of_another_rate(steps, gap) if gap.any() else gap
    gap &= ~slower
    if slower.any():
        text = (
            f"Rows come at {1.0 / stamps.step_s:.3g} Hz in one part of the log and at "
            f"{1.0 / float(np.median(steps[slower])):.3g} Hz in another, {float(steps[slower].sum()):.3g} s of it."
        )
        stamps = stamps.with_findings(Finding("rate-changes", "note", text, f"row {stamps.first_row + 2}"))
    if not gap.any():
        return stamps
    longest = int(np.argmax(steps))
    text = (
        f"{int(gap.sum())} gap{'s' if gap.sum() > 1 else ''} in the time, {float(steps[gap].sum()):.3g} s together; "
        f"the longest is {float(steps[longest]):.3g} s."
    )
    where = f"row {stamps.first_row + longest + 2}, {float(known[longest] - known[0]):.3f} s"
    return stamps.with_findings(Finding("time-gaps", "caution", text, where))
