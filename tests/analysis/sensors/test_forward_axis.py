"""Which axis points forward."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.sensors.forward_axis import forward_acceleration
from tests.analysis.two_loggers import dash_log, visit

CHANNELS = dash_log(visit()).channels
PUSH = next(one for one in CHANNELS if one.name == "acceleration")
REST = [one for one in CHANNELS if one.name != "acceleration"]
SIDE = replace(PUSH, name="acceleration_lateral", values=np.random.default_rng(1).normal(0, 0.3, PUSH.values.size))


def test_an_accelerometer_that_points_forward_is_left_alone():
    assert forward_acceleration([*REST, PUSH, SIDE]) is PUSH


def test_one_turned_about_is_turned_back():
    turned = replace(PUSH, values=-PUSH.values)
    assert forward_acceleration([*REST, turned, SIDE]).values == pytest.approx(PUSH.values)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_swapped_axes_are_swapped_back(sign):
    swapped = [
        replace(SIDE, name="acceleration"),
        replace(PUSH, name="acceleration_lateral", values=sign * PUSH.values),
    ]
    found = forward_acceleration([*REST, *swapped])
    assert found.name == "acceleration"
    assert found.values == pytest.approx(PUSH.values)


def test_one_mounted_askew_is_not_taken_for_swapped():
    # Planted: 30 degrees off
    askew = replace(PUSH, values=PUSH.values * np.cos(np.pi / 6))
    side = replace(SIDE, values=PUSH.values * np.sin(np.pi / 6) + SIDE.values)
    assert forward_acceleration([*REST, askew, side]) is askew


def test_without_a_speed_the_name_is_believed():
    assert forward_acceleration([PUSH]) is PUSH


def test_without_an_accelerometer_there_is_none():
    assert forward_acceleration(REST) is None
