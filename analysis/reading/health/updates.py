"""How often a signal really updates, and how finely it is printed.

A 10 Hz position receiver held on a 50 Hz grid says something new on every fifth row only; a coolant temperature in
steps of 0.1 K repeats itself because it hardly moves. The two are told apart by when the changes fall: a held signal
changes on a lattice, a slow one whenever it happens to cross a step.

Public: `update_rate_hz`, `printed_step`, `printed_steps`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray, IntArray

FEWEST_CHANGES = 16
"""Changes needed before a lattice is believed: fewer fall on one by chance."""
FEWEST_LEAPS, LEAP_STEPS = 6, 10
"""So few changes are enough where each leaps by so many printed steps: a signal that no logger holds passes through
what lies between. A receiver of one value a second says no more of a run of twelve. By arithmetic."""
ON_LATTICE = 0.9
"""Share of the waits between changes that must be whole multiples of the update period."""
MOSTLY_NEW = 0.92
"""Share of changing rows above which every row is an update: noise repeats a printed value now and then."""
FEW_STATES = 4
"""Distinct values of a switch or gear among its first changes; a measured signal passes through more."""
UPDATES_IN_SPAN = 6
"""Changes that the rows over which movement is judged should hold: with fewer, where they begin decides the count."""
SPAN_ROWS = (10, 1000)
"""Fewest and most such rows."""
AGREES = 0.15
"""Relative difference within which both ways mean one rate; the lattice then gives it exactly."""
MEAN_OFF = 0.02
"""Share by which the mean of some waits is off the period: a wait of a row more or less is of the lattice still. [-]"""
RARELY_SHORTER = 0.05
"""Share of waits that may be shorter than the candidate period: a change amid a held value. [-]"""
MOST_DECIMALS = 7
"""Decimals that a logger prints at most; more is the rounding of a double."""
SURE_FROM = 2
"""From so many decimals on, a millionth of one is less than half of the last of `MOST_DECIMALS`: no more can stand."""
STEP_SAMPLE = 200
"""Samples looked at for the printed step; they show it as surely as all."""
STRETCHES, STRETCH_ROWS = 12, 40
"""Stretches along a log, and their rows, looked at first: where each is nearly always new, so is all of it."""


def update_rate_hz(time_s: FloatArray, values: FloatArray, *, step: float = 0.0, row_s: float | None = None) -> float:
    """Rate at which a signal says something new.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising sample times [s] and the signal as logged.
    step : float
        Printed step of the signal, as `printed_step` finds it, in its own unit.
    row_s : float, optional
        Median step of `time_s`, where it is known already. [s]

    Returns
    -------
    float
        The rate of its samples, or a lower one where rows repeat a held value; 0 where there are fewer than two
        samples. Never lower than the changes support. [Hz]

    Notes
    -----
    Where the signal moves by two printed steps a row or more, a row that repeats the last value is a held one: the
    share of rows that change there is the share of rows that are updates. A signal that never moves so fast is
    judged by its waits between changes: the shortest that is no rarity (5th percentile) is the candidate period, and
    at least `ON_LATTICE` of all waits must lie within about one row of a whole multiple of it, a fifth of them at
    the period itself. Else the sample rate stands. Switches and gears say nothing about their rate.

    Examples
    --------
    >>> grid = np.arange(500) / 50.0
    >>> round(update_rate_hz(grid, np.sin(grid[(np.arange(500) // 5) * 5])), 3)
    10.0
    """
    if time_s.size < 2:
        return 0.0
    if row_s is None:
        row_s = float(np.median(np.diff(time_s)))
    own = 1.0 / row_s if row_s > 0 else 0.0
    if _is_new_everywhere(values):
        return own
    change = values[1:] != values[:-1]
    number = int(np.count_nonzero(change))
    if number > MOSTLY_NEW * values.size or (number < FEWEST_CHANGES and not _leaps(values, change, step)):
        return own
    if np.unique(values[:-1][_first_true(change, 200)]).size <= FEW_STATES:
        return own
    share = _share_new_where_moving(values, change, number, step)
    on_lattice = own if _often_in_a_row(change, number) else _rate_on_lattice(time_s, np.flatnonzero(change), own)
    lost = share is not None and own * share < on_lattice < own  # an update that never came is no slower signal
    if share is None or lost or abs(on_lattice - own * share) < AGREES * on_lattice:
        return on_lattice
    return own if share > MOSTLY_NEW else own * share


def _is_new_everywhere(values: FloatArray) -> bool:
    """Whether nearly every row of every stretch looked at is new; the rest need not be compared then."""
    if values.size < 2 * STRETCHES * STRETCH_ROWS:
        return False
    rows = values.size // STRETCHES
    stretches = values[: rows * STRETCHES].reshape(STRETCHES, rows)[:, :STRETCH_ROWS]
    new = np.count_nonzero(stretches[:, 1:] != stretches[:, :-1], axis=1)
    return int(new.min()) > MOSTLY_NEW * STRETCH_ROWS


def _first_true(mask: BoolArray, most: int) -> IntArray:
    """Where the first few are; nearly always among the first rows."""
    found = np.flatnonzero(mask[: 4 * most])
    return found[:most] if found.size >= most else np.flatnonzero(mask)[:most]


def _often_in_a_row(change: BoolArray, number: int) -> bool:
    """Whether more waits between changes are a single row than a rarity: then no lattice is wider than the rows."""
    singles = int(np.count_nonzero(change[1:] & change[:-1]))
    return singles > int((number - 2) * RARELY_SHORTER)


def _leaps(values: FloatArray, change: BoolArray, step: float) -> bool:
    """Whether a signal that changes seldom goes from value to value by leaps, as a held one does."""
    leaps = np.abs(np.diff(values)[change]) >= LEAP_STEPS * step
    return step > 0 and int(np.count_nonzero(leaps)) >= FEWEST_LEAPS


def _share_new_where_moving(values: FloatArray, change: BoolArray, number: int, step: float) -> float | None:
    """Share of rows that change where the signal moves fast; None where it does so too seldom to tell."""
    span = int(np.clip(UPDATES_IN_SPAN * values.size / number, *SPAN_ROWS))
    if step <= 0 or values.size <= 2 * span:
        return None
    moved = values[span:] - values[:-span]
    moving = np.abs(moved, out=moved) >= 2.0 * span * step
    rows = int(np.count_nonzero(moving))
    if rows < max(2 * span, 8 * SPAN_ROWS[0]):
        return None
    new = np.zeros(values.size, dtype=np.int32)
    new[1:] = change
    np.cumsum(new, out=new)
    return float(np.sum((new[span:] - new[:-span]) * moving, dtype=np.int64)) / rows / span


def _rate_on_lattice(time_s: FloatArray, changed: IntArray, own: float) -> float:
    waits = np.diff(changed)
    shortest = _low_count(waits, RARELY_SHORTER)
    if shortest < 2:
        return own
    near = waits <= max(1.35 * shortest, shortest + 1)
    period = float(np.mean(waits[near]))
    multiples = np.maximum(np.round(waits / period), 1.0)
    on_lattice = np.abs(waits - multiples * period) <= 0.3 * period + 0.55
    alike = float(np.mean(np.abs(waits[near] - period) <= 1.0 + MEAN_OFF * period))
    if np.mean(on_lattice) < ON_LATTICE or alike < ON_LATTICE or near.sum() < max(0.2 * waits.size, 5):
        return own
    spans = time_s[changed[1:] + 1] - time_s[changed[:-1] + 1]
    period_s = float(np.mean(spans[near]))
    return 1.0 / period_s if period_s > 0 else own


def _low_count(counts: IntArray, share: float) -> int:
    """The lower quantile of small counts, by how often each comes.

    The same as `numpy.quantile` with ``method="lower"``, whose sorting is slow where most counts are alike: 7 ms for
    60,000 ones, which was half of what reading known channels cost.
    """
    return int(np.searchsorted(np.cumsum(np.bincount(counts)), int((counts.size - 1) * share), side="right"))


def printed_step(values: FloatArray) -> float:
    """Step between neighbouring values as the log prints them.

    Parameters
    ----------
    values : array, shape (n,)
        As written, before any conversion; NaN is passed over.

    Returns
    -------
    float
        0 where there are fewer than three distinct values or no step can be seen.

    Examples
    --------
    >>> printed_step(np.array([950.0, 960.0, 990.0, 950.0])), printed_step(np.array([0.1, 0.25, 0.3]))
    (10.0, 0.05)
    """
    return float(printed_steps([values])[0])


def printed_steps(columns: Sequence[FloatArray]) -> FloatArray:
    """`printed_step` of many columns at once: looking at one costs nearly as much as looking at twenty.

    Parameters
    ----------
    columns : sequence of array, each of shape (n,)
        As written; their lengths may differ.

    Returns
    -------
    array, shape (columns,)
        The step of each; 0 where none can be seen.

    Examples
    --------
    >>> printed_steps([np.array([950.0, 960.0, 990.0]), np.array([np.nan, 1.0]), np.array([0.1, 0.25, 0.3])]).tolist()
    [10.0, 0.0, 0.05]
    """
    samples, held = _sorted_samples(columns)
    found, sought = np.zeros(len(columns)), np.count_nonzero(np.diff(samples, axis=1), axis=1) >= 2
    for decimals in range(MOST_DECIMALS + 1):
        rows = np.flatnonzero(sought)
        if not rows.size:
            break
        scaled = samples[rows] * 10.0**decimals
        whole = np.rint(scaled)
        size = np.maximum(np.abs(scaled[:, 0]), np.abs(scaled[:, -1]))
        printed = np.abs(scaled - whole).max(axis=1) <= 1e-6 * np.maximum(1.0, 1e-6 * size)
        sure = (decimals >= SURE_FROM) & (size <= 1e6)
        shown = [
            at
            for at in np.flatnonzero(printed & (size < 2**53)).tolist()
            if sure[at] or decimals >= _decimals_of(samples[rows[at], : min(held[rows[at]], 8)].tolist())
        ]
        if shown:
            found[rows[shown]] = _greatest_divisors(np.diff(whole[shown], axis=1)) / 10.0**decimals
            sought[rows[shown]] = False
    return found


def _greatest_divisors(steps: FloatArray) -> IntArray:
    """The greatest whole number that parts all whole steps of each row; one where any step is one."""
    divisors = np.ones(len(steps), dtype=np.int64)
    others = np.flatnonzero(~(steps == 1.0).any(axis=1))
    divisors[others] = np.gcd.reduce(steps[others].astype(np.int64), axis=1)
    return divisors


def _sorted_samples(columns: Sequence[FloatArray]) -> tuple[FloatArray, IntArray]:
    """Known values of each column, in order, the last again to fill the row; and how many there are."""
    samples = np.full((len(columns), 2 * STEP_SAMPLE), np.nan)
    for row, values in zip(samples, columns, strict=True):
        thinned = values[:: max(values.size // STEP_SAMPLE, 1)][: 2 * STEP_SAMPLE]
        row[: thinned.size] = thinned
    samples[~np.isfinite(samples)] = np.nan
    samples = samples[:, : max(map(len, columns), default=0)]  # short logs: no more than there is
    samples.sort(axis=1)
    held = np.count_nonzero(np.isfinite(samples), axis=1)
    if samples.shape[1]:
        last = samples[np.arange(len(columns)), np.maximum(held - 1, 0)]
        samples = np.where(np.isnan(samples), np.nan_to_num(last)[:, np.newaxis], samples)
    return samples, held


def _decimals_of(values: list[float]) -> int:
    """Decimals that a few values show, trailing zeros left out."""
    return max(len(f"{value:.{MOST_DECIMALS}f}".rstrip("0").partition(".")[2]) for value in values)
