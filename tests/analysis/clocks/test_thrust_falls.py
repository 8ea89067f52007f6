"""Falls of push and departures of engine speed, to a few milliseconds at any rate."""

import numpy as np
import pytest

from passband.analysis.clocks.thrust_falls import find_engine_departure, find_thrust_falls
from passband.analysis.statistics.filters import delayed

CUTS_S = (2.013, 4.027)


def push(rate_hz, noise=0.05, seed=1):
    """8 m/s2, gone within 15 ms at each cut, back after 80 ms; 8 ms late, through lags of 10 (driveline) and 12 ms."""
    fine = np.arange(0.0, 6.0, 0.001)
    level = np.full(fine.size, 8.0)
    for cut in CUTS_S:
        level -= 8.5 * np.interp(fine, [cut, cut + 0.015, cut + 0.08, cut + 0.1], [0, 1, 1, 0])
    felt = delayed(fine, level, lag_s=0.010)
    seen = delayed(fine, felt, latency_s=0.008, lag_s=0.012)
    time = np.arange(0.0, 6.0, 1 / rate_hz)
    return time, np.interp(time, fine, seen) + np.random.default_rng(seed).normal(0, noise, time.size)


@pytest.mark.parametrize("rate_hz, tolerance_s", [(25.0, 0.020), (50.0, 0.009), (100.0, 0.006), (500.0, 0.006)])
def test_planted_falls_are_found_at_their_start(rate_hz, tolerance_s):
    # Planted: the dead time of 8 ms stays in, the lags do not
    assert find_thrust_falls(*push(rate_hz)) == pytest.approx([cut + 0.008 for cut in CUTS_S], abs=tolerance_s)


def test_falls_between_samples_far_apart_are_off_by_less_than_half_a_sample():
    # Planted: one run sampled at twenty phases, 40 ms apart
    fine, level = push(1000.0, noise=0.0)
    off = []
    for phase in np.random.default_rng(4).uniform(0.0, 0.04, 20):
        time = np.arange(phase, 5.9, 0.04)
        off += list(find_thrust_falls(time, np.interp(time, fine, level)) - np.array(CUTS_S) - 0.008)
    assert np.max(np.abs(off)) < 0.018 and abs(np.mean(off)) < 0.008


@pytest.mark.parametrize("rate_hz", [25.0, 100.0])
def test_a_steady_push_falls_nowhere(rate_hz):
    time = np.arange(0.0, 6.0, 1 / rate_hz)
    steady = 8.0 - 0.8 * time + np.random.default_rng(2).normal(0, 0.1, time.size)
    assert find_thrust_falls(time, steady).size == 0


def test_tire_shake_is_no_fall():
    time = np.arange(0.0, 4.0, 0.01)
    assert find_thrust_falls(time, 8.0 + 2.0 * np.sin(2 * np.pi * 11 * time)).size == 0


def test_a_driveline_that_swings_back_falls_once():
    # Planted: a second, deeper dip 60 ms after the first
    time = np.arange(0.0, 3.0, 0.01)
    level = 8.0 - np.interp(time, [1.0, 1.02, 1.05, 1.07, 1.09, 1.2], [0, 7, 3, 9, 9, 0])
    assert find_thrust_falls(time, level) == pytest.approx([1.0], abs=0.012)


def test_a_short_record_holds_no_fall():
    assert find_thrust_falls(np.arange(4.0), np.ones(4)).size == 0


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 500.0])
@pytest.mark.parametrize("slope, up", [(-15000.0, False), (9000.0, True)])
def test_the_engines_departure_is_found_whichever_way_it_goes(rate_hz, slope, up):
    # Planted: a pull of 1500 rpm/s left at 1.000 s
    time = np.arange(0.0, 2.0, 1 / rate_hz)
    rpm = 6000 + 1500 * time + slope * np.maximum(time - 1.0, 0.0)
    rpm += np.random.default_rng(3).normal(0, 6.0, time.size)
    found = find_engine_departure(time, rpm, near_s=1.02)
    assert found.up is up
    assert found.time_s == pytest.approx(1.0, abs=0.3 / rate_hz + 0.003)


def test_an_engine_that_keeps_its_course_departs_nowhere():
    time = np.arange(0.0, 2.0, 0.01)
    assert find_engine_departure(time, 6000 + 1500 * time, near_s=1.0) is None


def test_an_engine_that_has_left_its_course_before_the_search_departs_nowhere():
    # Planted: off its course from 0.95 s, looked for from 1.01 s on
    time = np.arange(0.0, 2.0, 0.01)
    rpm = 6000 - 15000 * np.maximum(time - 0.95, 0.0)
    assert find_engine_departure(time, rpm, near_s=1.1) is None
