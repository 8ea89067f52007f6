"""What a change did to an engine's power, by engine speed, and to its top against the rest.

Public: `PowerRatio`, `TopOverRest`, `compare_power`, `read_apart`, `spread_of_power`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from passband.analysis.power.curve import CLASS_RPM
from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import DAY, Estimate
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.geared_unlike import GEARED, OtherGearing
from passband.analysis.runs.same_air import READINGS, AirRule
from passband.analysis.runs.two_groups import TwoGroups
from passband.analysis.statistics.groups import independent_count

MOSTLY_COVERED = 0.75
"""A class counts by itself where every run's pull went through so much of it. [-]"""
DRAWN_OUT, TOP_DRAWN_OUT = 0.003, 0.002
"""95 % of what smoothing over a quarter of a second does to a class beside a step in power, and to the mean over all
classes on one side of it. [-]"""
LEAST_SIDE = 0.05
"""A side of the break that holds a smaller share of the time is no side. [-]"""

OF_AIR = (f"{DAY}: pressure on power", f"{DAY}: temperature on power", f"{DAY}: vapour on power")
"""Causes of what the air's rule leaves open, in the order of its half-widths."""
DAY_WIND = f"{DAY}: wind that the gears do not show"
"""Cause of what two days' winds leave open."""


@dataclass(frozen=True, slots=True)
class PowerRatio:
    """Power after over before in one class of engine speed."""

    low_rpm: float
    """[rpm]"""
    high_rpm: float
    """[rpm]"""
    gears: tuple[int, ...]
    """Gears in which all runs have it."""
    ratio: Estimate
    """Same gear, same engine speed, air taken out. [-]"""
    runs: int
    """How many runs it is of."""


@dataclass(frozen=True, slots=True)
class TopOverRest:
    """How the power's top changed against the rest."""

    ratio: Estimate
    """[-]"""
    from_rpm: float
    """Where the top begins; the class below it, in which the break lies, counts to neither side. [rpm]"""


def compare_power(
    groups: TwoGroups,
    cells: CellGrid,
    adjusted: FloatArray,
    rule: AirRule | None,
    *,
    day_wind: FloatArray | None = None,
    geared: OtherGearing | None = None,
    alike: Mapping[str, float] | None = None,
) -> tuple[tuple[PowerRatio, ...], TopOverRest | None]:
    """Compare power in the cells that all runs have.

    Parameters
    ----------
    groups : TwoGroups
        The runs.
    cells : CellGrid
        Their cells.
    adjusted : array, shape (runs, cells)
        Ln power, air and wind taken out. [ln W]
    rule : AirRule or None
        What the air's rule leaves open.
    day_wind : array, shape (runs, cells), optional
        95 % of what each side's day leaves open by its wind, where the sides are of two days. [-]
    geared : OtherGearing, optional
        Where engine speed over ground speed changed by more than was told: what it leaves open.
    alike : mapping of str to float, optional
        What is open of ln power in all cells alike, by cause: two cars' facts, a charge that changed. [-]

    Returns
    -------
    (tuple of PowerRatio, TopOverRest or None)
        Empty and None where the groups share no cell.
    """
    if not groups.two_sided or not cells.size:
        return (), None
    shared = dict(alike or {})
    if rule is not None:
        shared |= {cause: groups.apart(moved) for cause, moved in zip(OF_AIR, rule.half_widths, strict=True)}
        if day_wind is not None:
            shared |= read_apart(groups, rule)
    wind = np.zeros_like(adjusted) if day_wind is None else day_wind
    unlike = _Unlike(wind, *((np.zeros(cells.size), 0.0) if geared is None else (geared.of_cells, geared.of_shape)))
    ratios = tuple(_class_ratios(groups, cells, adjusted, shared, unlike))
    return ratios, _find_top(groups, cells, adjusted, unlike)


@dataclass(frozen=True, slots=True)
class _Unlike:
    """What is open of ln power cell by cell, beside what all cells share."""

    wind: FloatArray
    """By each run's day, shape (runs, cells). [-]"""
    geared: FloatArray
    """By engine speed over ground speed, which changed, shape (cells,). [-]"""
    of_shape: float
    """The same of one engine speed against another. [-]"""


def read_apart(groups: TwoGroups, rule: AirRule) -> dict[str, float]:
    """What each day's instruments, read by themselves, leave open of ln power.

    Parameters
    ----------
    groups : TwoGroups
        The runs, their sides of two days.
    rule : AirRule
        Of their air.

    Returns
    -------
    dict
        By cause; those without effect among them. [-]
    """
    both = zip(READINGS, rule.readings, strict=True)
    return {f"{DAY}: {name}": groups.of_two_days(moved) for name, moved in both}


