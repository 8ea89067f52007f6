"""The wind of each run as its own gears show it: a wind that nobody gave moves power in the high gears, not in first.

Public: `GearWinds`, `find_gear_winds`, `told_wind_w`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.power.facts import NOT_GIVEN_WIND_HALF_WIDTH_MPS, WIND_GIVEN_MPS
from passband.analysis.quantities import FloatArray
from passband.analysis.results.air import AirState
from passband.analysis.results.estimate import DAY
from passband.analysis.results.power import Power
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.compared_run import ComparedRun

GEAR_SIGMA = 0.006
"""How a run's gears differ from each other by the speed's own noise, one sigma: measured on simulated runs with an
undriven wheel logged, first gear against second. [-]"""
GEAR_DRIFT = 0.002
"""How they differ from one day to another the same way in all runs, one sigma: a third of one run's noise, as devices
are the same. Chosen, no source. [-]"""

MOST_SIGMAS = 2.0
"""Gears that stand no further apart than so many times that, wind taken out, are as sure as usual. Chosen. [-]"""
WEATHER_MPS = 3.3
"""95 % of what a day's wind blows along a strip where nobody gave it, as two days' winds differ: where the wind ten
metres up is 3.5 m/s on the mean of all days (by Rayleigh's law 2.8 m/s one sigma each way), and six tenths of it at a
car's height over mown grass (the logarithmic law, roughness 0.03 m). [m/s]"""
MAST_SHARE = 0.3
"""95 % of a wind that was given, as a share of it: a hand or a mast two to ten metres up meets 1.1 to 1.6 times what a
car does a metre above the ground, by the same law, and a day's instrument stays where it is. [-]"""

Z_95 = 1.96
"""Half-width of 95 % over one sigma. [-]"""


@dataclass(frozen=True, slots=True)
class GearWinds:
    """What each run's wind did to power, against the runs' mean."""

    of_cells: FloatArray
    """Change of ln power, shape (runs, cells). [-]"""
    of_average_w: FloatArray
    """Change of the run's average power, shape (runs,). [W]"""
    left: FloatArray
    """95 % of what the gears do not show of it in ln power, shape (runs, cells): the same way for runs of a day. [-]"""
    left_of_average_w: FloatArray
    """The same in average power, shape (runs,). [W]"""


def find_gear_winds(runs: Sequence[ComparedRun], cells: CellGrid, days: Sequence[int]) -> GearWinds:
    """Find each run's wind from how its gears stand to each other.

    Parameters
    ----------
    runs : sequence of ComparedRun
        Runs of one car.
    cells : CellGrid
        Their cells.
    days : sequence of int
        Which day each is of: its wind is a draw of its own, and all runs of it share it.

    Returns
    -------
    GearWinds
        Zero where no two gears share a class, or wind leaves nothing open.

    Notes
    -----
    A wind w along the strip changes power by rho CdA v^2 w over efficiency: one unknown a run, by its square of speed.
    In one class of engine speed the engine makes the same power in every gear; by how much more the high gears show
    than in the mean of all runs is the wind, held to what the review leaves open for it. Whatever changed in the
    engine moves all gears of a class alike and is not touched. A run's wind is its day's and what its own minute adds:
    all runs of a day witness the first together, so that four tell it twice as surely as one. What they leave open of
    it stays in a difference of two days, whatever the runs of each agree upon.
    """
    if not cells.size:
        none = np.zeros(len(runs))
        return GearWinds(np.zeros_like(cells.log_power), none, np.zeros_like(cells.log_power), none)
    by_wind, seen = _witnessed(cells)
    squared = np.array([_mean_square_of_speed(run) for run in runs])
    of_day, of_run = (_sigmas(runs, squared) / Z_95).T
    found, left = np.zeros(len(runs)), np.zeros(len(runs))
    for day in np.unique(days):
        one = np.asarray(days) == day
        found[one], left[one] = _of_one_day(by_wind[one], seen[one], of_day[one], of_run[one])
        fewer = _unlike_beyond_wind(cells, found)[one].mean()
        if fewer > 1.0:
            found[one], left[one] = _of_one_day(by_wind[one] / fewer, seen[one] / fewer, of_day[one], of_run[one])
    return GearWinds(
        found[:, None] * cells.wind, found * squared, Z_95 * left[:, None] * cells.wind, Z_95 * left * squared
    )


def told_wind_w(run: ComparedRun) -> float:
    """What the wind that was given did for a run, as average power: a tail wind's is positive.

    Parameters
    ----------
    run : ComparedRun
        Any.

    Returns
    -------
    float
        By what the review leaves open of average power for what it leaves open of the wind; 0 where none was given. [W]
    """
    air, power = run.review.air, known(run.review.power)
    if air is None or air.wind_mps is None or power is None:
        return 0.0
    open_w = next((one.plus_minus_w for one in power.shares if one.source == "wind"), 0.0)
    open_mps = air.wind_plus_minus_mps if air.wind_plus_minus_mps is not None else WIND_GIVEN_MPS
    return open_w / open_mps * air.wind_mps if open_mps > 0 else 0.0


def _off(cells: CellGrid) -> FloatArray:
    """Each run's ln power less the runs' mean, at one manifold pressure. Shape (runs, cells)."""
    off = cells.log_power - cells.log_power.mean(axis=0)
    if cells.log_charge is not None:
        off = off - (cells.log_charge - cells.log_charge.mean(axis=0))
    return np.asarray(off, dtype=np.float64)


def _witnessed(cells: CellGrid) -> tuple[FloatArray, FloatArray]:
    """For each run: what its gears say of its wind times how surely, and how surely (one over sigma squared)."""
    off = _off(cells)
    weight, runs = _weights(cells), off.shape[0]
    by_wind, seen = np.zeros(runs), np.zeros(runs)
    for low in np.unique(cells.low_rpm):
        one = cells.low_rpm == low
        if one.sum() > 1:
            share = weight[one] / weight[one].sum()
            way = cells.wind[:, one] - (cells.wind[:, one] @ share)[:, None]
            by_wind += (way * off[:, one]) @ weight[one]
            seen += way**2 @ weight[one]
    return by_wind, seen


def _unlike_beyond_wind(cells: CellGrid, found: FloatArray) -> FloatArray:
    """How many times as far a run's gears stand apart as their noise may, once its wind is taken out: variances.

    Tires that spin through first gear on one day, or in one run and not in another, tip the gears as a wind does, and
    leave more behind than any wind: by so much less such gears are sure of it. Shape (runs,). [-]
    """
    off, weight = _off(cells) - found[:, None] * cells.wind, _weights(cells) * GEAR_SIGMA**2
    apart, whole = np.zeros(off.shape[0]), 0.0
    for low in np.unique(cells.low_rpm):
        one = cells.low_rpm == low
        if one.sum() > 1:
            share = weight[one] / weight[one].sum()
            apart += (off[:, one] - (off[:, one] @ share)[:, None]) ** 2 @ weight[one]
            whole += float(weight[one].sum())
    return np.asarray(apart / (MOST_SIGMAS * GEAR_SIGMA) ** 2 / max(whole, 1e-12), dtype=np.float64)


def _of_one_day(
    by_wind: FloatArray, seen: FloatArray, of_day: FloatArray, of_run: FloatArray
) -> tuple[FloatArray, float]:
    """Each run's wind, and one sigma of what stays open of the day's. [W/(m/s)2]."""
    surely = seen / (1.0 + of_run**2 * seen)
    day, told, usual = float(np.mean(of_day**2)), float(surely.sum()), float(np.mean(seen))
    if not (day > 0 and told > 0):
        return of_run**2 * by_wind / (1.0 + of_run**2 * seen), math.sqrt(day)
    sure = 1.0 / (1.0 / told + (GEAR_DRIFT / GEAR_SIGMA) ** 2 / usual)
    mean = float(np.sum(by_wind / (1.0 + of_run**2 * seen))) / told
    of_all = mean * day * sure / (1.0 + day * sure)
    return of_all + of_run**2 * (by_wind - seen * of_all) / (1.0 + of_run**2 * seen), math.sqrt(
        day / (1.0 + day * sure)
    )


def _weights(cells: CellGrid) -> FloatArray:
    """One gear is one witness, however many cells it has."""
    weight = np.zeros(cells.size)
    for gear in np.unique(cells.gear):
        one = cells.gear == gear
        weight[one] = cells.time_s[one] / cells.time_s[one].sum()
    return weight / GEAR_SIGMA**2


def _sigmas(runs: Sequence[ComparedRun], squared: FloatArray) -> FloatArray:
    """95 % of what wind leaves open in average power over the mean square of speed: its day's, and its own minute's.

    Shape (runs, 2). [W/(m/s)2]
    """
    parts = np.array([_wind_open(known(run.review.power), run.review.air) for run in runs]).reshape(-1, 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(squared[:, None] > 0, parts / squared[:, None], 0.0)


def _wind_open(power: Power | None, air: AirState | None) -> tuple[float, float]:
    """The same in average power. [W]."""
    if power is None or isinstance(power.average_w, Unknown):
        return 0.0, 0.0
    whole = next((one.plus_minus_w for one in power.shares if one.source == "wind"), 0.0)
    day = next((abs(part.effect) for part in power.average_w.shared if part.cause == f"{DAY}: wind"), 0.0)
    own = math.sqrt(max(whole**2 - day**2, 0.0))
    if air is None or air.wind_mps is None:
        return min(day, whole) * WEATHER_MPS / NOT_GIVEN_WIND_HALF_WIDTH_MPS, own
    if air.wind_plus_minus_mps is not None:
        return min(day, whole), own
    return math.hypot(min(day, whole), whole * MAST_SHARE * abs(air.wind_mps) / WIND_GIVEN_MPS), own


def _mean_square_of_speed(run: ComparedRun) -> float:
    inside = (run.time_s >= 0) & (run.distance_m <= run.under_power_to_m)
    return float(np.mean(run.speed_mps[inside] ** 2)) if inside.any() else 0.0
