"""Correlation by transform, gaps left out, against scipy's and against the plain sums."""

import numpy as np
import pytest
from scipy.signal import correlate, correlation_lags

from passband.analysis.statistics.correlation import correlate_at_lags
from passband.analysis.statistics.filters import slope


def test_sums_are_those_of_scipy():
    chance = np.random.default_rng(7)
    first, second = chance.normal(size=130), chance.normal(size=90)
    found = correlate_at_lags(first, second, min_overlap=1)
    assert found.lag == pytest.approx(correlation_lags(130, 90))
    energy = correlate(first**2, np.ones(90)) * correlate(np.ones(130), second**2)
    assert found.score == pytest.approx(correlate(first, second) / np.sqrt(energy), abs=1e-7)  # transforms round


def test_scores_with_gaps_are_those_of_the_plain_sums():
    # Slow twin: sum by sum over the samples known to both
    chance = np.random.default_rng(8)
    first, second = chance.normal(size=60), chance.normal(size=40)
    first[10:15], second[30:] = np.nan, np.nan
    found = correlate_at_lags(first, second, min_overlap=5)
    for lag in (-20, -3, 0, 17, 40):
        pairs = [(first[i + lag], second[i]) for i in range(40) if 0 <= i + lag < 60]
        x, y = np.array([pair for pair in pairs if np.isfinite(pair).all()]).T
        expected = np.sum(x * y) / np.sqrt(np.sum(x * x) * np.sum(y * y))
        assert found.score[found.lag == lag] == pytest.approx([expected])


def test_rates_of_change_show_a_lag_that_levels_hide():
    # Published: on a run's engine speed the correlation of levels once gave no lag at all, of d(rpm)/dt the right one
    chance = np.random.default_rng(9)
    time = np.arange(0.0, 12.0, 0.01)
    rpm = 5000 + 300 * ((time * 4) % 10) + 40 * np.sin(time)
    own, copy = rpm[:1000] + chance.normal(0, 10, 1000), rpm[37:1037] + chance.normal(0, 10, 1000)
    gains = [slope(one, step_s=0.01, span_s=0.08) for one in (own, copy)]
    found = correlate_at_lags(*gains, min_overlap=500)
    assert found.lag[np.nanargmax(found.score)] == 37
