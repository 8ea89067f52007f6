"""What a run and a figure of it show."""

from __future__ import annotations

from dataclasses import replace

import pytest

from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.estimate import Estimate
from passband.analysis.widths.evidence import seen_of, seen_of_clock
from tests.analysis.widths.test_calibrated import GPS_ALONE

PARTED = Estimate.parted(500.0, 3.0, {"device: pick-up lag": 4.0, "car: mass": 12.0})


def test_a_half_width_is_what_sensors_and_method_make_of_it() -> None:
    # Hand: 3 and 4 are 5, of 500 a hundredth; devices make 4 of 13; of a power all counts, 13 of 500
    seen = seen_of(GPS_ALONE, "rpm_after", PARTED)
    assert (seen.half_width, seen.device_share) == (pytest.approx(0.01), pytest.approx(4.0 / 13.0))
    assert seen_of(GPS_ALONE, "peak_w", PARTED).half_width == pytest.approx(0.026)
    assert replace(seen, half_width=0.0, device_share=0.0) == GPS_ALONE


def test_a_times_half_width_counts_as_it_is() -> None:
    assert seen_of(GPS_ALONE, "splits", Estimate(10.0, 0.02)).half_width == 0.02


def test_a_figure_of_nothing_and_without_doubt_has_no_share() -> None:
    seen = seen_of(GPS_ALONE, "traps", Estimate(0.0, 0.0))
    assert (seen.half_width, seen.device_share) == (0.0, 0.0)


def test_an_unknown_figure_is_refused() -> None:
    with pytest.raises(ValueError, match="figure must be one of clock_start"):
        seen_of(GPS_ALONE, "speed", PARTED)


def test_a_clock_goes_by_what_it_was_matched_on() -> None:
    match = ClockMatch("dash.csv", Estimate(1.0, 0.1), Estimate(0.0, 50.0), ("wheel_speed", "engine_speed"))
    assert seen_of_clock(GPS_ALONE, match).clock == "engine_speed and wheel_speed"
    assert seen_of_clock(GPS_ALONE, replace(match, matched_on=())).clock == "nothing"
