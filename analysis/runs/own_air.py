"""How an engine's power goes with the air, learnt of its own cells: its clean runs in one meeting, in different air.

Public: `MeasuredRun`, `learn_exponents`, `learn_of_digests`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from passband.analysis.quantities import FloatArray
from passband.analysis.runs.cells import CellTable, share_cells
from passband.analysis.runs.digest import RunDigest
from passband.analysis.runs.same_air import (
    AirExponents,
    AirSeen,
    charge_of,
    published_exponents,
    vapour_of,
)

MOST_LACK = 0.25
"""A cell that more of the runs lack is not used; a run that lacks one of those used is left out. Chosen: of cells that
all of many runs have, few are left. [-]"""
LEAST_FREE = 3
"""Runs beyond what has to be found of them: of fewer, their own spread says nothing. Chosen, no source."""
BELIEVED = 0.35
"""One sigma of the temperature's exponent about the published rules' before a run was seen: an engine far from them is
not drawn to them. Chosen. [-]"""
LEAST_SCATTER = 1e-6
"""Scatter of the runs' ln power about what was found, one sigma: runs more alike than that are copies of one log, and
say nothing of the air. No car repeats its own run by a thousand times as much. [-]"""


@dataclass(frozen=True, slots=True)
class MeasuredRun:
    """A clean run, as far as it shows how power goes with the air."""

    air: AirSeen | None
    """None where unknown: the run is left out."""
    cells: CellTable
    """Its cells."""
    beside: Hashable
    """The meeting and side of a change that it is of: only runs of one are held against each other."""


def learn_exponents(runs: Sequence[MeasuredRun]) -> AirExponents | None:
    """Find how one engine's power goes with pressure and temperature.

    Parameters
    ----------
    runs : sequence of MeasuredRun
        Of one car, without a fault found.

    Returns
    -------
    AirExponents or None
        None where the runs say no more than the published rules do: too few of them, or too much alike in their air.

    Notes
    -----
    Ln power of a run, mean of the cells that all have, is a level of its meeting and its side of a change, plus each
    exponent times ln pressure and ln absolute temperature (vapour out), plus the run's own scatter (wind, noise), which
    is measured as what is left. Between meetings tune, fuel and station differ too: nothing is learnt of that. What was
    believed before is laid in wider than the published rules are (`BELIEVED`, and twice their width for the pressure),
    so that an engine away from them is not drawn to their middle; the pressure's exponent stays in what the rules say
    where pressure hardly varied. The plus-minus is Student's. It does not see what always goes with the air, as an
    engine that tires while the day warms.
    """
    known = [run for run in runs if run.air is not None]
    some = _of_one_grid([run for run in known if Counter(one.beside for one in known)[run.beside] > 1])
    sides = sorted({str(run.beside) for run in some})
    free = len(some) - len(sides) - 2
    if free < LEAST_FREE:
        return None
    airs = [run.air for run in some if run.air is not None]
    cells = share_cells([run.cells for run in some])
    before = published_exponents(airs, cells)
    share = cells.time_s / cells.time_s.sum()
    seen = np.column_stack((charge_of(airs, cells) @ share, np.log([air.temperature_k for air in airs])))
    both = np.column_stack((seen, cells.log_power @ share - vapour_of(airs, cells)[0]))
    for side in sides:
        of_side = np.array([str(run.beside) == side for run in some])
        both[of_side] -= both[of_side].mean(axis=0)
    return _posterior(both[:, :2], both[:, 2], before, free)


def learn_of_digests(runs: Sequence[RunDigest], beside: Sequence[Hashable]) -> AirExponents | None:
    """Find how one engine's power goes with the air, from what was kept of its runs.

    Parameters
    ----------
    runs : sequence of RunDigest
        Of one car, without a fault found.
    beside : sequence of hashable
        The meeting and side of a change that each is of.

    Returns
    -------
    AirExponents or None
        As `learn_exponents` says.
    """
    both = zip(runs, beside, strict=True)
    return learn_exponents([MeasuredRun(run.air, run.cells, side) for run, side in both if run.cells.size])


def _of_one_grid(runs: Sequence[MeasuredRun]) -> list[MeasuredRun]:
    """Runs that have all the cells that most of them have."""
    how_many = Counter(key for run in runs for key in run.cells.key.tolist())
    usual = {key for key, count in how_many.items() if count >= (1.0 - MOST_LACK) * len(runs)}
    whole = [run for run in runs if usual and usual <= set(run.cells.key.tolist())]
    sizes = Counter(run.beside for run in whole)
    return [run for run in whole if sizes[run.beside] > 1]


def _posterior(seen: FloatArray, power: FloatArray, before: AirExponents, free: int) -> AirExponents | None:
    """What runs and published rules say together.

    None where that is no narrower for the temperature than the rules, and holds what they say, or where the runs are
    copies of each other.
    """
    means = np.array([before.pressure, before.temperature])
    wide = np.array([before.pressure_plus_minus, max(before.temperature_plus_minus, BELIEVED)])
    left = power - seen @ means
    step, _, _, _ = np.linalg.lstsq(seen, left, rcond=None)
    variance = float(np.sum((left - seen @ step) ** 2)) / free
    if not variance > LEAST_SCATTER**2:
        return None
    covariance = np.linalg.inv(seen.T @ seen / variance + np.diag(wide**-2.0))
    found = means + covariance @ (seen.T @ left) / variance
    reach = float(student.ppf(0.975, free)) * np.linalg.cholesky(covariance)
    of_warmth = float(np.hypot(*reach[1]))
    agrees = abs(found[1] - before.temperature) <= of_warmth
    if of_warmth >= (before.temperature_plus_minus if agrees else wide[1]):
        return None
    if reach[0, 0] >= wide[0]:  # of pressure they say nothing: what the rules leave open of it moves the other too
        found[0], reach = means[0], _pressure_kept(seen, variance, wide, free)
        found[1] = means[1] + _slope(seen[:, 1], left, variance, wide[1])
    moves = tuple((float(reach[0, one]), float(reach[1, one])) for one in range(2))
    return AirExponents(float(found[0]), float(found[1]), moves, of_runs=int(power.size))


def _slope(warmth: FloatArray, left: FloatArray, variance: float, wide: float) -> float:
    return float(warmth @ left / variance / (warmth @ warmth / variance + wide**-2.0))


def _pressure_kept(seen: FloatArray, variance: float, wide: FloatArray, free: int) -> FloatArray:
    """Moves of both exponents, columns: the pressure's to the end of its bracket, then the temperature's own."""
    charge, warmth = seen.T
    sure = warmth @ warmth / variance + wide[1] ** -2.0
    carried = -float(warmth @ charge / variance / sure) * wide[0]
    return np.array([[wide[0], 0.0], [carried, float(student.ppf(0.975, free)) / np.sqrt(sure)]])
