"""Robust spread and robust least squares."""

import numpy as np
import pytest

from passband.analysis.statistics.fits import fit_robust_least_squares, middle, quantiles, spread


def test_the_spread_of_normal_noise_is_its_standard_deviation():
    noise = np.random.default_rng(1).normal(0.0, 3.0, 20000)
    assert spread(noise) == pytest.approx(3.0, rel=0.03)


def test_the_spread_does_not_see_a_minority():
    values = np.concatenate([np.random.default_rng(2).normal(0.0, 1.0, 900), np.full(100, 1e6)])
    assert spread(values) == pytest.approx(1.0, rel=0.25)


def test_the_spread_of_nothing_is_not_known():
    assert np.isnan(spread(np.array([np.nan])))


def line(count=60, noise=0.0, seed=4):
    x = np.linspace(0.0, 1.0, count)
    rows = np.column_stack([np.ones(count), x])
    return rows, 2.0 + 3.0 * x + np.random.default_rng(seed).normal(0, 1, count) * noise


def test_a_clean_line_is_found_exactly():
    rows, target = line()
    assert fit_robust_least_squares(rows, target).parameters == pytest.approx([2.0, 3.0], abs=1e-9)


def test_one_row_in_six_far_off_moves_nothing_much():
    rows, target = line(noise=0.05)
    target[::6] += 40.0
    fit = fit_robust_least_squares(rows, target)
    assert fit.parameters == pytest.approx([2.0, 3.0], abs=0.1)
    assert fit.weights[::6].max() < 0.05


def test_rows_that_are_not_known_are_passed_over():
    rows, target = line()
    target[5], rows[7, 1] = np.nan, np.nan
    assert fit_robust_least_squares(rows, target).parameters == pytest.approx([2.0, 3.0], abs=1e-9)


def test_too_few_rows_settle_nothing():
    assert np.isnan(fit_robust_least_squares(np.ones((1, 2)), np.ones(1)).parameters).all()


def test_two_columns_alike_settle_nothing():
    assert np.isnan(fit_robust_least_squares(np.ones((9, 2)), np.ones(9)).parameters).all()


def test_the_sigma_told_is_the_scatter_over_many_records():
    # Planted: 300 records of the same line, noise 0.5
    fits = [fit_robust_least_squares(*line(noise=0.5, seed=seed)) for seed in range(300)]
    scatter = np.std([fit.parameters for fit in fits], axis=0)
    assert np.mean([fit.sigma for fit in fits], axis=0) == pytest.approx(scatter, rel=0.2)


def test_a_weightier_row_pulls_harder():
    # Hand: mean of 0 and 3 with weights 1 and 2 squared is 2.4
    fit = fit_robust_least_squares(
        np.ones((2, 1)), np.array([0.0, 3.0]), weights=np.array([1.0, 2.0]), least_sigma=99.0
    )
    assert fit.parameters == pytest.approx([2.4])


@pytest.mark.parametrize("size", [1, 2, 3, 10, 101])
def test_quantiles_are_to_the_bit_those_of_the_library(size):
    # Slow twin: numpy's own, on values printed coarsely and finely
    dice, shares = np.random.default_rng(size), (0.0, 0.01, 0.02, 0.3, 0.5, 0.98, 0.999, 1.0)
    for decimals in range(8):
        values = np.round(dice.normal(0.0, 300.0, size), decimals)
        assert quantiles(values, shares).tolist() == np.quantile(values, shares).tolist()


@pytest.mark.parametrize("size", [1, 2, 3, 300, 301, 4096, 4097, 4098, 60_001])
def test_the_middle_is_to_the_bit_the_library_s_median(size):
    values = np.random.default_rng(size).normal(100.0, 30.0, size)
    assert middle(values) == np.median(values)
    assert middle(np.round(values)) == np.median(np.round(values))
