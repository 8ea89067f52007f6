"""Engine speed against its band: planted ramps, edges between samples, gaps, what would have kept a shift inside."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.engine.band import measure_band, shift_point_for
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.results.shifts import Shift, ShiftKind
from tests.analysis.planted_pull import Setup, plant
from tests.analysis.stages import evidence_of

GRID = np.arange(0.0, 10.0, 0.005)
ZERO = np.zeros(GRID.size)
STEADY = Motion(
    GRID, ZERO + 30.0, ZERO, ZERO, ZERO, 30.0 * GRID, ZERO, ZERO * np.nan, ZERO > 1, SpeedBasis.GPS, None, ()
)
BAND = (6000.0, 8000.0)


def ramp(rate_hz=100.0, low=5000.0, high=9000.0):
    """From 5,000 to 9,000 rpm in 8 s: 2 s below, 4 s in, 2 s above."""
    time = np.arange(0.0, 8.0 + 1e-9, 1 / rate_hz)
    return Channel("engine_speed", "RPM", "rpm", "rpm", time, low + (high - low) * time / 8.0, rate_hz)


def band_of(channel, gears=None, shifts=(), band=BAND, end_s=8.0, curves=()):
    traces = Traces(() if channel is None else (channel,))
    evidence = evidence_of(STEADY, traces, Car(name="x", rpm_band=band), end_s=end_s)
    return measure_band(evidence, STEADY, gears, shifts, curves=curves)


def shift(before, after):
    return Shift(2, 3, 4.0, 0.005, 4.2, 0.2, None, ShiftKind.NORMAL, Estimate(before, 10.0), Estimate(after, 20.0),
                 Estimate(before - after, 20.0), None, None, None, None, None, None, None, None)  # fmt: skip


@pytest.mark.parametrize("rate_hz", [10.0, 37.0, 200.0])
def test_times_of_a_ramp_whatever_the_rate(rate_hz):
    # Hand: 500 rpm a second
    got = band_of(ramp(rate_hz))
    assert (got.time_below_s, got.time_in_s, got.time_above_s) == pytest.approx((2.0, 4.0, 2.0), abs=1e-6)
    assert got.share_in == pytest.approx(0.5)
    assert got.distance_in_m == pytest.approx(120.0, abs=1e-3)
    assert got.time_unknown_s == pytest.approx(0.0, abs=1e-9)


def test_dwell_adds_up_and_is_even_on_a_ramp():
    got = band_of(ramp())
    assert sum(one.time_s for one in got.dwell) == pytest.approx(8.0)
    assert [one.time_s for one in got.dwell] == pytest.approx([0.5] * 16)
    assert got.dwell[0].from_rpm == 5000.0 and got.dwell[-1].to_rpm == 9000.0


def test_each_gear_has_its_own_share():
    gears = Gears(GearBasis.GIVEN, (), (GearInterval(1, 0.0, 3.0), GearInterval(2, 3.0, 8.0)))
    first, second = band_of(ramp(), gears).by_gear
    assert (first.time_below_s, first.time_in_s, first.time_above_s) == pytest.approx((2.0, 1.0, 0.0), abs=0.011)
    assert (second.time_below_s, second.time_in_s, second.time_above_s) == pytest.approx((0.0, 3.0, 2.0), abs=0.011)
    assert first.distance_in_m + second.distance_in_m == pytest.approx(120.0, abs=1e-3)


def test_constant_speed_in_the_band_is_all_in():
    got = band_of(ramp(low=7000.0, high=7000.0))
    assert got.time_in_s == pytest.approx(8.0) and got.share_in == pytest.approx(1.0)


def test_the_ends_of_the_band_are_inside():
    assert band_of(ramp(low=6000.0, high=8000.0)).time_in_s == pytest.approx(8.0)


def test_short_gaps_are_bridged_long_ones_are_unknown():
    whole = ramp()
    short = np.where(np.abs(whole.time_s - 4.0) < 0.05, np.nan, whole.values)
    long = np.where(np.abs(whole.time_s - 4.0) < 0.3, np.nan, whole.values)
    as_channel = lambda values: Channel("engine_speed", "", "rpm", "", whole.time_s, values, 100.0)  # noqa: E731
    assert band_of(as_channel(short)).time_in_s == pytest.approx(4.0)
    got = band_of(as_channel(long))
    assert got.time_in_s == pytest.approx(3.4, abs=0.03)
    assert got.time_unknown_s == pytest.approx(0.6, abs=0.03)
    assert got.time_in_s + got.time_below_s + got.time_above_s + got.time_unknown_s == pytest.approx(8.0)


def test_the_window_ends_with_the_log():
    got = band_of(ramp(), end_s=12.0)
    assert got.time_in_s == pytest.approx(4.0) and got.time_unknown_s == pytest.approx(4.0)


def test_no_band_or_no_engine_speed_is_none():
    assert band_of(ramp(), band=None).reason.code == "band-not-given"
    assert band_of(None).reason.code == "band-without-engine-speed"
    assert band_of(ramp(), end_s=-1.0).reason.code == "band-without-engine-speed"


def test_a_shift_point_inside_the_band_that_would_have_kept_it():
    # Hand: 7200 -> 5760 is a step of 0.8; 6000 / 0.8 = 7500
    (text,) = band_of(ramp(), shifts=(shift(7200.0, 5760.0),)).would_have_kept
    assert "Shift 2-3 fell to 5760 rpm, 240 under" in text and "7500 rpm" in text and "0.833 for 0.800" in text


def test_a_step_too_wide_for_any_shift_point():
    # Common practice, no source: low over high is the least step that keeps an engine in its band
    (text,) = band_of(ramp(), shifts=(shift(8000.0, 5200.0),)).would_have_kept
    assert "no shift point" in text and "at least 0.750" in text and "0.650" in text


def test_a_shift_over_the_band_is_told_and_one_inside_is_not():
    (text,) = band_of(ramp(), shifts=(shift(8300.0, 6600.0),)).would_have_kept
    assert "300 rpm over" in text
    assert band_of(ramp(), shifts=(shift(8000.0, 6000.0),)).would_have_kept == ()


def test_the_shift_point_is_where_the_step_ends_on_the_band():
    assert shift_point_for(6000.0, rpm_before=7200.0, rpm_after=5760.0) == pytest.approx(7500.0)


def test_the_band_that_the_data_shows_is_where_power_holds():
    from passband.analysis.power.measure import Driven, measure_power

    setup = Setup()
    pull = plant(setup)
    evidence = evidence_of(pull.motion, pull.traces, setup.car(), end_s=pull.end_s)
    power = measure_power(Driven(pull.motion, pull.gears, pull.shifts, None), evidence, setup.car(), setup.air())
    low, high = band_of(ramp(), curves=power.curves).shown_by_data
    assert low <= 6750.0 and high >= 8250.0  # constant power: the whole stretch that was driven
    assert band_of(ramp()).shown_by_data.reason.code == "band-not-shown-by-power"
