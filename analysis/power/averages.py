"""Mean power of a run from the balance at each sample: energies summed over the window, not noisy products.

Public: `PowerBasis`, `Averages`, `balance_of`, `brake_with_facts`, `average_power`, `with_facts`,
`with_speed`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.driveline.tire import TireFit
from passband.analysis.power.balance import STALL_TORQUE_RATIO, Balance, alike, balance, balances, between, integrals
from passband.analysis.power.clutch_heat import clutch_heat
from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.facts import Facts, FactValues
from passband.analysis.power.may_slip import SETTLE_S
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.statistics.intervals import find_true_runs

FAST_S = 0.2
"""A shift that takes longer is made with the foot. [s]"""
SMEARED = 0.3
"""Beside a shift an engine sensor may be this far off: the mean of two gears' speeds, at the widest step. [-]"""

DRIVES_AT, LEAST_OUT_OF_GEAR_S = 0.05, 0.1
"""A gear that drives pushes with more than this share of the run's greatest force; without for so long none is in: a
swap of dogs under a cut is shorter, and is a shift. [-], [s]"""


@dataclass(frozen=True, slots=True)
class Averages:
    """Mean power of one run, each in watts, and the clutch's heat."""

    ground: float
    """Force at the contact patch times car speed, over time."""
    brake: float
    """At the flywheel before the engine's own inertia takes its share, over time, shifts counted."""
    pulling: float
    """The same without the shifts."""
    over_distance: float
    """At the flywheel, over distance."""
    clutch_heat: float
    """Into the clutch, as far as its slip shows. [J]"""


@dataclass(frozen=True, slots=True)
class PowerBasis:
    """What one run's averages are computed from; a half-width is found by moving one part of it."""

    series: DrivelineSeries
    """Motion, gears, engine, on one grid."""
    facts: Facts
    """Of car and day."""
    tire: TireFit
    """Slip of the driven tires."""
    engine: EngineSpeed | None
    """None where not logged."""
    stall_ratio: float = STALL_TORQUE_RATIO
    """A converter's torque multiplication at stall. [-]"""

    @property
    def end_s(self) -> float:
        """Finish or lift, ET, in s; the window starts at 0."""
        return self.series.end_s


def balance_of(case: PowerBasis) -> Balance:
    """Where the power went at each sample.

    Parameters
    ----------
    case : PowerBasis
        The run.

    Returns
    -------
    Balance
        On the driveline's grid.
    """
    series, tire = case.series, case.tire
    rest = tire.rest_speed(series.speed_mps)
    return balance(series, case.facts, tire.speed_mps, rest_mps=rest, stall_ratio=case.stall_ratio)


def brake_with_facts(case: PowerBasis, facts: Sequence[Facts]) -> FloatArray:
    """Power at the crank at each sample as it would be by other facts.

    Parameters
    ----------
    case : PowerBasis
        The run.
    facts : sequence of Facts
        In place of its own.

    Returns
    -------
    array, shape (m, n)
        [W]
    """
    series, tire = case.series, case.tire
    rest = tire.rest_speed(series.speed_mps)
    moved = FactValues.of(facts)
    return balances(series, moved, tire.speed_mps, rest_mps=rest, stall_ratio=case.stall_ratio).brake_w


def average_power(case: PowerBasis) -> Averages:
    """Mean power over the window.

    Parameters
    ----------
    case : PowerBasis
        The run.

    Returns
    -------
    Averages
        To the ground by the gain of kinetic energy plus road load; at the flywheel by the clutch's work, what the spin
        of engine and gearbox input gained, and the heat of the shifts.
    """
    return _averages(case, case.facts.values)[0]


def with_facts(case: PowerBasis, facts: Sequence[Facts]) -> list[Averages]:
    """Mean power as it would be by other facts.

    Parameters
    ----------
    case : PowerBasis
        The run.
    facts : sequence of Facts
        In place of its own.

    Returns
    -------
    list of Averages
        One for each, as `average_power` has them.
    """
    return _averages(case, FactValues.of(facts)) if facts else []


def with_speed(case: PowerBasis, by_mps: FloatArray) -> list[Averages]:
    """Mean power as it would be by other speeds.

    Parameters
    ----------
    case : PowerBasis
        The run.
    by_mps : array, shape (m, n)
        What each is off the run's own by. [m/s]

    Returns
    -------
    list of Averages
        One for each, as `average_power` has them.
    """
    series = case.series
    gain = np.gradient(by_mps, series.time_s, axis=-1)
    faster = replace(series, speed_mps=series.speed_mps + by_mps, acceleration_mps2=series.acceleration_mps2 + gain)
    return _averages(replace(case, series=faster), case.facts.values) if by_mps.size else []


