"""Which samples of a channel say something new. Truth is planted."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.sensors.new_values import find_dropouts, new_values


def gps(values, *, rate_hz=5.0, rows_hz=5.0):
    values = np.asarray(values, dtype=np.float64)
    return Channel("gps_speed", "", "m/s", "", np.arange(values.size) / rows_hz, values, rate_hz)


def test_a_value_held_on_faster_rows_counts_once():
    held = gps([1.0, 1.0, 2.0, 2.0, 3.0, 3.0], rows_hz=10.0)
    assert new_values(held).values.tolist() == [1.0, 2.0, 3.0]


@pytest.mark.parametrize("repeats", [2, 6])
def test_what_repeats_a_value_over_a_dropout_is_left_out(repeats):
    # Planted: a car that gains 1 m/s an update, and a receiver that misses some
    speed = np.arange(30.0)
    speed[12 : 12 + repeats] = speed[11]
    kept = new_values(gps(speed))
    assert kept.values.tolist() == [*range(12), *range(12 + repeats, 30)]


def test_a_car_that_stands_through_a_shift_or_before_its_launch_is_all_there():
    # Planted: it gains nothing for three updates, then goes on at its pace
    shift = np.concatenate((np.arange(12.0), [11.0, 11.0, 11.0], np.arange(12.0, 24.0)))
    launch = np.concatenate((np.zeros(8), np.arange(1.0, 20.0)))
    for speed in (shift, launch):
        assert new_values(gps(speed)).values.size == speed.size


def test_a_wheel_that_stands_between_two_teeth_is_all_there():
    speed = np.arange(30.0)
    speed[12:15] = speed[11]
    wheel = Channel("wheel_speed_fl", "", "m/s", "", np.arange(30) / 25.0, speed, 25.0)
    assert new_values(wheel).values.size == speed.size


@pytest.mark.parametrize("rows_hz", [5.0, 25.0])
def test_a_dropout_is_found_with_its_leap(rows_hz):
    # Planted: 1 m/s an update of 0.2 s, five updates missing after the tenth
    held = np.arange(30.0)
    held[11:16] = held[10]
    (found,) = find_dropouts(gps(np.repeat(held, round(rows_hz / 5.0)), rows_hz=rows_hz))
    assert (found.first_s, found.back_s, found.leap) == pytest.approx((2.0, 3.2, 6.0))
    assert found.repeats == 6 * rows_hz / 5.0 - 1
    assert find_dropouts(gps(np.repeat(np.arange(30.0), round(rows_hz / 5.0)), rows_hz=rows_hz)) == []
