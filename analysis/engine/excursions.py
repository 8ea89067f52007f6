"""Stretches in which a signal stood outside its limit: how often, how long, how far.

Public: `Excursions`, `find_excursions`, `sustained_margin`, `least_margins`, `share_known`, `about`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.statistics.fits import middle


@dataclass(frozen=True, slots=True)
class Excursions:
    """All stretches outside that count."""

    count: int
    """How many."""
    time_s: float
    """Their total time. [s]"""
    worst: int
    """Sample that lies furthest outside; -1 where there is none."""
    single_sample: bool
    """True where all of it is one sample among neighbours inside."""
    stretches: tuple[tuple[float, float], ...] = ()
    """Start and end of each. [s]"""


_Near = tuple[FloatArray, FloatArray, BoolArray, tuple[float, float]]
"""Times, margins, which of them count, and the span that they lie in."""


@dataclass(frozen=True, slots=True)
class _Stretch:
    start_s: float
    stop_s: float
    samples: slice

    @property
    def length_s(self) -> float:
        return self.stop_s - self.start_s


def find_excursions(
    time_s: FloatArray,
    margin: FloatArray,
    counts: BoolArray,
    spans: Sequence[tuple[float, float]],
    *,
    longer_than_s: float = 0.0,
) -> Excursions:
    """Find the stretches in which a margin is below zero.

    Parameters
    ----------
    time_s, margin : array, shape (n,)
        Rising times [s]; positive inside, in the channel's unit.
    counts : array of bool, shape (n,)
        Samples that count; others end a stretch.
    spans : sequence of (start, stop)
        Time looked at; a stretch does not reach past it. [s]
    longer_than_s : float
        Stretches no longer than this are let pass. [s]

    Returns
    -------
    Excursions
        `count` 0 and `worst` -1 where there is none.

    Notes
    -----
    Ends are found between samples, straight from one to the next; next to a sample that does not count, and at the edge
    of a span, a stretch ends there.

    Examples
    --------
    >>> time_s, margin = np.arange(5.0), np.array([1.0, -1.0, -3.0, 1.0, 1.0])
    >>> found = find_excursions(time_s, margin, np.ones(5, dtype=bool), [(0.0, 4.0)])
    >>> found.count, found.time_s, found.worst
    (1, 2.25, 2)
    """
    kept = [piece for piece in _stretches(time_s, margin, counts, spans) if piece.length_s >= longer_than_s]
    if longer_than_s > 0:
        kept = [piece for piece in kept if piece.length_s > longer_than_s]
    if not kept:
        return Excursions(0, 0.0, -1, False)
    samples = np.concatenate([np.arange(piece.samples.start, piece.samples.stop) for piece in kept])
    worst = int(samples[np.argmin(margin[samples])])
    ends = tuple((piece.start_s, piece.stop_s) for piece in kept)
    return Excursions(len(kept), float(sum(piece.length_s for piece in kept)), worst, samples.size == 1, ends)


def _stretches(
    time_s: FloatArray, margin: FloatArray, counts: BoolArray, spans: Sequence[tuple[float, float]]
) -> list[_Stretch]:
    found = []
    for span in spans:
        near = about(time_s, span)
        mine = _mine(time_s[near], counts[near], span)
        ends = _ends(time_s[near], margin[near], mine, span)
        found += [
            _Stretch(float(start_s), float(stop_s), slice(int(start) + near.start, int(stop) + near.start))
            for start, stop, start_s, stop_s in zip(ends.first, ends.after, ends.start_s, ends.stop_s, strict=True)
        ]
    return found


def about(time_s: FloatArray, span: tuple[float, float]) -> slice:
    """The samples of a span and one more on either side: of a long log the rest says nothing of it.

    Parameters
    ----------
    time_s : array, shape (n,)
        Rising. [s]
    span : (start, stop)
        Both included. [s]

    Returns
    -------
    slice
        Of the samples.

    Examples
    --------
    >>> about(np.arange(10.0), (2.5, 4.0))
    slice(2, 6, None)
    """
    first, last = int(np.searchsorted(time_s, span[0])), int(np.searchsorted(time_s, span[1], side="right"))
    return slice(max(first - 1, 0), min(last + 1, time_s.size))


def _mine(time_s: FloatArray, counts: BoolArray, span: tuple[float, float]) -> BoolArray:
    """Samples of a span that count."""
    return np.asarray(counts & (time_s >= span[0]) & (time_s <= span[1]), dtype=np.bool_)


@dataclass(frozen=True, slots=True)
class _Ends:
    """Of each stretch below zero, shape (stretches,)."""

    first: IntArray
    """Its first sample."""
    after: IntArray
    """The one after its last."""
    start_s: FloatArray
    stop_s: FloatArray


def _ends(time_s: FloatArray, margin: FloatArray, mine: BoolArray, span: tuple[float, float]) -> _Ends:
    outside = np.zeros(mine.size + 2, dtype=np.bool_)
    np.logical_and(mine, margin < 0, out=outside[1:-1])
    edges = np.flatnonzero(outside[1:] != outside[:-1])
    if not edges.size:
        return _Ends(edges, edges, np.zeros(0), np.zeros(0))
    after = np.arange(edges.size) % 2  # edges start and stop by turns
    crossed = _crossed(time_s, margin, mine, (edges - after, edges + after - 1), np.where(after, span[1], span[0]))
    return _Ends(edges[::2], edges[1::2], crossed[::2], crossed[1::2])


def _crossed(
    time_s: FloatArray, margin: FloatArray, mine: BoolArray, edge: tuple[IntArray, IntArray], bound_s: FloatArray
) -> FloatArray:
    """Where stretches that hold the samples `edge[0]` but not those beside them, `edge[1]`, end."""
    inner, beside = edge
    outer = np.clip(beside, 0, max(time_s.size - 1, 0))
    there = beside == outer
    with np.errstate(invalid="ignore", divide="ignore"):
        share = margin[inner] / (margin[inner] - margin[outer])
        between = time_s[inner] + share * (time_s[outer] - time_s[inner])
    passes = np.where(outer < inner, time_s[outer] < bound_s, time_s[outer] > bound_s)
    at_bound = np.where(passes & np.isfinite(margin[outer]), bound_s, time_s[inner])
    return np.where(there, np.where(mine[outer], between, at_bound), time_s[inner])


def sustained_margin(
    time_s: FloatArray,
    margin: FloatArray,
    counts: BoolArray,
    spans: Sequence[tuple[float, float]],
    *,
    longer_than_s: float,
) -> tuple[float, int]:
    """The least margin that was held for a given time.

    Parameters
    ----------
    time_s, margin, counts, spans
        As of `find_excursions`.
    longer_than_s : float
        How long. [s]

    Returns
    -------
    (margin, sample)
        The level below which the margin did not stay for longer, and a sample of the longest stretch about it; the
        greatest margin where the record is shorter than that.

    Notes
    -----
    The longest stretch below a level grows with the level. Halving finds the two samples' margins between which it
    lies; between them no sample comes to a stretch, so each grows straight with the level.
    """
    parts = [(about(time_s, span), span) for span in spans]
    near = [(time_s[part], margin[part], _mine(time_s[part], counts[part], span), span) for part, span in parts]
    levels = [within[mine] for _, within, mine, _ in near]
    level = _level_of_length(near, np.unique(np.concatenate((*levels, [margin[counts].max()]))), longer_than_s)
    pieces = _stretches(time_s, margin - level - 1e-12 * max(abs(level), 1.0), counts, spans)
    if not pieces:
        return level, int(np.flatnonzero(counts)[np.argmin(margin[counts])])
    longest_piece = max(pieces, key=lambda piece: piece.length_s)
    at = longest_piece.samples
    return level, int(at.start + np.argmin(margin[at]))


def _level_of_length(near: Sequence[_Near], levels: FloatArray, longer_than_s: float) -> float:
    """Where the longest stretch below has a given length; the greatest of the levels where none gets so long."""
    low, high = 0, levels.size - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _lengths(near, levels[middle]).max(initial=0.0) > longer_than_s else (middle, high)
    below, above = float(levels[low]), float(levels[high])
    within = 0.5 * (below + above)
    first, last = _lengths(near, within), _lengths(near, above)
    if last.max(initial=0.0) <= longer_than_s or first.size != last.size:
        return above
    long = last > longer_than_s
    with np.errstate(divide="ignore", invalid="ignore"):
        reached = above - (above - within) * (last - longer_than_s)[long] / (last - first)[long]
    return float(np.clip(np.nanmin(reached), below, above))


def _lengths(near: Sequence[_Near], level: float) -> FloatArray:
    """How long each stretch below a level is, in order, in seconds."""
    ends = [_ends(time, within - level, mine, span) for time, within, mine, span in near]
    return np.concatenate([one.stop_s - one.start_s for one in ends])


def least_margins(
    time_s: FloatArray, margin: FloatArray, counts: BoolArray, *, pieces: int = 60
) -> tuple[tuple[float, float], ...]:
    """How the margin went along the run: the least of it in each of equal pieces of time, for drawing.

    Parameters
    ----------
    time_s, margin, counts
        As of `find_excursions`.
    pieces : int
        How many. [-]

    Returns
    -------
    tuple of (time, margin)
        Where in the piece it was least, and that margin; a piece in which nothing counts is left out.

    Examples
    --------
    >>> time_s, margin = np.arange(5.0), np.array([1.0, -1.0, -3.0, 1.0, 2.0])
    >>> least_margins(time_s, margin, np.ones(5, dtype=bool), pieces=2)
    ((1.0, -1.0), (2.0, -3.0))
    """
    at, level = time_s[counts], margin[counts]
    if not at.size:
        return ()
    edges = np.linspace(at[0], at[-1], pieces + 1)
    piece = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, pieces - 1)
    starts = np.flatnonzero(np.diff(piece, prepend=-1))
    lowest = np.repeat(np.minimum.reduceat(level, starts), np.diff(starts, append=at.size))
    touching = np.flatnonzero(level == lowest)
    first = touching[np.flatnonzero(np.diff(piece[touching], prepend=-1))]
    return tuple(zip(at[first].tolist(), level[first].tolist(), strict=True))


def share_known(time_s: FloatArray, good: BoolArray, spans: Sequence[tuple[float, float]]) -> float:
    """Share of the spans for which a channel has samples to be believed.

    Parameters
    ----------
    time_s : array, shape (n,)
        All sample times, rising. [s]
    good : array of bool, shape (n,)
        Samples to be believed.
    spans : sequence of (start, stop)
        Open ends are the record's own. [s]

    Returns
    -------
    float
        0 to 1. A sample stands for one sampling interval either side; up to three are no gap.

    Examples
    --------
    >>> share_known(np.arange(0.0, 10.0, 0.1), np.arange(100) < 50, [(0.0, 10.0)])
    0.5
    """
    if time_s.size < 2 or not good.any():
        return 0.0
    looked_at = about(time_s, (min(start for start, _ in spans), max(stop for _, stop in spans)))
    step = middle(np.diff(time_s[looked_at] if looked_at.stop - looked_at.start > 1 else time_s))
    known = total = 0.0
    for start, stop in spans:
        first, last = max(start, float(time_s[0]) - step), min(stop, float(time_s[-1]) + step)
        length = (stop if np.isfinite(stop) else last) - (start if np.isfinite(start) else first)
        mine = time_s[good & (time_s >= start) & (time_s <= stop)]
        gaps = np.diff(np.concatenate(([first], mine, [last])))
        known += float(np.where(gaps <= 3.0 * step, gaps, step).sum()) if mine.size else 0.0
        total += length
    return round(min(known / total, 1.0), 6) if total > 0 else 1.0
