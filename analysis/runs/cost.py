"""What each part of the track cost at the finish: where time was lost, beside where it went by.

A car that leaves a corner of its run slower is late all the way to the line, though nothing more goes wrong there. Time
that went by on a part says where the other run was late; cost says on which part that came about.

Public: `CostPart`, `PairCosts`, `compare_costs`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.runs.companions import Companions, measure_companions, watch
from passband.analysis.runs.compare import ShiftZone, shift_zones
from passband.analysis.runs.compared_run import PRINTED_S, ComparedRun
from passband.analysis.runs.fair_pairs import cars_unlike, tell_pair, tell_places
from passband.analysis.widths.pairs_table import COST, ELAPSED

STEP_M = 0.25
"""Step along the track of the weights. [m]"""
LEAST_MPS = 0.5
"""A car that rolls through the beam goes at least so fast. [m/s]"""
LAUNCH_M = 18.288
"""Where nothing shows when the clutch locked, the launch ends at the 60 ft mark. [m]"""
SAME_PLACE_M = 0.5
"""Marks and ends this close are one place. [m]"""


@dataclass(frozen=True, slots=True)
class CostPart:
    """One part of the track. Positive: the other run was slower."""

    kind: str
    """``launch``, ``gear`` or ``shift``."""
    name: str
    """``launch``, ``gear 2``, ``shift 2-3``; ``shifts 2-3, 3-4`` where they lie too close to be told apart."""
    from_m: float
    """Where it begins, from the start line. [m]"""
    to_m: float
    """Where it ends. [m]"""
    elapsed_s: Estimate
    """How much longer the other run was on it: where time went by. [s]"""
    cost_s: Estimate
    """What happened on it made of the difference at the end, power taken to be the same after it. [s]"""
    cost_constant_force_s: float
    """The same with force taken to be the same after it: the other end of the bracket. [s]"""
    beside: Companions
    """What was measured on it; that it is the cause, a log cannot show."""


@dataclass(frozen=True, slots=True)
class PairCosts:
    """One run held against another."""

    label: str
    """Of the other run."""
    difference_s: Estimate
    """Elapsed time of the other less the base's, at `at_m`. [s]"""
    at_m: float
    """The finish, or the last place that both reached under power. [m]"""
    parts: tuple[CostPart, ...]
    """In order of place; both columns add up to the difference."""
    findings: tuple[Finding, ...]
    """What must be known of the pair."""


def compare_costs(base: ComparedRun, other: ComparedRun) -> PairCosts | None:
    """Say where one run lost time against another, and where that came about.

    Parameters
    ----------
    base : ComparedRun
        The run that the other is held against.
    other : ComparedRun
        The run of interest.

    Returns
    -------
    PairCosts or None
        None where the two share no track.

    Notes
    -----
    With c = v^3 / 3 a motor of constant power adds to c alike at any speed (a v = dc/dx). For runs A and B over
    distance, with k = 3 / (vA vB (vA^2 + vA vB + vB^2)) and W(x) the integral of k from x to the end, the difference of
    times is minus the integral of (cB - cA) k dx, exactly. By parts, a part from a to b cost the time lost on it
    + (cB - cA)(a) W(a) - (cB - cA)(b) W(b): nothing is differentiated. What the cars' speeds differ by at the beam came
    about before it and counts to the launch. With c = v^2 / 2 and k = 2 / (vA vB (vA + vB)) the same holds for constant
    force. A part's plus-minus comes from moving the speeds by each of their own errors through the same formulas.
    """
    end_m = min(base.under_power_to_m, other.under_power_to_m)
    if not end_m > SAME_PLACE_M or min(base.time_s.size, other.time_s.size) < 10:
        return None
    zones = [zone for zone in shift_zones(base.track, other.track) if zone.from_m < end_m - SAME_PLACE_M]
    cuts = _cuts(base, other, zones, end_m)
    edges_m = np.array([0.0, *(cut.to_m for cut in cuts)])
    booked = _Booking(base, other, edges_m)
    total = _total(base, other, end_m, booked)
    values = booked.as_run(total.value)
    own, shared = booked.errors(values)
    start = math.sqrt(max(total.plus_minus**2 - float(np.sum(own[:, 0], axis=1) @ np.sum(own[:, 0], axis=1)), 0.0))
    watched = watch(base), watch(other)
    parts = tuple(
        CostPart(
            cut.kind,
            cut.name,
            cut.from_m,
            cut.to_m,
            elapsed_s=_estimate(values, ELAPSED.get(cut.kind, 1.0) * own, shared, row=0, place=place, also=start),
            cost_s=_estimate(values, COST.get(cut.kind, 1.0) * own, shared, row=1, place=place, also=start),
            cost_constant_force_s=float(values[2, place]),
            beside=measure_companions(*watched, kind=cut.kind, name=cut.name, from_m=cut.from_m, to_m=cut.to_m),
        )
        for place, cut in enumerate(cuts)
    )
    findings = (*tell_pair(base, other, end_m), *tell_places(base, other, zones))
    return PairCosts(other.label, total, end_m, parts, findings)