def _averages(case: PowerBasis, facts: FactValues) -> list[Averages]:
    """Of m cases at once: `facts` of m cases, or motion of shape (m, n)."""
    series = case.series
    rest = np.atleast_2d(case.tire.rest_speed(series.speed_mps))
    parts = balances(series, facts, case.tire.speed_mps, rest_mps=rest, stall_ratio=case.stall_ratio)
    several = _Cases(case, facts, np.atleast_2d(series.speed_mps), rest, parts)
    free, same_gaps = _free(series, parts.force_n), defaultdict[tuple[tuple[float, float], ...], list[int]](list)
    for rows in alike(free):
        same_gaps[tuple(_out_of_gear(series, free[rows[0]]))] += rows.tolist()
    found = {
        row: averages
        for gaps, rows in same_gaps.items()
        for row, averages in zip(sorted(rows), _over(several.some(sorted(rows)), _pulls(series, gaps)), strict=True)
    }
    return [found[row] for row in sorted(found)]


@dataclass(frozen=True, slots=True)
class _Cases:
    """Several cases of one run at once."""

    run: PowerBasis
    """What they share."""
    facts: FactValues
    """Of m cases, or of one that stands for all."""
    speed_mps: FloatArray
    """Shape (m, n), or (1, n) for all. [m/s]"""
    rest_mps: FloatArray
    """Surface speed of the tires at rest radius, likewise. [m/s]"""
    parts: Balance
    """Shape (m, n)."""

    def some(self, rows: list[int]) -> _Cases:
        """Some of them."""
        if len(rows) == self.parts.force_n.shape[0]:
            return self
        speed, rest = (each if each.shape[0] == 1 else each[rows] for each in (self.speed_mps, self.rest_mps))
        return _Cases(self.run, self.facts.some(rows), speed, rest, self.parts.some(rows))


def _over(cases: _Cases, pulls: list[tuple[float, float]]) -> list[Averages]:
    """Averages of several cases whose pulls are the same."""
    series, end, facts, parts, speed = cases.run.series, cases.run.end_s, cases.facts, cases.parts, cases.speed_mps
    time, stretches = series.time_s, [(0.0, end), *pulls]
    ends = between(time, speed, np.array([0.0, end]))
    kinetic = 0.5 * facts.rolling_mass[:, 0] * (ends[:, 1] ** 2 - ends[:, 0] ** 2)
    load_w = np.where(speed > 0.05, parts.load_w, 0.0)
    gained = integrals(time, parts.clutch_w, stretches) + _kinetic_gains(cases, stretches)
    joules, mps = _heat_of_shifts(cases)
    distance, along = (integrals(time, each, stretches[:1])[:, 0] for each in (speed, parts.brake_w * speed))
    columns = np.broadcast_arrays(
        (kinetic + integrals(time, load_w, stretches[:1])[:, 0]) / end,
        (gained[:, 0] + joules.sum(axis=0)) / end,
        np.ascontiguousarray(gained[:, 1:]).sum(axis=1) / sum(stop - start for start, stop in pulls),
        (along + (joules * mps).sum(axis=0)) / distance,
        clutch_heat(series, parts, facts),
    )
    return [Averages(*row) for row in np.array(columns).T.tolist()]


