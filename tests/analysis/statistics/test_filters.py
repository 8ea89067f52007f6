"""Even grids, resampling, held signals, smoothing and sensors' delays."""

from itertools import pairwise

import numpy as np
import pytest

from passband.analysis.statistics.filters import (
    delayed,
    even_grid,
    own_updates,
    resample,
    savitzky_golay_weights,
    slope,
    smooth,
)


def test_an_even_grid_holds_its_last_time_where_it_fits():
    # Hand
    assert even_grid(2.0, 2.5, rate_hz=4.0).tolist() == [2.0, 2.25, 2.5]


def test_an_even_grid_that_ends_before_it_starts_is_empty():
    assert even_grid(2.0, 1.0, rate_hz=4.0).size == 0


def test_an_even_grid_refuses_a_rate_of_zero():
    with pytest.raises(ValueError, match="rate_hz"):
        even_grid(0.0, 1.0, rate_hz=0.0)


def test_resampling_joins_short_gaps_only():
    # Hand: 0.5 lies between samples 1 s apart, 3.0 in a gap of 4 s, 5.0 on a sample, 6.0 outside
    got = resample(np.array([0.0, 1.0, 5.0]), np.array([0.0, 2.0, 6.0]), np.array([0.5, 3.0, 5.0, 6.0]), max_gap_s=2.0)
    assert got == pytest.approx([1.0, np.nan, 6.0, np.nan], nan_ok=True)


def test_resampling_passes_over_missing_samples():
    got = resample(np.arange(3.0), np.array([0.0, np.nan, 4.0]), np.array([1.0]), max_gap_s=2.5)
    assert got == pytest.approx([2.0])


def test_resampling_nothing_knows_nothing():
    assert np.isnan(resample(np.zeros(0), np.zeros(0), np.arange(3.0), max_gap_s=1.0)).all()


@pytest.mark.parametrize("row_hz", [50.0, 100.0, 200.0])
def test_a_held_signal_is_renewed_at_its_own_rate(row_hz):
    # Planted: a ramp renewed 10 times a second
    time = np.arange(0.0, 5.0, 1 / row_hz)
    renewed = own_updates(time, np.floor(time * 10 + 1e-6), rate_hz=10.0)
    assert np.diff(time[renewed]) == pytest.approx(0.1, abs=1.01 / row_hz)


def test_a_value_that_stands_is_renewed_once_a_period():
    time = np.arange(0.0, 2.0, 0.01)
    renewed = own_updates(time, np.ones(time.size), rate_hz=10.0)
    assert 15 <= renewed.sum() <= 21


def test_a_signal_as_quick_as_its_log_is_renewed_at_each_sample():
    time = np.arange(0.0, 1.0, 0.01)
    assert own_updates(time, np.ones(time.size), rate_hz=100.0).all()


@pytest.mark.parametrize("order", [1, 2, 3])
def test_smoothing_keeps_a_polynomial_of_its_order(order):
    # Limit: the fit is exact, ends included
    time = np.arange(0.0, 1.0, 0.01)
    values = 2.0 + time**order
    assert smooth(values, step_s=0.01, span_s=0.1, order=order) == pytest.approx(values, abs=1e-9)
    assert slope(values, step_s=0.01, span_s=0.1, order=order) == pytest.approx(order * time ** (order - 1), abs=1e-6)


def test_smoothing_a_record_shorter_than_its_span_knows_nothing():
    assert np.isnan(smooth(np.ones(3), step_s=0.1, span_s=1.0)).all()


def test_a_missing_sample_is_missing_for_half_a_span():
    values = np.ones(20)
    values[10] = np.nan
    assert np.flatnonzero(np.isnan(smooth(values, step_s=1.0, span_s=4.0))).tolist() == [8, 9, 10, 11, 12]


def test_weights_refuse_an_even_window():
    with pytest.raises(ValueError, match="odd window"):
        savitzky_golay_weights(4, order=2)


def test_a_ramp_comes_late_by_dead_time_and_lag():
    # Hand: after many time constants a first-order lag is late by exactly its time constant
    ramp = np.arange(0.0, 2.0, 0.01)
    got = delayed(ramp, ramp, latency_s=0.03, lag_s=0.05)
    assert ramp[-1] - got[-1] == pytest.approx(0.08, abs=1e-9)


def test_a_step_through_a_lag_is_an_exponential():
    # Hand: 1 - exp(-t/T) for a step that rises within one sample
    time = np.arange(0.0, 1.0, 0.001)
    got = delayed(time, (time >= 0.1).astype(float), lag_s=0.05)
    assert got[time.searchsorted(0.15)] == pytest.approx(1 - np.exp(-1.0), abs=0.006)


def test_no_delay_changes_nothing():
    time = np.arange(0.0, 1.0, 0.1)
    assert delayed(time, time**2) == pytest.approx(time**2)


def test_a_long_lag_needs_no_more_than_one_pass_to_agree_with_the_plain_loop():
    # Slow twin: the same recurrence, sample by sample
    values = np.random.default_rng(3).normal(size=300)
    time, keep = np.arange(300) * 0.01, np.exp(-0.01 / 0.2)
    gain, out = 0.01 - 0.2 * (1 - keep), [values[0]]
    for before, now in pairwise(values):
        out.append(keep * out[-1] + (1 - keep) * before + (now - before) / 0.01 * gain)
    assert delayed(time, values, lag_s=0.2) == pytest.approx(np.array(out))


def test_a_negative_lag_is_refused():
    with pytest.raises(ValueError, match="lag_s"):
        delayed(np.arange(3.0), np.arange(3.0), lag_s=-1.0)