def _estimate(
    values: FloatArray, own: FloatArray, shared: dict[str, FloatArray], *, row: int, place: int, also: float
) -> Estimate:
    """One cell; the doubt of the clocks' start belongs to the launch."""
    alone = float(np.sqrt(np.sum(own[:, row, place] ** 2)))
    if place == 0:
        alone = math.hypot(alone, also)
    together = {cause: float(moved[row, place]) for cause, moved in shared.items()}
    return Estimate.parted(float(values[row, place]), alone, together)


def _total(base: ComparedRun, other: ComparedRun, end_m: float, booked: _Booking) -> Estimate:
    """Elapsed time of the other less the base's where both end."""
    mark = next((ft for ft in base.track.splits if abs(ft * FOOT_M - end_m) < SAME_PLACE_M), None)
    if mark is None or mark not in other.track.splits:
        own, shared = booked.errors(booked.as_run(None))
        starts = math.hypot(*(run.review.window.clock_start_plus_minus_s for run in (base, other)))
        ways = float(np.sqrt(np.sum(np.sum(own[:, 0], axis=1) ** 2)))
        together = {cause: float(np.sum(moved[0])) for cause, moved in shared.items()}
        return Estimate.parted(float(np.sum(booked.as_run(None)[0])), math.hypot(ways, starts), together)
    if mark in base.slip_s and mark in other.slip_s:
        return Estimate.parted(round(other.slip_s[mark] - base.slip_s[mark], 6), 2 * PRINTED_S, {})
    return difference(other.track.splits[mark], base.track.splits[mark], apart=cars_unlike(base, other))


@dataclass(frozen=True, slots=True)
class _Cut:
    kind: str
    name: str
    from_m: float
    to_m: float


def _cuts(base: ComparedRun, other: ComparedRun, zones: Sequence[ShiftZone], end_m: float) -> list[_Cut]:
    """Cut the track at the launch's end and at the shifts of both runs."""
    first_m = zones[0].from_m if zones else end_m
    launch_m = min(max(_launched_m(run) for run in (base, other)), max(first_m, SAME_PLACE_M), end_m)
    cuts, at_m = [_Cut("launch", "launch", 0.0, launch_m)], launch_m
    gear = zones[0].names[0].split("-")[0] if zones else _first_gear(base)
    for zone in zones:
        cuts.append(_Cut("gear", f"gear {gear}", at_m, max(zone.from_m, at_m)))
        cuts.append(_Cut("shift", zone.title, cuts[-1].to_m, min(max(zone.to_m, cuts[-1].to_m), end_m)))
        at_m, gear = cuts[-1].to_m, str(zone.next_gear)
    cuts.append(_Cut("gear", f"gear {gear}" if gear else "the pull", at_m, end_m))
    return [cut for cut in cuts if cut.to_m > cut.from_m]


def _first_gear(run: ComparedRun) -> str:
    gears = known(run.review.gears)
    return str(gears.intervals[0].gear) if gears is not None and gears.intervals else ""


