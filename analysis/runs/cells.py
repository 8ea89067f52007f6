"""An engine's power cell by cell: one gear, one class of engine speed, over several runs.

A cell is a fair place to compare an engine with itself: same gear, same engine speed, so the same inertia to turn and
nearly the same speed through the air. A curve over all gears is not: which gear fills a class moves with each shift.

Public: `CellTable`, `CellGrid`, `read_cells`, `cells_of`, `share_cells`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.power.curve import CLASS_RPM
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.results.power import GearCurve, Power
from passband.analysis.results.unknown import known
from passband.analysis.runs.compared_run import ComparedRun

AFTER_LOCK_S = 0.25
"""So long after the clutch has locked, power as smoothed still holds what its slip made of it: the span of the
smoothing. On simulated runs it was off there by up to 3 %, later by nothing. [s]"""
LEAST_COVERED = 0.1
"""A class that a pull merely touches has no mean. [-]"""
MOST_OPEN, MOST_TIMES_OPEN = 0.1, 3.0
"""A cell is no witness where the reviews leave its power open by more than so much, and by so many times the cells'
median: the driver's lift at the line or a limiter stands in it, and all runs of a side may be off by it the same way,
which their scatter does not show. In seasons of another mind's cars such cells were open by 0.12 to 0.86 and off by up
to 0.5, all others open by less than 0.1. [-], [-]"""


@dataclass(frozen=True, slots=True)
class CellGrid:
    """Cells that all of several runs have; arrays over runs and cells have shape (runs, cells)."""

    gear: IntArray
    """Of each cell, shape (cells,)."""
    low_rpm: FloatArray
    """Lower end of each cell's class, shape (cells,). [rpm]"""
    log_power: FloatArray
    """Natural logarithm of power at the flywheel as run. [ln W]"""
    own: FloatArray
    """95 % half-width of it that is the run's alone. [-]"""
    log_charge: FloatArray | None
    """Natural logarithm of absolute manifold pressure; None where not all runs log it. [ln Pa]"""
    wind: FloatArray
    """Speed squared over power: what a wind does to a cell, to a factor that all cells of a run share. [(m/s)2/W]"""
    time_s: FloatArray
    """Time in each cell, mean of the runs, shape (cells,). [s]"""
    covered: FloatArray
    """Least share of the class that any run's pull went through, shape (cells,). [-]"""

    @property
    def size(self) -> int:
        """How many cells."""
        return int(self.gear.size)

    def taken(self, use: BoolArray) -> CellGrid:
        """Only some of the cells."""
        charge = None if self.log_charge is None else self.log_charge[:, use]
        return CellGrid(
            gear=self.gear[use],
            low_rpm=self.low_rpm[use],
            log_power=self.log_power[:, use],
            own=self.own[:, use],
            log_charge=charge,
            wind=self.wind[:, use],
            time_s=self.time_s[use],
            covered=self.covered[use],
        )


VALUES = ("power_w", "own_w", "time_s", "covered", "speed_mps", "manifold_pa", "at_m")
"""Rows of a table of cells: power at the flywheel and the 95 % half-width of it that is the run's alone [W], time in
the cell [s], share of the class that the pull went through [-], mean ground speed [m/s], mean absolute manifold
pressure [Pa], NaN where not logged, and where the engine came to the class, from the start line [m], NaN where not
known."""
_POWER, _OWN, _TIME, _COVERED, _SPEED, _MANIFOLD, _AT = range(len(VALUES))
_GEARS_APART = 1e6
"""Keys of cells: gears lie further apart than engine speeds. [rpm]"""


@dataclass(frozen=True, slots=True, eq=False)
class CellTable:
    """What one run did in its cells, by gear, then engine speed."""

    gear: FloatArray
    """Whole numbers, shape (cells,)."""
    low_rpm: FloatArray
    """Lower end of each cell's class, shape (cells,). [rpm]"""
    values: FloatArray
    """As `VALUES` says, shape (7, cells)."""

    @property
    def size(self) -> int:
        """How many cells."""
        return int(self.gear.size)

    @property
    def key(self) -> FloatArray:
        """One rising number a cell, alike over runs."""
        return np.asarray(self.gear * _GEARS_APART + self.low_rpm, dtype=np.float64)

    def at_m(self, gear: int, low_rpm: float) -> float | None:
        """Where the engine came to a class in a gear; None where that is not known. [m]."""
        place = np.flatnonzero((self.gear == gear) & (self.low_rpm == low_rpm))
        at_m = float(self.values[_AT, place[0]]) if place.size else np.nan
        return at_m if np.isfinite(at_m) else None


