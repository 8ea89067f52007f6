"""The strip's marks, traps and air against closed forms and published figures."""

from __future__ import annotations

import numpy as np
import pytest

from passband.demo_logs.strip import air_density, marks_passed, printed_slip, trap_speeds

FT, MPH = 0.3048, 0.44704  # international foot and mile, exact


def test_marks_of_constant_power_motion() -> None:
    # Hand: x = sqrt(8 P / 9 m) t^(3/2), so t = (9 m x^2 / 8 P)^(1/3).
    time = np.linspace(0.0, 12.0, 24001)
    distance = np.sqrt(8 * 300e3 / 9 / 1100) * time**1.5
    crossings = marks_passed(time, distance, finish_ft=1320)
    assert [crossing.at_ft for crossing in crossings] == [0, 60, 330, 660, 1000, 1320]
    expected = [(9 * 1100 * (c.at_ft * FT) ** 2 / 8 / 300e3) ** (1 / 3) for c in crossings]
    assert [c.time_s for c in crossings] == pytest.approx(expected, abs=1e-6)


def test_a_trap_is_the_mean_over_its_66_feet() -> None:
    # Hand: constant acceleration a from rest: 66 ft / (t(1320) - t(1254)), t(x) = sqrt(2 x / a).
    time = np.linspace(0.0, 15.0, 30001)
    distance = 0.5 * 5.0 * time**2
    expected = 66 * FT / (np.sqrt(2 * 1320 * FT / 5.0) - np.sqrt(2 * 1254 * FT / 5.0))
    assert trap_speeds(time, distance, finish_ft=1320)[1320] == pytest.approx(expected, rel=1e-6)
    assert list(trap_speeds(time, distance, finish_ft=660)) == [660]


def test_marks_that_were_not_reached_are_not_there() -> None:
    time = np.linspace(0.0, 5.0, 501)
    crossings = marks_passed(time, 10.0 * time, finish_ft=1320)
    assert [crossing.at_ft for crossing in crossings] == [0, 60]


def test_the_slip_prints_milliseconds_and_hundredths_of_a_mile_per_hour() -> None:
    slip = printed_slip({"60ft": 1.23456, "330ft": None}, {"660ft": 100 * MPH + 1e-4}, 0.12345)
    assert slip == {"reaction_s": 0.123, "60ft_s": 1.235, "660ft_mph": 100.0}


def test_dry_air_of_the_standard_atmosphere() -> None:
    # Published (U.S. Standard Atmosphere 1976, sea level): 288.15 K, 101325 Pa, 1.2250 kg/m3.
    assert air_density(288.15, 101325.0, 0.0) == pytest.approx(1.2250, abs=2e-4)


def test_moist_air_is_lighter() -> None:
    assert air_density(303.15, 1e5, 0.9) < air_density(303.15, 1e5, 0.1)