def _launched_m(run: ComparedRun) -> float:
    """Where the clutch had locked."""
    launch = known(run.review.launch)
    if launch is None or isinstance(launch.clutch_locked_s, Unknown):
        return LAUNCH_M
    return max(float(np.interp(launch.clutch_locked_s, run.time_s, run.distance_m)), SAME_PLACE_M)


@dataclass(frozen=True, slots=True)
class _Curve:
    """One run by distance, and what brings its clock onto its marks."""

    place_m: FloatArray
    time_s: FloatArray
    speed_mps: FloatArray
    marks_m: FloatArray
    off_s: FloatArray

    def time_at(self, at_m: FloatArray) -> FloatArray:
        passed = np.interp(at_m, self.place_m, self.time_s) + np.interp(at_m, self.marks_m, self.off_s)
        return np.asarray(passed, dtype=np.float64)

    def speed_at(self, at_m: FloatArray) -> FloatArray:
        return np.maximum(np.interp(at_m, self.place_m, self.speed_mps), LEAST_MPS)


def _curve(run: ComparedRun, way: FloatArray | None = None, like: _Curve | None = None) -> _Curve:
    """A run by distance, its speed moved by one of its errors; marks of a slip hold, those of the log move along."""
    gained = np.zeros(run.time_s.size) if way is None else _along(run.time_s, way)
    distance = run.distance_m + gained
    forward = np.concatenate(([True], np.diff(np.maximum.accumulate(distance)) > 0))
    place, when = distance[forward], run.time_s[forward]
    speed = (run.speed_mps if way is None else run.speed_mps + way)[forward]
    splits = {ft: time for ft, time in run.track.splits.items() if place[0] <= ft * FOOT_M <= place[-1] + 1.0}
    marks_m = np.array([0.0, *(ft * FOOT_M for ft in splits)])
    off = np.array([0.0, *(time.value for time in splits.values())]) - np.interp(marks_m, place, when)
    if like is not None:
        holds = np.array([True, *(ft in run.slip_s for ft in splits)])
        off = np.where(holds, off, like.off_s) if off.shape == like.off_s.shape else off
    off[0] = 0.0
    return _Curve(place, when, speed, marks_m, off)


def _along(time_s: FloatArray, way: FloatArray) -> FloatArray:
    """Distance that an error of the speed makes, none at clock start. [m]."""
    gained = np.concatenate(([0.0], np.cumsum(0.5 * (way[1:] + way[:-1]) * np.diff(time_s))))
    return np.asarray(gained - np.interp(0.0, time_s, gained), dtype=np.float64)


