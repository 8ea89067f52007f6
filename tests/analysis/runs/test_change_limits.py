"""What is said of two days' winds and airs: planted seasons in which they matter, and in which they do not."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from passband.analysis.runs.change import compare_groups
from passband.analysis.runs.same_air import elapsed_by_power, elapsed_by_wind
from tests.analysis.runs.planted_engine import engine_run
from tests.analysis.runs.test_change import of_meeting


def two_days(rng, *, wind=0.0, warmer_k=0.0, meetings=("spring", "autumn")):
    first = [engine_run(f"b{n}", rng, noise=0.001, wind=0.0) for n in range(4)]
    second = [engine_run(f"a{n}", rng, noise=0.001, wind=wind, temperature_k=293.15 + warmer_k) for n in range(4)]
    return compare_groups(of_meeting(first, meetings[0]), of_meeting(second, meetings[1]))


def told(change, code):
    return next((one.text for one in change.findings if one.code == code), None)


def test_two_days_winds_are_told_with_their_worth():
    # Planted: a head wind after the change; it is taken out of power and of elapsed time, which it made longer
    got = two_days(np.random.default_rng(1), wind=-2.5)
    text = told(got, "wind-limits-change")
    by_kw, open_kw, slower_s, open_s, left, whole = map(
        float,
        re.search(
            r"made (\S+) \+- (\S+) kW less .* worth (\S+) \+- (\S+) s.* to (\S+) % in place of (\d+\.\d)",
            text,
        ).groups(),
    )
    assert by_kw > open_kw > 0
    assert slower_s > 0 and slower_s / open_s == pytest.approx(by_kw / open_kw, rel=0.2)
    assert left < whole


def test_what_a_known_wind_would_leave_is_what_the_interval_has_without_it():
    got = two_days(np.random.default_rng(2), wind=-1.4)
    left, whole = map(
        float, re.search(r"to ([\d.]+) % in place of (\d+\.\d)", told(got, "wind-limits-change")).groups()
    )
    of_class = next(one.ratio for one in got.power_ratio if round(100 * one.ratio.plus_minus, 1) == whole)
    wind = next(part.effect for part in of_class.shared if "wind" in part.cause)
    assert left == pytest.approx(100 * math.sqrt(of_class.plus_minus**2 - wind**2), abs=0.06)


@pytest.mark.parametrize(
    ("sides", "known_so_far"),
    [((), "which nobody gave"), ((1,), "not given for every run"), ((0, 1), "known no better than it was given")],
)
def test_a_wind_that_was_given_is_not_said_to_be_missing(sides, known_so_far):
    rng = np.random.default_rng(1)
    both = [[engine_run(f"{name}{n}", rng, noise=0.001, wind=wind) for n in range(4)]
            for name, wind in (("b", 0.0), ("a", -2.5))]  # fmt: skip
    for side in sides:
        both[side] = [
            replace(run, review=replace(run.review, air=replace(run.review.air, wind_mps=1.0))) for run in both[side]
        ]
    got = compare_groups(of_meeting(both[0], "spring"), of_meeting(both[1], "autumn"))
    text = told(got, "wind-limits-change")
    assert known_so_far in text and ("more closely" in text) == (len(sides) == 2)


def test_one_meeting_has_one_wind_and_nothing_is_told():
    got = two_days(np.random.default_rng(3), meetings=("spring", "spring"))
    assert told(got, "wind-limits-change") is None
    assert told(got, "air-limits-change") is None


def test_unlike_air_is_told_with_its_worth():
    got = two_days(np.random.default_rng(4), warmer_k=15.0)
    text = told(got, "air-limits-change")
    assert "at 20 degC before and 35 degC after" in text
    left, whole = map(float, re.search(r"to ([\d.]+) % in place of (\d+\.\d)", text).groups())
    assert left < 0.9 * whole + 0.05


def test_elapsed_time_in_the_same_air_is_in_the_same_wind():
    # Planted: one run driven by all, so that elapsed time as run is alike; a head wind after would have made it longer
    got = two_days(np.random.default_rng(1), wind=-2.5).elapsed_time_s
    slower_s = float(
        re.search(r"worth (\S+) ", told(two_days(np.random.default_rng(1), wind=-2.5), "wind-limits-change"))[1]
    )
    assert got.same_air.value - got.raw.value == pytest.approx(-slower_s, abs=0.2 * slower_s)
    assert any("wind" in part.cause for part in got.same_air.shared)
    assert not any("wind" in part.cause for part in got.raw.shared)


def test_a_wind_that_was_given_is_taken_out_of_elapsed_time_too():
    # Planted: all runs alike as driven; a tail wind that was given for one side only had made it quicker
    rng = np.random.default_rng(1)
    before, after = ([engine_run(f"{name}{n}", rng, noise=0.001, wind=0.0) for n in range(4)] for name in "ba")
    blown = [replace(run, review=replace(run.review, air=replace(run.review.air, wind_mps=2.0))) for run in after]
    still, told_of = (compare_groups(before, side).elapsed_time_s for side in (after, blown))
    power = after[0].review.power
    open_w = next(one.plus_minus_w for one in power.shares if one.source == "wind")
    # By hand: what half a metre a second leaves open of power, four times, by the time that a wind's power is worth
    by_hand_s = 4.0 * open_w / power.average_w.value * elapsed_by_wind(after[0])
    assert told_of.same_air.value - still.same_air.value == pytest.approx(by_hand_s, rel=0.02)
    assert told_of.raw.value == still.raw.value


def test_a_winds_power_comes_late_in_a_run():
    # By hand: at constant power p from rest v^2 = 2 p t, and a wind's share of it is worth a fifth of the time; a share
    # of all power is worth a third
    time = np.linspace(0.0, 10.0, 20001)
    run = SimpleNamespace(
        review=SimpleNamespace(launch=None), time_s=time, speed_mps=np.sqrt(400.0 * time) + 1e-6,
        distance_m=np.zeros(time.size), under_power_to_m=400.0,
    )  # fmt: skip
    assert elapsed_by_wind(run) == pytest.approx(2.0, rel=1e-3)
    assert elapsed_by_power(run) == pytest.approx(10.0 / 3.0, rel=1e-3)
