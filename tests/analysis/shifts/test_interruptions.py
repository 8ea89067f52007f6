"""Lifts and limiters: planted within a gear, told, and never taken for each other or a shift."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.shifts.interruptions import Interruption, find_lifts, find_limiter, tell_interruptions
from passband.analysis.shifts.shake import tell_shake
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.stages import evidence_of

RUN = plant_run(logger=Logger(rate_hz=100.0))


def evidence(traces):
    return evidence_of(RUN.motion, traces, end_s=9.0)


def engine_with(change):
    channel = RUN.traces.get("engine_speed")
    return evidence(Traces((replace(channel, values=change(channel.time_s, channel.values)),)))


def throttle_with(share, start_s, stop_s):
    channel = RUN.traces.get("throttle")
    inside = (channel.time_s >= start_s) & (channel.time_s < stop_s)
    return evidence(Traces((replace(channel, values=np.where(inside, share * channel.values, channel.values)),)))


def on_limiter(time_s, rpm, start_s=4.7, stop_s=5.07):
    held = (time_s > start_s) & (time_s < stop_s)
    top = 1.05 * rpm.max()
    climbing = np.where((time_s > start_s - 0.3) & (time_s <= start_s), top - 2500.0 * (start_s - time_s), rpm)
    return np.where(held, top - 50.0 * np.abs(np.sin(2 * np.pi * 15.0 * time_s)), climbing)


def test_a_clean_run_has_neither():
    assert find_lifts(evidence(RUN.traces), RUN.shifts) == []
    assert find_limiter(evidence(RUN.traces), RUN.shifts) == []


@pytest.mark.parametrize(("share", "count"), [(0.8, 0), (0.6, 1), (0.1, 1)])
def test_a_foot_that_gives_a_quarter_away_has_lifted(share, count):
    lifts = find_lifts(throttle_with(share, 5.8, 6.3), RUN.shifts)
    assert len(lifts) == count


def test_a_lift_is_found_to_the_sample():
    (lift,) = find_lifts(throttle_with(0.2, 5.8, 6.3), RUN.shifts)
    assert (lift.start_s, lift.end_s) == (pytest.approx(5.8, abs=0.011), pytest.approx(6.3, abs=0.011))


@pytest.mark.parametrize(("shut", "opened", "kind"), [
    (0.99, 0.78, "hidden shift"), (0.99, 0.95, "lift"), (0.9, 0.75, "lift"),
])  # fmt: skip
def test_an_engine_that_stands_and_falls_as_the_throttle_opens_changed_gear(shut, opened, kind):
    # By hand: 6,000 rpm at the lift; at a share of it as the throttle opens 0.3 s later; at another 0.15 s on
    engine, throttle = RUN.traces.get("engine_speed"), RUN.traces.get("throttle")
    corners = [5.8, 6.1, 6.25, 6.5], 6000.0 * np.array([1.0, shut, opened, opened])
    near = (engine.time_s > 5.5) & (engine.time_s < 6.5)
    rpm = np.where(near, np.interp(engine.time_s, *corners), engine.values)
    foot = np.where((throttle.time_s >= 5.8) & (throttle.time_s < 6.1), 0.1, throttle.values)
    lifts = find_lifts(evidence(Traces((replace(engine, values=rpm), replace(throttle, values=foot)))), RUN.shifts)
    assert [lift.kind for lift in lifts] == [kind]
    (told,) = tell_interruptions(lifts)
    assert told.code == {"lift": "lift-in-gear", "hidden shift": "shift-not-measured"}[kind]


def test_a_car_of_one_gear_changes_none():
    # By hand: as above, a motor drawn down as the throttle opens again
    engine, throttle = RUN.traces.get("engine_speed"), RUN.traces.get("throttle")
    near = (engine.time_s > 5.5) & (engine.time_s < 6.5)
    rpm = np.where(near, np.interp(engine.time_s, [5.8, 6.1, 6.25, 6.5], [6000, 5940, 4680, 4680]), engine.values)
    foot = np.where((throttle.time_s >= 5.8) & (throttle.time_s < 6.1), 0.1, throttle.values)
    seen = evidence(Traces((replace(engine, values=rpm), replace(throttle, values=foot))))
    one = replace(seen, car=seen.car.model_copy(update={"gear_ratios": [1.0]}))
    assert [lift.kind for lift in find_lifts(one, RUN.shifts)] == ["lift"]


@pytest.mark.parametrize(("foot_at", "kind"), [(0.3, "hidden shift"), (0.4, "feathered"), (0.65, "feathered")])
def test_a_throttle_that_is_not_shut_hides_no_shift(foot_at, kind):
    # Planted: the engine is drawn down as the throttle opens, by tires that take hold; feathered it was told as shut
    engine, throttle = RUN.traces.get("engine_speed"), RUN.traces.get("throttle")
    near = (engine.time_s > 5.5) & (engine.time_s < 6.5)
    rpm = np.where(near, np.interp(engine.time_s, [5.8, 6.1, 6.25, 6.5], [6000, 5940, 4680, 4680]), engine.values)
    usual = float(np.quantile(throttle.values[(throttle.time_s > 0) & (throttle.time_s < 8)], 0.9))
    foot = np.where((throttle.time_s >= 5.8) & (throttle.time_s < 6.1), foot_at * usual, throttle.values)
    lifts = find_lifts(evidence(Traces((replace(engine, values=rpm), replace(throttle, values=foot)))), RUN.shifts)
    assert [lift.kind for lift in lifts] == [kind]
    assert ("shut for" in tell_interruptions(lifts)[0].text) == (kind == "hidden shift")


def test_a_fall_that_is_in_the_table_is_not_told_as_hidden():
    # Planted: the foot is off until 0.1 s before a shift that was measured
    engine, throttle = RUN.traces.get("engine_speed"), RUN.traces.get("throttle")
    shift = RUN.shifts[2]
    shut = (throttle.time_s >= shift.start_s - 0.5) & (throttle.time_s < shift.start_s - 0.1)
    foot = np.where(shut, 0.1 * throttle.values.max(), throttle.values)
    lifts = find_lifts(evidence(Traces((engine, replace(throttle, values=foot)))), RUN.shifts)
    assert [lift.kind for lift in lifts] == ["lift"]


def test_the_lift_that_ends_the_run_is_not_one():
    assert find_lifts(throttle_with(0.0, 8.5, 12.0), RUN.shifts) == []


def test_a_shift_with_the_foot_is_no_lift():
    run = plant_run(style="clutch")
    assert find_lifts(evidence(run.traces), run.shifts) == []


def test_an_engine_held_at_its_top_is_on_the_limiter():
    (held,) = find_limiter(engine_with(on_limiter), RUN.shifts)
    assert (held.start_s, held.end_s) == (pytest.approx(4.7, abs=0.08), pytest.approx(5.07, abs=0.08))


def test_a_limiter_that_chops_is_one_stretch_and_no_shake():
    # Planted: cut and fired again 9 times a second, 90 rpm up and down about its top
    def chopped(time_s, rpm):
        held = on_limiter(time_s, rpm, 4.5, 5.07)
        return np.where((time_s > 4.5) & (time_s < 5.07), held + 90.0 * np.sin(2 * np.pi * 9.0 * time_s) - 50.0, held)

    run = engine_with(chopped)
    (held,) = find_limiter(run, RUN.shifts)
    assert held.end_s - held.start_s > 0.25 and 4.4 < held.start_s < held.end_s < 5.1
    assert tell_shake(run, RUN.shifts, [held]) == []


def test_an_engine_out_of_breath_is_not_on_the_limiter():
    def breathless(time_s, rpm):
        return np.where(time_s > 7.4, 1.02 * rpm.max() + 150.0 * (time_s - 7.4), rpm)

    assert find_limiter(engine_with(breathless), RUN.shifts) == []


def test_each_is_told_once_with_its_place():
    findings = tell_interruptions([Interruption("lift", 5.8, 6.3), Interruption("limiter", 7.0, 7.3)])
    assert [finding.code for finding in findings] == ["lift-in-gear", "limiter-in-gear"]
    assert findings[0].text.startswith("The driver lifted and went back on the throttle in a gear for 0.50 s")
