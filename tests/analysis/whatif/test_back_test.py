"""One run foretold from another: what is found to be other, what is foretold of it, what cannot be told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from passband.analysis.report import as_table
from passband.analysis.results.estimate import Estimate
from passband.analysis.whatif.back_test import BackTest, KnownChange, back_test, change_between, tally
from passband.analysis.whatif.changes import Changes
from passband.analysis.whatif.made_of_run import model_of_run
from passband.analysis.whatif.model import ModelledRun
from passband.demo_logs.proving import plan_case, write_case
from tests.proving.cases import load_case, review_case

ADDED_KG = 35.0


def _run(folder, plan, seed):
    write_case(folder, plan, seed)
    case = load_case(folder)
    full = review_case(case).reviews[0]
    return ModelledRun(full, case.car, model_of_run(full, as_table(full).frame, case.car)), case.truth["runs"][0]


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    """A car, and the same car with more in it and its shifts made earlier."""
    plan = plan_case("plain_all_foot", 31)
    plan = replace(plan, runs=plan.runs[:1])
    earlier = tuple(one - 120.0 for one in plan.car.shift_rpm)
    heavier = replace(plan, car=replace(plan.car, mass_kg=plan.car.mass_kg + ADDED_KG, shift_rpm=earlier))
    folder = tmp_path_factory.mktemp("pair")
    return _run(folder / "base", plan, 31), _run(folder / "other", heavier, 31)


def test_what_is_other_is_found_in_the_cars_and_in_the_logs(pair):
    (base, _), (other, _) = pair
    found = change_between(base, other)
    assert found.changes.mass_by_kg == pytest.approx(ADDED_KG, abs=0.5)
    assert found.words == (f"mass {found.changes.mass_by_kg:+.1f} kg",)
    moved = [point.rpm for point in found.changes.shift_points]
    assert moved and all(point == pytest.approx(-120.0, abs=60.0) for point in moved)
    assert change_between(base, base) == KnownChange(Changes(), (), ())


def test_a_final_drive_that_the_logs_do_not_show_was_corrected(pair):
    # Planted: both runs have the same gearing; on paper it differs by 5 %
    (base, _), (other, _) = pair
    told = replace(other, car=other.car.model_copy(update={"final_drive": other.car.final_drive * 1.05}))
    left_open = change_between(base, told, unsaid={"final_drive": True})
    assert left_open.changes.final_drive is None
    assert "the same gearing" in left_open.corrected[0]
    said = change_between(base, told, unsaid={"final_drive": False})
    assert said.changes.final_drive == told.car.final_drive


def test_a_mass_that_nobody_spoke_of_is_taken_as_changed(pair):
    (base, _), (other, _) = pair
    found = change_between(base, other, unsaid={"mass": True})
    assert found.changes.mass_by_kg is not None and "nobody said" in found.words[0]


def test_the_second_run_is_foretold_from_the_first(pair):
    (base, was), (other, is_now) = pair
    test = back_test(base, other, change_between(base, other))
    true = is_now["splits"]["1320ft"] - was["splits"]["1320ft"]
    assert test.foretold_s.value == pytest.approx(true, abs=max(0.020, 0.15 * true))
    assert test.measured_s.value == pytest.approx(true, abs=0.003)
    assert test.held is True and test.near is True and test.why == ""


def test_torque_that_nobody_saw_is_not_made_up(pair):
    (base, _), (other, _) = pair
    higher = replace(base.model, torque=replace(base.model.torque, least_rpm=base.model.torque.least_rpm + 900.0))
    test = back_test(replace(base, model=higher), other, change_between(base, other))
    assert test.foretold_s is None and test.held is None
    assert "only from" in test.why


def test_answered_held_and_near_pairs_are_counted_apart():
    # By hand: errors of 5 and 60 ms, one not answered
    nothing = KnownChange(Changes(), (), ())
    close = BackTest(nothing, Estimate(0.100, 0.015), Estimate(0.095, 0.001), "")
    far = BackTest(nothing, Estimate(0.100, 0.015), Estimate(0.040, 0.001), "")
    none = BackTest(nothing, None, None, "the two runs share no finish")
    total = tally([close, far, none])
    assert (total.asked, total.answered, total.held, total.near) == (3, 2, 1, 1)
    assert total.median_s == pytest.approx(0.0325) and total.worst_s == pytest.approx(0.060)
