"""A GPS speed that freezes and creeps back is left out until it has caught up; one that only pauses is not."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.motion.frozen_speed import find_creeping_back, tell_creeping_back, tell_pauses
from passband.analysis.sensors.new_values import find_dropouts
from passband.analysis.windows.window import RunWindow

NAN = float("nan")
WINDOW = RunWindow(2.0, 0.02, 15.5, None, (), ())


def channel(values, *, rate_hz=10.0):
    time = np.arange(values.size) / rate_hz
    return Channel("gps_speed", "GPS", "m/s", "m/s", time, values, rate_hz, 1.0, 1, 0.01)


def pull(time, *, noise=0.04, seed=0):
    """Planted: a car from rest at 2 s that gains 65 m/s in the end, at 13 m/s2 first."""
    speed = np.where(time > 2.0, 65.0 * (1.0 - np.exp(-(time - 2.0) / 5.0)), 0.0)
    return speed + np.where(time > 2.0, np.random.default_rng(seed).normal(0, noise, time.size), 0.0)


def frozen(first_s, lasts_s, creep_s, *, rate_hz=10.0, seed=0, left_out=False):
    time = np.arange(0.0, 16.0, 1.0 / rate_hz)
    true = pull(time, seed=seed)
    held = np.interp(first_s, time, true)
    flat = (time > first_s) & (time < first_s + lasts_s)
    later = time >= first_s + lasts_s
    lag = (np.interp(first_s + lasts_s, time, true) - held) * np.exp(
        -np.maximum(time - first_s - lasts_s, 0.0) / max(creep_s, 1e-3)
    )
    values = np.where(flat, NAN if left_out else held, np.where(later, true - lag, true))
    return channel(values, rate_hz=rate_hz), time, true


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 20.0])
@pytest.mark.parametrize("left_out", [True, False])
def test_what_creeps_back_is_left_out_until_it_is_true_again(seed, rate_hz, left_out):
    speed, time, true = frozen(6.0, 1.5, 0.7, rate_hz=rate_hz, seed=seed, left_out=left_out)
    ((first, last),) = find_creeping_back(speed, WINDOW)
    assert first == pytest.approx(6.0, abs=1.5 / rate_hz)
    kept = (time <= first) | (time >= last)
    assert np.nanmax(np.abs(speed.values - true)[kept]) < 0.5
    assert last < 6.0 + 1.5 + 6 * 0.7


@pytest.mark.parametrize("seed", range(4))
def test_a_pause_that_ends_at_once_on_the_truth_is_left_alone(seed):
    speed, _, _ = frozen(6.0, 1.5, 0.0, seed=seed, left_out=True)
    assert find_creeping_back(speed, WINDOW) == []


@pytest.mark.parametrize("seed", range(4))
def test_an_honest_speed_is_left_alone(seed):
    time = np.arange(0.0, 16.0, 0.1)
    assert find_creeping_back(channel(pull(time, seed=seed)), WINDOW) == []


def test_a_lift_for_a_second_is_not_a_freeze():
    # Planted: the driver lifts, the car holds its speed and noise goes on; then it pulls as before
    time = np.arange(0.0, 16.0, 0.1)
    held = np.where(time < 6.0, time, np.where(time < 7.0, 6.0, time - 1.0))
    speed = np.interp(held, time, pull(time, noise=0.0)) + np.random.default_rng(1).normal(0, 0.04, time.size)
    assert find_creeping_back(channel(speed), WINDOW) == []


def test_it_is_told_when_and_what_was_done():
    speed, _, _ = frozen(6.0, 1.5, 0.7)
    (told,) = tell_creeping_back(speed, [(6.0, 9.2)])
    assert told.code == "speed-froze"
    assert "6.0 to 9.2 s" in told.text
    assert "left out" in told.text


@pytest.mark.parametrize(("rate_hz", "shown"), [(1.0, 6.0), (5.0, None)])
def test_a_receiver_that_pauses_while_the_car_gains_is_told(rate_hz, shown):
    # Planted: one value repeated, or none, from 6 to 8 s; without it, and where the car keeps its speed: nothing told
    time = np.arange(0.0, 16.0, 1.0 / rate_hz)
    speed = pull(time)
    paused = np.where((time > 6.0) & (time < 8.0), np.nan if shown is None else np.interp(shown, time, speed), speed)
    (told,) = tell_pauses(channel(paused, rate_hz=rate_hz), WINDOW)
    assert told.code == "gps-pauses" and "2.0 s from 6.0 s" in told.text
    assert tell_pauses(channel(speed, rate_hz=rate_hz), WINDOW) == []
    cruises = np.where(time > 6.0, np.interp(6.0, time, speed) + 0.4 * (time >= 8.0), speed)
    assert tell_pauses(channel(cruises, rate_hz=rate_hz), WINDOW) == []


def test_a_pause_that_is_told_as_repeats_is_told_once():
    time = np.arange(0.0, 16.0, 0.2)
    speed = pull(time)
    repeats = channel(np.where((time > 6.0) & (time < 8.0), np.interp(6.0, time, speed), speed), rate_hz=5.0)
    assert len(find_dropouts(repeats)) == 1
    assert tell_pauses(repeats, WINDOW) == []
