"""Two runs side by side: where on the track, in which gear and by which shift elapsed time was gained and lost.

Public: `Track`, `Change`, `Stretch`, `Part`, `Comparison`, `ShiftZone`, `compare_tracks`, `elapsed_time_difference`,
`shift_zones`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.estimate import Estimate, difference

STEP_M = 1.0
"""Step of the difference along the track: at 90 m/s a metre is 11 ms of run, finer than any split. [m]"""
BEFORE_S = 0.1
"""So much before clock start is used, so that the start line itself lies between two samples. [s]"""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of gear. Times are ET."""

    from_gear: int
    """Gear that was left."""
    to_gear: int
    """Gear that carried next."""
    start_s: float
    """Drive torque is cut. [s]"""
    end_s: float
    """The next gear carries. [s]"""


@dataclass(frozen=True, slots=True)
class Track:
    """What is compared of one run."""

    time_s: FloatArray
    """Elapsed time, rising, shape (n,). [s]"""
    distance_m: FloatArray
    """Distance from clock start, NaN where unknown, shape (n,). [m]"""
    splits: Mapping[int, Estimate]
    """Elapsed time at the marks that were reached, by feet. [s]"""
    changes: Sequence[Change] = ()
    """Changes of gear, in order; empty where none is known."""


@dataclass(frozen=True, slots=True)
class Part:
    """What one gear or one shift did to the difference."""

    kind: str
    """``gear`` or ``shift``."""
    name: str
    """``gear 2``, ``shift 2-3``; ``shifts 2-3, 3-4`` where they lie too close to be told apart."""
    from_m: float
    """Where it begins, from the start line. [m]"""
    to_m: float
    """Where it ends. [m]"""
    lost_s: float
    """How much longer the other run took over it than the first; negative: gained. [s]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """What one stretch of track did to the difference."""

    from_ft: int
    """Where it begins; 0 is the start line. [ft]"""
    to_ft: int
    """Where it ends. [ft]"""
    lost_s: Estimate
    """How much longer the other run took over it than the first; negative: gained. [s]"""


@dataclass(frozen=True, slots=True)
class Comparison:
    """The other run against the first one."""

    distance_m: FloatArray
    """Even steps from the start line to where the shorter of the two ends, shape (m,). [m]"""
    difference_s: FloatArray
    """Elapsed time of the other less that of the first there, NaN where either is unknown, shape (m,). [s]"""
    stretches: tuple[Stretch, ...]
    """From mark to mark as both reached them; their losses add up to the difference at the last."""
    total_s: Estimate | None
    """The difference at the last mark that both reached; None if there is none. [s]"""
    parts: tuple[Part, ...] = ()
    """Gear by gear and shift by shift to the same mark, or to where the shorter ends; they add up to the difference.
    A shift's part reaches from where the earlier of the two runs began it to where the later one ended it."""


def compare_tracks(first: Track, other: Track) -> Comparison:
    """Where one run gained or lost elapsed time against another.

    Parameters
    ----------
    first : Track
        The run that the other is held against.
    other : Track
        The run of interest.

    Returns
    -------
    Comparison
        Empty arrays and no stretches where the two share no track.

    Notes
    -----
    The difference at a mark is that of the two runs' splits, what both share cancelled. For a
    stretch both marks' plus-minus enter: an upper bound, since an error of the start moves both marks alike. Between
    the marks the difference follows the motion, laid on the splits at each, so that all parts add up to the same.
    """
    marks = sorted(set(first.splits) & set(other.splits))
    at = {0: Estimate(0.0, 0.0)} | {ft: difference(other.splits[ft], first.splits[ft]) for ft in marks}
    stretches = tuple(
        Stretch(a, b, Estimate(at[b].value - at[a].value, math.hypot(at[a].plus_minus, at[b].plus_minus)))
        for a, b in pairwise([0, *marks])
    )
    reach_m = min(_reach_m(first), _reach_m(other))
    grid = np.arange(0.0, reach_m, STEP_M) if reach_m > 0 else np.empty(0)
    difference_s = elapsed_time_difference(first, other, at_m=grid)
    end_m = min(marks[-1] * FOOT_M, reach_m) if marks else reach_m
    parts = _parts(first, other, end_m) if reach_m > 0 else ()
    return Comparison(grid, difference_s, stretches, at[marks[-1]] if marks else None, parts)


def elapsed_time_difference(first: Track, other: Track, *, at_m: FloatArray) -> FloatArray:
    """Elapsed time of one run less that of another at the same places.

    Parameters
    ----------
    first, other : Track
        The runs.
    at_m : array, shape (m,)
        Places, from the start line. [m]

    Returns
    -------
    array, shape (m,)
        Positive where the other was later; NaN where either run did not get to, or is unknown. [s]

    Examples
    --------
    >>> time_s = np.arange(0.0, 11.0)
    >>> quick = Track(time_s, 50.0 * time_s, {})
    >>> slow = Track(time_s, 40.0 * time_s, {})
    >>> elapsed_time_difference(quick, slow, at_m=np.array([0.0, 200.0, 450.0])).tolist()
    [0.0, 1.0, nan]
    """
    return _time_at(other, at_m) - _time_at(first, at_m)


