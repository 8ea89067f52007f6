"""A lone driven wheel that spins: planted by hand."""

import numpy as np
import pytest

from passband.analysis.motion.spun_wheel import held_after_outrunning, spun_before_it_fell, spun_from_rest_until


def rising(rate_hz):
    """A car from rest at 0.0 s at 6 m/s2, its wheel 3 % faster."""
    time_s = np.arange(-1.0, 6.0, 1.0 / rate_hz)
    return time_s, 6.0 * np.maximum(time_s, 0.0), 6.18 * np.maximum(time_s, 0.0)


def spinning(rate_hz, start_s, stop_s):
    """The same, its wheel 80 % faster from one time on and back with the car within 0.1 s of the other."""
    time_s, car, wheel = rising(rate_hz)
    return time_s, wheel + 0.77 * car * np.interp(
        time_s, [start_s, start_s + 0.2, stop_s, stop_s + 0.1], [0.0, 1.0, 1.0, 0.0]
    )


@pytest.mark.parametrize("rate_hz", [10.0, 25.0, 50.0, 100.0])
def test_a_wheel_that_rises_with_the_car_never_spun(rate_hz):
    time_s, _, wheel = rising(rate_hz)
    assert not spun_before_it_fell(time_s, wheel, 0.0).any()


@pytest.mark.parametrize("rate_hz", [10.0, 25.0, 50.0, 100.0])
def test_a_start_on_spinning_tires_is_left_out_back_to_rest(rate_hz):
    # Planted: from the start until 1.5 s
    time_s, wheel = spinning(rate_hz, 0.0, 1.5)
    spun = spun_before_it_fell(time_s, wheel, 0.0)
    assert spun[(time_s > 0.0) & (time_s < 1.5)].all()
    assert not spun[(time_s < 0.0) | (time_s > 1.75)].any()


def test_later_only_what_was_faster_than_the_wheel_once_it_had_hold_is_left_out():
    # Planted: from 3.5 s until 4.2 s, at 50 Hz; the car is at 25 m/s then, the wheel was there from 3.6 s on
    time_s, wheel = spinning(50.0, 3.5, 4.2)
    spun = spun_before_it_fell(time_s, wheel, 0.0)
    assert spun[(time_s > 3.8) & (time_s < 4.2)].all()
    assert not spun[(time_s < 3.4) | (time_s > 4.45)].any()


def test_brakes_are_no_spin():
    # Hand: 12 m/s2 from 30 m/s on
    time_s = np.arange(0.0, 6.0, 0.02)
    assert not spun_before_it_fell(time_s, np.interp(time_s, [0.0, 3.0, 5.5], [0.0, 30.0, 0.0]), 0.0).any()


def test_too_few_samples_show_nothing():
    assert not spun_before_it_fell(np.array([0.0, 0.1]), np.array([9.0, 1.0]), 0.0).any()


def test_a_wheel_that_shafts_swing_in_a_shift_was_with_the_car():
    # Planted at 2.0 s: 12 m/s, down by a third and back within 0.15 s, at 100 Hz
    time_s, _, wheel = rising(100.0)
    wheel = wheel - 4.0 * np.interp(time_s, [2.0, 2.06, 2.15], [0.0, 1.0, 0.0])
    assert not spun_before_it_fell(time_s, wheel, 0.0).any()


@pytest.mark.parametrize("rate_hz", [20.0, 50.0, 100.0])
@pytest.mark.parametrize("late_s", [-0.08, 0.0, 0.08])
def test_a_start_on_spinning_tires_that_take_hold_gently_is_told(rate_hz, late_s):
    # Planted: 15 m/s at once and 1 m/s2 from there; the car at 6 m/s2 is there after 3.1 s
    time_s, _, wheel = rising(rate_hz)
    spins = np.where(time_s > 0.0, np.minimum(100.0 * time_s, 15.0 + time_s), 0.0)
    hold_s = spun_from_rest_until(time_s, np.maximum(wheel, spins), late_s)
    assert hold_s == pytest.approx(2.9, abs=0.4)


@pytest.mark.parametrize("rate_hz", [20.0, 50.0, 100.0])
@pytest.mark.parametrize("late_s", [-0.08, 0.0, 0.08])
def test_a_wheel_with_the_car_did_not_spin(rate_hz, late_s):
    time_s, _, wheel = rising(rate_hz)
    assert spun_from_rest_until(time_s, wheel, late_s) is None


def test_a_wheel_of_four_studs_that_leaps_did_not_spin():
    # Hand: on 1.9 m its first value comes after 0.71 m, at 0.49 s and 6 m/s2, and says 2.5 m/s
    time_s, _, wheel = rising(50.0)
    assert spun_from_rest_until(time_s, np.where(time_s < 0.49, 0.0, wheel - 0.4), 0.0) is None


@pytest.mark.parametrize("rate_hz", [20.0, 50.0, 100.0])
def test_a_wheel_that_outran_any_car_and_sank_had_hold_again_at_its_lowest(rate_hz):
    # Planted: let go 0.5 s after the launch, at 100 m/s2, from 3.5 m/s to 17, sinking until the car has caught up
    time_s, car, _ = rising(rate_hz)
    spun = np.where(time_s > 0.5, np.maximum(car, np.minimum(3.0 + 100.0 * (time_s - 0.5), 19.0 - 5.0 * time_s)), car)
    held_s = held_after_outrunning(time_s, spun, launch_s=0.0, until_s=6.0)
    assert held_s == pytest.approx(19.0 / 11.0, abs=0.1)


def test_a_wheel_that_comes_down_onto_the_track_or_swings_in_a_shift_did_not_outrun_the_car():
    # Planted: a front wheel that stood still in the air for a second; a swing of 80 % at 9 Hz
    time_s, car, _ = rising(100.0)
    landed = np.where((time_s > 0.6) & (time_s < 1.6), 3.5, car)
    since = np.maximum(time_s - 1.5, 0.0)
    swung = car * (1.0 + 0.8 * np.sin(2 * np.pi * 9.0 * since) * np.exp(-since / 0.06))
    for wheel in (landed, swung):
        assert held_after_outrunning(time_s, wheel, launch_s=0.0, until_s=6.0) is None
