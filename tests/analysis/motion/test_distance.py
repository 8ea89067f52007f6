"""Clock start, splits and traps against a run whose truth is known."""

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car, Slip
from passband.analysis.motion.distance import time_the_run
from passband.analysis.motion.ground_speed import fuse_ground_speed
from passband.analysis.results.estimate import difference
from passband.analysis.windows.window import RunWindow
from tests.analysis.sensors.test_teeth import counted
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor, wheels_gps_accelerometer

FOOT_M = 0.3048  # international foot, exact

RUN = plain_run()
ROLLOUT = 0.25
START = RUN.moment(ROLLOUT)
WINDOW = RunWindow(LAUNCH_S, 0.02, 15.3, 15.2, (), ())


def true_split(feet):
    return RUN.moment(ROLLOUT + feet * FOOT_M) - START


def true_trap(feet):
    return 66 * FOOT_M / (true_split(feet) - true_split(feet - 66))


def timed(*, slip=None, rollout_m=ROLLOUT, seed=0):
    ground = fuse_ground_speed(wheels_gps_accelerometer(RUN, seed=seed), Car(name="r", driven_axle="rear"), WINDOW)
    return time_the_run(ground, rollout_m=rollout_m, slip=slip, finish_ft=1320, end_log_s=15.2)


def slip_of_the_run(**wrong):
    times = {f"t{feet}_s": round(true_split(feet), 3) for feet in (60, 330, 660, 1000, 1320)}
    return Slip(**(times | {"v660": true_trap(660), "v1320": true_trap(1320)} | wrong))


@pytest.mark.parametrize("seed", [0, 10, 20])
def test_splits_without_a_slip(seed):
    # Planted: the plain run; a strip prints thousandths
    found = timed(seed=seed)
    for split in found.distance.splits:
        assert split.time_s.value == pytest.approx(true_split(split.at_ft), abs=0.008)
        assert abs(split.time_s.value - true_split(split.at_ft)) < 2 * split.time_s.plus_minus
    assert [split.at_ft for split in found.distance.splits] == [60, 330, 660, 1000, 1320]


def test_a_trap_is_the_mean_of_the_last_66_feet():
    found = timed()
    for trap in found.distance.traps:
        assert trap.speed_mps.value == pytest.approx(true_trap(trap.at_ft), abs=0.06)


def test_a_slip_pins_the_times_and_finds_the_rollout():
    found = timed(slip=slip_of_the_run(), rollout_m=None)
    assert found.findings == ()
    assert found.distance.rollout_m.value == pytest.approx(ROLLOUT, abs=0.03)
    assert found.clock_start_s.value == pytest.approx(START, abs=0.012)
    for split in found.distance.splits:
        assert split.time_s.value == pytest.approx(true_split(split.at_ft), abs=0.002)


def test_the_slip_of_another_run_is_refused():
    other = Slip(t60_s=1.2, t330_s=3.1, t660_s=4.7, t1320_s=7.2)
    found = timed(slip=other)
    assert found.findings == ()
    assert found.disagreement is not None
    assert " s on the slip, " in found.disagreement.both
    assert found.distance.scale is None


@pytest.mark.parametrize("later_s", [0.25, 0.4])
def test_a_slip_sets_a_start_that_few_teeth_hide(later_s):
    # Planted: another run of the car, which stood so much longer with its wheel rolling less than two pitches
    wheel, gps = counted(4), wheels_gps_accelerometer(RUN).get("gps_speed")
    ground = fuse_ground_speed(Traces((wheel, gps)), Car(name="r", driven_axle="rear"), WINDOW)
    moved = {f"t{feet}_s": round(true_split(feet) + later_s, 3) for feet in (60, 330, 660, 1000, 1320)}
    found = time_the_run(ground, rollout_m=ROLLOUT, slip=Slip(**moved), finish_ft=1320, end_log_s=15.2)
    assert found.disagreement is None
    assert [finding.code for finding in found.findings] == ["start-by-slip"]
    assert found.distance.splits[-1].time_s.value == pytest.approx(true_split(1320) + later_s, abs=0.002)
    seen = timed(slip=Slip(**moved))  # an accelerometer shows the start: then it is another run's slip
    assert seen.disagreement is not None


