"""A receiver that carries its speed on while it has no fix."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.reading.health.check import check_health
from passband.analysis.reading.health.no_fix import without_a_fix
from tests.analysis.reading.health.test_speed_scale import SPEED, TIME, a_log


def counted(few_from_s, few_to_s, few=2.0, speed=SPEED):
    """A log of 12 s with a receiver's speed and its count of satellites, too few between two times."""
    log = a_log("dash.csv", gps_speed=speed, satellites=np.where((few_from_s <= TIME) & (few_to_s > TIME), few, 9.0))
    return replace(
        log, channels=tuple(replace(one, unit="m/s" if one.name == "gps_speed" else "") for one in log.channels)
    )


def test_what_a_receiver_carries_on_with_is_left_out_and_told_with_its_length():
    # Planted: the speed goes on smoothly, the count alone tells
    got = without_a_fix(counted(4.0, 6.5))
    assert np.array_equal(np.isnan(got.get("gps_speed").values), (TIME >= 4.0) & (TIME < 6.5))
    (told,) = got.findings
    assert (told.code, told.level) == ("gps-no-fix", "caution")
    assert "2.5 s from 4.00 s" in told.text
    assert [one.code for one in check_health(counted(4.0, 6.5)).findings] == ["gps-no-fix"]


@pytest.mark.parametrize(
    ("log", "why"),
    [
        (counted(4.0, 6.5, few=4.0), "four are a fix"),
        (counted(4.0, 4.2), "a count that dips"),
        (counted(0.0, 12.0), "a count that never reaches a fix counts something else"),
        (counted(0.0, 5.0, speed=np.where(TIME < 5.5, 0.0, SPEED)), "a start under a roof, the car standing"),
        (a_log(gps_speed=SPEED), "no count"),
    ],
    ids=lambda one: one if isinstance(one, str) else "",
)
def test_the_rest_is_left_as_it_is(log, why):
    # Planted
    assert without_a_fix(log) is log, why