def _pulls(series: DrivelineSeries, gaps_s: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Stretches of the window between the shifts and where no gear drives, their ends between samples. [s]."""
    pulls, start, end_s = [], 0.0, series.end_s
    for begins, ends in sorted((*series.shifts_s, *gaps_s)):
        if start < min(begins, end_s):
            pulls.append((start, min(begins, end_s)))
        start = max(start, ends)
    return [*pulls, (start, end_s)] if start < end_s else pulls


def _free(series: DrivelineSeries, force_n: FloatArray) -> BoolArray:
    """Where no gear drives though an engine runs ahead, shape (m, n).

    A lift in gear keeps the engine at its gear and counts as pulling.
    """
    weak = force_n < DRIVES_AT * np.nanmax(force_n, axis=-1, keepdims=True)
    return np.asarray(series.slipping & (series.time_s > 0) & weak, dtype=np.bool_)


def _out_of_gear(series: DrivelineSeries, free: BoolArray) -> list[tuple[float, float]]:
    """Where it lasts: a missed gear or a flare, part of a shift wherever it was laid. [s]."""
    stretches = [(float(series.time_s[p.start]), float(series.time_s[p.stop - 1])) for p in find_true_runs(free)]
    return [(start, stop) for start, stop in stretches if stop - start > LEAST_OUT_OF_GEAR_S]


def _kinetic_gains(cases: _Cases, stretches_s: list[tuple[float, float]]) -> FloatArray:
    """Energy that went into the spin of engine and gearbox input over each stretch, shape (m, stretches). [J]."""
    case, facts, at_s = cases.run, cases.facts, np.array(stretches_s, dtype=np.float64).ravel()
    index = np.minimum(np.searchsorted(case.series.time_s, at_s), case.series.time_s.size - 1)
    before, gear = np.maximum(index[1::2] - 1, 0), case.series.gear
    # where the next gear takes up as the shift starts: a stretch ends in the gear it was in
    index[1::2] = np.where(case.series.converter | (gear[before] != gear[index[1::2]]), before, index[1::2])
    turned = case.series.turns_rad_per_m[index] * cases.rest_mps[:, index]
    engine, gearbox = _engine_at(case, at_s, index, turned) ** 2, np.nan_to_num(turned, nan=0.0) ** 2
    gained = facts.engine_inertia * (engine[:, 1::2] - engine[:, ::2])
    return 0.5 * (gained + facts.input_inertia * (gearbox[:, 1::2] - gearbox[:, ::2]))


def _heat_of_shifts(cases: _Cases) -> tuple[FloatArray, FloatArray]:
    """What clutch and dogs turned to heat in each fast shift beyond the slip as measured, and the speed. [J], [m/s].

    Both of shape (shifts, m). An engine that the next gear pulls down from one speed to another, as a heavy body meets
    a light one, gives half of Je (difference)^2 to whatever slips between them; the log's engine speed is too coarse to
    show that in a fast shift.
    """
    case, series, facts, parts = cases.run, cases.run.series, cases.facts, cases.parts
    joules, mps = [], []
    inside = (series.time_s >= 0) & (series.time_s <= case.end_s)
    settle, locked = round(SETTLE_S / series.step_s), series.turns_rad_per_m * cases.rest_mps
    for shift in [] if series.converter or case.engine is None else find_true_runs(inside & series.shifting):
        if (shift.stop - shift.start) * series.step_s > FAST_S:
            continue  # the engine comes down by itself, and the log shows what slips
        before, after = max(shift.start - 1, 0), min(shift.stop + 1, locked.shape[-1] - 1)
        merged = 0.5 * facts.engine_inertia[:, 0] * (locked[:, before] - locked[:, after]) ** 2
        part = slice(before, after + settle)
        hub_w = parts.hub_w[:, part]
        slipped = parts.clutch_w[:, part] - hub_w * np.where(hub_w > 0, 1.0 / facts.efficiency, facts.efficiency)
        shown = np.nansum(np.ascontiguousarray(slipped), axis=1) * series.step_s
        joules.append(np.nan_to_num(np.maximum(merged - shown, 0.0), nan=0.0))
        mps.append(np.broadcast_to(cases.speed_mps[:, after], joules[-1].shape))
    none = np.zeros((0, 1))
    return (np.array(joules), np.array(mps)) if joules else (none, none)


def _engine_at(case: PowerBasis, at_s: FloatArray, index: IntArray, locked: FloatArray) -> FloatArray:
    """Engine speed about moments, mean of 40 ms; beside a shift as the tires turn it; 0 where not logged. [rad/s].

    Of the shape of `locked`, (m, k).

    A shift pulls the engine down by a third in a few hundredths of a second, too fast for its own sensor.
    """
    if case.engine is None:
        return np.zeros(locked.shape)
    known_s = case.engine.true_time_s
    about = np.clip(at_s[:, None] + np.linspace(-0.02, 0.02, 9), known_s[0], known_s[-1])
    engine = np.asarray(case.engine.at(about).mean(axis=1) * (math.pi / 30.0))
    series = case.series
    if series.converter:
        return np.broadcast_to(engine, locked.shape)
    beside = np.array([bool(series.shifting[max(at - 3, 0) : at + 4].any()) for at in index])
    with np.errstate(divide="ignore", invalid="ignore"):
        close = np.abs(engine / locked - 1.0) < SMEARED
    return np.where(beside & ~series.spinning[index] & close, locked, engine)
