"""Sliding polynomials against the published table and against scipy."""

import numpy as np
import pytest
from scipy.signal import savgol_coeffs, savgol_filter

from passband.analysis.statistics.filters import savitzky_golay_weights, slope, smooth

# Published: Savitzky and Golay, Anal. Chem. 36, 1627 (1964), smoothing and derivative tables; the smoothing rows up to
# 11 points as reprinted in a textbook's supplement, the others recomputed by least squares.
SMOOTHING = {
    (5, 2): ([-3, 12, 17, 12, -3], 35),
    (7, 2): ([-2, 3, 6, 7, 6, 3, -2], 21),
    (9, 2): ([-21, 14, 39, 54, 59, 54, 39, 14, -21], 231),
    (11, 2): ([-36, 9, 44, 69, 84, 89, 84, 69, 44, 9, -36], 429),
    (7, 4): ([5, -30, 75, 131, 75, -30, 5], 231),
}
FIRST_DERIVATIVE = {
    (5, 2): ([-2, -1, 0, 1, 2], 10),
    (7, 2): ([-3, -2, -1, 0, 1, 2, 3], 28),
    (5, 3): ([1, -8, 0, 8, -1], 12),
    (7, 3): ([22, -67, -58, 0, 58, 67, -22], 252),
}


@pytest.mark.parametrize("window, order", SMOOTHING)
def test_smoothing_weights_are_the_published_ones(window, order):
    numerators, norm = SMOOTHING[window, order]
    assert savitzky_golay_weights(window, order=order) * norm == pytest.approx(numerators, abs=1e-9)


@pytest.mark.parametrize("window, order", FIRST_DERIVATIVE)
def test_derivative_weights_are_the_published_ones(window, order):
    numerators, norm = FIRST_DERIVATIVE[window, order]
    assert savitzky_golay_weights(window, order=order, derivative=1) * norm == pytest.approx(numerators, abs=1e-9)


@pytest.mark.parametrize("window, order, derivative", [(5, 2, 0), (9, 3, 1), (25, 2, 0), (31, 3, 1), (15, 4, 2)])
def test_weights_are_those_of_scipy(window, order, derivative):
    expected = savgol_coeffs(window, order, deriv=derivative, use="dot")
    assert savitzky_golay_weights(window, order=order, derivative=derivative) == pytest.approx(expected, abs=1e-9)


def test_the_worked_example_comes_out():
    # Published example: window 5, order 2
    got = smooth(np.array([2.0, 2, 5, 2, 1, 0, 1, 4, 9]), step_s=1.0, span_s=4.0)
    assert got == pytest.approx([1.66, 3.17, 3.54, 2.86, 0.66, 0.17, 1, 4, 9], abs=0.005)


@pytest.mark.parametrize("order", [1, 2, 3])
def test_smoothing_and_slope_are_those_of_scipy_ends_included(order):
    values = np.random.default_rng(6).normal(size=200).cumsum()
    expected = savgol_filter(values, 11, order)
    assert smooth(values, step_s=0.01, span_s=0.1, order=order) == pytest.approx(expected, abs=1e-9)
    expected = savgol_filter(values, 11, order, deriv=1, delta=0.01)
    assert slope(values, step_s=0.01, span_s=0.1, order=order) == pytest.approx(expected, abs=1e-6)
