"""Counting, against planted engine speeds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.runs.digest import digest_run
from passband.analysis.runs.engine_use import count_use
from passband.analysis.runs.used_up import Part, count_part
from tests.analysis.runs.planted_pair import planted_run


def test_revolutions_and_time_above_are_exact():
    # Hand: 10 s at 3,000 rpm, then 5 s at 9,000: 500 and 750 turns
    time_s = np.arange(-10.0, 5.01, 0.01)
    use = count_use(time_s, np.where(time_s < -0.005, 3000.0, 9000.0), end_s=4.0)
    assert use.revolutions == pytest.approx(500 + 750, abs=1.5)
    assert use.run_revolutions == pytest.approx(600, abs=1.5)
    assert use.above_s(9000.0) == pytest.approx(5.0, abs=0.015)
    assert use.above_s(9050.0) == 0.0


def test_what_is_not_logged_is_not_counted():
    use = count_use(np.arange(4.0), np.array([6000.0, np.nan, 6000.0, 6000.0]), end_s=9.0)
    assert (use.revolutions, use.not_seen_s, use.running_s) == (200.0, 1.0, 2.0)


def test_a_standing_engine_does_not_run():
    assert count_use(np.arange(3.0), np.zeros(3), end_s=2.0).running_s == 0.0


def test_a_part_sums_its_runs_and_names_those_without_speed():
    use = count_use(np.arange(3.0), np.full(3, 6000.0), end_s=2.0)
    one = replace(digest_run(planted_run("Q1")), use=use)
    two, silent = replace(one, label="Q2"), replace(one, label="Q3", use=None)
    used = count_part(Part("clutch", (5000.0, 7000.0)), [one, two, silent], ["2031-05-04", "", "2031-05-05"])
    assert (used.runs, used.revolutions, used.not_counted) == (3, 400.0, ("Q3",))
    assert [above.time_s for above in used.above] == [4.0, 0]
    assert (used.first, used.last, used.first_at, used.last_at) == ("Q1", "Q3", "2031-05-04", "2031-05-05")
    assert len(used.launches) == 3


def test_a_part_that_was_in_no_run_has_seen_nothing():
    assert count_part(Part("crank"), []).runs == 0
