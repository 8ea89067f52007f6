"""How slow a pick-up may be, by the dip that it lets be seen: by hand."""

from dataclasses import replace

import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.shifts.dip import longest_lag_s
from passband.analysis.shifts.figures import AFTER_UNSEEN
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.stages import find_shifts, label_gears

USUAL_LAG_S = 0.0115
"""By hand: 7.5 ms and 4 more, as good pick-ups are. [s]"""
RUN = plant_run(logger=Logger(cut_flag=True, throttle=False))
GEARS = label_gears(RUN.motion, RUN.traces, RUN.car, launch_s=0.0, end_s=9.0)
FOUND = find_shifts(RUN.motion, RUN.traces, GEARS, RUN.car, launch_s=0.0, end_s=9.0).shifts


def shifts(dip, duration_s=0.06):
    """All falling by 2,000 rpm, to so great a share of that below what the step asks for."""
    drop, after = Estimate(2000.0, 10.0), Estimate(6000.0, 10.0)
    asked_rpm = 6000.0 + 2000.0 * dip
    figures = {"rpm_drop": drop, "rpm_after": after, "expected_rpm_after": asked_rpm, "duration_s": duration_s}
    return [replace(shift, **figures) for shift in FOUND]


# hand: 11.5 ms and less where all of the dip is seen, 25 where none is, half-way between at half of it
@pytest.mark.parametrize(
    ("dip", "lag_s"), [(0.25, 0.0115), (0.15, 0.0115), (0.10, 0.01825), (0.05, 0.025), (-0.1, 0.025)]
)
def test_the_less_a_quick_shift_dips_the_slower_the_pickup_may_be(dip, lag_s):
    assert longest_lag_s(shifts(dip), converter=False) == pytest.approx(lag_s)


@pytest.mark.parametrize(("duration_s", "converter"), [(0.3, False), (0.06, True)])
def test_soft_shifts_show_nothing(duration_s, converter):
    assert longest_lag_s(shifts(0.0, duration_s), converter=converter) == pytest.approx(USUAL_LAG_S)


def test_one_that_spins_its_tires_does_not_decide():
    four = shifts(0.2)
    four[0] = shifts(-0.5)[0]
    assert longest_lag_s(four, converter=False) == pytest.approx(USUAL_LAG_S)


def test_without_shifts_it_is_usual():
    assert longest_lag_s([], converter=False) == pytest.approx(USUAL_LAG_S)
    unseen = [replace(shift, rpm_after=AFTER_UNSEEN) for shift in shifts(0.0)]
    assert longest_lag_s(unseen, converter=False) == pytest.approx(USUAL_LAG_S)
