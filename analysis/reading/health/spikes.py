"""Samples that leave a signal faster than the thing measured can move, and come back: lost and false samples.

Public: `Gate`, `Excursion`, `find_excursions`, `swings_past`, `find_rail_spikes`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.statistics.fits import middle
from passband.analysis.statistics.intervals import Interval, find_true_runs

MOST_AFTER_DOUBT = 4
"""Longest excursion in samples that is believed where the sample before it came by a leap itself."""
LOST = 0.05
"""Share of the value before below which a signal is lost, not low."""
LEAST_SHARE, MOST_SHARE, SHARE_WITHIN = 0.2, 0.8, 0.05
"""A counter that loses one pulse of two, three or four, or two of three, reads that share of the speed, by arithmetic
a quarter to three quarters of it, and holds it within the third. [-]"""
BURST_GAP_S = 0.012
"""Good-looking samples between two excursions closer than this belong to one burst of noise. [s]"""

SWINGS_WITHIN_S, LEVEL_OVER_S = 0.06, 0.15
"""A shaft let go by a cut swings past its level so soon before or after, some 5 to 15 times a second; its level is the
line between the medians over so long to either side. [s], [s]"""
SWINGS_PAST, SWING_SAMPLES, SWING_NOISES = 0.06, 2, 4.0
"""It swings past by at least so much of how far it went, in so many samples on end, and by so many times the channel's
noise: a pulse lost or doubled comes back to its line, and what noise does beyond that it does in one sample. [-] By
hand: a shaft that keeps a quarter of its swing each time it turns back, seen through a sensor's own mean."""


@dataclass(frozen=True, slots=True)
class Gate:
    """How fast a signal can truly move: what lies outside and comes back is no motion."""

    floor: float
    """Change that is always allowed, in the signal's unit."""
    share: float
    """Change that is always allowed, as a share of the value."""
    fall_per_s: float
    """Fastest true fall, in the signal's unit. [1/s]"""
    rise_per_s: float
    """Fastest true rise. [1/s]"""
    most_fall: float
    """Largest true fall within `longest_s`, as a share of the value."""
    most_rise: float
    """Largest true rise within `longest_s`, as a share of the value."""
    longest_s: float
    """An excursion that lasts longer is taken for real. [s]"""
    longest_flat_s: float
    """The same for one that stands at zero or at one value, as a lost signal does. [s]"""
    least: float
    """Excursions from or to a value below this are not looked for."""
    longest_share_s: float = 0.0
    """The same for one that goes along at one share of the signal, as a counter does that loses pulses. [s]"""


@dataclass(frozen=True, slots=True)
class Excursion:
    """One stretch of false samples."""

    where: Interval
    """The samples."""
    to_zero: bool
    """Whether they stand at zero (a lost signal) rather than elsewhere (noise)."""


def find_excursions(time_s: FloatArray, values: FloatArray, gate: Gate, *, hold_s: float = 0.0) -> list[Excursion]:
    """Find stretches that leave a signal and come back faster than it can move.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and the signal; no NaN.
    gate : Gate
        How fast the signal can move.
    hold_s : float
        How long a held signal keeps one value: a step then has had that long to happen. [s]

    Returns
    -------
    list of Excursion
        In order, disjoint; empty where the signal is healthy.

    Notes
    -----
    From each sample that is followed by too large a step, later samples are held against a gate around it that opens
    with time. The first sample back inside, if the next is as well, ends the excursion. A true step, such as the
    fall of engine speed at a shift, also comes back inside as the gate opens; it is told apart because its samples
    do not leave the range between the values before and after.
    """
    if time_s.size < 4:
        return []
    steps = np.diff(values)
    large = np.flatnonzero(np.abs(steps) > gate.floor)
    rise, fall = _allowed(values[large], np.maximum(time_s[large + 1] - time_s[large], hold_s), gate)
    edges = large[(steps[large] > rise) | (-steps[large] > fall)]
    held = _Held(time_s, values, gate, hold_s)
    found: list[Excursion] = []
    done = -1
    for edge in edges.tolist():
        if edge < done or values[edge] < gate.least:
            continue
        back = _back_inside(held, edge, edges[edges > edge])
        if back is None or values[back] < gate.least:
            continue
        inner = values[edge + 1 : back]
        if inner.size > MOST_AFTER_DOUBT and edge > done and bool(np.isin([edge - 1, edge - 2], edges).any()):
            continue  # the sample it left from is itself in doubt
        if _is_outside(inner, float(values[edge]), float(values[back]), gate):
            zero = bool(np.median(np.abs(inner)) < LOST * max(abs(values[edge]), abs(values[back])))
            found.append(Excursion(Interval(edge + 1, back), zero))
            done = back
    return _joined(found, time_s)


