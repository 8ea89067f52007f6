"""The lag of a pick-up, by the beats of a two-step: planted leaps seen through a planted lag."""

import numpy as np
import pytest

from passband.analysis.sensors.beats import measure_pickup_lag

FINE_S, TORQUE_S = 0.0005, 0.005
"""What is planted is worked out so finely; torque follows its spark by so much. [s], [s]"""


def lagged(values, lag_s):
    out, keep = np.empty_like(values), values[0]
    for place, value in enumerate(values):
        keep += (value - keep) * FINE_S / (lag_s + FINE_S)
        out[place] = keep
    return out


def held_by_cuts(lag_s, *, rate_hz=100.0, beat_s=0.083, high_rpm=110.0, noise_rpm=7.0, seed=1):
    """An engine that leaps at 20,000 rpm/s and sinks in between, through torque's lag and the pick-up's."""
    time_s = np.arange(-2.0, 0.0, FINE_S)
    since_s, leap_s = np.mod(time_s, beat_s), high_rpm / 20e3
    true = np.where(since_s < leap_s, since_s / leap_s, 1.0 - (since_s - leap_s) / (beat_s - leap_s))
    seen = lagged(lagged(6000.0 + high_rpm * true, TORQUE_S), lag_s)
    rows_s = np.arange(-1.9, -0.001, 1.0 / rate_hz)
    noise = np.random.default_rng(seed).normal(0.0, noise_rpm, rows_s.size)
    return rows_s, np.interp(rows_s, time_s, seen) + noise


@pytest.mark.parametrize("rate_hz", [100.0, 200.0, 500.0])
@pytest.mark.parametrize("lag_s", [0.002, 0.006, 0.012, 0.020])
def test_the_lag_is_found_within_what_is_claimed(lag_s, rate_hz):
    # Planted; a prompt one is known to 5 ms, any to 12
    found = measure_pickup_lag(*held_by_cuts(lag_s, rate_hz=rate_hz), launch_s=0.0, noise_rpm=7.0)
    assert abs(found.lag_s - lag_s) < found.plus_minus_s < (0.005 if lag_s < 0.01 else 0.012)


def test_a_slow_pickup_is_told_from_a_prompt_one():
    prompt, slow = (measure_pickup_lag(*held_by_cuts(lag_s), launch_s=0.0, noise_rpm=7.0) for lag_s in (0.004, 0.022))
    assert slow.lag_s - slow.plus_minus_s > prompt.lag_s


def test_two_high_beats_will_do():
    # Planted: 300 ms from leap to leap, 350 rpm high
    found = measure_pickup_lag(
        *held_by_cuts(0.005, beat_s=0.4, high_rpm=350.0, noise_rpm=4.0), launch_s=0.0, noise_rpm=4.0
    )
    assert abs(found.lag_s - 0.005) < found.plus_minus_s < 0.006


def test_a_swing_without_leaps_tells_nothing():
    # Planted: a governor's sine, a steady foot, rows too rare, hardly any rows
    time_s = np.arange(-1.9, 0.0, 0.01)
    noise = np.random.default_rng(2).normal(0.0, 7.0, time_s.size)
    for rpm in (6000.0 + 40.0 * np.sin(2.0 * np.pi * 15.0 * time_s) + noise, 6000.0 + noise):
        assert measure_pickup_lag(time_s, rpm, launch_s=0.0, noise_rpm=7.0) is None
    rare_s, rare = held_by_cuts(0.008, rate_hz=20.0)
    assert measure_pickup_lag(rare_s, rare, launch_s=0.0, noise_rpm=7.0) is None
    assert measure_pickup_lag(rare_s[:5], rare[:5], launch_s=0.0, noise_rpm=7.0) is None


def test_the_time_of_day_does_not_matter():
    # Physics: all times moved by an hour
    rows_s, rpm = held_by_cuts(0.010)
    here, there = (measure_pickup_lag(rows_s + at_s, rpm, launch_s=at_s, noise_rpm=7.0) for at_s in (0.0, 3600.0))
    assert there.lag_s == pytest.approx(here.lag_s, abs=1e-5)


@pytest.mark.parametrize("beat_s", [0.036, 0.041, 0.045])
def test_what_a_slow_pickup_leaves_of_beats_is_not_taken_for_a_prompt_one(beat_s):
    # Hand: next to nothing but the first harmonic is left, 7 rpm of it in 3 of noise; any lag would fit
    time_s = np.arange(-1.9, 0.0, 0.01)
    for seed in range(8):
        noise = np.random.default_rng(seed).normal(0.0, 3.0, time_s.size)
        rpm = 6000.0 + 7.0 * np.sin(2.0 * np.pi * time_s / beat_s) + noise
        found = measure_pickup_lag(time_s, rpm, launch_s=0.0, noise_rpm=3.0)
        assert found is None or found.lag_s > 0.0075
