"""The driveline's state at each moment, on runs whose gears are known."""

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.state import read_driveline
from tests.analysis.planted_run import plant_run
from tests.analysis.stages import evidence_of

RUN = plant_run()
STATE = read_driveline(RUN.motion, evidence_of(RUN.motion, RUN.traces, RUN.car, end_s=RUN.end_s))


def test_at_each_moment_the_gear_carries_slips_or_none_is_in():
    # Planted: a clean run; the three together are all of it, and no moment is two of them
    together = STATE.carrying.astype(int) + STATE.slipping.astype(int) + STATE.neutral.astype(int)
    assert np.all(together[STATE.gear > 0] == 1) and not STATE.spinning.any()
    assert float(np.mean(STATE.carrying[STATE.time_s > RUN.locked_s + 0.1])) > 0.75


def test_before_the_clutch_has_locked_first_gear_slips():
    # Planted: the clutch slips from the launch until it locks
    biting = (STATE.time_s > 0.15) & (STATE.time_s < RUN.locked_s - 0.15)
    assert float(np.mean(STATE.slipping[biting])) > 0.8


def test_levels_lie_where_the_ratios_told_put_them():
    # Hand: ln(60 x overall ratio / circumference)
    told = np.log(60.0 * np.asarray(RUN.car.overall_ratios) / RUN.car.tire_circumference)
    assert STATE.known_levels == pytest.approx(told, abs=0.01)


def test_no_engine_speed_no_state():
    assert read_driveline(RUN.motion, evidence_of(RUN.motion, Traces(()), RUN.car, end_s=RUN.end_s)) is None