def _reach_m(track: Track) -> float:
    marks_m = max(track.splits, default=0) * FOOT_M
    known = track.distance_m[np.isfinite(track.distance_m)]
    driven_m = float(known.max()) if known.size else 0.0
    return min(driven_m, marks_m) if marks_m else driven_m


def _time_at(track: Track, at_m: FloatArray) -> FloatArray:
    known = np.isfinite(track.distance_m) & (track.time_s >= -BEFORE_S)
    time_s, distance_m = track.time_s[known], track.distance_m[known]
    if time_s.size == 0:
        return np.full(at_m.shape, np.nan)
    forward = np.concatenate(([True], np.diff(np.maximum.accumulate(distance_m)) > 0))
    place_m, when_s = distance_m[forward], time_s[forward]
    passed = np.interp(at_m, place_m, when_s, left=np.nan, right=np.nan)
    return np.asarray(passed + _onto_splits(track, place_m, when_s, at_m), dtype=np.float64)


def _onto_splits(track: Track, place_m: FloatArray, when_s: FloatArray, at_m: FloatArray) -> FloatArray:
    """What brings the motion's time onto the splits: zero at the start line, straight between the marks."""
    marks = [ft for ft in sorted(track.splits) if place_m[0] <= ft * FOOT_M <= place_m[-1] + STEP_M]
    marks_m = np.array([0.0, *(ft * FOOT_M for ft in marks)])
    slip_s = np.array([0.0, *(track.splits[ft].value for ft in marks)])
    off = slip_s - np.interp(marks_m, place_m, when_s)
    return np.interp(at_m, marks_m, np.concatenate(([0.0], off[1:])))


@dataclass(frozen=True, slots=True)
class ShiftZone:
    """Where either of two runs was shifting."""

    names: tuple[str, ...]
    """``2-3``; several where they lie too close to be told apart."""
    from_m: float
    """Where the earlier of the two began. [m]"""
    to_m: float
    """Where the later one ended. [m]"""
    next_gear: int
    """Gear that carried next."""

    @property
    def title(self) -> str:
        """``shift 2-3``; ``shifts 2-3, 3-4``."""
        return f"shift{'s' * (len(self.names) > 1)} {', '.join(self.names)}"


def _parts(first: Track, other: Track, end_m: float) -> tuple[Part, ...]:
    """Cut the track at the shifts of both runs."""
    zones = [zone for zone in shift_zones(first, other) if zone.from_m < end_m]
    if not zones:
        return ()
    edges: list[tuple[str, str, float, float]] = []
    at_m, gear = 0.0, int(zones[0].names[0].split("-")[0])
    for zone in zones:
        edges.append(("gear", f"gear {gear}", at_m, max(zone.from_m, 0.0)))
        edges.append(("shift", zone.title, max(zone.from_m, 0.0), min(zone.to_m, end_m)))
        at_m, gear = min(zone.to_m, end_m), zone.next_gear
    edges.append(("gear", f"gear {gear}", at_m, end_m))
    edges = [edge for edge in edges if edge[3] > edge[2]]
    marks = np.array([edges[0][2], *(edge[3] for edge in edges)])
    difference = elapsed_time_difference(first, other, at_m=marks)
    lost = np.diff(np.concatenate(([0.0], difference[1:])))
    return tuple(Part(*edge, float(loss)) for edge, loss in zip(edges, lost, strict=True))


def shift_zones(first: Track, other: Track) -> list[ShiftZone]:
    """Shifts of two runs by place, the same shift of both as one, those that overlap as one.

    Parameters
    ----------
    first, other : Track
        The runs.

    Returns
    -------
    list of ShiftZone
        In order of place; empty where neither changes gear.
    """
    spans: dict[tuple[str, ...], ShiftZone] = {}
    for track in (first, other):
        for zone in _zones_of(track):
            old = spans.get(zone.names, zone)
            spans[zone.names] = replace(zone, from_m=min(old.from_m, zone.from_m), to_m=max(old.to_m, zone.to_m))
    zones: list[ShiftZone] = []
    for zone in sorted(spans.values(), key=lambda one: one.from_m):
        if zones and zone.from_m <= zones[-1].to_m:
            last = zones.pop()
            to_m = max(last.to_m, zone.to_m)
            zones.append(replace(zone, names=(*last.names, *zone.names), from_m=last.from_m, to_m=to_m))
        else:
            zones.append(zone)
    return zones


def _zones_of(track: Track) -> list[ShiftZone]:
    """Those of one run alone."""
    known = np.isfinite(track.distance_m)
    if not known.any():
        return []
    ends = np.array([[change.start_s, change.end_s] for change in track.changes]).reshape(-1, 2)
    place = np.interp(ends, track.time_s[known], track.distance_m[known])
    return [
        ShiftZone((f"{change.from_gear}-{change.to_gear}",), float(a), float(b), change.to_gear)
        for change, (a, b) in zip(track.changes, place, strict=True)
    ]
