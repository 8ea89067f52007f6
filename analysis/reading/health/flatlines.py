"""Signals that stand still when what they measure does not: stuck, dead, or at the end of their range.

Public: `find_stuck`, `is_dead`, `find_saturated`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.statistics.intervals import Interval, ends_of_true_runs

STUCK_LEAST_S = 0.5
"""A signal that moves all the time is not believed to stand longer than this. [s] Half a second is 40 m at the trap."""
STUCK_UPDATES = 8
"""Updates that must be missing: a 10 Hz receiver that repeats itself once or twice is healthy."""
STEADY, STEADY_SHARE, STEADY_UPDATES, STEADY_STEPS, FEWEST_STEADY = 1.3, 0.95, 2.5, 2.0, 20
"""A receiver is steady where so great a share of what it shows under way, of so many values, lasts no longer than the
first times the middle one: then fewer updates prove that it stood, with a jump of so many usual steps after them. A
receiver of 1 or 2 Hz loses a second of the run in two of them. Of quicker ones half a second is enough. [-], [-], [-],
[-], [values]"""
REPEATS = 3
"""Samples that must repeat: one or two before a gap in the record are no stretch of one value."""
RELEASE_STEPS = 8.0
"""How many times the usual step the signal must jump when it comes free: it has moved on in the meantime."""
MOVED_OVER_S = 0.5
"""The signal must have been on the move for so long before it stands. [s] One held steady in coarse steps was not."""
MOVED_SHARE = 0.1
"""And by this share of the jump at the end."""
MOVES_OFF_SHARE = 0.4
"""A step after that jump of more than this share of it is no pace that a signal kept while it stood for eight updates:
what it measures was held, and moves off only now, as an engine on its launch does. [-] By arithmetic an eighth."""
FROZEN_TIMES = 8.0
"""How many times as long as all but the rarest honest repeats a stretch must be to be frozen with no jump after it."""
FROZEN_LEAST_S = 1.0
"""And how long at least. [s]"""
RESTLESS = 0.5
"""Share of neighbouring updates that must differ outside the stretch: a signal in coarse steps stands still
honestly."""
DEAD_LEAST_S = 5.0
"""A log shorter than this may hold one value throughout. [s]"""
SATURATED_LEAST_S = 0.15
"""Together at the end of the range for at least this long. [s]"""

MOST_AT_THE_TOP, MANY_STEPS = 0.9, 3.0
"""A signal that stands at its top for most of a log, though not for more than this share, is cut off there where it
moves by so many of its printed steps from sample to sample elsewhere; in coarse steps it may rest. [-], [-]"""


def _moves_by_many_steps(values: FloatArray) -> bool:
    moved = np.abs(np.diff(values))
    moved = moved[moved > 0]
    return bool(moved.size >= STUCK_UPDATES and np.median(moved) >= MANY_STEPS * moved.min())


def _runs(values: FloatArray) -> tuple[IntArray, IntArray]:
    """First and last-plus-one sample of each stretch of one value."""
    edges = np.flatnonzero(values[1:] != values[:-1]) + 1
    return np.concatenate(([0], edges)), np.concatenate((edges, [values.size]))


def find_stuck(
    time_s: FloatArray,
    values: FloatArray,
    *,
    rate_hz: float,
    least: float,
    never_still: bool = False,
    cut_off_above: bool = False,
) -> list[Interval]:
    """Find stretches where a restless signal repeats one value and then jumps on, or never does again.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and the signal; no NaN.
    rate_hz : float
        Rate at which it updates. [Hz]
    least : float
        Values below this are rest, where standing still is honest, in the signal's unit.
    never_still : bool
        Whether noise always moves this signal, so that a long stretch of one value is enough, with no jump after it.
    cut_off_above : bool
        Whether its sensor ends within what it measures: a stretch at the very top is then its end, not one value kept.

    Returns
    -------
    list of Interval
        The repeated samples, the first (which was true) left out.
    """
    if values.size < 4 * STUCK_UPDATES or rate_hz <= 0:
        return []
    slow = STUCK_LEAST_S * rate_hz <= STEADY_UPDATES
    shortest_s = max(STUCK_LEAST_S, (STEADY_UPDATES if slow else STUCK_UPDATES) / rate_hz)
    repeating, ceasing = ends_of_true_runs(values[1:] == values[:-1])
    if not _long_runs(time_s, values, repeating, ceasing + 1, lasts_s=shortest_s, least=least).any():
        return []  # before all the single samples become stretches of their own
    starts, stops = _runs(values)
    steady = slow and _comes_by_the_clock(time_s, values, starts, stops, least=least)
    fewest = STEADY_UPDATES if steady else STUCK_UPDATES
    long_runs = _long_runs(time_s, values, starts, stops, lasts_s=max(STUCK_LEAST_S, fewest / rate_hz), least=least)
    long_runs &= (stops < values.size) | never_still
    if cut_off_above:
        long_runs &= values[starts] < values.max()
    if not long_runs.any():
        return []
    held = float(np.median(np.diff(time_s[:2000]))) * rate_hz
    moving = np.abs(values[starts]) > least
    updates = np.maximum((stops - starts) * held, 1.0)
    honest = moving & ~long_runs
    if not honest.any() or honest.sum() < RESTLESS * float(updates[honest].sum()):
        return []
    steps = np.abs(np.diff(values))
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    longest_honest = float(np.quantile(updates[honest], 0.995, method="higher"))
    found = []
    for run in np.flatnonzero(long_runs).tolist():
        start, stop = int(starts[run]), int(stops[run])
        jump = abs(float(values[stop] - values[start])) if stop < values.size else 0.0
        earlier = int(np.searchsorted(time_s, time_s[start] - MOVED_OVER_S))
        moved = abs(float(values[start] - values[earlier]))
        jumps = (
            jump > (STEADY_STEPS if steady else RELEASE_STEPS) * usual
            and jump > 0.02 * abs(float(values[start]))
            and moved > MOVED_SHARE * jump
            and (steady or _next_step(values, starts, run) <= MOVES_OFF_SHARE * jump)
        )
        lasted_s = float(time_s[min(stop, values.size - 1)] - time_s[start])
        frozen = updates[run] > FROZEN_TIMES * longest_honest and lasted_s >= FROZEN_LEAST_S
        if jumps or (never_still and frozen):
            found.append(Interval(start + 1, stop))
    return found


def _next_step(values: FloatArray, starts: IntArray, run: int) -> float:
    """What the first new value after a stretch is followed by; zero where the record ends."""
    if run + 2 >= starts.size:
        return 0.0
    return abs(float(values[starts[run + 2]] - values[starts[run + 1]]))


def _comes_by_the_clock(
    time_s: FloatArray, values: FloatArray, starts: IntArray, stops: IntArray, *, least: float
) -> bool:
    """Whether a signal under way shows each value for the same time, all but one in twenty."""
    moving = np.flatnonzero(np.abs(values[starts]) > least)
    if moving.size < FEWEST_STEADY:
        return False
    lasts = time_s[np.minimum(stops[moving], values.size - 1)] - time_s[starts[moving]]
    return float(np.quantile(lasts, STEADY_SHARE)) <= STEADY * float(np.median(lasts))


def _long_runs(
    time_s: FloatArray, values: FloatArray, starts: IntArray, stops: IntArray, *, lasts_s: float, least: float
) -> BoolArray:
    """Which stretches of one value, not at rest, last too long for a signal that moves: few repeat it at all."""
    repeated = np.flatnonzero(stops - starts >= REPEATS)
    first, after = starts[repeated], np.minimum(stops[repeated], values.size - 1)
    lasts = time_s[after] - time_s[first] >= lasts_s
    found = np.zeros(starts.size, dtype=bool)
    found[repeated] = lasts & (np.abs(values[first]) > least)
    return found


def is_dead(time_s: FloatArray, values: FloatArray) -> bool:
    """Whether a signal holds one value through a whole log that is long enough to tell.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and the signal; no NaN.
    """
    if values.size < 50 or time_s[-1] - time_s[0] < DEAD_LEAST_S:
        return False
    return all(bool(np.all(some == values[0])) for some in (values[:50], values))  # nearly always moved by then


def find_saturated(time_s: FloatArray, values: FloatArray, *, rate_hz: float) -> list[Interval]:
    """Find stretches at the very top of the range, cut off flat.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and the signal; no NaN.
    rate_hz : float
        Rate at which it updates. [Hz]

    Returns
    -------
    list of Interval
        Stretches at the greatest value; empty where the top is a peak, as it is where noise rides on it.
    """
    if values.size < 50 or rate_hz <= 0:
        return []
    top = float(values.max())
    number = int(np.count_nonzero(values == top))
    most_row_s = 2.0 * float(time_s[-1] - time_s[0]) / (time_s.size - 1)  # half of all steps are the median or more
    if number * most_row_s < SATURATED_LEAST_S or number > MOST_AT_THE_TOP * values.size:
        return []
    if number > 0.5 * values.size and not _moves_by_many_steps(values[values < top]):
        return []
    row_s = float(np.median(np.diff(time_s)))
    if number * row_s < SATURATED_LEAST_S:
        return []
    starts, stops = _runs(values)
    lengths = (stops - starts) * row_s * rate_hz
    tops = values[starts] == top
    long_tops = tops & (lengths >= 5)
    below = values[starts][~tops]
    next_below = float(below.max()) if below.size else top
    if not long_tops.any() or float(np.median(lengths[~tops])) > 2.0 or top - next_below > 0.2 * float(np.ptp(values)):
        return []
    if float(lengths[long_tops].sum()) < 0.6 * float(lengths[tops].sum()):
        return []
    return [Interval(int(a), int(b)) for a, b in zip(starts[long_tops], stops[long_tops], strict=True)]
