"""Runs whose engine was down within their group, planted."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from passband.analysis.runs.change import compare_groups
from passband.analysis.runs.weak_engines import find_weak_engines
from tests.analysis.runs.planted_engine import engine_run


def _level(gain, _rpm):
    return gain


def group(rng, count, **weak):
    """Runs alike to 0.2 % in still air; some with less power at every engine speed."""
    return [
        engine_run(label, rng, noise=0.0018, wind=0.0, gain=partial(_level, weak.get(label, 1.0)))
        for label in (f"Q{number}" for number in range(1, count + 1))
    ]


def test_a_run_that_lost_power_is_told_with_how_much():
    # Planted: Q3 down 8 % throughout
    told = find_weak_engines(group(np.random.default_rng(1), 5, Q3=0.92))
    assert told == ("", "", "engine down 8 %", "", "")


def test_two_that_lost_power_do_not_hide_each_other():
    told = find_weak_engines(group(np.random.default_rng(2), 6, Q2=0.90, Q5=0.94))
    assert [bool(one) for one in told] == [False, True, False, False, True, False]


def test_a_stronger_run_is_left_in():
    assert not any(find_weak_engines(group(np.random.default_rng(3), 5, Q3=1.06)))


@pytest.mark.parametrize("count", [1, 2, 3])
def test_too_few_runs_tell_no_odd_one(count):
    assert not any(find_weak_engines(group(np.random.default_rng(4), count, Q1=0.9)))


def test_like_runs_are_hardly_ever_called_weak():
    # Planted: 60 groups of five runs alike
    told = [find_weak_engines(group(np.random.default_rng(seed), 5)) for seed in range(60)]
    assert sum(any(one) for one in told) <= 2


def test_a_change_leaves_out_a_run_whose_engine_was_down_and_says_so():
    # Planted: 2 % more after the change; A3 is down 9 %
    rng = np.random.default_rng(5)
    before = group(rng, 5)
    after = [engine_run(f"A{n}", rng, noise=0.0018, wind=0.0, gain=lambda rpm, by=0.91 if n == 3 else 1.02: by)
             for n in range(1, 6)]  # fmt: skip
    found = compare_groups(before, after)
    assert "A3" not in found.after.clean and len(found.after.clean) == 4
    assert all(abs(one.ratio.value - 1.02) < 0.006 for one in found.power_ratio)
    assert any("A3 (engine down" in one.text for one in found.findings)
