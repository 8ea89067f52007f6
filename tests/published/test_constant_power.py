"""Constant power from rest: Fox's results, textbook averages, and what trap speed alone implies.

Source: G. T. Fox, "On the physics of drag racing", Am. J. Phys. 41(3), 311-313 (1973), from memory; retold with the
derivation in P. J. Nahin, In Praise of Simple Physics (Princeton, 2016): v = sqrt(2Pt/m), x = sqrt(8P/9m) t^1.5.
"""

import numpy as np
import pytest

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.power.balance import balance, integrate
from passband.analysis.power.cross_checks import power_from_trap_speed
from passband.analysis.power.driveline_series import GivenDriveline, read_driveline_series
from passband.analysis.power.facts import FACT_NAMES, Fact, Facts
from passband.analysis.results.distance import SpeedBasis

FOOT_M = 0.3048  # international foot, exact

POUND_KG, HORSEPOWER_W, MPH_MPS = 0.45359237, 745.69987, 0.44704
MASS_KG, POWER_W = 3200 * POUND_KG, 500 * HORSEPOWER_W
QUARTER_M = 1320 * FOOT_M


def bare_facts(mass_kg=MASS_KG):
    """A mass and nothing else: no air, no rolling, no spin, no loss."""
    told = dict.fromkeys(FACT_NAMES, 0.0) | {"mass": mass_kg, "efficiency": 1.0, "radius": 0.3}
    return Facts(**{name: Fact(name, value, 0.0) for name, value in told.items()})


def ground_power(time, speed, acceleration, distance):
    zero = np.zeros(time.size)
    motion = Motion(
        time, speed, zero, acceleration, zero, distance, zero, zero * np.nan, zero > 1, SpeedBasis.GPS, None, ()
    )
    series = read_driveline_series(motion, None, (), None, GivenDriveline())
    return balance(series, bare_facts(), speed).ground_w


TIME = np.arange(0.02, 9.5, 0.005)
SPEED = np.sqrt(2 * POWER_W * TIME / MASS_KG)
DISTANCE = np.sqrt(8 * POWER_W / (9 * MASS_KG)) * TIME**1.5
POWER = ground_power(TIME, SPEED, POWER_W / (MASS_KG * SPEED), DISTANCE)


@pytest.mark.parametrize(("from_ft", "to_ft"), [(60, 330), (330, 660), (660, 1320), (60, 1320)])
def test_any_stretch_gives_back_the_constant_power(from_ft, to_ft):
    # Published: exactly 500 hp over any segment
    start, stop = (float(np.interp(feet * FOOT_M, DISTANCE, TIME)) for feet in (from_ft, to_ft))
    mean = integrate(TIME, POWER, start_s=start, stop_s=stop) / (stop - start)
    assert mean / HORSEPOWER_W == pytest.approx(500.0, rel=1e-6)


@pytest.mark.parametrize(
    ("feet", "seconds", "mph"),
    [
        (60, 1.1357, 54.033),
        (330, 3.5386, 95.377),
        (660, 5.6172, 120.167),
        (1000, 7.4101, 138.019),
        (1320, 8.9167, 151.401),
    ],
)
def test_the_made_run_is_foxs(feet, seconds, mph):
    # Computed from Fox: 3,200 lb, 500 hp; the run that the other checks use is the one they say
    at = float(np.interp(feet * FOOT_M, DISTANCE, TIME))
    assert at == pytest.approx(seconds, abs=1e-4)
    assert np.interp(at, TIME, SPEED) / MPH_MPS == pytest.approx(mph, abs=2e-3)


def test_grip_first_then_constant_power():
    # Computed from the textbook extension: 0.8 g up to 73.242 mph at 4.17347 s, then 500 hp
    pull = 0.8 * 9.80665
    change = POWER_W / (MASS_KG * pull) / pull
    speed = np.where(
        TIME < change, pull * TIME, np.sqrt((pull * change) ** 2 + 2 * POWER_W * np.maximum(TIME - change, 0) / MASS_KG)
    )
    acceleration = np.where(TIME < change, pull, POWER_W / (MASS_KG * speed))
    power = ground_power(TIME, speed, acceleration, np.cumsum(speed) * 0.005)
    assert change == pytest.approx(4.17347, abs=1e-4)
    np.testing.assert_allclose(power[change + 0.01 < TIME], POWER_W, rtol=1e-6)
    before = TIME < change
    np.testing.assert_allclose(power[before], MASS_KG * pull * speed[before], rtol=1e-9)


def test_a_trap_speed_of_the_ideal_run_implies_its_power_from_below():
    # Published: m v^3 / (3 x) at the line; the trap's mean is 0.991548 of that speed under constant power
    line = 151.401 * MPH_MPS
    got = power_from_trap_speed(0.991548 * line, mass_kg=MASS_KG, distance_m=QUARTER_M)
    assert got.value + got.plus_minus == pytest.approx(POWER_W, rel=8e-3)


def test_a_physics_department_s_dragster():
    # Published (MIT physics wiki): 402 m in 4.5 s to 148 m/s, 1000 kg: 2.43 MW by its gain of energy
    got = power_from_trap_speed(148.0 / 1.0107, mass_kg=1000.0, distance_m=402.0)
    assert got.value - got.plus_minus <= 0.5 * 1000 * 148.0**2 / 4.5 <= got.value + got.plus_minus


def test_average_power_of_a_college_textbook():
    # Published (Giambattista, College Physics 4e, ch. 6, problem 82): 500 kg to 125 m/s in 4.2 s is 9.30e5 W
    time = np.linspace(0.0, 4.2, 421)
    speed = 125.0 / 4.2 * time
    zero = np.zeros(time.size)
    motion = Motion(
        time,
        speed,
        zero,
        zero + 125.0 / 4.2,
        zero,
        np.cumsum(speed),
        zero,
        zero * np.nan,
        zero > 1,
        SpeedBasis.GPS,
        None,
        (),
    )
    series = read_driveline_series(motion, None, (), None, GivenDriveline())
    ground = balance(series, bare_facts(500.0), speed).ground_w
    assert integrate(time, ground, start_s=0.0, stop_s=4.2) / 4.2 == pytest.approx(9.30e5, rel=1e-3)


def test_published_rules_of_thumb_lie_between_the_two_ways_of_pulling():
    # Published: speed in mph is b (hp / lb)^(1/3), b 224 (Huntington 1958), 230 (Fox; McCaul 1973), 234 (Hale, 1980s),
    # hp at the clutch; the share that reached the car's mass was 0.51 to 0.58 of it
    for b in (224.0, 230.0, 234.0):
        trap = b * (500.0 / 3200.0) ** (1 / 3) * MPH_MPS
        got = power_from_trap_speed(trap, mass_kg=MASS_KG, distance_m=QUARTER_M)
        assert 0.36 < (got.value - got.plus_minus) / POWER_W and (got.value + got.plus_minus) / POWER_W < 0.62
