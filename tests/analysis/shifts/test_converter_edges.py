"""Where a converter's box changes its ratio: planted engine speed (slow twin of a run, and by hand)."""

import numpy as np
import pytest

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.engine_speed import EngineSpeed, read_engine_speed
from passband.analysis.shifts.converter_edges import find_ratio_change, find_takeover
from passband.analysis.shifts.fall import Fall, find_fall
from tests.analysis.planted_run import Logger, plant_run


def test_the_ratio_changes_where_engine_speed_stops_rising_and_ends_where_its_fall_lets_up():
    run = plant_run(style="converter", logger=Logger(rate_hz=200.0))
    engine = read_engine_speed(run.traces)
    start = run.shifts[0].start_s
    level = np.interp(start + 0.1, engine.true_time_s, engine.rpm)
    fall = find_fall(engine, np.full(engine.rpm.size, level), earliest_s=start, latest_s=start + 0.3)
    change = find_ratio_change(engine, fall, earliest_s=1.0)
    assert change.time_s == pytest.approx(start, abs=0.06)
    taken = find_takeover(engine, fall, start_s=change.time_s)
    # the planted engine has come down at the end; behind a fluid the pack holds sooner than the fall shows
    assert run.shifts[0].end_s - 0.09 < taken.time_s < run.shifts[0].end_s + 0.06


def flared(rate_hz: float, *, tops_out: bool = True) -> EngineSpeed:
    """By hand: a pull of 2000 rpm/s, let loose at 1.0 s for 60 ms at 10,000 rpm/s, held, pulled down from 1.4 s."""
    time_s = np.arange(0.0, 2.5, 1.0 / rate_hz)
    corners = [0.0, 1.0, 1.06, 1.4, 1.5, 2.5], [2000.0, 4000.0, 4600.0, 4450.0, 3000.0, 4000.0]
    if not tops_out:  # the pull itself grows: boost has come
        corners = [0.0, 1.0, 1.4, 1.5, 2.5], [2000.0, 4000.0, 6200.0, 4400.0, 5400.0]
    return plain_engine(time_s, np.interp(time_s, *corners))


@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 100.0])
def test_a_flare_begins_where_the_engine_leaves_its_pull(rate_hz):
    change = find_ratio_change(flared(rate_hz), Fall(1.45, 1.5), earliest_s=0.3)
    assert abs(change.time_s - 1.0) <= change.plus_minus_s
    assert change.plus_minus_s < 0.12  # nothing says whether the car pulled on until 1.06 s


def pulling(until_s: float) -> Motion:
    """By hand: 5 m/s2 until a moment, none after it."""
    time_s = np.arange(0.0, 2.5, 0.005)
    pull = np.where(time_s < until_s, 5.0, 0.0)
    speed = 20.0 + np.cumsum(pull) * 0.005
    one = np.ones(time_s.size)
    return Motion(
        time_s=time_s, speed_mps=speed, speed_plus_minus_mps=one, acceleration_mps2=pull,
        acceleration_plus_minus_mps2=one, distance_m=np.cumsum(speed) * 0.005, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=one < 0.0, basis=SpeedBasis.GPS, scale=None, wheelspin=(),
    )  # fmt: skip


@pytest.mark.parametrize(("pulls_until_s", "starts_s"), [(1.4, 1.32), (1.0, 1.0)])
def test_an_engine_that_flares_while_the_car_pulls_on_is_not_yet_shifting(pulls_until_s, starts_s):
    # By hand: the lock-up opens at 1.0 s, engine speed tops out at 1.32 s; or the old pack lets go at 1.0 s
    time_s = np.arange(0.0, 2.5, 0.01)
    corners = [0.0, 1.0, 1.06, 1.32, 1.42, 2.5], [2000.0, 4000.0, 4600.0, 4700.0, 3000.0, 4000.0]
    engine = plain_engine(time_s, np.interp(time_s, *corners))
    change = find_ratio_change(engine, Fall(1.37, 1.42), earliest_s=0.3, motion=pulling(pulls_until_s))
    assert abs(change.time_s - starts_s) <= change.plus_minus_s < 0.07


def test_a_gentle_change_starts_at_the_top_and_not_at_its_later_sharp_bend():
    # By hand: the top at 1.0 s, 80 ms of gentle fall, then the steep one
    time_s = np.arange(0.0, 2.5, 0.01)
    corners = [0.0, 1.0, 1.08, 1.30, 2.5], [3000.0, 5000.0, 4960.0, 3500.0, 4200.0]
    change = find_ratio_change(plain_engine(time_s, np.interp(time_s, *corners)), Fall(1.2, 1.3), earliest_s=0.3)
    assert abs(change.time_s - 1.0) <= change.plus_minus_s < 0.03


@pytest.mark.parametrize("rate_hz", [20.0, 25.0, 50.0, 100.0])
@pytest.mark.parametrize("later_s", [0.0, 0.007, 0.013])
def test_an_engine_that_turns_over_gently_stopped_rising_at_the_top_of_its_parabola(rate_hz, later_s):
    # By hand: 1,500 rpm/s bent by 50,000 rpm/s2 from 0.97 s on, highest at 1.000 s; 4,500 rpm/s down from 1.09 s on
    time_s = np.arange(0.0, 2.0, 1.0 / rate_hz) + later_s
    bending_s = np.clip(time_s - 0.97, 0.0, 0.12)
    rpm = 5000.0 + 1500.0 * np.minimum(time_s, 1.09) - 25000.0 * bending_s**2 - 4500.0 * np.clip(time_s - 1.09, 0, 0.2)
    engine = plain_engine(time_s, rpm)
    fall = find_fall(engine, np.full(time_s.size, 6000.0), earliest_s=0.5, latest_s=1.6)
    change = find_ratio_change(engine, fall, earliest_s=0.2)
    assert change.time_s == pytest.approx(1.0, abs=max(0.015, 0.25 / rate_hz))
    assert abs(change.time_s - 1.0) <= change.plus_minus_s < 0.04


def test_a_pull_that_grows_is_no_flare():
    change = find_ratio_change(flared(100.0, tops_out=False), Fall(1.45, 1.5), earliest_s=0.3)
    assert change.time_s == pytest.approx(1.4, abs=0.02)


def test_of_a_fall_in_two_stretches_the_first_is_the_shift():
    # By hand: the next gear takes over by 1.1 s; half a second later the converter locks and draws it down again
    time_s = np.arange(0.0, 2.5, 0.01)
    corners = [0.0, 1.0, 1.1, 1.15, 1.6, 1.9, 2.5], [3000.0, 5000.0, 4200.0, 4000.0, 4000.0, 3000.0, 3400.0]
    engine = plain_engine(time_s, np.interp(time_s, *corners))
    assert find_takeover(engine, Fall(1.7, 1.9), start_s=1.0).time_s == pytest.approx(1.1, abs=0.03)


def test_a_change_without_a_falling_sample_ends_at_its_lowest():
    # By hand: between start and bottom the engine only rises, as a lead that spinning wheels make may be laid
    time_s = np.arange(0.0, 2.5, 0.01)
    engine = plain_engine(time_s, 3000.0 + 1000.0 * time_s)
    assert find_takeover(engine, Fall(1.2, 1.4), start_s=1.0).time_s == pytest.approx(1.4, abs=0.03)


def plain_engine(time_s, rpm) -> EngineSpeed:
    step_s = float(time_s[1] - time_s[0])
    none = np.zeros(time_s.size, dtype=bool)
    return EngineSpeed(time_s + 0.0135, rpm, step_s, 3.0, none)
