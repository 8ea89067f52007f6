"""A flag that is late or early is told by engine speed, which falls upon its cut."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.flag_timing import Told, settle_flags
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.shifts.test_find import found


def with_flag_moved(run, by_s):
    """The run's traces with its flag logged so much later, sample by sample."""
    channels = []
    for channel in run.traces.channels:
        if channel.name == "shift_cut":
            at = np.searchsorted(channel.time_s, channel.time_s - by_s).clip(0, channel.values.size - 1)
            channel = replace(channel, values=channel.values[at])
        channels.append(channel)
    return Traces(tuple(channels))


@pytest.mark.parametrize("by_s", [0.03, 0.045, -0.05, -0.08])
@pytest.mark.parametrize("rate_hz", [100.0, 200.0, 500.0])
def test_a_flag_that_is_late_or_early_by_a_constant_gives_way_to_engine_speed(by_s, rate_hz):
    # planted: without engine speed every start would be off by as much
    run = plant_run(logger=Logger(rate_hz=rate_hz, cut_flag=True))
    shifts = found(run, with_flag_moved(run, by_s))
    assert [s.time_s for s in shifts] == pytest.approx([p.start_s for p in run.shifts], abs=0.012)
    assert all(abs(s.time_s - p.start_s) < s.time_plus_minus_s for s, p in zip(shifts, run.shifts, strict=True))
    assert [s.rpm_before.value for s in shifts] == pytest.approx([p.rpm_before for p in run.shifts], abs=60)


@pytest.mark.parametrize("by_s", [-0.005, 0.0, 0.002])
def test_a_flag_that_is_on_time_stands(by_s):
    # planted: what a bus of 100 Hz makes late, or an ECU early, is what its plus-minus is for; hand: root of half a
    # row's 2.5 ms, a switch's 2.5 and 5.5 of when torque goes, squared
    run = plant_run(logger=Logger(rate_hz=200.0, cut_flag=True))
    assert all(s.time_plus_minus_s == pytest.approx(0.00654, abs=2e-4) for s in found(run, with_flag_moved(run, by_s)))


@pytest.mark.parametrize("by_s", [-0.013, -0.018, 0.012])
def test_a_flag_that_may_be_on_time_and_may_not_is_open_to_what_engine_speed_shows(by_s):
    # planted: a box's own wait, or a bus, by less than slow pick-ups make look alike
    run = plant_run(logger=Logger(rate_hz=200.0, cut_flag=True))
    shifts = found(run, with_flag_moved(run, by_s))
    assert all(abs(s.time_s - p.start_s) < s.time_plus_minus_s for s, p in zip(shifts, run.shifts, strict=True))
    assert all(s.time_plus_minus_s < 0.025 for s in shifts)


def bent_at(*bends_s):
    """An engine that rises by 2000 rpm/s to 8000 and falls into the next gear within 50 ms at each of the times."""
    run = plant_run(shift_at_s=bends_s, logger=Logger(rate_hz=200.0))
    return read_engine_speed(run.traces)


def told_at(*flags_s):
    return [Told(Edge(flag_s, 0.0035, "shift_cut"), flag_s - 0.5, flag_s + 0.05) for flag_s in flags_s]


def test_one_shift_alone_does_not_convict_a_flag():
    # planted: one bend may be tires that take hold
    told = told_at(2.24)
    assert settle_flags(told, bent_at(2.2)) == [told[0].start]


def test_early_flags_that_do_not_agree_are_left():
    # planted: by 30 and by 100 ms; the wait is then not the box's own
    told = [*told_at(2.17), *told_at(3.41)]
    told = [replace(one, fallen_s=one.start.time_s + 0.15) for one in told]
    assert settle_flags(told, bent_at(2.2, 3.51)) == [one.start for one in told]


def test_late_flags_that_do_not_agree_give_way_each_to_its_own_bend():
    # planted: late by 25 and by 60 ms
    got = settle_flags(told_at(2.225, 3.57), bent_at(2.2, 3.51))
    assert [edge.time_s for edge in got] == pytest.approx([2.2, 3.51], abs=0.012)


def test_what_is_told_otherwise_is_not_touched():
    told = [replace(one, start=replace(one.start, evidence="throttle")) for one in told_at(2.24, 3.55)]
    assert settle_flags(told, bent_at(2.2, 3.51)) == [one.start for one in told]
