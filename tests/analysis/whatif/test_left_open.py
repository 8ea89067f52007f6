"""What moved shifts ask: the flywheel's push by hand, a flare that a limiter may hold, speeds that were never seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.results.findings import Finding
from passband.analysis.whatif.changes import Changes, GearingGiven, ShiftPoint, apply_changes
from passband.analysis.whatif.drive import drive
from passband.analysis.whatif.left_open import left_open
from passband.analysis.whatif.said import flare_said, unseen_said
from passband.analysis.whatif.torque import fit_torque
from tests.analysis.whatif.planted_model import MASS_KG, planted_model, power_torque

GIVEN = GearingGiven((2.0, 1.4), 4.0, 2.0)
LATER = Changes(shift_points=(ShiftPoint(1, 250.0, by=True),))


def slipping(*, flare_rpm: float = 0.0, follows: float = 1.0, inertia: float = 0.2, seen_rpm: float = 11000.0):
    """Two gears of one power; in a shift of 0.1 s the clutch pushes with 12 kN while the engine falls from its peak."""
    model = planted_model(power_torque(240e3), turns=(20.0, 14.0), shifts=(7000.0,))
    fact = replace(model.facts.engine_inertia, value=inertia)
    shift = replace(
        model.shifts[0], force_n=np.full(20, 12000.0), time_s=np.arange(20) * 0.005, carried=20, left_rpm=7000.0,
        peak_rpm=7000.0 + flare_rpm, peak_place=0, rpm_through_gear=4900.0, peak_follows=follows,
    )  # fmt: skip
    return replace(
        model, facts=replace(model.facts, engine_inertia=fact), shifts=(shift,),
        torque=replace(model.torque, most_rpm=seen_rpm),
    )  # fmt: skip


def later(model):
    changed = apply_changes(model, LATER, GIVEN)
    assert not isinstance(changed, Finding)
    return changed


def opened(model):
    changed = later(model)
    driven = drive(changed)
    return changed, driven, left_open(model, changed, LATER, driven)


def test_a_later_shift_gives_back_what_the_flywheel_falls_further():
    # By hand: engine and gear both turn faster, by 250 and 175 rpm, so it falls 75 rpm more: 2 kg m2 x 7.854 rad/s x
    # 14 rad/m = 220 N s, 0.22 m/s for 1000 kg; a shift begins on a step of 5 ms, which is 0.03 m/s
    without, with_one = (
        [drive(one).rpm_after[0] for one in (model, later(model))]
        for model in (slipping(inertia=1e-6), slipping(inertia=2.0))
    )
    more_rpm = (with_one[1] - with_one[0]) - (without[1] - without[0])
    assert more_rpm * np.pi / 30.0 / 14.0 == pytest.approx(220.0 / MASS_KG, abs=0.045)


def test_a_flare_that_may_be_held_is_a_bracket_and_is_told():
    free, held = (drive(later(slipping(flare_rpm=400.0, follows=one))) for one in (1.0, 0.0))
    changed, middle, left = opened(slipping(flare_rpm=400.0, follows=0.5))
    assert free.elapsed_s < middle.elapsed_s < held.elapsed_s
    assert left.flare.elapsed_s == pytest.approx(0.5 * (held.elapsed_s - free.elapsed_s), rel=0.1)
    (said,) = flare_said(changed, -0.010, left.flare.elapsed_s)
    assert "rises by up to 400 rpm" in said.text and said.code == "whatif-flare"


def test_without_a_flare_nothing_is_open_about_it():
    assert opened(slipping())[2].flare.elapsed_s == 0.0


def test_speeds_that_were_never_seen_widen_the_answer_and_are_told():
    model = slipping(seen_rpm=7000.0)
    _, driven, left = opened(model)
    assert left.beyond.elapsed_s > 0.001
    assert left.together.elapsed_s == pytest.approx(np.hypot(left.beyond.elapsed_s, left.moved.elapsed_s))
    (said,) = unseen_said(model, driven, left.beyond.elapsed_s)
    assert "up to 7000 rpm" in said.text and f"{driven.beyond_s:.2f} s of" in said.text
    assert opened(slipping())[2].beyond.elapsed_s == 0.0


def test_a_gear_that_the_finish_cut_short_does_not_stand_in_the_way():
    model = slipping()
    assert not isinstance(apply_changes(replace(model, used_gears=(1,)), LATER, GIVEN), Finding)
    refused = apply_changes(replace(model, used_gears=(2,)), LATER, GIVEN)
    assert isinstance(refused, Finding) and "Gear 1 never pulled" in refused.text


def test_below_its_samples_a_curve_goes_on_by_the_slope_of_a_thousand_rpm():
    # Planted: 300 N m throughout, but for a drive that swings right after shifts, within 200 rpm of the lowest speed
    rpm = np.linspace(5000.0, 8000.0, 1200)
    torque = 300.0 - 40.0 * np.clip((5200.0 - rpm) / 200.0, 0.0, 1.0)
    curve = fit_torque(rpm, torque, np.ones(rpm.size, dtype=int), np.full(rpm.size, 0.005))
    assert curve.at(4800.0, 1) > 250.0  # straight on from its end it would be about 220


def test_a_high_torque_right_behind_a_shift_is_no_peak_to_fall_from():
    # Planted: a gentle fall of the engine's own past 6000 rpm, and a drive that swings within 300 rpm of the lowest
    # speed with half as much torque again: 600 rpm beyond what was seen it falls as the engine does
    rpm = np.linspace(4500.0, 7000.0, 1200)
    own = 300.0 - 2e-5 * np.clip(rpm - 6000.0, 0.0, None) ** 2
    torque = own + 150.0 * np.clip((4800.0 - rpm) / 300.0, 0.0, 1.0)
    curve = fit_torque(rpm, torque, np.ones(rpm.size, dtype=int), np.full(rpm.size, 0.005))
    assert curve.at(7500.0, 1) == pytest.approx(300.0 - 2e-5 * 1500.0**2, rel=0.06)


def test_a_turbines_curve_goes_straight_on_by_more_than_its_last_nodes():
    # Planted: torque that falls by 40 N m in 1000 rpm, its last 150 rpm up by a swing of the speed at the line
    rpm = np.linspace(4000.0, 6000.0, 1200)
    torque = 500.0 - 0.04 * (rpm - 4000.0) + 15.0 * np.clip((rpm - 5850.0) / 150.0, 0.0, 1.0)
    one = np.ones(rpm.size, dtype=int)
    curve = fit_torque(rpm, torque, one, np.full(rpm.size, 0.005), falls_from_peak=False)
    assert curve.at(6400.0, 1) == pytest.approx(500.0 - 0.04 * 2400.0, rel=0.05)


def test_tires_at_their_limit_are_a_bracket_of_what_the_launch_is_asked():
    # By hand: 5 % more gearing asks 5 % more push; at their limit tires give the launch what they gave
    model = planted_model(power_torque(240e3), turns=(20.0, 14.0), shifts=(7000.0,))
    geared, heavier = (apply_changes(model, one, GIVEN) for one in (Changes(final_drive=4.2), Changes(mass_by_kg=50.0)))
    assert not isinstance(geared, Finding)
    assert not isinstance(heavier, Finding)
    limit = drive(replace(geared, launch=replace(geared.launch, torque_nm=geared.launch.torque_nm / 1.05)))
    ends = limit.elapsed_s - drive(geared).elapsed_s
    got = left_open(model, geared, Changes(final_drive=4.2), drive(geared)).grip.elapsed_s
    assert got == pytest.approx(0.7 * ends, rel=1e-3)
    untold = replace(model, launch=replace(model.launch, untold=True))
    assert left_open(untold, geared, Changes(), drive(geared)).grip.elapsed_s == pytest.approx(ends, rel=1e-3)
    assert left_open(model, heavier, Changes(), drive(heavier)).grip.elapsed_s > 0.0
    assert left_open(model, later(model), LATER, drive(later(model))).grip.elapsed_s == 0.0
