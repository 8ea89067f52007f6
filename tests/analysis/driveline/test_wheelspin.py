"""Wheelspin: episodes by slip speed and share, and the tire's speed from the engine."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.wheelspin import find_wheelspin, tire_speed_from_engine, with_wheelspin
from passband.analysis.given.car import Car
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.evidence import prepare_evidence
from tests.analysis.planted_run import plant_run

TIME = np.arange(0.0, 4.0, 0.005)
GROUND = 5.0 * TIME


def spun(start, stop, extra):
    return GROUND + np.where((TIME >= start) & (start < TIME + 1e-9) & (stop > TIME), extra, 0.0)


def test_a_clean_pull_has_no_spin():
    episodes, _ = find_wheelspin(TIME, GROUND, GROUND * 1.04)
    assert episodes == ()


def test_the_planted_episode_is_found_with_its_peak():
    # Planted: 4 m/s over 10 m/s of ground from 2.0 to 2.5 s
    (episode,), _ = find_wheelspin(TIME, GROUND, spun(2.0, 2.5, 4.0))
    assert (episode.start_s, episode.end_s) == pytest.approx((2.0, 2.5), abs=0.011)
    assert episode.peak_slip == pytest.approx(4.0 / 14.0, abs=0.01)


@pytest.mark.parametrize(("lasts", "count"), [(0.06, 0), (0.12, 1)])
def test_a_hop_is_too_short_to_be_spin(lasts, count):
    episodes, _ = find_wheelspin(TIME, GROUND, spun(2.0, 2.0 + lasts, 4.0))
    assert len(episodes) == count


def test_slip_under_the_speed_of_a_sensor_lag_is_grip():
    # 1.4 m/s over 2 m/s is a share of 0.41, and yet within a late sensor's error
    episodes, _ = find_wheelspin(TIME, np.full(TIME.size, 2.0), np.full(TIME.size, 3.4))
    assert episodes == ()


def test_nan_is_no_spin():
    episodes, share = find_wheelspin(TIME, GROUND, np.full(TIME.size, np.nan))
    assert episodes == () and np.all(share == 0)


def test_tire_speed_from_engine_is_the_gear_formula():
    # Hand: 6000 rpm / 60 / 10 * 2 m = 20 m/s
    assert tire_speed_from_engine(np.array([6000.0]), np.array([10.0]), circumference_m=2.0)[0] == pytest.approx(20.0)


@pytest.mark.parametrize(("lasts_s", "told"), [(0.15, 0), (1.0, 1)])
def test_of_a_lone_driven_wheel_long_spin_is_told(lasts_s, told):
    # Planted: the car at 5 m/s2 as it was made out, the wheel 10 m/s ahead from 1.0 s on; a shaft's swing is shorter
    run = plant_run()
    one = np.ones(TIME.size)
    motion = replace(
        run.motion, time_s=TIME, speed_mps=GROUND, speed_plus_minus_mps=one, acceleration_mps2=5.0 * one,
        acceleration_plus_minus_mps2=one, distance_m=2.5 * TIME**2, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=one < 0.0, basis=SpeedBasis.DRIVEN_WHEEL,
    )  # fmt: skip
    wheel = Channel("wheel_speed_driven", "DWS", "m/s", "m/s", TIME, spun(1.0, 1.0 + lasts_s, 10.0), 200.0)
    evidence = prepare_evidence(Traces((wheel,)), Car(name="x"), launch_s=0.0, end_s=4.0)
    got = with_wheelspin(motion, evidence, gears=None)
    assert len(got.wheelspin) == told and bool(got.spinning[(TIME > 1.1) & (TIME < 1.9)].any()) == bool(told)
