"""What a slip says by itself, against motions whose closed form is known."""

import numpy as np
import pytest

from passband.analysis.air.day import measure_air
from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.motion.slip_alone import read_slip_alone
from passband.analysis.power.slip_alone import power_by_slip
from passband.analysis.results.unknown import Unknown

FOOT, ROLLOUT, MASS, POWER = 0.3048, 0.3, 1000.0, 300e3
MARKS = (60, 330, 660, 1000, 1320)


def slip_of(time_at, marks=MARKS) -> Slip:
    """As a strip prints it: times from the beam, traps over the last 66 ft."""
    start = time_at(ROLLOUT)
    times = {f"t{ft}_s": round(time_at(ft * FOOT + ROLLOUT) - start, 3) for ft in marks}
    traps = {}
    for ft in (660, 1320):
        if ft in marks:
            end = ft * FOOT + ROLLOUT
            traps[f"v{ft}"] = 66 * FOOT / (time_at(end) - time_at(end - 66 * FOOT))
    return Slip(**times, **traps)


def constant_power(x):
    """Published: G. Fox, Am. J. Phys. 41, 311 (1973): x = (8 P / 9 m)^(1/2) t^(3/2)."""
    return (x / np.sqrt(8.0 * POWER / (9.0 * MASS))) ** (2.0 / 3.0)


def constant_force(x):
    return float(np.sqrt(2.0 * x / 8.0))  # 8 m/s2


def test_at_constant_power_the_speed_between_marks_is_known():
    run = read_slip_alone(slip_of(constant_power), rollout_m=ROLLOUT, finish_ft=1320)
    true = (3.0 * POWER * (run.way_m + ROLLOUT) / MASS) ** (1.0 / 3.0)
    beyond_60_ft = run.way_m > 60 * FOOT
    assert np.max(np.abs(run.speed_mps / true - 1.0)[beyond_60_ft]) < 0.01
    assert abs(run.end_speed.value - true[-1]) <= run.end_speed.plus_minus


@pytest.mark.parametrize("time_at", [constant_power, constant_force])
def test_speeds_at_the_marks_hold_the_truth(time_at):
    run = read_slip_alone(slip_of(time_at), rollout_m=ROLLOUT, finish_ft=1320)
    for split in run.distance.splits:
        x = split.at_ft * FOOT + ROLLOUT
        true = 1.0 / (np.diff([time_at(x - 0.05), time_at(x + 0.05)])[0] / 0.1)
        assert abs(split.speed_mps.value - true) <= split.speed_mps.plus_minus, split.at_ft


def test_power_that_moved_the_car_is_held():
    # Closed form: no rolling, what was put in between the beams is what the car gained and 0.05 m2 took from it:
    # the integral of v^2 over x is (3 P / m)^(2/3) 3/5 x^(5/3)
    run = read_slip_alone(slip_of(constant_power), rollout_m=ROLLOUT, finish_ft=1320)
    car = Car(name="x", mass=MASS, drag_area=0.05, rolling_resistance=0.0, driven_axle="all", wheel_inertia=0.001)
    air = measure_air(Air(temperature="20 degC", pressure="101.3 kPa", relative_humidity=0.5, wind=0.0), Traces(()))
    power = power_by_slip(run, car, air)
    way = 1320 * FOOT + ROLLOUT
    air_j = 0.5 * air.density_kgpm3.value * 0.05 * (3.0 * POWER / MASS) ** (2 / 3) * 0.6 * way ** (5 / 3)
    true = POWER + air_j / run.time_s
    assert abs(power.average_wheel_w.value - true) <= power.average_wheel_w.plus_minus < 0.04 * POWER
    assert power.average_w == Unknown(power.findings[0])


def test_one_time_says_nothing_and_none_says_nothing():
    assert read_slip_alone(Slip(t60_s=1.5), rollout_m=None, finish_ft=1320) is None
    assert read_slip_alone(None, rollout_m=None, finish_ft=1320) is None


def test_marks_beyond_the_finish_are_left_aside():
    run = read_slip_alone(slip_of(constant_power), rollout_m=None, finish_ft=660)
    assert [split.at_ft for split in run.distance.splits] == [60, 330, 660]
