"""Boost against its threshold: planted dips, between samples, with their causes."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.engine.boost import (
    NEVER_REACHED,
    NO_THRESHOLD,
    BoostCauses,
    crossings,
    measure_boost,
)
from passband.analysis.results.boost import BoostBasis
from passband.analysis.results.distance import Wheelspin
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.sensors.boost_trace import BOOST_NOT_LOGGED, BoostTrace

THRESHOLD = 150e3
NOTHING_ELSE = BoostCauses()


def planted(time):
    """Rises through 150 kPa at 2 s; notches at 4 s (to 90 kPa) and 6 s (to 140 kPa)."""
    base = np.clip(75e3 * time, 0.0, 200e3)
    base = base - 110e3 * np.clip(1 - np.abs(time - 4.0) / 0.2, 0, None)
    return base - 60e3 * np.clip(1 - np.abs(time - 6.0) / 0.2, 0, None)


def trace(rate_hz=100.0, noise=0.0, scale=1.0):
    time = np.arange(-1.0, 9.0, 1 / rate_hz)
    values = planted(time) + noise * np.random.default_rng(4).standard_normal(time.size)
    return BoostTrace(time, scale * values, BoostBasis.AS_LOGGED, None, "boost")


def shift(start=3.85, end=4.1):
    return Shift(1, 2, start, 0.005, end, end - start, None, ShiftKind.NORMAL, Estimate(8000.0, 10.0),
                 Estimate(6000.0, 20.0), Estimate(2000.0, 20.0), None, None, None, None, None, None, None,
                 None)  # fmt: skip


def boost_of(given=None, shifts=(), spins=(), throttle=None, threshold=THRESHOLD, end_s=8.0):
    return measure_boost(given or trace(), BoostCauses(shifts, spins, throttle), threshold_pa=threshold, end_s=end_s)


def channel(name, time, values, unit="Pa"):
    return Channel(name, name, unit, "", np.asarray(time), np.asarray(values), 50.0)


@pytest.mark.parametrize("rate_hz", [50.0, 200.0, 500.0])
@pytest.mark.parametrize("noise", [0.0, 700.0])
def test_time_above_and_lowest_over_rates_and_noise(rate_hz, noise):
    got = boost_of(trace(rate_hz, noise))
    # Planted: below for 0.4 x 60/110 s about 4 s, and 0.4 x 10/60 s about 6 s
    below = 0.4 * (60 / 110) + 0.4 * (10 / 60)
    assert got.time_above_s == pytest.approx(6.0 - below, abs=0.012)
    assert got.first_reached_s == pytest.approx(2.0, abs=0.02)
    assert got.lowest_after_pa == pytest.approx(90e3, abs=4e3)
    assert len(got.dips) == 2
    assert got.share_above == pytest.approx(got.time_above_s / 8.0)


def test_causes_are_shift_lift_wheelspin_or_unexplained():
    time = np.arange(-1.0, 9.0, 0.02)
    lifted = channel("throttle", time, np.where(np.abs(time - 6.0) < 0.2, 0.3, 1.0), "")
    full = channel("throttle", time, np.ones(time.size), "")
    causes = lambda **k: [(dip.cause, dip.shift) for dip in boost_of(shifts=(shift(),), **k).dips]  # noqa: E731
    assert causes(throttle=lifted) == [("shift", 0), ("lift", None)]
    assert causes(throttle=full, spins=(Wheelspin(5.9, 6.2, 0.3),)) == [("shift", 0), ("wheelspin", None)]
    assert causes(throttle=full) == [("shift", 0), ("unexplained", None)]


@pytest.mark.parametrize("lifts_s", [7.9, 7.97, 8.05])
def test_the_lift_at_the_line_is_no_loss_of_boost(lifts_s):
    # Planted: both shut within 0.06 s; the end is known to hundredths
    time = np.arange(0.0, 8.4, 0.02)
    share = np.clip(1.0 - (time - lifts_s) / 0.06, 0.0, 1.0)
    known = replace(trace(), time_s=time, boost_pa=np.full(time.size, 2 * THRESHOLD) * share)
    boost = boost_of(known, throttle=channel("throttle", time, share, ""))
    assert boost.lowest_after_pa > 1.3 * THRESHOLD and not boost.dips
    sooner = channel("throttle", time, np.where(time > 7.7, 0.0, 1.0), "")
    assert boost_of(known, throttle=sooner).lowest_after_pa <= 2 * THRESHOLD


def test_never_reached_is_none_not_zero():
    got = boost_of(threshold=300e3)
    assert got.first_reached_s == got.lowest_after_pa == NEVER_REACHED
    assert got.time_above_s == 0.0 and got.dips == ()
    assert got.highest_pa == pytest.approx(200e3)


def test_without_a_threshold_the_plain_figures_stay():
    got = boost_of(threshold=None)
    assert got.time_above_s == got.first_reached_s == NO_THRESHOLD and got.threshold_pa is None
    assert got.at_clock_start_pa == pytest.approx(0.0, abs=1.0)


def test_always_above_has_no_dip_and_is_first_reached_at_the_start():
    got = boost_of(threshold=-50e3)
    assert got.first_reached_s == 0.0 and got.dips == () and got.longest_above_s == pytest.approx(8.0)


def test_units_doubled_doubles_pressures_and_keeps_times():
    one, two = boost_of(), boost_of(trace(scale=2.0), threshold=2 * THRESHOLD)
    assert two.time_above_s == pytest.approx(one.time_above_s)
    assert two.deficit_pa_s == pytest.approx(2 * one.deficit_pa_s)


def test_deficit_is_the_area_under_the_threshold():
    # Hand: a triangle 2 s by 150 kPa, one 0.218 s by 60 kPa, one 0.067 s by 10 kPa
    want = 0.5 * (2.0 * 150e3 + 0.4 * 60 / 110 * 60e3 + 0.4 / 6 * 10e3)
    assert boost_of().deficit_pa_s == pytest.approx(want, rel=2e-3)


def test_noise_about_the_threshold_is_one_crossing():
    time = np.arange(0.0, 8.0, 0.005)
    slow = np.clip(100e3 + 20e3 * time, 0, 200e3) + 800.0 * np.random.default_rng(1).standard_normal(time.size)
    got = boost_of(BoostTrace(time, slow, BoostBasis.AS_LOGGED, None, "boost"))
    assert got.first_reached_s == pytest.approx(2.5, abs=0.1)
    assert got.dips == ()


def test_the_window_ends_with_the_log():
    early = trace()
    keep = early.time_s <= 5.0
    got = boost_of(BoostTrace(early.time_s[keep], early.boost_pa[keep], early.basis, None, "boost"))
    assert got.time_above_s == pytest.approx(3.0 - 0.4 * 60 / 110, abs=0.02)
    assert got.dips[-1].end_s < 5.0


def test_missing_samples_are_told_when_long():
    early = trace()
    values = np.where(np.abs(early.time_s - 7.0) < 0.4, np.nan, early.boost_pa)
    got = measure_boost(
        BoostTrace(early.time_s, values, early.basis, None, "boost"), NOTHING_ELSE, threshold_pa=THRESHOLD, end_s=8.0
    )
    assert [finding.code for finding in got.findings] == ["boost-gaps"]


def test_no_samples_in_the_window_is_no_boost():
    got = measure_boost(trace(), NOTHING_ELSE, threshold_pa=THRESHOLD, end_s=-0.5)
    assert got.reason.code == "boost-without-data"
    assert measure_boost(BOOST_NOT_LOGGED, NOTHING_ELSE, threshold_pa=THRESHOLD, end_s=8.0) is BOOST_NOT_LOGGED


def test_crossings_at_the_edges_and_nowhere():
    time, high = np.array([0.0, 1.0]), np.array([1.0, 1.0])
    assert crossings(time, high, start_s=0.2, stop_s=0.8) == [(0.2, 0.8)]
    assert crossings(time, -high, start_s=0.2, stop_s=0.8) == []
    assert crossings(time, high, start_s=0.8, stop_s=0.2) == []


def test_boost_that_hovers_below_the_threshold_is_not_above_by_its_noise():
    # Planted: 1.5 kPa below for 8 s, with noise of 0.7 kPa that passes the threshold now and then
    time = np.arange(-1.0, 9.0, 0.01)
    values = np.full(time.size, THRESHOLD - 1.5e3) + 700.0 * np.random.default_rng(5).standard_normal(time.size)
    assert np.mean(values > THRESHOLD) > 0.01
    got = boost_of(BoostTrace(time, values, BoostBasis.AS_LOGGED, None, "boost"))
    assert got.time_above_s == 0.0 and got.first_reached_s == NEVER_REACHED
