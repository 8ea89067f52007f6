"""What was measured on a part beside the time lost on it: wheelspin, a lift, the limiter, boost, the shift.

These stand beside a cost; that they caused it, a log cannot show.

Public: `Pair`, `WordPair`, `Companions`, `Watched`, `watch`, `measure_companions`,
`lifted_s`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.estimate import LEFT_OUT_UNLESS_SAID, Estimate
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.results.unknown import known
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.sensors.priors import LIFTED
from passband.analysis.shifts.interruptions import (
    AROUND_SHIFT_S,
    BEFORE_S,
    LEAST_LIFT_S,
    LEAST_LIMITER_S,
    RISING_RPM_PER_S,
    STUCK_RPM_PER_S,
    STUCK_SPAN_S,
    TOP_SHARE,
)
from passband.analysis.statistics.intervals import find_true_runs

STEP_BEFORE_S = 0.05
"""A foot that lifts for a shift begins so much before it. [s]"""
LEAST_BOOST_PA = 3000.0
"""Boost that differs by less over a part is the same boost: what sensors and shifts scatter by. [Pa]"""
ON_BOOST_PA = 10e3
"""An engine whose mean boost stays below is not boosted: its manifold shows the throttle. [Pa]"""
LEAST_SPIN_S = 0.02
"""Wheelspin that differs by less is the same wheelspin. [s]"""


@dataclass(frozen=True, slots=True)
class Pair:
    """One measure of both runs."""

    base: float | None
    """Of the run that the other is held against."""
    other: float | None
    """Of the other."""


@dataclass(frozen=True, slots=True)
class WordPair:
    """What something was in both runs."""

    base: str | None
    """In the run that the other is held against."""
    other: str | None
    """In the other."""


@dataclass(frozen=True, slots=True)
class Companions:
    """What was measured on one part; what is the same for both runs is left out."""

    wheelspin_s: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Time with the tires spinning. [s]"""
    lift_s: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Time with the foot off between shifts. [s]"""
    limiter_s: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Time on the limiter. [s]"""
    boost_pa: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Mean boost over the part, gauge. [Pa]"""
    shift_kind: WordPair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """What the shift was, where it was not an ordinary one in both."""
    shift_at_m: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Where the shift began. [m]"""
    shift_duration_s: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """How long it took. [s]"""
    rpm_before: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Engine speed where it began. [rpm]"""
    rpm_at_launch: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Engine speed as the car left. [rpm]"""
    rpm_lowest: Pair | None = field(default=None, metadata=LEFT_OUT_UNLESS_SAID)
    """Lowest engine speed as the clutch bit. [rpm]"""


@dataclass(frozen=True, slots=True)
class Watched:
    """A run, and what held it back at each of its rows: looked for once, then summed over any parts."""

    run: ComparedRun
    """The run."""
    lifted_s: FloatArray | None
    """Time that each row stands for where the foot was off, else zero; None where no throttle is logged. [s]"""
    limited_s: FloatArray | None
    """The same where the engine stood on its limiter; None where no engine speed is logged. [s]"""


def watch(run: ComparedRun) -> Watched:
    """Look where a run was held back.

    Parameters
    ----------
    run : ComparedRun
        Any.

    Returns
    -------
    Watched
        For `measure_companions`.
    """
    return Watched(run, _lifted(run), _limited(run))


def measure_companions(
    base: Watched, other: Watched, *, kind: str, name: str, from_m: float, to_m: float
) -> Companions:
    """Measure what stands beside the time lost on one part.

    Parameters
    ----------
    base, other : Watched
        The two runs.
    kind, name : str
        The part's: ``shift``, ``shift 2-3``.
    from_m, to_m : float
        The part. [m]

    Returns
    -------
    Companions
        Only what is there in one of them and differs.
    """
    runs = base.run, other.run
    there = [_under_power(run, from_m, to_m) for run in runs]
    spin, boost = (Pair(*(measure(run, from_m, to_m) for run in runs)) for measure in (_spun_s, _mean_boost_pa))
    lift = Pair(*map(_within, (base.lifted_s, other.lifted_s), there))
    limit = Pair(*map(_within, (base.limited_s, other.limited_s), there))
    launch, shifts = kind == "launch", [_named(run, name) if kind == "shift" else None for run in runs]
    return Companions(
        wheelspin_s=_unless_alike(spin, LEAST_SPIN_S),
        lift_s=_unless_alike(lift, LEAST_LIFT_S / 2),
        limiter_s=_unless_alike(limit, LEAST_LIMITER_S / 2),
        boost_pa=_unless_alike(boost, LEAST_BOOST_PA) if _boosted(boost) else None,
        shift_kind=_kinds(shifts),
        shift_at_m=_unless_alike(Pair(*(known(one.distance_m) if one else None for one in shifts)), 0.5),
        shift_duration_s=_unless_alike(Pair(*(one.duration_s if one else None for one in shifts)), 0.02),
        rpm_before=_unless_alike(Pair(*(_value(known(one.rpm_before)) if one else None for one in shifts)), 50.0),
        rpm_at_launch=_unless_alike(_of_launch(runs, "rpm_at_launch"), 50.0) if launch else None,
        rpm_lowest=_unless_alike(_of_launch(runs, "rpm_lowest"), 50.0) if launch else None,
    )


def _value(estimate: Estimate | None) -> float | None:
    return estimate.value if estimate is not None else None


