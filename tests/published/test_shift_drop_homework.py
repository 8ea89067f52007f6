"""Engine speed over road speed, the drop of a shift, and two facts of the trade."""

import math

import numpy as np
import pytest

from passband.analysis.shifts.step import needed_step, rpm_after_shift
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.stages import find_shifts, label_gears, measure_launch

MPH = 0.44704
INCH = 0.0254


def test_the_homework_of_the_drop_from_fourth_to_fifth():
    # published (front-wheel-drive homework, scribd 339536476): tire radius 11.70 in, 4th 1.07, 5th 0.81, 45 mph, the
    # engine drops by 662 rpm; the wheel turns 646.41 rpm, so the final drive is 3.939 and 2,724 rpm become 2,062
    wheel_rpm = 45.0 * MPH / (2 * math.pi * 11.70 * INCH) * 60.0
    final_drive = 662.0 / ((1.07 - 0.81) * wheel_rpm)
    before = wheel_rpm * 1.07 * final_drive
    after = rpm_after_shift(before, ratio_before=1.07, ratio_after=0.81)
    assert wheel_rpm == pytest.approx(646.41, abs=0.05)
    assert final_drive == pytest.approx(3.939, abs=0.001)
    assert (before, after) == (pytest.approx(2724.0, abs=1.0), pytest.approx(2062.0, abs=1.0))
    assert before - after == pytest.approx(662.0, abs=1e-6)


def test_the_share_that_drops_is_of_the_ratios_alone():
    # published (the same): 1 - 0.81 / 1.07 = 0.24299 whatever final drive and tire
    before = np.array([1500.0, 2724.0, 9000.0])
    drop = before - rpm_after_shift(before, ratio_before=1.07, ratio_after=0.81)
    assert drop / before == pytest.approx(0.24299, abs=1e-5)


def test_an_engine_of_8300_to_11200_rpm_needs_steps_of_0741():
    # common practice, no source
    step = needed_step(8300.0, 11200.0)
    assert step == pytest.approx(0.741, abs=5e-4)
    assert rpm_after_shift(11200.0, ratio_before=1.0, ratio_after=step) == pytest.approx(8300.0)


def test_a_shift_at_11200_rpm_through_that_step_keeps_to_the_band_as_measured():
    # common practice, no source: expected RPM after and the margin to the band's low end come out of a log just so
    ratios = (2.40, 2.40 * 0.741)
    run = plant_run(ratios=ratios, shift_at_s=(3.0,), end_s=5.0, acceleration_mps2=15.0, logger=Logger(cut_flag=True))
    scale = 11200.0 / run.shifts[0].rpm_before
    run = plant_run(
        ratios=tuple(scale * ratio for ratio in ratios), shift_at_s=(3.0,), end_s=5.0, acceleration_mps2=15.0,
        logger=Logger(cut_flag=True),
    )  # fmt: skip
    car = run.car.model_copy(update={"rpm_band": (8300.0, 11200.0)})
    gears = label_gears(run.motion, run.traces, car, launch_s=0.0, end_s=5.0)
    (shift,) = find_shifts(run.motion, run.traces, gears, car, launch_s=0.0, end_s=5.0).shifts
    assert shift.rpm_before.value == pytest.approx(11200.0, abs=55.0)
    assert shift.expected_rpm_after == pytest.approx(8300.0, abs=45.0)
    assert shift.margin_to_band_high_rpm == pytest.approx(0.0, abs=55.0)
    assert shift.margin_to_band_low_rpm == pytest.approx(shift.rpm_after.value - 8300.0)


@pytest.mark.parametrize("launch_rpm", [7000.0, 7400.0, 7800.0])
def test_leaving_at_7000_to_7800_rpm_it_falls_into_the_high_6000s(launch_rpm):
    # common practice, no source: planted so, and read so
    lock_s = 1.3
    run = plant_run(
        launch_rpm=launch_rpm, ratios=(4.30, 3.2, 2.6), shift_at_s=(2.4, 3.4), launch_lock_s=lock_s, end_s=4.5
    )
    scale = 6800.0 / run.lowest_rpm
    run = plant_run(
        launch_rpm=launch_rpm, ratios=tuple(scale * ratio for ratio in (4.30, 3.2, 2.6)), shift_at_s=(2.4, 3.4),
        launch_lock_s=lock_s, end_s=4.5,
    )  # fmt: skip
    gears = label_gears(run.motion, run.traces, run.car, launch_s=0.0, end_s=4.5)
    launch = measure_launch(run.motion, run.traces, gears, launch_s=0.0, car=run.car)
    assert launch.rpm_at_launch.value == pytest.approx(launch_rpm, abs=60.0)
    assert 6500.0 < launch.rpm_lowest.value < 7000.0
    assert launch.rpm_drop == pytest.approx(launch_rpm - run.lowest_rpm, abs=100.0)