class _Booking:
    """The formulas for one pair, ready to be asked again with a speed moved."""

    def __init__(self, base: ComparedRun, other: ComparedRun, edges_m: FloatArray) -> None:
        self._base, self._other, self._edges_m = base, other, edges_m
        self._curves = _curve(base), _curve(other)
        end_m = float(edges_m[-1])
        self._grid_m = np.linspace(0.0, end_m, max(math.ceil(end_m / STEP_M), 8) + 1)
        slow, fast = (curve.speed_at(self._grid_m) for curve in self._curves)
        self._left = {
            row: self._still_to_come(weight) for row, weight in ((1, _k_power(slow, fast)), (2, _k_force(slow, fast)))
        }

    def as_run(self, total_s: float | None) -> FloatArray:
        """Time that went by, cost at constant power, cost at constant force: shape (3, parts). [s]."""
        return self._book(*self._curves, total_s)

    def errors(self, values: FloatArray) -> tuple[FloatArray, dict[str, FloatArray]]:
        """What each error makes of them: own ways, shape (ways, 3, parts), and by shared cause."""
        total = float(np.sum(values[0])) if self._pinned else None
        base, other = self._curves
        own = [self._book(_curve(self._base, way, base), other, total) for way in self._base.errors.own]
        own += [self._book(base, _curve(self._other, way, other), total) for way in self._other.errors.own]
        shared = {}
        for cause in sorted({*self._base.errors.shared, *self._other.errors.shared}):
            curves = [
                _curve(run, run.errors.shared.get(cause), like)
                for run, like in zip((self._base, self._other), self._curves, strict=True)
            ]
            shared[cause] = self._book(curves[0], curves[1], total) - values
        moved = [one - values for one in own] + list(self._of_edges()) + list(self._of_prints())
        return np.array(moved).reshape(-1, *values.shape), shared

    def _of_edges(self) -> Iterator[FloatArray]:
        """What an error of each speed right at an edge moves from the part before it to the part after it.

        A speed's known ways are slower than a shift. About a shift, where acceleration leaps, the speed may be off by
        as much again, there alone.
        """
        pace = self._curves[0].speed_at(self._edges_m)
        for run in (self._base, self._other):
            size = np.sqrt(np.sum(run.errors.own**2, axis=0)) if run.errors.own.size else np.zeros(run.time_s.size)
            local = np.interp(self._edges_m, run.distance_m, size)
            for edge in range(1, self._edges_m.size - 1):
                moved = np.zeros((3, self._edges_m.size - 1))
                for row, exponent in ((1, 2.0), (2, 1.0)):
                    carried = pace[edge] ** exponent * local[edge] * self._left[row][edge]
                    moved[row, edge - 1], moved[row, edge] = -carried, carried
                yield moved

    def _of_prints(self) -> Iterator[FloatArray]:
        """What the last digit of each printed time moves: the parts that end between the marks on both sides of it."""
        for run, curve in zip((self._base, self._other), self._curves, strict=True):
            for mark in run.slip_s.keys() & run.track.splits.keys():
                nearest = np.abs(curve.marks_m - mark * FOOT_M) < SAME_PLACE_M
                late = np.interp(self._edges_m, curve.marks_m, np.where(nearest, PRINTED_S, 0.0))
                yield np.repeat(np.diff(late)[None, :], 3, axis=0)

    @property
    def _pinned(self) -> bool:
        """Whether both runs' slips hold the time at the end."""
        return all(
            any(abs(ft * FOOT_M - self._edges_m[-1]) < SAME_PLACE_M for ft in run.slip_s)
            for run in (self._base, self._other)
        )

    def _book(self, base: _Curve, other: _Curve, total_s: float | None) -> FloatArray:
        late = other.time_at(self._edges_m) - base.time_at(self._edges_m)
        late[0] = 0.0
        if total_s is not None:
            late[-1] = total_s
        elapsed = np.diff(late)
        slow, fast = base.speed_at(self._grid_m), other.speed_at(self._grid_m)
        return np.array(
            [
                elapsed,
                elapsed + self._carried((fast**3 - slow**3) / 3.0, _k_power(slow, fast)),
                elapsed + self._carried((fast**2 - slow**2) / 2.0, _k_force(slow, fast)),
            ]
        )

    def _carried(self, ahead: FloatArray, weight: FloatArray) -> FloatArray:
        """(cB - cA)(a) W(a) - (cB - cA)(b) W(b) of each part; what is there at the beam came about in the launch."""
        left = np.interp(self._edges_m, self._grid_m, ahead) * self._still_to_come(weight)
        left[0] = left[-1] = 0.0
        return np.asarray(left[:-1] - left[1:], dtype=np.float64)

    def _still_to_come(self, weight: FloatArray) -> FloatArray:
        """W at the edges: the integral of k from there to the end."""
        step = float(self._grid_m[1] - self._grid_m[0])
        behind = np.concatenate(([0.0], np.cumsum(0.5 * (weight[1:] + weight[:-1]) * step)))
        return np.asarray(np.interp(self._edges_m, self._grid_m, behind[-1] - behind), dtype=np.float64)


def _k_power(slow: FloatArray, fast: FloatArray) -> FloatArray:
    return np.asarray(3.0 / (slow * fast * (slow**2 + slow * fast + fast**2)), dtype=np.float64)


def _k_force(slow: FloatArray, fast: FloatArray) -> FloatArray:
    return np.asarray(2.0 / (slow * fast * (slow + fast)), dtype=np.float64)
