"""Speeds whose sensor gave up while the car went on."""

import numpy as np
import pytest

from passband.analysis.reading.health.dead_speeds import without_dead_speeds
from tests.analysis.reading.health.test_speed_scale import RPM, SPEED, TIME, a_log


def lost_from(at_s, to_s=99.0, speed=SPEED):
    return np.where((at_s <= TIME) & (to_s > TIME), 0.0, speed)


@pytest.mark.parametrize("at_s", [2.0, 3.2, 5.5])
def test_a_wheel_that_steps_to_zero_while_its_neighbour_goes_on_is_lost_from_there(at_s):
    # Planted: 15 m/s and more, to zero from one row to the next and for good
    log = a_log("dash.csv", wheel_speed_fl=lost_from(at_s), wheel_speed_fr=SPEED)
    (got,) = without_dead_speeds([log])
    known = np.isfinite(got.get("wheel_speed_fl").values)
    assert np.array_equal(known, at_s > TIME)
    assert [finding.code for finding in got.findings] == ["speed-dropouts"]
    assert got.get("wheel_speed_fr") is log.get("wheel_speed_fr")


def test_a_wheel_that_comes_back_is_lost_only_between():
    (got,) = without_dead_speeds([a_log(wheel_speed_fl=lost_from(4.0, 6.0), wheel_speed_fr=SPEED)])
    known = np.isfinite(got.get("wheel_speed_fl").values)
    assert np.array_equal(known, (4.0 > TIME) | (6.0 <= TIME))
    assert "comes back" in got.findings[0].text


def test_a_wheel_that_locks_under_brakes_stands_truly():
    # Planted: 12 m/s2 of braking from 5 s on, one wheel at zero all the while
    speed = np.where(TIME < 5.0, SPEED, np.maximum(30.0 - 12.0 * (TIME - 5.0), 0.0))
    log = a_log(wheel_speed_fl=lost_from(5.0, speed=speed), wheel_speed_fr=speed)
    assert without_dead_speeds([log]) == [log]


def test_tires_that_stop_after_a_burnout_are_no_lost_signal():
    # Planted: the driven wheels stop within a row, the car never moved until later
    car = np.where(TIME < 6.0, 0.0, 5.0 * (TIME - 6.0))
    tires = np.where(TIME < 4.0, 20.0, car)
    log = a_log(wheel_speed_rl=tires, wheel_speed_rr=tires, wheel_speed_fl=car)
    assert without_dead_speeds([log]) == [log]


def test_a_fall_that_no_other_speed_witnesses_is_left():
    log = a_log(engine_speed=RPM, wheel_speed_fl=lost_from(4.0))
    assert without_dead_speeds([log]) == [log]


def test_a_short_dropout_is_left_to_what_looks_at_one_signal():
    log = a_log(wheel_speed_fl=lost_from(4.0, 4.3), wheel_speed_fr=SPEED)
    assert without_dead_speeds([log]) == [log]