def swings_past(time_s: FloatArray, values: FloatArray, where: Interval, *, noise: float = 0.0) -> bool:
    """Whether an excursion is one half of a swing: a driveline let go by a cut of torque goes past its level and back.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        As of `find_excursions`.
    where : Interval
        The excursion's samples.
    noise : float
        Of the signal, from sample to sample.

    Returns
    -------
    bool
        True where samples on end lie on the other side of the level, shortly before or after.
    """
    first, last = float(time_s[where.start]), float(time_s[where.stop - 1])
    before = slice(int(np.searchsorted(time_s, first - LEVEL_OVER_S)), where.start)
    after = slice(where.stop, int(np.searchsorted(time_s, last + LEVEL_OVER_S)))
    if before.start == before.stop or after.start == after.stop:
        return False
    ends_s, levels = [[float(np.median(of[side])) for side in (before, after)] for of in (time_s, values)]
    around = slice(before.start, after.stop)
    off = values[around] - np.interp(time_s[around], ends_s, levels)
    inner = np.zeros(off.size, dtype=np.bool_)
    inner[where.start - around.start : where.stop - around.start] = True
    goes = float(off[inner][np.argmax(np.abs(off[inner]))])
    near = ~inner & (time_s[around] > first - SWINGS_WITHIN_S) & (time_s[around] < last + SWINGS_WITHIN_S)
    past = near & (off * -np.sign(goes) > max(SWINGS_PAST * abs(goes), SWING_NOISES * noise))
    return any(run.stop - run.start >= SWING_SAMPLES for run in find_true_runs(past))


@dataclass(frozen=True, slots=True)
class _Held:
    """A signal held against its gate."""

    time_s: FloatArray
    values: FloatArray
    gate: Gate
    hold_s: float


def _allowed(values: FloatArray, spans: FloatArray, gate: Gate) -> tuple[FloatArray, FloatArray]:
    size = np.abs(values)
    base = gate.floor + gate.share * size
    rise = np.minimum(base + gate.rise_per_s * spans, base + gate.most_rise * size)
    fall = np.minimum(base + gate.fall_per_s * spans, np.maximum(gate.most_fall * size, base))
    return rise, fall


def _back_inside(held: _Held, edge: int, later: IntArray) -> int | None:
    """Where a signal that left at `edge` is back where it could be; None where it does not come back in time."""
    time_s, values, gate, hold_s = held.time_s, held.values, held.gate, held.hold_s
    start = float(values[edge])
    reach = max(gate.longest_s, gate.longest_flat_s, gate.longest_share_s) + hold_s
    last = int(np.searchsorted(time_s, time_s[edge] + reach, side="right"))
    ahead = np.arange(edge + 1, min(last + 1, values.size))
    rise, fall = _allowed(np.full(ahead.size, start), np.maximum(time_s[ahead] - time_s[edge], hold_s), gate)
    after_zero = _first_after_zero(held, edge, ahead)
    if after_zero is not None:
        return after_zero
    inside = (values[ahead] - start <= rise) & (start - values[ahead] <= fall)
    stays = inside & np.concatenate((inside[1:], [True]))
    landings = np.flatnonzero(stays) + edge + 1
    up = values[edge + 1] > start
    sharp = {e + 1 for e in later.tolist() if e < last and (values[e + 1] < values[e]) == up}
    whole = [
        landing for landing in landings.tolist() if landing in sharp and _all_away(values[edge : landing + 1], gate)
    ]
    for back in whole[:1] + landings[:1].tolist():
        if back <= edge + 1:
            continue
        inner = values[edge + 1 : back]
        flat = bool(np.ptp(inner) == 0.0 or np.abs(inner).max() < LOST * abs(start))
        longest_s = gate.longest_flat_s if flat else gate.longest_s
        if back in whole and _is_a_share(values[edge : back + 1]):
            longest_s = max(longest_s, gate.longest_share_s)
        if time_s[back] - time_s[edge] <= longest_s + hold_s:
            return int(back)
    return None


def _is_a_share(stretch: FloatArray) -> bool:
    """Whether all between the first sample and the last is one share of the line that joins these."""
    line = np.linspace(stretch[0], stretch[-1], stretch.size)[1:-1]
    if not bool(np.all(line > 0)):
        return False
    share = stretch[1:-1] / line
    middle = float(np.median(share))
    return LEAST_SHARE < middle < MOST_SHARE and bool(np.quantile(np.abs(share - middle), 0.9) < SHARE_WITHIN)


