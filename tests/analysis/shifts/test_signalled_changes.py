"""The driver's own signs of a change of gear, counted against the path through the gears."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.shifts.signalled_changes import find_signalled_changes
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.stages import evidence_of

CUT, FOOT = plant_run(logger=Logger(cut_flag=True, rate_hz=100.0)), plant_run(style="clutch")


def evidence(run, *, end_s=9.0, traces=None):
    return evidence_of(run.motion, traces or run.traces, end_s=end_s)


def test_as_many_cuts_as_changes_place_each():
    # Planted: the path puts the first change half a second late, where the tires take hold
    about_s = [shift.end_s + (0.5 if at == 0 else 0.0) for at, shift in enumerate(CUT.shifts)]
    assert find_signalled_changes(evidence(CUT), about_s) == pytest.approx(
        [one.start_s for one in CUT.shifts], abs=0.03
    )


@pytest.mark.parametrize("count", [3, 5])
def test_more_or_fewer_signs_than_changes_place_none(count):
    assert find_signalled_changes(evidence(CUT), np.linspace(1.0, 6.0, count).tolist()) == [None] * count


def test_a_last_change_at_the_end_of_the_run_may_be_unsigned():
    # Planted: four cuts, a fifth change 0.2 s before the end
    about_s = [*(shift.end_s for shift in CUT.shifts), 8.8]
    signalled = find_signalled_changes(evidence(CUT), about_s)
    assert signalled[-1] is None and None not in signalled[:-1]


def test_without_a_cut_the_foot_and_the_engine_tell():
    # By hand: over a planted run, two lifts of 0.3 s; the engine stands and falls by a quarter as the throttle opens
    engine, throttle = FOOT.traces.get("engine_speed"), FOOT.traces.get("throttle")
    time_s, shut, rpm = engine.time_s, np.zeros(throttle.time_s.size, dtype=bool), np.full(engine.time_s.size, 6000.0)
    for start_s in (2.0, 5.0):
        shut |= (throttle.time_s >= start_s) & (throttle.time_s < start_s + 0.3)
        falls = np.interp(time_s, [start_s + 0.35, start_s + 0.45], [6000.0, 4500.0])
        rpm = np.where((time_s > start_s) & (time_s < start_s + 2.5), falls, rpm)
    foot = replace(throttle, values=np.where(shut, 5.0, 100.0))
    traces = Traces((replace(engine, values=rpm), foot))
    signalled = find_signalled_changes(evidence(FOOT, traces=traces), [2.5, 6.0])
    assert signalled == pytest.approx([2.3, 5.3], abs=0.03)


def test_no_signs_say_nothing():
    assert find_signalled_changes(evidence(CUT, traces=Traces((CUT.traces.get("engine_speed"),))), [2.0]) == [None]
