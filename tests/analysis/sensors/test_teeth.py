"""What the first moments of a run show of a wheel's teeth: whether it is counted, how late, how far it had rolled.

Planted: a wheel of n teeth is counted here tooth by tooth along the run's own way; the truth is the run.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import lfilter

from passband.analysis.channels.log import Channel
from passband.analysis.sensors.teeth import find_first_teeth, read_teeth
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor

RUN = plain_run()
TURN_M = 1.9


def counted(teeth, *, phase=0.4, rate_hz=100.0, creep_s=None):
    """What a counter of teeth prints: one pitch over the time between the last two, held, 0 before the second.

    With `creep_s` a tooth had passed so long before the launch, as the car was staged.
    """
    pitch = TURN_M / teeth
    moving = np.concatenate(([False], np.diff(RUN.distance_m) > 0))
    places = np.arange(1, int(RUN.distance_m[-1] / pitch + phase) + 1)
    edges = np.interp((places - phase) * pitch, RUN.distance_m[moving], RUN.time_s[moving])
    before = [] if creep_s is None else [LAUNCH_S - creep_s]
    edges = np.concatenate((before, edges))
    at = np.arange(0.0, RUN.time_s[-1], 1.0 / rate_hz)
    last = np.searchsorted(edges, at, side="right") - 1
    value = pitch / np.diff(edges, prepend=-np.inf)[np.maximum(last, 1)]
    seen = np.where(last >= 1, np.round(value * 3.6, 2) / 3.6, 0.0)
    return Channel("wheel_speed_fl", "wheel_speed_fl", "m/s", "m/s", at, seen, rate_hz, 1.0, 1, 0.003)


def smooth(*, floor=0.0, noise=0.02, rate_hz=100.0):
    """A wheel that rises with the car, zero below its gate."""
    gated = np.where(RUN.speed_mps > floor, RUN.speed_mps, 0.0)
    return sensor(RUN, "wheel_speed_fl", gated, unit="m/s", noise=noise, late_s=0.02, rate_hz=rate_hz)


@pytest.mark.parametrize("teeth", [4, 5, 6, 8])
@pytest.mark.parametrize("phase", [0.1, 0.5, 0.9])
def test_the_first_value_of_few_teeth_tells_when_the_car_began_to_move(teeth, phase):
    found = find_first_teeth(counted(teeth, phase=phase), LAUNCH_S + 0.2)
    assert found is not None
    # Planted: its push comes up within some hundredths, which the caller takes off
    assert abs(found.moved_s - LAUNCH_S - 0.03) < max(2.0 * found.sigma_s, 0.05)


@pytest.mark.parametrize("teeth", [4, 6, 8])
@pytest.mark.parametrize("phase", [0.1, 0.5, 0.9])
def test_how_far_it_had_rolled_lies_between_one_pitch_and_two(teeth, phase):
    # Hand: the first value comes with the second tooth, (2 - phase) pitches on
    found = find_first_teeth(counted(teeth, phase=phase), LAUNCH_S + 0.2)
    assert found is not None
    rolled = float(np.interp(found.came_s, RUN.time_s, RUN.distance_m))
    assert rolled == pytest.approx((2.0 - phase) * TURN_M / teeth, abs=0.05)
    assert abs(found.gone_m - rolled) < 2.0 * found.gone_sd_m


@pytest.mark.parametrize("creep_s", [0.8, 1.5])
def test_a_tooth_that_passed_as_the_car_was_staged_is_not_the_first(creep_s):
    # Planted: the first value tells of the way since then, half a pitch over a second, and is no speed of the run
    plain, crept = (find_first_teeth(counted(5, creep_s=when), LAUNCH_S + 0.2) for when in (None, creep_s))
    assert crept is not None
    assert crept.came_s == pytest.approx(plain.came_s, abs=0.011)


def through_filter(wheel, lag_s):
    """The same behind a filter of first order, by hand."""
    slow = wheel.values.copy()
    share = 1.0 - np.exp(-1.0 / (wheel.rate_hz * lag_s))
    for at in range(1, slow.size):
        slow[at] = slow[at - 1] + share * (wheel.values[at] - slow[at - 1])
    return replace(wheel, values=slow)


@pytest.mark.parametrize("creep_s", [0.4, 2.0])
@pytest.mark.parametrize("lag_s", [0.01, 0.02])
def test_a_filter_that_rounds_the_leap_off_hides_neither_it_nor_a_creep_before_it(lag_s, creep_s):
    # Planted: at 200 Hz no value is twice the one before, and what creeps up from a tooth long past is no noise
    plain, crept = counted(4, rate_hz=200.0), through_filter(counted(4, rate_hz=200.0, creep_s=creep_s), lag_s)
    first, found = find_first_teeth(plain, LAUNCH_S + 0.7), find_first_teeth(crept, LAUNCH_S + 0.7)
    assert found is not None
    assert found.came_s == pytest.approx(first.came_s, abs=lag_s)
    assert abs(found.moved_s - LAUNCH_S - 0.03) < 2.0 * found.sigma_s


@pytest.mark.parametrize("floor", [0.0, 0.4, 0.8, 1.2])
@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 100.0, 200.0])
def test_a_gate_is_no_tooth(floor, rate_hz):
    assert find_first_teeth(smooth(floor=floor, rate_hz=rate_hz), LAUNCH_S + 0.2) is None


def test_a_log_too_slow_to_show_a_leap_or_a_rest_says_nothing():
    # Limit: 10 Hz, and a record that begins under way
    assert find_first_teeth(counted(4, rate_hz=10.0), LAUNCH_S + 0.2) is None
    assert find_first_teeth(counted(4).within(LAUNCH_S + 0.5, LAUNCH_S + 5.0), LAUNCH_S) is None


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_a_wheel_that_is_seen_to_rise_is_late_by_hardly_any_way(rate_hz):
    found = read_teeth(smooth(rate_hz=rate_hz), LAUNCH_S)
    assert not found.leaps
    assert abs(found.way_m) < 0.015 and found.way_sd_m < 0.015


@pytest.mark.parametrize("floor", [0.6, 1.0])
def test_a_gate_hides_whether_a_wheel_rises(floor):
    # What any wheel may be: 0 to 20 cm
    assert read_teeth(smooth(floor=floor), LAUNCH_S).way_sd_m > 0.05


def test_a_leap_within_one_step_of_a_slow_log_is_no_rise():
    # Planted: from rest to 3 m/s between two samples of 25 Hz, which a straight line between them would pass evenly
    at = np.arange(0.0, 10.0, 0.04)
    leapt = np.where(at < LAUNCH_S + 0.3, 0.0, 3.0 + 10.0 * (at - LAUNCH_S - 0.3))
    wheel = Channel("wheel_speed_fl", "wheel_speed_fl", "m/s", "m/s", at, leapt, 25.0, 1.0, 1, 0.003)
    assert read_teeth(wheel, LAUNCH_S).way_sd_m > 0.05


@pytest.mark.parametrize("teeth", [5, 8, 24])
def test_the_first_tooth_after_rest_tells_how_far_it_rolled_since(teeth):
    # Planted: a tooth passed as the car was staged, so that the first after rest moves the value by next to nothing
    found = find_first_teeth(counted(teeth, creep_s=2.0), LAUNCH_S + 0.2)
    assert found is not None and found.since is not None
    passed, came = np.interp([found.since.passed_s, found.came_s], RUN.time_s, RUN.distance_m)
    assert came - passed == pytest.approx(TURN_M / teeth, abs=0.03)
    assert found.since.gone_m == pytest.approx(TURN_M / teeth, rel=0.15)


@pytest.mark.parametrize(("teeth", "rate_hz"), [(12, 50.0), (16, 50.0), (20, 100.0), (24, 100.0)])
def test_the_way_from_tooth_to_tooth_is_read_though_later_values_differ_too_little(teeth, rate_hz):
    # Hand: nine tenths of a pitch late; at speed a tooth changes the value by less than two hundredths of it
    found = read_teeth(counted(teeth, rate_hz=rate_hz), LAUNCH_S + 0.2)
    assert found.way_m == pytest.approx(0.9 * TURN_M / teeth, rel=0.2)


@pytest.mark.parametrize("teeth", [8, 10])
@pytest.mark.parametrize("lag_s", [0.003, 0.004])
def test_a_filter_that_spreads_a_tooth_over_rows_hides_no_pitch(teeth, lag_s):
    # Planted: each value comes over two or three rows, in noise, and is then held
    sharp = counted(teeth, rate_hz=1000.0)
    kept = 1.0 - np.exp(-0.001 / lag_s)
    values = lfilter([kept], [1.0, kept - 1.0], sharp.values)[::10]
    values = values + np.random.default_rng(3).normal(0.0, 0.01, values.size)
    wheel = replace(sharp, time_s=sharp.time_s[::10], values=values, rate_hz=100.0)
    assert read_teeth(wheel, LAUNCH_S).way_sd_m == pytest.approx(0.25 * TURN_M / teeth, rel=0.12)
