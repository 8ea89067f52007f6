"""Closed forms of motion down a strip: elapsed times, traps, and what a trap's mean is to the speed at its mark.

Source: G. T. Fox, "On the physics of drag racing", Am. J. Phys. 41(3), 311-313 (1973), cited from memory: constant
power from rest, x = sqrt(8P/9m) t^(3/2); the ratios below follow from it exactly. A sanctioning body's public explainer
of its timing says: "Speed is measured in a 66-foot speed trap that ends at the finish line".
"""

import numpy as np
import pytest

from passband.analysis.motion.distance import time_the_run
from passband.analysis.motion.fusion import SpeedSensor, fuse_speed
from passband.analysis.motion.ground_speed import GroundSpeed
from passband.analysis.results.distance import SpeedBasis

FOOT_M = 0.3048  # international foot, exact

MASS_KG, POWER_W = 3200 * 0.45359237, 500 * 745.69987
ROLLOUT_M = 0.001


def laid_on_the_strip(speed_at):
    """Marks of a run whose speed is known in closed form, through the same smoother and marks as a log's."""
    time = np.arange(0.0, 14.0, 0.01)
    sensor = SpeedSensor("closed form", time[1:], speed_at(time[1:]), 0.002, 0.0, 1e-5, 0.0)
    posterior = fuse_speed(
        [sensor], None, span_s=(-0.5, 13.5), rest_until_s=-0.045,
        extra={"clock start": (0.0, 1.0), "rollout": (ROLLOUT_M, 1.0)},
    )  # fmt: skip
    ground = GroundSpeed(posterior, SpeedBasis.UNDRIVEN_WHEEL, ("closed form",), 0)
    timed = time_the_run(ground, rollout_m=ROLLOUT_M, slip=None, finish_ft=1320, end_log_s=13.4)
    return timed.distance


def constant_power(time):
    return np.sqrt(2 * POWER_W * time / MASS_KG)


def constant_acceleration(time):
    return 8.0 * time


def test_constant_power_gives_the_published_times():
    # published (Fox's closed form evaluated for 3200 lb, 500 hp): t from rest to each mark
    wanted = {60: 1.1357, 330: 3.5386, 660: 5.6172, 1000: 7.4101, 1320: 8.9167}
    found = {split.at_ft: split.time_s.value for split in laid_on_the_strip(constant_power).splits}
    times = np.array([found[feet] - found[60] for feet in (330, 660, 1000, 1320)])
    # from 60 ft on: the first instants of constant power have no finite acceleration to smooth
    assert times == pytest.approx([wanted[feet] - wanted[60] for feet in (330, 660, 1000, 1320)], abs=0.004)


@pytest.mark.parametrize(("motion", "share"), [(constant_power, 0.991548), (constant_acceleration, 0.987340)])
def test_a_trap_reads_less_than_the_speed_at_the_line(motion, share):
    # published ratios of trap mean to speed at the mark, 1320 ft
    distance = laid_on_the_strip(motion)
    trap = next(trap.speed_mps.value for trap in distance.traps if trap.at_ft == 1320)
    mark = next(split.speed_mps.value for split in distance.splits if split.at_ft == 1320)
    assert trap / mark == pytest.approx(share, abs=2e-4)


def test_66_feet_in_0_45_s_is_100_mph():
    # exact: mph = 45 / t(66 ft)
    assert 66 * FOOT_M / 0.45 / 0.44704 == pytest.approx(100.0, abs=1e-9)