def _class_ratios(
    groups: TwoGroups, cells: CellGrid, adjusted: FloatArray, shared: dict[str, float], unlike: _Unlike
) -> Iterator[PowerRatio]:
    for low in np.unique(cells.low_rpm[cells.covered >= MOSTLY_COVERED]):
        one = (cells.low_rpm == low) & (cells.covered >= MOSTLY_COVERED)
        share = cells.time_s[one] / cells.time_s[one].sum()
        own = np.sqrt(cells.own[:, one] ** 2 @ share**2)
        apart = groups.difference(adjusted[:, one] @ share, own)
        of_cells = {
            DAY_WIND: groups.of_two_days(unlike.wind[:, one] @ share),
            GEARED: float(unlike.geared[one] @ share),
        }
        value = math.exp(apart.value)
        ratio = Estimate.parted(
            value,
            value * math.hypot(apart.plus_minus, DRAWN_OUT),
            {cause: value * effect for cause, effect in (shared | of_cells).items()},
        )
        gears = tuple(sorted({int(gear) for gear in cells.gear[one]}))
        yield PowerRatio(float(low), float(low) + CLASS_RPM, gears, ratio, len(groups.runs))


def _find_top(groups: TwoGroups, cells: CellGrid, adjusted: FloatArray, unlike: _Unlike) -> TopOverRest | None:
    """The break that parts the change best into a top and a rest, its interval widened for the choice."""
    own = np.sqrt(cells.own**2 @ (cells.time_s / cells.time_s.sum()) ** 2)
    tried = {
        float(low): contrast
        for low in np.unique(cells.low_rpm)
        if (contrast := _top_less_rest(cells, adjusted, float(low))) is not None
    }
    if not tried:
        return None
    tests = independent_count(groups.residuals(np.array(list(tried.values())).T))
    found = {low: groups.difference(contrast, own, tests=tests) for low, contrast in tried.items()}
    low = min(found, key=lambda one: _off_two_levels(groups, cells, adjusted, one))
    value = math.exp(found[low].value)
    half_width = value * math.hypot(found[low].plus_minus, TOP_DRAWN_OUT)
    blown, turned = (_top_less_rest(cells, one, low) for one in (unlike.wind, unlike.geared[None, :]))
    of_cells = {} if blown is None else {DAY_WIND: value * groups.of_two_days(blown)}
    of_cells |= {} if turned is None else {GEARED: value * math.hypot(float(turned[0]), unlike.of_shape)}
    return TopOverRest(Estimate.parted(value, half_width, of_cells), low + CLASS_RPM)


def _off_two_levels(groups: TwoGroups, cells: CellGrid, adjusted: FloatArray, low: float) -> float:
    """How far the classes' change is from one level below a class and another above it, by time."""
    off = 0.0
    change = adjusted[groups.before :].mean(axis=0) - adjusted[: groups.before].mean(axis=0)
    for side in (cells.low_rpm < low, cells.low_rpm > low):
        level = change[side] @ cells.time_s[side] / cells.time_s[side].sum()
        off += float((change[side] - level) ** 2 @ cells.time_s[side])
    return off / float(cells.time_s[cells.low_rpm != low].sum())


def _top_less_rest(cells: CellGrid, adjusted: FloatArray, low: float) -> FloatArray | None:
    """Each run's ln power above a class less that below it, gear by gear; None where one side is all but empty."""
    parts, weights = [], []
    for gear in np.unique(cells.gear):
        top, rest = ((cells.gear == gear) & side for side in (cells.low_rpm > low, cells.low_rpm < low))
        above_s, below_s = cells.time_s[top].sum(), cells.time_s[rest].sum()
        if above_s > 0 and below_s > 0:
            parts.append(
                adjusted[:, top] @ cells.time_s[top] / above_s - adjusted[:, rest] @ cells.time_s[rest] / below_s
            )
            weights.append(above_s * below_s / (above_s + below_s))
    if sum(weights) < LEAST_SIDE * cells.time_s.sum():
        return None
    return np.asarray(np.array(weights) @ np.array(parts) / sum(weights), dtype=np.float64)


def spread_of_power(groups: TwoGroups, cells: CellGrid, adjusted: FloatArray) -> float | None:
    """Standard deviation of a run's power within its group, over all cells by time.

    Parameters
    ----------
    groups : TwoGroups
        The runs.
    cells : CellGrid
        Their cells.
    adjusted : array, shape (runs, cells)
        Ln power, air and wind taken out.

    Returns
    -------
    float or None
        None where there are no cells, or no group has two runs. [-]
    """
    if not cells.size:
        return None
    return groups.deviation(adjusted @ cells.time_s / cells.time_s.sum())
