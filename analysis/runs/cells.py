"""An engine's power cell by cell: one gear, one class of engine speed, over several runs.

A cell is a fair place to compare an engine with itself: same gear, same engine speed, so the same inertia to turn and
nearly the same speed through the air. A curve over all gears is not: which gear fills a class moves with each shift.

Public: `Cell`, `CellGrid`, `read_cells`, `cells_of`, `share_cells`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.power.curve import CLASS_RPM
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.results.power import GearCurve, Power
from passband.analysis.results.unknown import known
from passband.analysis.runs.laid import LaidRun

AFTER_LOCK_S = 0.25
"""So long after the clutch has locked, power as smoothed still holds what its slip made of it: the span of the
smoothing. On simulated runs it was off there by up to 3 %, later by nothing. [s]"""
LEAST_COVERED = 0.1
"""A class that a pull merely touches has no mean. [-]"""


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
            self.gear[use], self.low_rpm[use], self.log_power[:, use], self.own[:, use], charge, self.wind[:, use],
            self.time_s[use], self.covered[use],
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cell:
    """What one run did in one cell."""

    power_w: float
    """At the flywheel. [W]"""
    own_w: float
    """95 % half-width of it that is the run's alone. [W]"""
    time_s: float
    """[s]"""
    covered: float
    """Share of the class that the pull went through. [-]"""
    speed_mps: float
    """Mean ground speed. [m/s]"""
    manifold_pa: float
    """Mean absolute manifold pressure, NaN where not logged. [Pa]"""


def read_cells(runs: Sequence[LaidRun]) -> CellGrid:
    """The cells that all runs have.

    Parameters
    ----------
    runs : sequence of LaidRun
        At least one.

    Returns
    -------
    CellGrid
        By gear, then engine speed; empty where no cell is shared, or a run's review is of a version that kept no cells.
    """
    return share_cells([cells_of(known(run.review.power)) for run in runs])


def share_cells(found: Sequence[Mapping[tuple[int, float], Cell]]) -> CellGrid:
    """The cells that all of several runs have.

    Parameters
    ----------
    found : sequence of mapping
        Each run's cells, by gear and lower end of the class.

    Returns
    -------
    CellGrid
        By gear, then engine speed; empty where no cell is shared.
    """
    shared = _without_the_launch(sorted(set.intersection(*(set(one) for one in found))) if found else [], found)
    table = [[one[key] for key in shared] for one in found]

    def over(name: str) -> FloatArray:
        return np.array([[getattr(cell, name) for cell in row] for row in table], dtype=float).reshape(
            len(table), len(shared)
        )

    power, charge = over("power_w"), over("manifold_pa")
    return CellGrid(
        gear=np.array([gear for gear, _ in shared], dtype=np.int64),
        low_rpm=np.array([low for _, low in shared], dtype=float),
        log_power=np.log(power),
        own=over("own_w") / power,
        log_charge=np.log(charge) if charge.size and np.isfinite(charge).all() else None,
        wind=over("speed_mps") ** 2 / power,
        time_s=over("time_s").mean(axis=0) if power.size else np.empty(0),
        covered=over("covered").min(axis=0) if power.size else np.empty(0),
    )


def _without_the_launch(
    shared: list[tuple[int, float]], found: Sequence[Mapping[tuple[int, float], Cell]]
) -> list[tuple[int, float]]:
    """Cells but for those of the launch's gear in which the clutch has just locked: there it rules, not the engine."""
    gone_s, kept = 0.0, []
    for gear, low in shared:
        if gear > shared[0][0] or gone_s >= AFTER_LOCK_S:
            kept.append((gear, low))
        gone_s += max(one[gear, low].time_s for one in found)
    return kept


def cells_of(power: Power | None) -> Mapping[tuple[int, float], Cell]:
    """One run's own cells.

    Parameters
    ----------
    power : Power or None
        Its power.

    Returns
    -------
    mapping of (int, float) to Cell
        By gear and lower end of the class in rpm; classes that a pull merely touched are left out.
    """
    found: dict[tuple[int, float], Cell] = {}
    for curve in power.curves if power is not None else ():
        for place, low_rpm in enumerate(_lows(curve)):
            cell = Cell(
                curve.power_w[place], curve.run_plus_minus_w[place], curve.time_s[place], curve.covered[place],
                curve.speed_mps[place], curve.manifold_pa[place] if curve.manifold_pa else np.nan,
            )  # fmt: skip
            if cell.power_w > 0 and cell.covered >= LEAST_COVERED:
                found[curve.gear, low_rpm] = cell
    return found


def _lows(curve: GearCurve) -> list[float]:
    """Lower ends of its classes; none where an earlier version kept no time in them."""
    return [centre - CLASS_RPM / 2 for centre in curve.rpm] if curve.time_s and curve.speed_mps else []
