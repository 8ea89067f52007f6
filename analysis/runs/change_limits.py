"""What limits a change that two days tell: their winds and their air, what each is worth, and what would narrow it.

Public: `DayWinds`, `tell_limits`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.air.atmosphere import KELVIN
from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import DAY, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import known
from passband.analysis.runs.change_in_power import DAY_WIND, OF_AIR, PowerRatio
from passband.analysis.runs.same_air import READINGS, elapsed_by_wind
from passband.analysis.runs.two_groups import TwoGroups

WORTH_TELLING = 0.9
"""A cause is told where the plus-minus without it would be no more than so much of what it is. Chosen. [-]"""
LEAST_WIND_S = 0.005
"""A wind that moved elapsed time by less is not told. Chosen. [s]"""


@dataclass(frozen=True, slots=True)
class DayWinds:
    """What wind made of average power, as the gears show it. Arrays of shape (runs,)."""

    found_w: FloatArray
    """[W]"""
    left_w: FloatArray
    """95 % of what they do not show, the same way for runs of a day. [W]"""


def tell_limits(groups: TwoGroups, ratios: Sequence[PowerRatio], winds: DayWinds) -> list[Finding]:
    """Say where the wind or the air of two days limits what can be told of a change.

    Parameters
    ----------
    groups : TwoGroups
        The runs that power was compared of, their sides of two days.
    ratios : sequence of PowerRatio
        By engine speed.
    winds : DayWinds
        Of the same runs.

    Returns
    -------
    list of Finding
        The wind's, then the air's; each only where it is worth telling.
    """
    if not ratios:
        return []
    return [*_of_wind(groups, ratios, winds), *_of_air(groups, ratios)]


def _of_wind(groups: TwoGroups, ratios: Sequence[PowerRatio], winds: DayWinds) -> list[Finding]:
    at = min(ratios, key=lambda one: _share_without(one.ratio, {DAY_WIND}))
    by_w, open_w = groups.apart(winds.found_w), groups.of_two_days(winds.left_w)
    slower_s, open_s = (_slower(groups, watts) for watts in (by_w, -open_w))
    if _share_without(at.ratio, {DAY_WIND}) > WORTH_TELLING and not (open_w > 0 and abs(slower_s) > LEAST_WIND_S):
        return []
    known_so_far, remedy = _winds_given(groups)
    text = (
        f"Each side had a day's wind of its own, {known_so_far}. By how the gears pull against each other it made "
        f"{abs(by_w) / 1e3:.1f} +- {open_w / 1e3:.1f} kW {'less' if by_w < 0 else 'more'} of average power after than "
        f"before, worth {slower_s:+.3f} +- {open_s:.3f} s of elapsed time: taken out of power, and of elapsed time in "
        f"the same air. With the wind {remedy}, {_would(at, {DAY_WIND})}."
    )
    return [Finding("wind-limits-change", "note", text)]


def _winds_given(groups: TwoGroups) -> tuple[str, str]:
    """How well the winds are known, and what would make them known better."""
    airs = [run.review.air for run in groups.runs]
    given = [air is not None and air.wind_mps is not None for air in airs]
    if all(given):
        return "known no better than it was given", "measured more closely"
    return "not given for every run" if any(given) else "which nobody gave", (
        "measured at the strip and given for each run"
    )


def _slower(groups: TwoGroups, watts: float) -> float:
    """What a wind of so much less average power is worth in elapsed time. [s]."""
    found = [known(run.review.power) for run in groups.runs]
    usual = [known(one.average_w) for one in found if one is not None]
    mean_w = float(np.mean([one.value for one in usual if one is not None]))
    return -watts / mean_w * float(np.mean([elapsed_by_wind(run) for run in groups.runs]))


def _would(at: PowerRatio, causes: set[str]) -> str:
    """By how much the plus-minus of one class would come down."""
    whole = 100 * at.ratio.plus_minus
    left = _share_without(at.ratio, causes) * whole
    return f"power at {at.low_rpm:.0f} to {at.high_rpm:.0f} rpm would be known to {left:.1f} % in place of {whole:.1f}"


def _of_air(groups: TwoGroups, ratios: Sequence[PowerRatio]) -> list[Finding]:
    causes = {*OF_AIR, *(f"{DAY}: {name}" for name in READINGS)}
    at = sorted(ratios, key=lambda one: _share_without(one.ratio, causes))[len(ratios) // 2]
    airs = [run.review.air for run in groups.runs]
    seen = np.array([(air.temperature_k, air.vapour_pressure_pa / air.pressure_pa) for air in airs if air is not None])
    if _share_without(at.ratio, causes) > WORTH_TELLING or len(seen) < len(airs):
        return []
    kelvin, moist = seen.T
    before_c, after_c = (float(np.mean(side)) - KELVIN for side in (kelvin[: groups.before], kelvin[groups.before :]))
    moister = groups.apart(moist)
    text = (
        f"The air was at {before_c:.0f} degC before and {after_c:.0f} degC after, {100 * abs(moister):.1f} % "
        f"{'more' if moister > 0 else 'less'} of it was water vapour, and how this engine goes with both is open. Were "
        f"both sides run in one air, {_would(at, causes)}. A dozen clean runs of one side from cool to warm show how "
        "this engine goes with it."
    )
    return [Finding("air-limits-change", "note", text)]


def _share_without(ratio: Estimate, causes: set[str]) -> float:
    """How much of its plus-minus would be left were those causes known. [-]."""
    taken = sum(part.effect**2 for part in ratio.shared if part.cause in causes)
    return math.sqrt(max(1.0 - taken / ratio.plus_minus**2, 0.0)) if ratio.plus_minus > 0 else 1.0