def read_cells(runs: Sequence[ComparedRun]) -> CellGrid:
    """The cells that all runs have.

    Parameters
    ----------
    runs : sequence of ComparedRun
        At least one.

    Returns
    -------
    CellGrid
        By gear, then engine speed, those that are no witness left out; empty where no cell is shared, or a run's review
        is of a version that kept no cells.
    """
    cells = share_cells([cells_of(known(run.review.power)) for run in runs])
    return cells.taken(_are_witnesses(cells.own)) if cells.size else cells


def _are_witnesses(own: FloatArray) -> BoolArray:
    """All but cells whose power the reviews leave open as no other's. Shape (cells,)."""
    open_by = own.mean(axis=0)
    return np.asarray(open_by <= max(MOST_OPEN, MOST_TIMES_OPEN * float(np.median(open_by))), dtype=np.bool_)


def share_cells(found: Sequence[CellTable]) -> CellGrid:
    """The cells that all of several runs have.

    Parameters
    ----------
    found : sequence of CellTable
        Each run's cells.

    Returns
    -------
    CellGrid
        By gear, then engine speed; empty where no cell is shared.
    """
    keys = [one.key for one in found]
    shared = _in_all(keys)
    table = np.array([one.values[:, key.searchsorted(shared)] for one, key in zip(found, keys, strict=True)])
    table = table.reshape(len(found), len(VALUES), shared.size)
    gear = np.floor(shared / _GEARS_APART)
    use = _behind_the_launch(gear, table[:, _TIME])
    table, gear, low = table[:, :, use], gear[use], (shared - gear * _GEARS_APART)[use]
    power, charge = table[:, _POWER], table[:, _MANIFOLD]
    return CellGrid(
        gear=gear.astype(np.int64),
        low_rpm=low,
        log_power=np.log(power),
        own=table[:, _OWN] / power,
        log_charge=np.log(charge) if charge.size and np.isfinite(charge).all() else None,
        wind=table[:, _SPEED] ** 2 / power,
        time_s=table[:, _TIME].mean(axis=0) if power.size else np.empty(0),
        covered=table[:, _COVERED].min(axis=0) if power.size else np.empty(0),
    )


def _in_all(keys: Sequence[FloatArray]) -> FloatArray:
    """Keys that every run has; each has a key once."""
    if not keys:
        return np.empty(0)
    lie, others = np.sort(np.concatenate(keys)), len(keys) - 1
    return np.asarray(lie[: lie.size - others][lie[: lie.size - others] == lie[others:]] if lie.size else lie)


def _behind_the_launch(gear: FloatArray, time_s: FloatArray) -> BoolArray:
    """All but cells of the launch's gear in which the clutch has just locked: there it rules, not the engine."""
    if not gear.size:
        return np.zeros(0, dtype=np.bool_)
    longest = time_s.max(axis=0)
    gone_s = np.cumsum(longest) - longest
    return np.asarray((gear > gear[0]) | (gone_s >= AFTER_LOCK_S), dtype=np.bool_)


def cells_of(power: Power | None, entered: Callable[[int, float], float | None] | None = None) -> CellTable:
    """One run's own cells.

    Parameters
    ----------
    power : Power or None
        Its power.
    entered : callable, optional
        Where the engine came to a class in a gear, by gear and lower end of the class. [m]

    Returns
    -------
    CellTable
        Classes that a pull merely touched are left out.
    """
    found: list[tuple[float, ...]] = []
    for curve in power.curves if power is not None else ():
        for place, low_rpm in enumerate(_lows(curve)):
            power_w, covered = curve.power_w[place], curve.covered[place]
            if not (power_w > 0 and covered >= LEAST_COVERED):
                continue
            at_m = entered(curve.gear, low_rpm) if entered is not None else None
            found.append((
                curve.gear, low_rpm, power_w, curve.run_plus_minus_w[place], curve.time_s[place], covered,
                curve.speed_mps[place], curve.manifold_pa[place] if curve.manifold_pa else np.nan,
                np.nan if at_m is None else at_m,
            ))  # fmt: skip
    table = np.array(sorted(found), dtype=np.float64).reshape(len(found), 2 + len(VALUES)).T
    return CellTable(table[0], table[1], table[2:])


def _lows(curve: GearCurve) -> list[float]:
    """Lower ends of its classes; none where an earlier version kept no time in them."""
    return [centre - CLASS_RPM / 2 for centre in curve.rpm] if curve.time_s and curve.speed_mps else []