def _first_after_zero(held: _Held, edge: int, ahead: IntArray) -> int | None:
    """Where a signal that was lost at zero is there again, with a value it can have run to in the meantime."""
    time_s, values, gate, hold_s = held.time_s, held.values, held.gate, held.hold_s
    start = float(values[edge])
    there = np.flatnonzero(np.abs(values[ahead]) >= LOST * abs(start))
    if there.size == 0 or there[0] == 0:
        return None
    back = int(ahead[there[0]])
    span = float(max(time_s[back] - time_s[edge], hold_s))
    highest = start + gate.floor + gate.share * abs(start) + gate.rise_per_s * span
    in_time = time_s[back] - time_s[edge] <= gate.longest_flat_s + hold_s
    return back if in_time and 0.3 * start <= values[back] <= highest else None


def _all_away(stretch: FloatArray, gate: Gate) -> bool:
    """Whether all samples between the first and the last lie off the line that joins these, all on one side."""
    line = np.linspace(stretch[0], stretch[-1], stretch.size)[1:-1]
    away = stretch[1:-1] - line
    margin = gate.floor + gate.share * np.abs(line)
    return bool(away.size) and bool(np.all(away > margin) or np.all(away < -margin))


def _is_outside(inner: FloatArray, before: float, after: float, gate: Gate) -> bool:
    """Whether an excursion leaves the range between its ends, by more where the ends differ as at a shift."""
    low, high = min(before, after), max(before, after)
    same = high - low <= 0.04 * abs(high) + 0.5 * gate.floor
    margin = (gate.share if same else 0.15) * abs(high) + gate.floor
    return bool(inner.max() > high + margin or inner.min() < low - margin)


def _joined(found: list[Excursion], time_s: FloatArray) -> list[Excursion]:
    """Excursions with next to nothing between them become one: a burst has no good samples inside."""
    joined: list[Excursion] = []
    for one in found:
        if joined and not (one.to_zero or joined[-1].to_zero):
            before = joined[-1].where
            gap_s = float(time_s[one.where.start] - time_s[before.stop - 1])
            if one.where.start - before.stop <= 1 or gap_s <= BURST_GAP_S:
                joined[-1] = Excursion(Interval(before.start, one.where.stop), False)
                continue
        joined.append(one)
    return joined


def find_rail_spikes(
    time_s: FloatArray, values: FloatArray, *, longest_s: float, least_step: float, least_share: float = 0.5
) -> list[Interval]:
    """Find a few samples at the very end of a sensor's range with good ones on both sides: a contact that opened.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and the signal; no NaN.
    longest_s : float
        A longer stay at the end of the range is taken for real. [s]
    least_step : float
        Least distance from the neighbours, in the signal's unit.
    least_share : float
        The same as a share of the neighbours' size; 0 where the unit's zero is no zero of what is measured. [-]

    Returns
    -------
    list of Interval
        In order; empty where there is none.

    Notes
    -----
    The value must be the log's least or greatest, stand alone (nothing within half of the step to it), and the
    samples on both sides must agree within a quarter of the step.
    """
    if values.size < 10:
        return []
    least, greatest = float(values.min()), float(values.max())
    if not greatest - least > least_step:
        return []
    longest_s += 2.5 * middle(np.diff(time_s[:50]))
    found: list[Interval] = []
    for rail in (least, greatest):
        at_rail = np.flatnonzero(values == rail)
        if at_rail.size <= 0.2 * values.size:
            found += _short_and_deep(
                time_s, values, at_rail, longest_s=longest_s, least_step=least_step, least_share=least_share
            )
    return sorted(found, key=lambda run: run.start)


def _short_and_deep(
    time_s: FloatArray,
    values: FloatArray,
    at_rail: IntArray,
    *,
    longest_s: float,
    least_step: float,
    least_share: float,
) -> list[Interval]:
    parts = np.flatnonzero(at_rail[1:] - at_rail[:-1] > 1)
    starts, stops = at_rail[np.concatenate(([0], parts + 1))], at_rail[np.append(parts, -1)] + 1
    inside = (starts > 0) & (stops < values.size)
    starts, stops = starts[inside], stops[inside]
    before, after = values[starts - 1], values[stops]
    step = np.minimum(np.abs(before - values[starts]), np.abs(after - values[starts]))
    deep = step > np.maximum(least_step, least_share * np.maximum(np.abs(before), np.abs(after)))
    short = time_s[stops] - time_s[starts - 1] <= longest_s
    kept = deep & (np.abs(before - after) < 0.25 * step) & short
    return [Interval(a, b) for a, b in zip(starts[kept].tolist(), stops[kept].tolist(), strict=True)]
