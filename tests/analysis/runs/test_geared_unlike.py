"""Whether a car goes as fast at one engine speed as before: planted tires, and a converter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.results.estimate import Estimate, SharedPart
from passband.analysis.results.gears import GearBasis
from passband.analysis.runs.cells import read_cells
from passband.analysis.runs.change import compare_groups
from passband.analysis.runs.geared_unlike import GEARED, find_other_gearing
from passband.analysis.runs.two_groups import TwoGroups
from tests.analysis.runs.planted_engine import engine_run


def sides(*, mps_share=1.0, runs=3, seed=1):
    rng = np.random.default_rng(seed)
    before = [engine_run(f"b{n}", rng) for n in range(runs)]
    return before, [engine_run(f"a{n}", rng, mps_share=mps_share) for n in range(runs)]


def gearing(before, after):
    groups = TwoGroups((*before, *after), len(before))
    return find_other_gearing(groups, read_cells(groups.runs))


def with_cause(run, cause, share):
    power = run.review.power
    average = power.average_w
    average = replace(average, shared=(*average.shared, SharedPart(cause, share * average.value)))
    return replace(run, review=replace(run.review, power=replace(power, average_w=average)))


def of_car(run, name):
    return replace(run, review=replace(run.review, car=replace(run.review.car, name=name)))


def test_the_same_gearing_is_nothing():
    assert gearing(*sides()) is None


@pytest.mark.parametrize(("share", "found"), [(1.002, False), (1.02, True), (0.98, True), (1.03, True)])
def test_other_tires_are_found_by_the_speed_at_one_engine_speed(share, found):
    # Planted: ground speed in every cell times a share; 3 parts in a thousand is the same tire measured twice
    got = gearing(*sides(mps_share=share))
    assert (got is not None) == found
    if got is not None:
        assert got.whole.value == pytest.approx(-np.log(share), abs=1e-9)
        assert got.of_cells == pytest.approx(np.full(got.of_cells.size, -np.log(share)))
        assert ("faster" if share > 1 else "slower") in got.tell().text


def test_a_lone_run_each_way_has_no_spread_and_is_held_to_twice_a_tires():
    assert gearing(*sides(mps_share=1.006, runs=1)) is None
    assert gearing(*sides(mps_share=1.02, runs=1)) is not None


def test_power_is_left_open_by_as_much_and_its_shape_is_not():
    got = compare_groups(*sides(mps_share=1.03))
    parts = [{part.cause: part.effect for part in one.ratio.shared} for one in got.power_ratio]
    assert [part[GEARED] for part in parts] == pytest.approx(
        [-np.log(1.03) * one.ratio.value for one in got.power_ratio]
    )
    assert {part.cause: part.effect for part in got.top_over_rest.shared}.get(GEARED, 0.0) == pytest.approx(
        0.0, abs=1e-9
    )
    assert any(one.code == "other-gearing-after-change" for one in got.findings)
    alike = compare_groups(*sides())
    assert got.average_w.raw.plus_minus > alike.average_w.raw.plus_minus


def test_behind_a_converter_no_more_is_open_than_its_losses():
    # Hand: 10 % of slip more, of a converter whose losses are open by 2 %: 2 % of each class, and of one over another
    before, after = ([with_cause(run, "car: torque converter", 0.02) for run in side] for side in sides(mps_share=0.9))
    got = gearing(before, after)
    assert got.of_cells == pytest.approx(np.full(got.of_cells.size, 0.02))
    assert got.of_shape == pytest.approx(0.02)


@pytest.mark.parametrize(("share", "advised"), [(0.99, False), (0.97, True)])
def test_a_converter_that_slips_as_its_torque_goes_is_no_other_tire(share, advised):
    before, after = (
        [with_cause(run, "car: torque converter", 0.02) for run in side] for side in sides(mps_share=share)
    )
    said = gearing(before, after).tell().text
    assert ("Give each side its own tires" in said) == advised
    assert ("its converter slipped more, as it does where the engine makes more torque" in said) != advised


def test_two_cars_have_gearings_of_their_own_and_their_facts_stay_open():
    # Hand: masses open by 2 and 1 %: the root of their squares is 2.236 %
    before, after = sides(mps_share=0.9)
    before = [of_car(with_cause(run, "car: mass", 0.02), "one") for run in before]
    after = [of_car(with_cause(run, "car: mass", 0.01), "other") for run in after]
    assert gearing(before, after) is None
    got = compare_groups(before, after)
    for one in got.power_ratio:
        shared = {part.cause: part.effect for part in one.ratio.shared}
        assert shared["car: mass"] == pytest.approx(0.02236 * one.ratio.value, rel=1e-3)
    same = compare_groups([of_car(run, "one") for run in before], [of_car(run, "one") for run in after])
    assert all(part.cause != "car: mass" for one in same.power_ratio for part in one.ratio.shared)


def told(run, around_m, final):
    ratios = tuple(Estimate(final * ratio, 0.01) for ratio in (2.5, 1.8, 1.4, 1.1))
    gears = replace(run.review.gears, basis=GearBasis.GIVEN, overall_ratios=ratios)
    return replace(run, tire_circumference_m=around_m, review=replace(run.review, gears=gears))


@pytest.mark.parametrize(
    ("around_m", "final", "found"), [(2.06, 4.0, False), (2.0, 4.0 / 1.03, False), (2.0, 4.0, True), (2.06, 4.12, True)]
)
def test_tires_or_a_final_drive_that_were_told_are_taken_out(around_m, final, found):
    # Planted: 3 % faster over the ground at one engine speed, by tires of 2.06 for 2.00 m, or by the final drive
    before, after = sides(mps_share=1.03)
    got = gearing([told(run, 2.0, 4.0) for run in before], [told(run, around_m, final) for run in after])
    assert (got is not None) == found
