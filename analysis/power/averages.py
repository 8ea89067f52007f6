"""Mean power of a run from the balance at each sample: energies summed over the window, not noisy products.

Public: `PowerBasis`, `Averages`, `balance_of`, `average_power`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.driveline.tire import TireFit
from passband.analysis.power.balance import STALL_TORQUE_RATIO, Balance, balance, integrate
from passband.analysis.power.clutch_heat import clutch_heat
from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.facts import Facts
from passband.analysis.power.may_slip import SETTLE_S
from passband.analysis.quantities import FloatArray, IntArray
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
    end_s: float
    """Finish or lift; the window starts at 0. [s, ET]"""
    stall_ratio: float = STALL_TORQUE_RATIO
    """A converter's torque multiplication at stall. [-]"""


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
    parts, series, end = balance_of(case), case.series, case.end_s
    time = series.time_s
    speed = series.speed_mps
    start_v, end_v = (float(v) for v in np.interp([0.0, end], time, speed))
    load_w = parts.ground_w - case.facts.rolling_mass * series.acceleration_mps2 * speed
    load_w = np.where(speed > 0.05, load_w, 0.0)
    kinetic = 0.5 * case.facts.rolling_mass * (end_v**2 - start_v**2)
    ground = (kinetic + integrate(time, load_w, start_s=0.0, stop_s=end)) / end
    pulls = _pulls(series, parts.force_n, end)
    clutch = [integrate(time, parts.clutch_w, start_s=a, stop_s=b) for a, b in pulls]
    total_gain, *own = _kinetic_gains(case, [(0.0, end), *pulls])
    length = sum(b - a for a, b in pulls)
    total = integrate(time, parts.clutch_w, start_s=0.0, stop_s=end) + total_gain
    heat = _heat_of_shifts(case, parts)
    total += sum(joules for joules, _ in heat)
    distance = integrate(time, speed, start_s=0.0, stop_s=end)
    over_distance = integrate(time, parts.brake_w * speed, start_s=0.0, stop_s=end) / distance
    over_distance += sum(joules * mps for joules, mps in heat) / distance
    pulling = (sum(clutch) + sum(own)) / length
    burnt = clutch_heat(series, parts, case.facts, end_s=end)
    return Averages(float(ground), float(total / end), float(pulling), float(over_distance), burnt)


def _pulls(series: DrivelineSeries, force_n: FloatArray, end_s: float) -> list[tuple[float, float]]:
    """Stretches of the window between the shifts, their ends between samples. [s]."""
    pulls, start = [], 0.0
    for begins, ends in sorted((*series.shifts_s, *_out_of_gear(series, force_n))):
        if start < min(begins, end_s):
            pulls.append((start, min(begins, end_s)))
        start = max(start, ends)
    return [*pulls, (start, end_s)] if start < end_s else pulls


def _out_of_gear(series: DrivelineSeries, force_n: FloatArray) -> list[tuple[float, float]]:
    """Where no gear drives though an engine runs ahead: a missed gear or a flare, part of a shift wherever it was laid.

    A lift in gear keeps the engine at its gear and counts as pulling. [s]
    """
    free = series.slipping & (series.time_s > 0) & (force_n < DRIVES_AT * np.nanmax(force_n))
    stretches = [(float(series.time_s[p.start]), float(series.time_s[p.stop - 1])) for p in find_true_runs(free)]
    return [(start, stop) for start, stop in stretches if stop - start > LEAST_OUT_OF_GEAR_S]


def _kinetic_gains(case: PowerBasis, stretches_s: list[tuple[float, float]]) -> list[float]:
    """Energy that went into the spin of engine and gearbox input over each stretch. [J]."""
    ends_s = np.array(stretches_s, dtype=np.float64)
    at_s = ends_s.ravel()
    index = np.minimum(np.searchsorted(case.series.time_s, at_s), case.series.time_s.size - 1)
    if case.series.converter:  # whose next gear takes up as the shift starts: a stretch ends in the gear it was in
        index[1::2] = np.maximum(index[1::2] - 1, 0)
    turned = case.series.turns_rad_per_m[index] * case.tire.rest_speed(case.series.speed_mps)[index]
    engine = _engine_at(case, at_s, index, turned).reshape(ends_s.shape)
    gearbox = np.nan_to_num(turned, nan=0.0).reshape(ends_s.shape)
    gained = case.facts.engine_inertia.value * (engine[:, 1] ** 2 - engine[:, 0] ** 2)
    gained += case.facts.input_inertia.value * (gearbox[:, 1] ** 2 - gearbox[:, 0] ** 2)
    return [float(joules) for joules in 0.5 * gained]


def _heat_of_shifts(case: PowerBasis, parts: Balance) -> list[tuple[float, float]]:
    """What clutch and dogs turned to heat in each fast shift beyond the slip as measured, and the speed. [J], [m/s].

    An engine that the next gear pulls down from one speed to another, as a heavy body meets a light one, gives half of
    Je (difference)^2 to whatever slips between them; the log's engine speed is too coarse to show that in a fast shift.
    """
    series = case.series
    if series.converter or case.engine is None:
        return []
    locked = series.turns_rad_per_m * case.tire.rest_speed(series.speed_mps)
    eta = case.facts.efficiency.value
    slipped = parts.clutch_w - parts.hub_w * np.where(parts.hub_w > 0, 1.0 / eta, eta)
    inside = (series.time_s >= 0) & (series.time_s <= case.end_s)
    settle, heat = round(SETTLE_S / series.step_s), []
    for shift in find_true_runs(inside & series.shifting):
        if (shift.stop - shift.start) * series.step_s > FAST_S:
            continue  # the engine comes down by itself, and the log shows what slips
        before, after = max(shift.start - 1, 0), min(shift.stop + 1, locked.size - 1)
        merged = 0.5 * case.facts.engine_inertia.value * (locked[before] - locked[after]) ** 2
        shown = float(np.nansum(slipped[before : after + settle])) * series.step_s
        joules = float(np.nan_to_num(max(merged - shown, 0.0), nan=0.0))
        heat.append((joules, float(series.speed_mps[after])))
    return heat


def _engine_at(case: PowerBasis, at_s: FloatArray, index: IntArray, locked: FloatArray) -> FloatArray:
    """Engine speed about moments, mean of 40 ms; beside a shift as the tires turn it; 0 where not logged. [rad/s].

    A shift pulls the engine down by a third in a few hundredths of a second, too fast for its own sensor.
    """
    if case.engine is None:
        return np.zeros(at_s.size)
    known_s = case.engine.true_time_s
    about = np.clip(at_s[:, None] + np.linspace(-0.02, 0.02, 9), known_s[0], known_s[-1])
    engine = np.asarray(case.engine.at(about).mean(axis=1) * (math.pi / 30.0))
    series = case.series
    if series.converter:
        return engine
    beside = np.array([bool(series.shifting[max(at - 3, 0) : at + 4].any()) for at in index])
    with np.errstate(divide="ignore", invalid="ignore"):
        close = np.abs(engine / locked - 1.0) < SMEARED
    return np.where(beside & ~series.spinning[index] & close, locked, engine)
