"""The wind of each run as its own gears show it: a wind that nobody gave moves power in the high gears, not in first.

Public: `GearWinds`, `find_gear_winds`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.unknown import known
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.compared_run import ComparedRun

GEAR_SIGMA = 0.006
"""How a run's gears differ from each other by the speed's own noise, one sigma: measured on simulated runs with an
undriven wheel logged, first gear against second. [-]"""

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


def find_gear_winds(runs: Sequence[ComparedRun], cells: CellGrid) -> GearWinds:
    """Find each run's wind from how its gears stand to each other.

    Parameters
    ----------
    runs : sequence of ComparedRun
        Runs of one car.
    cells : CellGrid
        Their cells.

    Returns
    -------
    GearWinds
        Zero where no two gears share a class, or wind leaves nothing open.

    Notes
    -----
    A wind w along the strip changes power by rho CdA v^2 w over efficiency: one unknown a run, by its square of speed.
    In one class of engine speed the engine makes the same power in every gear; by how much more the high gears show
    than in the mean of all runs is the wind, held to what the review leaves open for it. Whatever changed in the
    engine moves all gears of a class alike and is not touched. What the gears leave open is drawn towards no wind:
    of two days it stays in the difference, whatever the runs of each agree upon.
    """
    if not cells.size:
        none = np.zeros(len(runs))
        return GearWinds(np.zeros_like(cells.log_power), none, np.zeros_like(cells.log_power), none)
    openness = np.array([_left_open(run) for run in runs])
    off = cells.log_power - cells.log_power.mean(axis=0)
    if cells.log_charge is not None:
        off = off - (cells.log_charge - cells.log_charge.mean(axis=0))
    weight = _weights(cells)
    by_wind, seen = np.zeros(len(runs)), np.zeros(len(runs))
    for low in np.unique(cells.low_rpm):
        one = cells.low_rpm == low
        if one.sum() > 1:
            share = weight[one] / weight[one].sum()
            way = cells.wind[:, one] - (cells.wind[:, one] @ share)[:, None]
            by_wind += (way * off[:, one]) @ weight[one]
            seen += way**2 @ weight[one]
    with np.errstate(divide="ignore"):
        found = np.where(openness > 0, by_wind / (seen + 1.0 / openness**2), 0.0)
    left = Z_95 * openness / (seen * openness**2 + 1.0)
    squared = np.array([_mean_square_of_speed(run) for run in runs])
    return GearWinds(found[:, None] * cells.wind, found * squared, left[:, None] * cells.wind, left * squared)


def _weights(cells: CellGrid) -> FloatArray:
    """One gear is one witness, however many cells it has."""
    weight = np.zeros(cells.size)
    for gear in np.unique(cells.gear):
        one = cells.gear == gear
        weight[one] = cells.time_s[one] / cells.time_s[one].sum()
    return weight / GEAR_SIGMA**2


def _left_open(run: ComparedRun) -> float:
    """What wind leaves open in average power over the mean square of speed, one sigma. [W/(m/s)2]."""
    power = known(run.review.power)
    squared = _mean_square_of_speed(run)
    watts = next((one.plus_minus_w for one in power.shares if one.source == "wind"), 0.0) if power is not None else 0.0
    return watts / Z_95 / squared if squared > 0 else 0.0


def _mean_square_of_speed(run: ComparedRun) -> float:
    inside = (run.time_s >= 0) & (run.distance_m <= run.under_power_to_m)
    return float(np.mean(run.speed_mps[inside] ** 2)) if inside.any() else 0.0
