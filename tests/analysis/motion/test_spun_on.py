"""A driven wheel that spins on after the launch: planted by hand."""

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import fuse_ground_speed
from passband.analysis.motion.spun_on import spun_on_from_rest
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.windows.window import RunWindow
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor

CAR_MPS2 = 5.0


def wheel(rate_hz, corners_s, corners_mps, until_s=9.0):
    """The car gains 5 m/s2 from 0.0 s on; its wheel goes by the corners and is with the car from the last one on."""
    time_s = np.arange(-1.0, until_s, 1.0 / rate_hz)
    car = CAR_MPS2 * np.maximum(time_s, 0.0)
    return time_s, np.where(time_s < corners_s[-1], np.interp(time_s, corners_s, corners_mps), car)


THREE_GEARS = (
    [0.0, 0.2, 1.5, 1.6, 1.8, 2.9, 3.0, 3.2, 4.4, 4.5],
    [0.0, 20.0, 20.0, 8.0, 28.0, 30.0, 15.0, 36.0, 38.0, 22.5],
)


@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 100.0])
def test_tires_that_spin_through_three_gears_had_hold_after_the_last(rate_hz):
    # Planted: with the car at 1.6 s and 3.0 s for a moment, and from 4.5 s on
    time_s, speed_mps = wheel(rate_hz, *THREE_GEARS)
    found = spun_on_from_rest(time_s, speed_mps, launch_s=0.0, until_s=9.0)
    assert found.held_s == pytest.approx(4.5, abs=0.02 + 1.0 / rate_hz)
    assert found.touched_s == pytest.approx([1.6, 3.0], abs=0.02 + 1.0 / rate_hz)
    assert found.touched_mps == pytest.approx([8.0, 15.0], abs=0.5 + 60.0 / rate_hz)


def test_a_wheel_that_sinks_at_full_throttle_had_spun():
    # Planted: 50 m/s from 1.5 s on, sinking from 5.0 s until it meets the car at 8.0 s, where that is at 40 m/s
    time_s, speed_mps = wheel(50.0, [0.0, 0.2, 1.0, 1.5, 5.0, 8.0], [0.0, 20.0, 22.0, 50.0, 50.0, 40.0], until_s=11.0)
    found = spun_on_from_rest(time_s, speed_mps, launch_s=0.0, until_s=11.0)
    assert found.held_s == pytest.approx(8.0, abs=0.3)


def test_a_lowest_that_no_even_gain_reaches_is_not_with_the_car():
    # Planted: at 1.6 s the wheel falls to 14 m/s only, where the car is at 8
    times, speeds = THREE_GEARS
    time_s, speed_mps = wheel(50.0, times, [14.0 if at == 3 else one for at, one in enumerate(speeds)])
    found = spun_on_from_rest(time_s, speed_mps, launch_s=0.0, until_s=9.0)
    assert found.touched_s == pytest.approx([3.0], abs=0.05)


@pytest.mark.parametrize("rate_hz", [10.0, 50.0, 100.0])
def test_a_wheel_that_rises_with_the_car_never_spun(rate_hz):
    time_s, speed_mps = wheel(rate_hz, [-1.0, 0.0], [0.0, 0.0])
    assert spun_on_from_rest(time_s, speed_mps, launch_s=0.0, until_s=9.0) is None


def test_a_swing_in_a_shift_is_no_spin():
    # Planted: at 0.9 s down by a third and back within a tenth of a second
    time_s, speed_mps = wheel(100.0, [-1.0, 0.0], [0.0, 0.0])
    swung = speed_mps * (1.0 - 0.33 * np.interp(time_s, [0.85, 0.9, 0.95], [0.0, 1.0, 0.0]))
    assert spun_on_from_rest(time_s, swung, launch_s=0.0, until_s=9.0) is None


def test_a_car_that_slows_down_after_its_lift_had_not_spun():
    time_s, speed_mps = wheel(50.0, [-1.0, 0.0], [0.0, 0.0], until_s=14.0)
    braked = np.minimum(speed_mps, 40.0 - 8.0 * np.maximum(time_s - 8.0, 0.0))
    assert spun_on_from_rest(time_s, braked, launch_s=0.0, until_s=8.0) is None


def test_a_spin_that_begins_after_a_second_of_hold_is_none_of_the_launch():
    time_s, speed_mps = wheel(50.0, [-1.0, 0.0], [0.0, 0.0])
    later = speed_mps + 10.0 * np.interp(time_s, [3.4, 3.5, 4.4, 4.5], [0.0, 1.0, 1.0, 0.0])
    assert spun_on_from_rest(time_s, later, launch_s=0.0, until_s=9.0) is None


def test_a_wheel_not_known_shows_nothing():
    time_s, speed_mps = wheel(50.0, *THREE_GEARS)
    assert spun_on_from_rest(time_s, np.full(time_s.size, np.nan), launch_s=0.0, until_s=9.0) is None
    assert spun_on_from_rest(time_s[:5], speed_mps[:5], launch_s=0.0, until_s=9.0) is None


@pytest.mark.parametrize(("spins", "told"), [(True, 1), (False, 0)])
def test_a_wheel_said_to_be_undriven_that_spins_is_taken_for_driven(spins, told):
    # Planted: front-driven, and the one wheel logged is a rear one by its name; it spins at the launch for 1.5 s
    run = plain_run()
    since_s = run.time_s - LAUNCH_S
    spun = np.where((since_s > 0.0) & (since_s < 1.5), np.minimum(80.0 * since_s, 22.0), run.speed_mps)
    wheel = sensor(run, "wheel_speed_rl", spun if spins else run.speed_mps, unit="m/s", noise=0.03, late_s=0.02)
    throttle = sensor(run, "throttle", np.ones(run.time_s.size), unit="", noise=0.0)
    window = RunWindow(LAUNCH_S, 0.04, 14.0, None, (), ("wheel_speed_rl",))
    ground = fuse_ground_speed(Traces((wheel, throttle)), Car(name="x", driven_axle="front"), window)
    assert len([one for one in ground.findings if one.code == "undriven-wheel-spins"]) == told
    assert ground.basis == (SpeedBasis.DRIVEN_WHEEL if told else SpeedBasis.UNDRIVEN_WHEEL)
