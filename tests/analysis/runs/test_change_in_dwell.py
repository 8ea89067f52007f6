"""Time at each engine speed, before a change and after it."""

from __future__ import annotations

import pytest

from passband.analysis.runs.change_in_dwell import compare_dwell
from passband.analysis.runs.two_groups import TwoGroups
from tests.analysis.runs.planted_pair import planted_run


def run(label, *times):
    """Stood for so long in classes of 250 rpm from 7000 on."""
    dwell = [{"from_rpm": 7000.0 + 250 * n, "to_rpm": 7250.0 + 250 * n, "time_s": t} for n, t in enumerate(times)]
    return planted_run(label, told={"band": {"low_rpm": 7000.0, "high_rpm": 9000.0, "dwell": dwell}})


def test_means_and_their_difference_class_by_class():
    # Hand: (0.4 + 0.6) / 2 before, (0.8 + 1.0) / 2 after; the second class nobody stood in before
    runs = (run("a", 0.4), run("b", 0.6), run("c", 0.8, 0.2), run("d", 1.0, 0.4))
    first, second = compare_dwell(TwoGroups(runs, 2))
    assert (first.low_rpm, first.high_rpm, first.runs) == (7000.0, 7250.0, 4)
    assert (first.before_s, first.after_s) == pytest.approx((0.5, 0.9))
    assert first.difference.value == pytest.approx(0.4)
    # Published (Student): two runs each way of one spread, 4.303 * sqrt(0.02 / 2 + 0.02 / 2)
    assert first.difference.plus_minus == pytest.approx(0.6085, abs=1e-3)
    assert (second.before_s, second.after_s) == pytest.approx((0.0, 0.3))


def test_a_run_without_engine_speed_is_left_out_and_a_lone_side_says_nothing():
    runs = (run("a", 0.4), run("b"), run("c", 0.8))
    assert compare_dwell(TwoGroups(runs, 2))[0].before_s == pytest.approx(0.4)
    assert compare_dwell(TwoGroups(runs[:2], 1)) == ()
