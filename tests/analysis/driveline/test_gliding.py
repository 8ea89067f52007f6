"""A gear takes the engine along; a belt lets it stand."""

import numpy as np
import pytest

from passband.analysis.driveline.gliding import engine_stands

SPEED = np.linspace(20.0, 30.0, 200)
ALL = np.ones(200, dtype=bool)


@pytest.mark.parametrize(("power", "stands"), [(1.0, False), (0.4, False), (0.1, True), (0.0, True)])
def test_it_stands_where_it_gains_less_than_a_quarter_of_what_the_car_does(power, stands):
    # Planted: engine speed goes with the car's to a power, which is the share by logarithms
    assert engine_stands(3000.0 * SPEED**power, SPEED, ALL) is stands


def test_a_car_that_gains_nothing_tells_nothing():
    assert not engine_stands(np.full(200, 6000.0), np.linspace(30.0, 31.0, 200), ALL)


def test_what_is_not_known_is_left_out():
    assert not engine_stands(np.full(200, np.nan), SPEED, ALL)
