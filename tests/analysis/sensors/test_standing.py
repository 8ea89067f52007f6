"""A pressure while the engine stands. By hand."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.sensors.standing import pressure_at_rest

TIME = np.arange(0.0, 4.0, 0.05)


def channel(name, values):
    return Channel(name, name, "", "", TIME, np.asarray(values, dtype=float), 20.0)


MANIFOLD = channel("manifold_pressure", np.where(TIME < 1.0, 98e3, 45e3))
ENGINE = channel("engine_speed", np.where(TIME < 1.0, 0.0, 900.0))


def test_a_manifold_holds_the_airs_pressure_while_the_engine_stands():
    assert pressure_at_rest(ENGINE, MANIFOLD) == 98e3


def test_samples_that_are_lost_tell_nothing_and_take_nothing():
    holed = channel("manifold_pressure", np.where((TIME > 0.2) & (TIME < 0.4), np.nan, MANIFOLD.values))
    assert pressure_at_rest(ENGINE, holed) == 98e3


@pytest.mark.parametrize("stands_s", [0.0, 0.2])
def test_an_engine_that_runs_or_stands_for_a_moment_only_tells_nothing(stands_s):
    assert pressure_at_rest(channel("engine_speed", np.where(TIME < stands_s, 0.0, 900.0)), MANIFOLD) is None
    assert pressure_at_rest(None, MANIFOLD) is None
