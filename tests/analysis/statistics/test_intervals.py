"""Stretches of a record."""

import numpy as np
import pytest

from passband.analysis.statistics.intervals import Interval, bridge, find_above, find_true_runs, time_where


def test_stretches_at_both_edges_are_closed():
    # Hand
    assert find_true_runs(np.array([True, True, False, True])) == [Interval(0, 2), Interval(3, 4)]


def test_nothing_true_is_no_stretch():
    assert find_true_runs(np.zeros(5, dtype=bool)) == []
    assert find_true_runs(np.zeros(0, dtype=bool)) == []


def test_a_stretch_above_grows_outward_to_the_lower_threshold():
    score = np.array([0.0, 1.2, 2.5, 1.2, 0.5, 1.8, 0.0])
    assert find_above(score, on=2.0, off=1.0) == [Interval(1, 4)]


def test_a_score_on_the_upper_threshold_is_not_above_it():
    assert find_above(np.array([0.0, 2.0, 0.0]), on=2.0, off=1.0) == []
    assert find_above(np.array([0.0, 2.001, 0.0]), on=2.0, off=1.0) == [Interval(1, 2)]


def test_a_missing_score_parts_two_stretches():
    assert find_above(np.array([3.0, np.nan, 3.0]), on=2.0, off=1.0) == [Interval(0, 1), Interval(2, 3)]


def test_thresholds_the_wrong_way_round_are_refused():
    with pytest.raises(ValueError, match="on must be at least off"):
        find_above(np.ones(3), on=1.0, off=2.0)


def test_a_gap_is_bridged_up_to_its_length_and_no_further():
    pieces = [Interval(0, 2), Interval(4, 6), Interval(9, 10)]
    assert bridge(pieces, 2) == [Interval(0, 6), Interval(9, 10)]
    assert bridge(pieces, 1) == pieces
    assert bridge([], 5) == []


def test_time_above_counts_from_crossing_to_crossing():
    # Hand: up at 0.5, down at 2.5
    got = time_where(np.arange(4.0), np.array([-1.0, 1.0, 1.0, -1.0]), start_s=0.0, stop_s=3.0)
    assert got == pytest.approx(2.0)


def test_time_above_is_held_past_the_record_and_cut_to_the_window():
    got = time_where(np.array([1.0, 2.0]), np.array([1.0, 1.0]), start_s=0.0, stop_s=1.5)
    assert got == pytest.approx(1.5)


def test_time_above_of_nothing_known_is_not_known():
    assert np.isnan(time_where(np.arange(2.0), np.full(2, np.nan), start_s=0.0, stop_s=1.0))


def test_time_above_in_no_window_is_zero():
    assert time_where(np.arange(2.0), np.ones(2), start_s=1.0, stop_s=1.0) == 0.0
