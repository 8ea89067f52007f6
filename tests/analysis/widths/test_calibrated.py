"""Widths that a table of classes makes wider or narrower."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from passband.analysis.results.estimate import CAR, GEARS_UNLIKE, Estimate, difference, ratio
from passband.analysis.widths.calibrated import AS_FOUND, Widths, parted_anew, widened
from passband.analysis.widths.evidence import FIGURES, Seen
from passband.analysis.widths.parts import of_facts
from passband.analysis.widths.rules import rule
from passband.analysis.widths.table import CALIBRATED

GPS_ALONE = Seen(
    slip="none", basis="gps", felt="no", drive="clutch", lag_shown="no", gps_hz=10.0, wheel_hz=0.0, engine_hz=100.0,
    tooth_way_m=0.0, rise_s=0.05, pull_mps2=9.0, rollout_s=0.3, launch_slip=0.0, start_open_s=0.03, hold_rpm=20.0,
    usual_shift_s=0.2, dip=0.0, swing_back=0.0, pickup_lag_s=0.01,
)  # fmt: skip


def test_what_facts_make_stays_and_the_rest_is_multiplied() -> None:
    # Hand: own 3, device 4, car 12: 13 before; twice 3 and 4 with 12 is the root of 36 + 64 + 144. The run's own stays.
    found = Estimate.parted(500.0, 3.0, {"device: pick-up lag": 4.0, "car: mass": 12.0})
    got = widened(found, 2.0)
    assert found.plus_minus == pytest.approx(13.0)
    assert got.plus_minus == pytest.approx(244.0**0.5)
    assert (got.value, got.run_plus_minus, of_facts(got)) == (500.0, 3.0, 12.0)


def test_what_is_narrowed_is_the_runs_own_part_too() -> None:
    got = widened(Estimate.parted(500.0, 3.0, {"device: pick-up lag": 4.0, "car: mass": 12.0}), 0.5)
    assert (got.run_plus_minus, of_facts(got)) == (1.5, 12.0)
    assert got.plus_minus == pytest.approx((6.25 + 144.0) ** 0.5)


def test_the_whole_of_a_power_is_multiplied_and_two_runs_still_share_it() -> None:
    found = Estimate.parted(500.0, 3.0, {"car: mass": 4.0})
    got = widened(found, 2.0, whole=True)
    assert got.plus_minus == pytest.approx(10.0)
    assert difference(got, got).plus_minus == pytest.approx(3.0 * 2.0**0.5)


def test_an_estimate_that_nobody_parted_is_multiplied_whole() -> None:
    assert widened(Estimate(5.0, 2.0), 1.5) == Estimate(5.0, 3.0)


def test_of_a_figures_rules_the_first_that_holds_counts() -> None:
    widths = Widths(
        "by hand",
        (rule("splits", ("slip is none", "gps_hz below 2.5"), 2.5, 40, 80), rule("splits", (), 1.5, 90, 180)),
    )
    assert widths.factor("splits", replace(GPS_ALONE, gps_hz=1.0)) == 2.5
    assert widths.factor("splits", GPS_ALONE) == 1.5
    assert widths.factor("traps", GPS_ALONE) == 1.0
    assert AS_FOUND.factor("splits", GPS_ALONE) == 1.0


def test_the_table_rests_on_enough_cases_and_stays_within_its_bounds() -> None:
    # Hand: of fewer than 39 cases the greatest score is the quantile, and one wrong value sets it.
    assert all(one.cases >= 39 and one.answers >= one.cases for one in CALIBRATED.rules)
    assert all(0.5 <= one.factor <= 6.0 for one in CALIBRATED.rules)
    assert all(one.factor >= 1.0 for one in CALIBRATED.rules if one.figure.startswith(("average", "peak")))


def test_every_figure_of_the_table_has_a_rule_that_holds_wherever_no_other_does() -> None:
    figures = dict.fromkeys(one.figure for one in CALIBRATED.rules)
    lasts = [[one for one in CALIBRATED.rules if one.figure == figure][-1] for figure in figures]
    assert set(figures) <= set(FIGURES)
    assert [one.figure for one in lasts if one.conditions] == []


def test_a_doubt_that_one_run_shows_is_as_wrong_for_the_other() -> None:
    # Hand: a fact wrong by a tenth moves 500 by 50 and 490 by 49, though only one run's gears said so: 1 between them
    doubting = Estimate.parted(500.0, 3.0, {f"car: {GEARS_UNLIKE}": 50.0})
    plain = Estimate.parted(490.0, 4.0, {})
    assert difference(doubting, plain).plus_minus == pytest.approx(26.0**0.5)
    assert difference(plain, doubting).plus_minus == pytest.approx(26.0**0.5)
    assert ratio(doubting, plain).plus_minus == pytest.approx(500 / 490 * math.hypot(3.0 / 500.0, 4.0 / 490.0))


def test_a_doubt_of_another_cars_facts_does_not_cancel() -> None:
    doubting = Estimate.parted(500.0, 3.0, {f"car: {GEARS_UNLIKE}": 50.0})
    apart = difference(doubting, Estimate.parted(490.0, 4.0, {}), apart=frozenset({CAR}))
    assert apart.plus_minus == pytest.approx(math.hypot(5.0, 50.0))


def test_what_the_run_gains_the_devices_lose_and_the_facts_stay() -> None:
    # Hand: own 3 and device 4 hold 5; own 4.5 leaves 2.18 to the device; own 6 leaves none, and 6 and 12 hold 13.4; own
    # 15 would be more than the whole: it is 13
    found = Estimate.parted(7000.0, 3.0, {"device: pick-up lag": 4.0, "car: mass": 12.0})
    got = parted_anew(found, 1.5)
    assert (got.own, got.plus_minus, of_facts(got)) == (4.5, pytest.approx(13.0), 12.0)
    more = parted_anew(found, 2.0)
    assert (more.own, more.plus_minus) == (pytest.approx(6.0), pytest.approx(180.0**0.5))
    assert parted_anew(found, 5.0).own == pytest.approx(13.0)
    assert parted_anew(Estimate(5.0, 2.0), 3.0) == Estimate(5.0, 2.0)
