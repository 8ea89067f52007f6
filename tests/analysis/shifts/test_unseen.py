"""A shift in a gap of engine speed."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.results.unknown import Unknown
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.shifts.test_find import found


def without(run, start_s, stop_s):
    """The run's traces with the rows of a stretch left out."""

    def kept(channel):
        keep = (channel.time_s < start_s) | (channel.time_s > stop_s)
        return replace(channel, time_s=channel.time_s[keep], values=channel.values[keep])

    return Traces(tuple(kept(channel) for channel in run.traces.channels))


@pytest.mark.parametrize("before_s", [0.1, 0.25, 0.4])
def test_a_shift_in_a_gap_is_open_by_it_and_its_engine_speeds_are_not_known(before_s):
    # planted: half a second missing; the last row before it is not the shift
    run = plant_run()
    planted = run.shifts[1]
    shifts = found(run, without(run, planted.start_s - before_s, planted.start_s - before_s + 0.5))
    shift = shifts[1]
    assert len(shifts) == 4
    assert abs(shift.time_s - planted.start_s) < shift.time_plus_minus_s < 0.3
    assert shift.end_s > shift.time_s
    parts = (shift.rpm_before, shift.rpm_after, shift.rpm_drop)
    assert all(isinstance(part, Unknown) and part.reason.code == "shift-in-gap" for part in parts)
    assert not any(isinstance(other.rpm_before, Unknown) for other in shifts if other is not shift)


def test_a_gap_beside_a_shift_leaves_it_alone():
    # planted: it ends 0.3 s before
    run = plant_run(logger=Logger(cut_flag=True))
    planted = run.shifts[1]
    shift = found(run, without(run, planted.start_s - 0.7, planted.start_s - 0.3))[1]
    assert shift.time_s == pytest.approx(planted.start_s, abs=0.01)
    assert not np.isnan(shift.rpm_after.value)
