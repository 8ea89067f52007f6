"""Thinned traces: no peak lost, no hole bridged, nothing invented."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passband.analysis.statistics.thinning import thin


def test_a_short_trace_comes_back_as_it_is():
    # Hand
    got = thin(np.array([0.0, 1.0, 2.0]), np.array([5.0, 7.0, 6.0]), points=4)
    assert got.x.tolist() == [0.0, 1.0, 2.0] and got.y.tolist() == [5.0, 7.0, 6.0] and not got.thinned


@pytest.mark.parametrize("place", [0, 1, 4321, 9998, 9999])
def test_a_single_spike_survives_wherever_it_is(place):
    # Planted: one sample among ten thousand
    y = np.zeros(10_000)
    y[place] = -3.0
    got = thin(np.arange(10_000.0), y, points=100)
    assert got.thinned and got.x.size <= 100
    assert got.x[got.y == -3.0].tolist() == [float(place)]


def test_each_bucket_keeps_its_least_and_greatest():
    # Slow twin: reshape and take the extremes
    y = np.random.default_rng(3).normal(size=1000)
    got = thin(np.arange(1000.0), y, points=20)
    rows = y.reshape(10, 100)
    wanted = sorted({*rows.argmin(axis=1) + 100 * np.arange(10), *rows.argmax(axis=1) + 100 * np.arange(10)})
    assert got.x.astype(int).tolist() == wanted


def test_a_hole_stays_a_hole():
    y = np.sin(np.arange(4000) / 300)
    y[1000:1100] = np.nan
    got = thin(np.arange(4000.0), y, points=100)
    assert np.isnan(got.y).sum() == 1
    assert 1000 <= got.x[np.isnan(got.y)][0] < 1100


def test_a_sample_without_a_place_is_left_out():
    got = thin(np.array([np.nan, 1.0, 2.0]), np.array([9.0, 1.0, 2.0]), points=10)
    assert got.y.tolist() == [1.0, 2.0]


def test_nothing_known_gives_nothing():
    assert thin(np.empty(0), np.empty(0), points=10).x.size == 0
    got = thin(np.arange(3.0), np.full(3, np.nan), points=10)
    assert np.isnan(got.y).all()


def test_what_cannot_be_is_refused_by_name():
    with pytest.raises(ValueError, match="points must be at least 4, got 3"):
        thin(np.arange(3.0), np.arange(3.0), points=3)
    with pytest.raises(ValueError, match="one shape"):
        thin(np.arange(3.0), np.arange(4.0), points=9)


@given(st.lists(st.one_of(st.floats(-1e6, 1e6), st.just(float("nan"))), max_size=300), st.integers(4, 60))
def test_every_point_is_a_sample_and_the_extremes_are_among_them(values, points):
    y = np.array(values, dtype=float)
    got = thin(np.arange(float(y.size)), y, points=points)
    np.testing.assert_array_equal(got.y, y[got.x.astype(int)])
    assert np.all(np.diff(got.x) > 0) and np.isfinite(got.y).sum() <= points
    known = y[np.isfinite(y)]
    if known.size:
        assert (np.nanmin(got.y), np.nanmax(got.y)) == (known.min(), known.max())
