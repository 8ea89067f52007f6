"""A slip that contradicts the logs: believed where nothing speaks against it, else not, and always told with both."""

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car, Slip
from passband.analysis.motion.distance import time_the_run
from passband.analysis.motion.ground_speed import fuse_ground_speed
from passband.analysis.motion.slip_against_log import settle_slip
from passband.analysis.windows.window import RunWindow
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor, wheels_gps_accelerometer

FOOT_M = 0.3048  # international foot, exact
MARKS = (60, 330, 660, 1000, 1320)
RUN = plain_run()
ROLLOUT = 0.25
START = RUN.moment(ROLLOUT)


def true_split(feet):
    return RUN.moment(ROLLOUT + feet * FOOT_M) - START


def true_slip(**wrong):
    traps = {f"v{feet}": 66 * FOOT_M / (true_split(feet) - true_split(feet - 66)) for feet in (660, 1320)}
    return Slip(**({f"t{feet}_s": round(true_split(feet), 3) for feet in MARKS} | traps | wrong))


def wheel_that_reads_low(first_s, last_s, share=0.1):
    """An undriven wheel that loses a share of its speed for a while: as if it hung in the air, or skipped teeth."""
    low = np.where((RUN.time_s > first_s) & (RUN.time_s < last_s), 1 - share, 1.0) * RUN.speed_mps
    return Traces((sensor(RUN, "wheel_speed_fl", np.where(RUN.speed_mps > 0.9, low, 0.0), unit="m/s", noise=0.06),))


def settled(traces, slip, *, lift_s=None):
    ground = fuse_ground_speed(traces, Car(name="r", driven_axle="rear"), RunWindow(LAUNCH_S, 0.02, 15.3, None, (), ()))
    timed = time_the_run(ground, rollout_m=ROLLOUT, slip=slip, finish_ft=1320, end_log_s=15.2)
    return settle_slip(timed, ground, slip, finish_ft=1320, lift_log_s=lift_s)


@pytest.mark.parametrize("stretch", [(3.3, 4.6, 0.3), (6.0, 8.0, 0.1), (11.2, 12.3, 0.25)])
def test_a_right_slip_wins_over_a_wheel_that_read_low(stretch):
    # Planted: a share of the speed lost for a while, at the start, amid the run, near its end
    found = settled(wheel_that_reads_low(*stretch), true_slip())
    assert [finding.code for finding in found.findings] == ["slip-against-logs"]
    assert " s on the slip, " in found.findings[0].text and " s by the logs" in found.findings[0].text
    for split in found.distance.splits:
        assert split.time_s.value == pytest.approx(true_split(split.at_ft), abs=0.0006)
        gone = np.interp(split.time_s.value, found.motion.time_s, found.motion.distance_m)
        assert gone == pytest.approx(split.at_ft * FOOT_M, abs=0.1)
    assert found.finish_s == pytest.approx(true_split(1320), abs=0.0006)


def test_the_speed_laid_on_the_slip_is_in_doubt_by_as_much_as_it_was_moved():
    found = settled(wheel_that_reads_low(6.0, 8.0), true_slip())
    true = np.interp(found.motion.time_s + START, RUN.time_s, RUN.speed_mps)
    here = (found.motion.time_s > 0.5) & (found.motion.time_s < true_split(1320))
    held = np.abs(found.motion.speed_mps - true) < found.motion.speed_plus_minus_mps
    assert np.mean(held[here]) > 0.6
    assert found.distance.scale is None


def test_a_wheel_and_gps_that_agree_stand_against_another_cars_slip():
    other = Slip(t60_s=1.2, t330_s=3.1, t660_s=4.7, t1000_s=6.1, t1320_s=7.2)
    found = settled(wheels_gps_accelerometer(RUN), other)
    assert [finding.code for finding in found.findings] == ["slip-does-not-fit"]
    assert "agree" in found.findings[0].text and " s by the logs" in found.findings[0].text
    assert found.distance.splits[-1].time_s.value == pytest.approx(true_split(1320), abs=0.01)


def test_a_lift_at_the_logs_finish_speaks_against_the_slip_and_one_at_the_slips_for_it():
    # Planted: the wheel reads 15 % low all along; the slip is right, or 2 s quicker
    low = wheel_that_reads_low(3.0, 15.0, share=0.15)
    right = settled(low, true_slip(), lift_s=START + true_split(1320) + 0.3)
    assert [finding.code for finding in right.findings] == ["slip-against-logs"]
    assert right.finish_s == pytest.approx(true_split(1320), abs=0.001)
    quick = Slip(**{f"t{feet}_s": round(true_split(feet) * 0.75, 3) for feet in MARKS})
    true_wheel = wheel_that_reads_low(0.0, 0.0)
    found = settled(true_wheel, quick, lift_s=START + true_split(1320) + 0.3)
    assert [finding.code for finding in found.findings] == ["slip-does-not-fit"]
    assert "the driver lifts" in found.findings[0].text


def test_a_slip_that_contradicts_itself_is_not_believed():
    wrong = true_slip(t1320_s=round(true_split(1320) + 1.0, 3))
    found = settled(wheel_that_reads_low(0.0, 0.0), wrong)
    assert [finding.code for finding in found.findings] == ["slip-does-not-fit"]
    assert "its own" in found.findings[0].text
    assert found.distance.splits[-1].time_s.value == pytest.approx(true_split(1320), abs=0.1)


def test_a_slip_of_one_time_is_not_weighed_and_told():
    found = settled(wheel_that_reads_low(0.0, 0.0), Slip(t1320_s=round(true_split(1320) + 2.0, 3)))
    assert [finding.code for finding in found.findings] == ["slip-does-not-fit"]
    assert "too few times" in found.findings[0].text


def test_a_slip_that_fits_is_left_to_the_fit():
    found = settled(wheel_that_reads_low(0.0, 0.0), true_slip())
    assert found.findings == ()
    assert found.distance.scale is not None


def test_only_a_motion_that_no_single_scale_brings_into_place_is_bent():
    # Planted: a tenth lost for two seconds amid the run, against 6 % everywhere (a circumference given wrong)
    everywhere = wheel_that_reads_low(-1.0, 99.0, share=0.06)
    assert settled(wheel_that_reads_low(6.0, 8.0), true_slip()).motion.bent
    assert not settled(everywhere, true_slip()).motion.bent