def _of_launch(runs: tuple[ComparedRun, ComparedRun], name: str) -> Pair:
    launches = (known(run.review.launch) for run in runs)
    return Pair(*(_value(known(getattr(launch, name))) if launch is not None else None for launch in launches))


def _unless_alike(pair: Pair, least: float) -> Pair | None:
    if pair.base is None or pair.other is None:
        return None
    return pair if abs(pair.other - pair.base) >= least else None


def _boosted(pair: Pair) -> bool:
    return any(one is not None and one > ON_BOOST_PA for one in (pair.base, pair.other))


def _kinds(shifts: Iterable[Shift | None]) -> WordPair | None:
    kinds = [shift.kind if shift is not None else None for shift in shifts]
    if all(kind in (None, ShiftKind.NORMAL, ShiftKind.CONVERTER) for kind in kinds):
        return None
    return WordPair(*(kind.value if kind is not None else None for kind in kinds))


def _named(run: ComparedRun, name: str) -> Shift | None:
    return next((one for one in run.review.shifts if name == f"shift {one.from_gear}-{one.to_gear}"), None)


def _there(run: ComparedRun, from_m: float, to_m: float) -> BoolArray:
    return np.asarray((run.distance_m >= from_m) & (run.distance_m < to_m), dtype=np.bool_)


def _between_shifts(run: ComparedRun) -> BoolArray:
    free = np.ones(run.time_s.size, dtype=np.bool_)
    for shift in run.review.shifts:
        free &= (run.time_s < shift.time_s - STEP_BEFORE_S) | (run.time_s > shift.end_s + AROUND_SHIFT_S)
    return free


def _spun_s(run: ComparedRun, from_m: float, to_m: float) -> float | None:
    distance = known(run.review.distance)
    if distance is None or run.time_s.size < 2:
        return None
    start_s, end_s = np.interp([from_m, to_m], run.distance_m, run.time_s)
    return float(sum(max(min(one.end_s, end_s) - max(one.start_s, start_s), 0.0) for one in distance.wheelspin))


def _under_power(run: ComparedRun, from_m: float, to_m: float) -> BoolArray:
    return _there(run, from_m, min(to_m, run.under_power_to_m))


def _within(by_row_s: FloatArray | None, there: BoolArray) -> float | None:
    return float(np.sum(by_row_s[there])) if by_row_s is not None else None


def _lasting(run: ComparedRun, mask: BoolArray, least_s: float) -> FloatArray:
    """Time that each row stands for where something lasted, else zero."""
    lasting = np.zeros(mask.size)
    steps_s = np.gradient(run.time_s) if mask.size > 1 else lasting
    for piece in find_true_runs(mask):
        if run.time_s[piece.stop - 1] - run.time_s[piece.start] >= least_s:
            lasting[piece.start : piece.stop] = steps_s[piece.start : piece.stop]
    return lasting


def lifted_s(run: ComparedRun, from_m: float, to_m: float) -> float | None:
    """How long the foot was off between the shifts.

    Parameters
    ----------
    run : ComparedRun
        Any.
    from_m, to_m : float
        Where to look. [m]

    Returns
    -------
    float or None
        None where no throttle is logged. [s]
    """
    return _within(_lifted(run), _under_power(run, from_m, to_m))


def _lifted(run: ComparedRun) -> FloatArray | None:
    throttle = run.channels.get("throttle")
    if throttle is None or not np.isfinite(throttle).any():
        return None
    down = (throttle < LIFTED * float(np.nanquantile(throttle, 0.9))) & _between_shifts(run) & (run.time_s > 0)
    for piece in find_true_runs(down):  # the lift that ends the run is none of its faults
        if run.distance_m[piece.stop - 1] >= run.under_power_to_m:
            down[piece.start : piece.stop] = False
    return _lasting(run, down, LEAST_LIFT_S)


def _limited(run: ComparedRun) -> FloatArray | None:
    rpm = run.channels.get("engine_speed")
    free = _between_shifts(run) & (run.time_s > AROUND_SHIFT_S)
    if rpm is None or not np.isfinite(rpm[free]).any():
        return None
    flat = np.abs(_slope(run.time_s, rpm)) < STUCK_RPM_PER_S
    stuck = free & flat & (rpm > TOP_SHARE * float(np.nanmax(rpm[free])))
    for piece in find_true_runs(stuck):  # an engine out of breath at the line rises slowly all along
        start_s = run.time_s[piece.start] - STUCK_SPAN_S
        earlier, at = np.interp([start_s - BEFORE_S, start_s], run.time_s, rpm)
        stuck[piece.start : piece.stop] = at - earlier > RISING_RPM_PER_S * BEFORE_S
    return _lasting(run, stuck, LEAST_LIMITER_S)


def _slope(time_s: FloatArray, values: FloatArray) -> FloatArray:
    half = STUCK_SPAN_S / 2
    rise = np.interp(time_s + half, time_s, values) - np.interp(time_s - half, time_s, values)
    return np.asarray(rise / STUCK_SPAN_S, dtype=np.float64)


def _mean_boost_pa(run: ComparedRun, from_m: float, to_m: float) -> float | None:
    boost, there = run.channels.get("boost"), _there(run, from_m, to_m)
    if boost is None or not np.isfinite(boost[there]).any():
        return None
    return float(np.nanmean(boost[there]))
