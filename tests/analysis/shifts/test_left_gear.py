"""An engine that left its gear for good had begun its shift by then, whatever bends it later."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.fall import Fall
from passband.analysis.shifts.left_gear import find_left
from tests.analysis.planted_run import Logger, plant_run

FALLS_S = 2.3
"""Middle of the planted fall. [s]"""


def planted(off, *, rate_hz=100.0, noise_rpm=5.0):
    """An engine in a gear that asks 6,000 rpm and 1,500 rpm/s more, off it by a share that goes with time."""
    engine = read_engine_speed(plant_run(logger=Logger(rate_hz=rate_hz)).traces)
    geared = 6000.0 + 1500.0 * (engine.true_time_s - 2.0)
    noise = np.random.default_rng(5).normal(0.0, noise_rpm, geared.size)
    rpm = geared * (1.0 + off(engine.true_time_s)) + noise
    return replace(engine, rpm=rpm, noise_rpm=noise_rpm), geared


def hangs_below(time_s):
    """Cut at 2.1 s, 6 % lost in 30 ms, then with the clutch open until it falls into the next gear."""
    return np.interp(time_s, [2.1, 2.13, 2.27, 2.33], [0.0, -0.06, -0.08, -0.27])


def left_of(engine, geared, **more):
    settings = {"earliest_s": 1.0, "by_ground": False} | more
    return find_left(engine, geared, fall=Fall(FALLS_S, FALLS_S + 0.03), **settings)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_an_engine_that_hangs_below_its_gear_left_it_at_the_first_bend(rate_hz):
    # planted: at 2.1 s; the sharper bend comes 0.17 s later
    left = left_of(*planted(hangs_below, rate_hz=rate_hz))
    assert left.seen_s == pytest.approx(2.1, abs=0.012 + 1.0 / rate_hz)
    assert left.began_s == pytest.approx(2.1, abs=0.012)


def test_an_engine_that_is_drawn_down_gently_left_where_its_way_began():
    # planted: handed over from 2.1 s on, first by 0.35 a second, then into the next gear
    def handed_over(time_s):
        return np.interp(time_s, [2.1, 2.22, 2.33], [0.0, -0.042, -0.27])

    left = left_of(*planted(handed_over), by_ground=True)
    assert left.began_s == pytest.approx(2.1, abs=0.02) and left.seen_s > left.began_s


def test_an_engine_that_came_back_to_its_gear_had_not_left_it():
    # planted: a cylinder that missed at 1.9 s
    def came_back(time_s):
        return hangs_below(time_s) + np.interp(time_s, [1.9, 1.92, 1.95], [0.0, -0.02, 0.0])

    assert left_of(*planted(came_back)).seen_s == pytest.approx(2.1, abs=0.022)


def test_an_engine_that_rises_from_its_gear_by_the_ground_may_spin_its_tires():
    def spins(time_s):
        return np.interp(time_s, [2.0, 2.1, 2.27, 2.33], [0.0, 0.03, 0.03, -0.2])

    engine, geared = planted(spins)
    assert left_of(engine, geared, by_ground=True) is None
    assert left_of(engine, geared, alone=True) is not None


def test_an_engine_on_its_limiter_is_still_in_gear():
    # planted: it chops below what its gear asks and comes back over what it had turned
    def limited(time_s):
        return np.where(time_s > 2.0, -0.008 + 0.003 * np.sin(40.0 * time_s), 0.0) + np.interp(
            time_s, [2.27, 2.33], [0.0, -0.25]
        )

    assert left_of(*planted(limited)) is None


def test_an_engine_that_never_turned_with_its_gear_left_none():
    assert left_of(*planted(lambda time_s: 0.1 + hangs_below(time_s))) is None
