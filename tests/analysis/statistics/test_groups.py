"""Intervals for few runs: against scipy's own tests and worked examples of a handbook."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from passband.analysis.statistics.groups import (
    independent_count,
    runs_to_tell,
    share_at_least,
    student_half_width,
    tolerance_factor,
    welch_difference,
)

OLD = np.array([32.0, 37, 35, 28, 41, 44, 35, 31, 34, 38, 42])
NEW = np.array([36.0, 31, 30, 31, 34, 36, 29, 32, 31])


def test_welch_is_that_of_the_handbook():
    # Published: NIST/SEMATECH e-Handbook 7.3.1, a device assembled by two processes, from memory: t 2.269, 15.5 degrees
    got = welch_difference(NEW, OLD)
    assert got.difference / got.standard_error == pytest.approx(2.269, abs=5e-4)
    assert got.freedom == pytest.approx(15.53, abs=0.01)


@pytest.mark.parametrize("sizes", [(2, 2), (3, 6), (12, 4)])
def test_welch_is_scipys(sizes):
    # Independent: scipy.stats.ttest_ind without equal variances
    rng = np.random.default_rng(4)
    first, second = rng.normal(0, 1, sizes[0]), rng.normal(1, 3, sizes[1])
    got, theirs = welch_difference(first, second), stats.ttest_ind(second, first, equal_var=False)
    low, high = theirs.confidence_interval(0.95)
    assert got.difference == pytest.approx((low + high) / 2, abs=1e-12)
    assert got.half_width == pytest.approx((high - low) / 2, rel=1e-12)
    assert got.freedom == pytest.approx(theirs.df, rel=1e-12)


def test_a_lone_run_has_no_spread_and_equal_runs_have_none():
    assert welch_difference(np.array([1.0]), OLD) is None
    assert welch_difference(np.array([1.0, 1.0]), np.array([2.0, 2.0])).half_width == 0.0


def test_a_choice_out_of_several_widens_the_interval():
    # Hand: Sidak's share of two is 1 - sqrt(0.95) = 2.53 %
    one, two = welch_difference(NEW, OLD), welch_difference(NEW, OLD, tests=2.0)
    wanted = stats.t.ppf(1 - (1 - 0.95**0.5) / 2, one.freedom) / stats.t.ppf(0.975, one.freedom)
    assert two.half_width / one.half_width == pytest.approx(wanted, rel=1e-12)


def test_shares_are_those_of_clopper_and_pearson():
    # Hand: 0.05^(1/30) = 0.905; Independent: scipy.stats.binomtest, exact
    assert share_at_least(30, 30) == pytest.approx(0.05 ** (1 / 30), rel=1e-12)
    theirs = stats.binomtest(27, 30, alternative="greater").proportion_ci(0.95, method="exact").low
    assert share_at_least(27, 30) == pytest.approx(theirs, rel=1e-9)
    assert share_at_least(0, 5) == 0.0


def test_counts_that_are_none_are_refused():
    with pytest.raises(ValueError, match="good=4"):
        share_at_least(4, 3)
    with pytest.raises(ValueError, match="at least 2"):
        tolerance_factor(1)


@pytest.mark.parametrize(("runs", "wanted"), [(5, 4.203), (10, 2.911), (30, 2.220)])
def test_tolerance_factors_are_the_tables(runs, wanted):
    # Published: table of one-sided factors, 95 % of the population at 95 % confidence (ISO 16269-6), from memory
    assert tolerance_factor(runs) == pytest.approx(wanted, abs=6e-4)


def test_runs_to_tell_is_the_least_that_does():
    # Hand: at n each way the half-width is t(2n-2) s sqrt(2/n)
    runs = runs_to_tell(0.02, 0.01)
    half = [float(stats.t.ppf(0.975, 2 * n - 2)) * 0.02 * (2 / n) ** 0.5 for n in (runs - 1, runs)]
    assert half[0] > 0.01 >= half[1]
    assert runs_to_tell(1.0, 0.001) is None and runs_to_tell(0.0, 0.01) == 2


def test_tests_that_know_nothing_of_each_other_all_count():
    rng = np.random.default_rng(1)
    alone = rng.normal(size=(4000, 5))
    assert independent_count(alone) == pytest.approx(5.0, abs=0.02)
    assert independent_count(alone[:, :1] @ np.ones((1, 5))) == pytest.approx(1.0, abs=1e-6)
    assert independent_count(np.zeros((6, 3))) == 1.0


@pytest.mark.parametrize(("freedom", "times"), [(1, 12.706), (2, 4.303), (10, 2.228), (10_000, 1.960)])
def test_a_half_width_goes_by_students_t(freedom, times):
    # Published: the table of any handbook, two-sided 95 %
    assert student_half_width(2.0, freedom) == pytest.approx(2.0 * times, rel=1e-3)


def test_nothing_shows_a_deviation_of_no_freedom():
    with pytest.raises(ValueError, match="at least 1 degree of freedom"):
        student_half_width(1.0, 0)
