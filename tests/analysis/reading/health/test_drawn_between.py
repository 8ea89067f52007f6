"""Rows that were drawn between two samples are no samples."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.reading.health.drawn_between import keep_measured
from tests.analysis.reading.health.test_speed_scale import a_log

RNG = np.random.default_rng(11)


def log_of(time_s, values, step=0.25):
    channel = Channel("engine_speed", "RPM", "rpm", "rpm", time_s, values, 20.0, resolution=step)
    return replace(a_log("ecu.csv"), channels=(channel,), findings=())


def drawn(every, *, row_hz=20.0, seconds=30.0, step=0.25, first=0):
    """A pull with shifts and noise, sampled on one row in so many and drawn straight between."""
    time_s = np.arange(int(seconds * row_hz)) / row_hz
    at = time_s[first::every]
    true = 5000.0 + 300.0 * (at % 5.0) + 200.0 * np.sin(2.0 * at) + 8.0 * RNG.standard_normal(at.size)
    return time_s, np.round(np.interp(time_s, at, np.round(true)) / step) * step


@pytest.mark.parametrize("every", [2, 3, 4, 5, 10, 20])
@pytest.mark.parametrize("first", [0, 1])
def test_only_the_samples_that_were_measured_are_kept(every, first):
    # planted
    time_s, values = drawn(every, first=first, seconds=60.0)
    log = keep_measured(log_of(time_s, values))
    kept = log.channels[0]
    assert kept.rate_hz == pytest.approx(20.0 / every)
    assert kept.time_s == pytest.approx(time_s[first::every])
    assert [finding.code for finding in log.findings] == ["drawn-between-samples"]


def test_a_gap_of_an_odd_number_of_rows_does_not_hide_it():
    # planted
    time_s, values = drawn(2)
    keep = np.ones(time_s.size, dtype=bool)
    keep[200:215] = False
    assert keep_measured(log_of(time_s[keep], values[keep])).channels[0].rate_hz == pytest.approx(10.0)


def test_what_is_measured_on_each_row_stays():
    # planted
    time_s, values = drawn(1)
    log = log_of(time_s, values)
    assert keep_measured(log) is log


@pytest.mark.parametrize("every", [2, 3, 5])
def test_a_held_signal_is_not_drawn(every):
    # planted: it bends on both sides of each step
    time_s, values = drawn(1)
    held = values[(np.arange(values.size) // every) * every]
    log = log_of(time_s, held)
    assert keep_measured(log) is log


def test_a_signal_that_hardly_bends_says_nothing():
    # planted: a temperature that creeps up by its printed step
    time_s = np.arange(0.0, 60.0, 0.05)
    log = log_of(time_s, np.round(80.0 + 0.1 * time_s, 1), step=0.1)
    assert keep_measured(log) is log


def test_missing_samples_are_no_bends():
    # planted
    time_s, values = drawn(2)
    values[300:307] = np.nan
    assert keep_measured(log_of(time_s, values)).channels[0].rate_hz == pytest.approx(10.0)
