"""Changes of gear that the engine did not make, planted by hand."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.gear_path import GearPath
from passband.analysis.driveline.ratios import TurnRatio, TurnSource
from passband.analysis.driveline.unmade_changes import without_unmade_changes

RATE_HZ = 100.0
LEVEL = np.array([5.8, 5.4, 5.1])
TIME = np.arange(0.0, 6.0, 1.0 / RATE_HZ)
RPM_AT = {0.0: 6500.0, 1.0: 6500.0, 1.2: 5500.0, 2.0: 6600.0, 2.3: 4400.0, 3.5: 5400.0, 6.0: 6000.0}
"""By foot: lifts at 1.0 s and at 2.0 s; then the tires haze, the engine rises on evenly, and they take hold at 5 s."""


def hazing(source=TurnSource.GROUND_SPEED, rpm_at=RPM_AT):
    rpm = np.interp(TIME, list(rpm_at), list(rpm_at.values()))
    speed = np.interp(TIME, [0.0, 2.3, 5.0, 6.0], [0.5, 9.0, 5800 / np.exp(5.1), 6000 / np.exp(5.1)])
    turn = TurnRatio(TIME, np.log(rpm / speed), source, np.zeros(TIME.size, dtype=np.bool_), rpm, speed)
    gear = np.select([TIME < 2.0, TIME < 2.3, TIME < 3.5], [1, 0, 2], 3)
    return turn, GearPath(gear, np.isin(TIME, TIME[gear > 0]))


def foot(*lifts):
    pressed = np.ones(TIME.size)
    for start, stop in lifts:
        pressed[(TIME > start) & (TIME < stop)] = 0.1
    return Traces((Channel("throttle", "TPS", "", "", TIME, pressed, RATE_HZ),))


LIFTED = foot((1.0, 1.2), (2.0, 2.3))


def gear_about(gear, at_s):
    return int(np.median(gear[np.abs(TIME - at_s) < 0.1]))


def test_the_gear_above_was_in_since_the_engine_last_fell_and_the_lift_before_was_a_shift():
    found = without_unmade_changes(*hazing(), LEVEL, LIFTED)
    assert [gear_about(found.gear, at) for at in (0.5, 1.6, 2.6, 4.0, 5.5)] == [1, 2, 3, 3, 3]
    assert not found.carries[(TIME > 2.5) & (TIME < 3.4)].any()  # it hazes


def test_a_fall_without_a_lift_is_no_shift_where_the_throttle_tells():
    found = without_unmade_changes(*hazing(), LEVEL, foot((2.0, 2.3)))
    assert [gear_about(found.gear, at) for at in (0.5, 1.6, 2.6)] == [1, 1, 3]


@pytest.mark.parametrize(
    "turn_and_path",
    [hazing(TurnSource.DRIVEN_WHEEL), hazing(rpm_at=RPM_AT | {3.45: 5400.0, 3.6: 4700.0})],
    ids=["the driven wheel is logged", "the engine fell at the change"],
)
def test_else_the_path_is_as_it_was(turn_and_path):
    turn, path = turn_and_path
    assert without_unmade_changes(turn, path, LEVEL, LIFTED) is path


def test_an_engine_speed_that_is_missing_may_hide_a_fall():
    turn, path = hazing()
    turn.rpm[(TIME > 3.4) & (TIME < 3.6)] = np.nan
    assert without_unmade_changes(turn, path, LEVEL, LIFTED) is path
