"""What is foretold: torque fitted from planted pulls, changes refused in words, simulated cars with one change."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.results.findings import Finding
from passband.analysis.whatif.changes import Changes, GearingGiven, PowerCurve, PowerGain, ShiftPoint, apply_changes
from passband.analysis.whatif.drive import drive
from passband.analysis.whatif.model import LaunchModel
from passband.analysis.whatif.said import OwnRun, far_from_own_run
from passband.analysis.whatif.torque import fit_torque
from passband.analysis.whatif.worth import worth_of_torque
from tests.analysis.whatif.planted_model import planted_model, power_torque
from tests.benchmarks.foretold import foretold_rows

GIVEN = GearingGiven((2.0, 1.4), 4.0, 2.0)


def two_gears(**changed):
    return planted_model(lambda rpm: 420.0 - 0.02 * rpm, turns=(20.0, 14.0), shifts=(7000.0,), **changed)


def test_torque_and_gear_factors_are_found_again():
    # Planted: a parabola, second gear 4 % lower, noise of 1 %
    rng = np.random.default_rng(7)
    gear = np.repeat([1, 2, 3], 400)
    rpm = np.concatenate([np.linspace(5000, 8000, 400), np.linspace(5600, 8000, 400), np.linspace(6000, 7900, 400)])
    truth = 400.0 - 6e-6 * (rpm - 6000.0) ** 2
    seen = truth * np.where(gear == 2, 0.96, 1.0) * (1.0 + 0.01 * rng.standard_normal(rpm.size))
    curve = fit_torque(rpm, seen, gear, np.full(rpm.size, 0.005))
    assert curve.gear_factor[1] / curve.gear_factor[0] == pytest.approx(0.96, abs=0.003)
    assert curve.at(7000.0, 1) == pytest.approx(394.0, rel=0.004)
    # beyond what was seen it goes on falling as it fell
    assert curve.at(8300.0, 1) == pytest.approx(400.0 - 6e-6 * 2300.0**2, rel=0.015)


def test_a_curve_needs_samples():
    with pytest.raises(ValueError, match="ten samples"):
        fit_torque(np.array([5000.0]), np.array([300.0]), np.array([1]), np.array([0.005]))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (Changes(shift_points=(ShiftPoint(None, 400.0, by=True),)), "further than 300 rpm"),
        (Changes(shift_points=(ShiftPoint(4, 100.0, by=True),)), "was not left by a shift"),
        (Changes(final_drive=4.5), "beyond 8%"),
        (Changes(final_drive=4.3, circumference_m=1.95), "together"),
        (Changes(gear_ratios=(2.0, 1.5, 1.2)), "name one for each gear"),
        (Changes(gear_ratios=(2.2, 1.4)), "gear 1 is 10.0%"),
        (Changes(gear_ratios=(2.0, 1.7)), "beyond 15%"),
        (Changes(mass_by_kg=200.0), "another car"),
        (Changes(boost_by_pa=7e3), "shows no boost"),
        (Changes(power_gains=(PowerGain(5000.0, 0.3),)), "beyond 15%"),
    ],
)
def test_what_the_run_cannot_answer_is_refused(changes, said):
    refused = apply_changes(two_gears(), changes, GIVEN)
    assert isinstance(refused, Finding)
    assert said in refused.text


def test_a_gear_that_never_pulled_is_not_asked():
    object.__setattr__(model := two_gears(), "used_gears", (1,))
    refused = apply_changes(model, Changes(gear_ratios=(2.0, 1.45)), GIVEN)
    assert isinstance(refused, Finding) and "Gear 2 never pulled" in refused.text


def test_power_of_a_range_is_raised_within_it_only():
    # By hand: nodes in (5000, 6000] are 3 % higher, all others as they were
    model = two_gears()
    raised = apply_changes(model, Changes(power_gains=(PowerGain(5000.0, 0.03, 6000.0),)), GIVEN)
    assert not isinstance(raised, Finding)
    within = (model.torque.rpm > 5000.0) & (model.torque.rpm <= 6000.0)
    assert raised.torque.torque / model.torque.torque == pytest.approx(np.where(within, 1.03, 1.0))


def test_a_launch_that_spun_answers_nothing_about_launches():
    model = two_gears()
    was = model.launch
    spun = two_gears()
    object.__setattr__(
        spun, "launch", LaunchModel(was.time_s, was.torque_nm, was.engine_rpm, spinning=True, locks=True)
    )
    for changes in (
        Changes(mass_by_kg=20.0),
        Changes(final_drive=4.1),
        Changes(power_gains=(PowerGain(4000.0, 0.05),)),
    ):
        refused = apply_changes(spun, changes, GIVEN)
        assert isinstance(refused, Finding) and "spun" in refused.text
    assert not isinstance(apply_changes(spun, Changes(power_gains=(PowerGain(6000.0, 0.05),)), GIVEN), Finding)


def test_a_launch_of_a_clutch_or_of_tires_untold_is_asked_nothing_of_its_gearing():
    model = two_gears()
    untold = replace(model, launch=replace(model.launch, untold=True))
    refused = apply_changes(untold, Changes(final_drive=4.1), GIVEN)
    assert isinstance(refused, Finding) and "no sensor tells a clutch that slipped" in refused.text
    assert not isinstance(apply_changes(untold, Changes(mass_by_kg=20.0), GIVEN), Finding)


def test_a_model_far_from_its_own_run_says_how_far():
    said = far_from_own_run(OwnRun(0.386, 0.02, met=False))
    assert said.code == "whatif-no-model"
    assert "only within 386 ms" in said.text


def test_a_curve_in_place_of_the_runs_own_is_run():
    # Planted: the run's own curve given back changes nothing; three per cent more is three per cent more
    model = two_gears()
    rpm = np.arange(3000.0, 9001.0, 250.0)
    own = (420.0 - 0.02 * rpm) * rpm * np.pi / 30.0
    same = apply_changes(model, Changes(curve=PowerCurve(rpm, own)), GIVEN)
    more = apply_changes(model, Changes(curve=PowerCurve(rpm, 1.03 * own)), GIVEN)
    raised = apply_changes(model, Changes(power_gains=(PowerGain(0.0, 0.03),)), GIVEN)
    drives = [drive(one) for one in (model, same, more, raised) if not isinstance(one, Finding)]
    base, again, by_curve, by_gain = (one.elapsed_s for one in drives if one is not None)
    assert again == pytest.approx(base, abs=5e-4)
    assert by_curve == pytest.approx(by_gain, abs=5e-4)
    assert by_gain < base - 0.03


def test_torque_is_worth_most_where_the_run_spends_its_way():
    model = planted_model(power_torque(240e3), turns=(20.0,))
    as_run = drive(model)
    assert as_run is not None
    classes = worth_of_torque(model, as_run)
    assert sum(one.elapsed_s for one in classes) == pytest.approx(
        as_run.elapsed_s - drive(apply_changes(model, Changes(power_gains=(PowerGain(0.0, 0.01),)), GIVEN)).elapsed_s,
        rel=0.05,
    )
    assert [one.from_rpm for one in classes if one.launch] == [5000.0]
    assert all(one.elapsed_s >= -1e-9 for one in classes)


@pytest.mark.parametrize("kind", ["plain_rear_lever", "plain_rear_natural", "plain_front_foot"])
def test_a_simulated_car_does_what_was_foretold(kind):
    # Planted: three cars of another model's making, each change within 20 ms or 15 %, trap within 0.4 m/s
    rows = foretold_rows((kind, 11), only=("mass +30 kg", "power +3 %"))
    assert len(rows) == 2
    for name, error, _, true, trap_error, _ in rows:
        assert abs(error) <= max(0.020, 0.15 * abs(true)), name
        assert abs(trap_error) <= 0.4, name