@pytest.mark.parametrize("share", [0.0, 0.05, 0.1])
def test_a_start_by_driven_tires_is_open_by_what_a_slip_moved_it(share):
    # Planted: tires that run ahead by a share of the speed at first, a third of it after two seconds
    tire_mps = RUN.speed_mps * (1.0 + share * np.exp(-np.maximum(RUN.time_s - START, 0.0) / 1.8))
    wheel = sensor(RUN, "wheel_speed_driven", tire_mps, unit="m/s", noise=0.03, late_s=0.022)
    ground = fuse_ground_speed(Traces((wheel,)), Car(name="r", driven_axle="rear"), WINDOW)
    alone, by_slip = (
        time_the_run(ground, rollout_m=None, slip=slip, finish_ft=1320, end_log_s=15.2).clock_start_s
        for slip in (None, slip_of_the_run())
    )
    assert by_slip.plus_minus >= abs(by_slip.value - alone.value)
    assert abs(by_slip.value - START) < by_slip.plus_minus


def test_one_misread_time_of_a_slip_is_left_out():
    found = timed(slip=slip_of_the_run(t660_s=round(true_split(660) + 0.5, 3)), rollout_m=None)
    assert [finding.code for finding in found.findings] == ["slip-mark-left-out"]
    assert found.distance.splits[-1].time_s.value == pytest.approx(true_split(1320), abs=0.004)


def test_an_unknown_rollout_widens_and_is_told():
    told = timed()
    bare = timed(rollout_m=None)
    assert [finding.code for finding in bare.findings] == ["rollout-assumed"]
    assert bare.distance.splits[0].time_s.plus_minus > 2 * told.distance.splits[0].time_s.plus_minus


def test_motion_runs_from_clock_start():
    found = timed()
    assert np.interp(0.0, found.motion.time_s, found.motion.distance_m) == pytest.approx(0.0, abs=0.02)
    assert found.finish_s == pytest.approx(true_split(1320), abs=0.01)


def test_what_the_speeds_scale_makes_of_splits_is_shared_by_runs_and_a_slip_settles_it():
    without = timed()
    last = without.distance.splits[-1]
    (scale,) = [part for part in last.time_s.shared if part.cause == "device: speed's scale"]
    # Hand: a receiver's scale is good to 0.00015 (one sigma); the line then lies off by so much of 1320 ft
    off_m = 1.96 * 0.00015 * 1320 * FOOT_M
    assert abs(scale.effect) == pytest.approx(off_m / last.speed_mps.value, rel=0.1)
    parts = [last.time_s.run_plus_minus, *(part.effect for part in last.time_s.shared)]
    assert last.time_s.plus_minus == pytest.approx(np.hypot.reduce(parts))
    by_slip = timed(slip=slip_of_the_run())
    assert not any("scale" in part.cause for part in by_slip.distance.splits[-1].speed_mps.shared)


def test_how_deep_a_car_stages_is_mostly_shared_by_its_runs():
    # By hand: a rollout open by 45 mm moves the start, less the mark, by 45 mm over the speed there; of its variance
    # seven tenths are the car's and its driver's habit, and cancel between two runs; a slip settles all of it
    def seconds_per_metre(at_m):
        return (RUN.moment(at_m + 0.01) - RUN.moment(at_m - 0.01)) / 0.02

    one, other = (timed(rollout_m=None, seed=seed).distance.splits[-1].time_s for seed in (0, 10))
    staged = next(part.effect for part in one.shared if part.cause == "device: how the car stages")
    of_all = 1.96 * 0.045 * (seconds_per_metre(0.27) - seconds_per_metre(0.27 + 1320 * FOOT_M))
    assert abs(staged) == pytest.approx(0.7**0.5 * of_all, rel=0.1)
    assert one.own > 0.3**0.5 * of_all
    assert difference(one, other).plus_minus < 0.75 * np.hypot(one.plus_minus, other.plus_minus)
    with_slip = timed(slip=slip_of_the_run(), rollout_m=None).distance.splits[-1].time_s
    assert not any("stages" in part.cause for part in with_slip.shared)
