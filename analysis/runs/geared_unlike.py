"""Whether a car went as fast over the ground at one engine speed after a change as it did before.

Engine speed over ground speed in one gear is known far better than power, and goes with tires, final drive and slip: of
clutch, converter or tires. Where it changed by more than was told, a change of power is open by as much.

Public: `OtherGearing`, `find_other_gearing`, `GEARED`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import CAR, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearBasis
from passband.analysis.results.unknown import known
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.fair_pairs import SAME_TIRE, apart_of
from passband.analysis.runs.two_groups import TwoGroups

GEARED = f"{CAR}: engine speed over ground speed, which changed"
"""Cause of what such a change leaves open of power."""
OF_CONVERTER = frozenset({f"{CAR}: torque converter", f"{CAR}: converter's slip"})
"""Causes of power behind a converter, as reviews name them."""

SLIP_FOLLOWS = 0.015
"""So far a converter's speed ratio goes with the engine's torque alone. Worked by hand: near its coupling a pump's
torque at one speed falls by 4 to 6 % for each per cent of speed ratio, so 5 % of torque is about one. [-]"""


@dataclass(frozen=True, slots=True)
class OtherGearing:
    """By how much the engine turned faster after than before, at one ground speed in one gear."""

    of_cells: FloatArray
    """What it leaves open of ln power, after less before, shape (cells,). [-]"""
    whole: Estimate
    """Ln of engine speed at one ground speed, after less before, mean by time. [-]"""
    of_shape: float
    """What a converter that slips otherwise leaves open of power at one engine speed against another; 0 without. [-]"""

    def tell(self) -> Finding:
        """Say so, and what it may be."""
        share, slower = 100 * abs(self.whole.value), self.whole.value > 0
        text = (
            f"At one engine speed in one gear the car went {share:.1f} +- {100 * self.whole.plus_minus:.1f} % "
            f"{'slower' if slower else 'faster'} over the ground after than before: "
        )
        if self.of_shape and abs(self.whole.value) < SLIP_FOLLOWS:
            text += (
                f"its converter slipped {'more' if slower else 'less'}, as it does where the engine makes "
                f"{'more' if slower else 'less'} torque, by its air or by the change, or tires or final drive are "
                "others than its facts tell. Power is left open by what the converter may lose of it. Where "
                "neither tires, final drive nor converter were changed, there is nothing to give."
            )
        else:
            text += (
                "other tires or another final drive than the car's facts tell, or a clutch, a converter or tires that "
                f"slip {'more' if slower else 'less'}. The logs do not tell them apart, and what slips the engine "
                "makes too: power is left open by as much. Give each side its own tires and final drive."
            )
        return Finding("other-gearing-after-change", "caution", text)


def find_other_gearing(groups: TwoGroups, cells: CellGrid) -> OtherGearing | None:
    """Hold engine speed over ground speed of two sides against each other, gear by gear.

    Parameters
    ----------
    groups : TwoGroups
        The runs.
    cells : CellGrid
        Their cells.

    Returns
    -------
    OtherGearing or None
        None where it is the same within what chance, and the same tire measured twice, make of it; of two cars; and
        where ground speed itself was made of engine speed, which then shows nothing.

    Notes
    -----
    What the facts tell is taken out: circumference over overall ratio, where both were given. Behind a converter its
    slip is seen and what it loses is counted: power is open by no more than the reviews leave open of that.
    """
    if not groups.two_sided or not cells.size or CAR in apart_of(groups.runs):
        return None
    ground = 0.5 * (np.log(cells.wind) + cells.log_power)
    lead = np.array([_as_told(run, cells) for run in groups.runs]) - ground
    by_run = lead @ cells.time_s / cells.time_s.sum()
    whole = groups.difference(by_run, np.full(by_run.size, SAME_TIRE))
    if abs(whole.value) <= whole.plus_minus + SAME_TIRE:
        return None
    each = lead[groups.before :].mean(axis=0) - lead[: groups.before].mean(axis=0)
    most = _open_of_converter(groups.runs)
    open_of = np.asarray(np.clip(each, -most, most), dtype=np.float64)
    return OtherGearing(open_of, whole, most if math.isfinite(most) else 0.0)


def _open_of_converter(runs: Sequence[ComparedRun]) -> float:
    """What their reviews leave open of what a converter loses, as a share of power; no end without a converter. [-]."""
    found = [known(run.review.power) for run in runs]
    means = [known(power.average_w) for power in found if power is not None]
    open_of = [
        math.hypot(*(part.effect for part in one.shared if part.cause in OF_CONVERTER)) / one.value
        for one in means
        if one is not None and one.value > 0
    ]
    return max(open_of, default=0.0) or math.inf


def _as_told(run: ComparedRun, cells: CellGrid) -> FloatArray:
    """Ln ground speed at one engine speed in each cell's gear, by the car's facts, to a constant. Shape (cells,)."""
    gears, around_m = known(run.review.gears), run.tire_circumference_m
    if gears is None or gears.basis is not GearBasis.GIVEN or around_m is None:
        return np.zeros(cells.size)
    overall = np.array([one.value for one in gears.overall_ratios])
    if cells.gear.max() > overall.size:
        return np.zeros(cells.size)
    return np.asarray(np.log(around_m / overall[cells.gear - 1]), dtype=np.float64)
