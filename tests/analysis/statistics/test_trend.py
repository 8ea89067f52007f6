"""The median slope between pairs, against another's making of it and planted trends."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import theilslopes

from passband.analysis.statistics.trend import fit_trend


@pytest.mark.parametrize("count", [6, 12, 40])
def test_slope_and_interval_are_those_of_another_maker(count):
    # Slow twin: scipy.stats.theilslopes, whose interval takes Kendall's count to be normal
    rng = np.random.default_rng(count)
    place, value = np.arange(float(count)), rng.normal(0.0, 1.0, count)
    found, other = fit_trend(place, value), theilslopes(value, place, alpha=0.95)
    assert found.slope == pytest.approx(other.slope, abs=1e-12)
    wide = other.high_slope - other.low_slope
    assert found.lower == pytest.approx(other.low_slope, abs=0.25 * wide)
    assert found.upper == pytest.approx(other.high_slope, abs=0.25 * wide)


def test_of_five_all_slopes_are_between_the_ends():
    # Hand: of 120 orders one has no pair the wrong way round, 1/120 < 0.025, and five have one or none, 5/120 > 0.025
    value = np.array([0.0, 3.0, 1.0, 4.0, 2.0])
    slopes = [(value[j] - value[i]) / (j - i) for i in range(5) for j in range(i + 1, 5)]
    found = fit_trend(np.arange(5.0), value)
    assert (found.lower, found.upper) == (min(slopes), max(slopes))


def test_four_tell_no_trend():
    assert fit_trend(np.arange(4.0), np.arange(4.0)) is None


def test_one_odd_value_does_not_bend_it():
    value = 10.0 + 0.01 * np.arange(9.0)
    value[4] += 3.0
    assert fit_trend(np.arange(9.0), value).slope == pytest.approx(0.01, abs=1e-9)


@pytest.mark.parametrize("heavy", [False, True])
def test_the_interval_holds_the_planted_slope_in_95_of_100(heavy):
    # Planted: slope 0.3, scatter normal or heavy-tailed
    rng, held = np.random.default_rng(7), 0
    for _ in range(800):
        scatter = rng.standard_t(2, 8) if heavy else rng.normal(0, 1, 8)
        found = fit_trend(np.arange(8.0), 0.3 * np.arange(8.0) + scatter)
        held += found.lower <= 0.3 <= found.upper
    assert held / 800 >= 0.93
