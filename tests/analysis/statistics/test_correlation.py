"""Likeness at each lag."""

import numpy as np
import pytest

from passband.analysis.statistics.correlation import correlate_at_lags, samples_that_hang_together


def changes(seed=5, count=400):
    return np.random.default_rng(seed).normal(size=count)


@pytest.mark.parametrize("lag", [-37, 0, 12, 150])
def test_a_planted_lag_is_found(lag):
    # Planted: the second record is a stretch of the first
    whole = changes(count=800)
    first, second = whole[300:700], whole[300 + lag : 300 + lag + 400]
    found = correlate_at_lags(first, second, min_overlap=50)
    assert found.lag[np.nanargmax(found.score)] == lag
    assert np.nanmax(found.score) == pytest.approx(1.0)


def test_gaps_are_left_out_of_the_score():
    first = changes()
    second = first.copy()
    second[100:150] = np.nan
    found = correlate_at_lags(first, second, min_overlap=50)
    assert np.nanmax(found.score) == pytest.approx(1.0)
    assert found.overlap[found.lag == 0] == pytest.approx([350.0])


def test_too_short_an_overlap_has_no_score():
    found = correlate_at_lags(changes(count=50), changes(count=50), min_overlap=40)
    assert np.isnan(found.score[np.abs(found.lag) > 10]).all()


def test_scale_changes_no_score():
    first, second = changes(1), changes(2)
    plain = correlate_at_lags(first, second, min_overlap=50).score
    assert correlate_at_lags(1000.0 * first, second, min_overlap=50).score == pytest.approx(plain, nan_ok=True)


def test_nothing_is_like_nothing():
    assert np.isnan(correlate_at_lags(np.zeros(20), np.zeros(20), min_overlap=5).score).all()


def fading(alike, count=20_000, seed=3):
    free = np.random.default_rng(seed).normal(size=count)
    errors = np.zeros(count)
    for place in range(1, count):
        errors[place] = alike * errors[place - 1] + free[place]
    return errors


@pytest.mark.parametrize(("alike", "together"), [(0.0, 1.0), (0.5, 3.0), (0.7, 17.0 / 3.0)])
def test_errors_that_fade_stand_for_so_many(alike, together):
    # Planted; by hand (1 + r) / (1 - r)
    assert samples_that_hang_together(fading(alike)) == pytest.approx(together, rel=0.08)


def test_few_errors_and_none_at_all_stand_for_themselves():
    assert samples_that_hang_together(fading(0.7, count=15)) == 1.0
    assert samples_that_hang_together(np.zeros(50)) == 1.0


def test_a_model_that_is_wrong_is_no_noise():
    # Hand: a ramp's neighbours are all but alike; 0.9 of it counts, 1.9 / 0.1
    assert samples_that_hang_together(np.linspace(-1.0, 1.0, 500)) == pytest.approx(19.0)


def test_one_far_out_does_not_make_neighbours_strangers():
    errors = fading(0.7)
    errors[5000] = 1e6
    assert samples_that_hang_together(errors) == pytest.approx(17.0 / 3.0, rel=0.08)
