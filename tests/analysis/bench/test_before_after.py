"""Sheets of a bench before and after a change: ratios by hand, what is not shared left out."""

import numpy as np
import pytest

from passband.analysis.bench.before_after import compare_dyno, compare_flow
from passband.analysis.bench.sheets import DynoCurve, FlowSheet


def sheet(lift_mm, intake, depression_pa=7000.0):
    lift = np.array(lift_mm) / 1000.0
    blank = np.full(lift.size, np.nan)
    return FlowSheet("sheet", lift, np.array(intake), blank, np.full(lift.size, depression_pa), 0.033, 1, 0.0)


def curve(rpm, power, correction=""):
    return DynoCurve("curve", np.array(rpm), np.array(power), correction)


def test_flow_is_held_against_flow_at_the_same_lift():
    # Hand: before at 3 mm lies midway, 0.03; 8 mm is beyond the first sheet
    change = compare_flow(sheet([2.0, 4.0], [0.02, 0.04]), sheet([3.0, 4.0, 8.0], [0.033, 0.04, 0.06]))
    assert [row.intake for row in change.rows] == pytest.approx([1.1, 1.0])
    assert change.intake == pytest.approx(1.05)
    assert change.exhaust is None and change.rows[0].exhaust is None


def test_depressions_are_made_alike():
    # Hand: flow goes with the root of depression, so half the flow at a quarter of it is the same head
    change = compare_flow(sheet([2.0, 4.0], [0.02, 0.04], 7000.0), sheet([2.0, 4.0], [0.01, 0.02], 1750.0))
    assert change.intake == pytest.approx(1.0)


def test_power_is_held_against_power_where_both_curves_reach():
    change = compare_dyno(curve([5000.0, 7000.0], [3e5, 4e5]), curve([5900.0, 8000.0], [3.6e5, 3.6e5]))
    assert [row.engine_rpm for row in change.rows] == [6000.0, 6250.0, 6500.0, 6750.0, 7000.0]
    assert change.rows[0].ratio == pytest.approx(3.6e5 / 3.5e5)
    assert change.ratio == pytest.approx(np.mean([row.ratio for row in change.rows]))


def test_curves_that_share_nothing_or_are_corrected_unlike_say_so():
    apart = compare_dyno(curve([3000.0, 4000.0], [1e5, 2e5]), curve([5000.0, 6000.0], [3e5, 3e5]))
    assert apart.rows == () and apart.ratio is None and apart.findings[0].code == "bench-not-alike"
    unlike = compare_dyno(curve([5000.0, 6000.0], [1.0, 1.0], "none"), curve([5000.0, 6000.0], [1.0, 1.0]))
    assert "not corrected alike" in unlike.findings[0].text
