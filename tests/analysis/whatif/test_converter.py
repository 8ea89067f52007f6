"""Behind a converter: engine speed found again from turbine speed, shift points in engine speed, what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.given.car import Car
from passband.analysis.results.findings import Finding
from passband.analysis.whatif.changes import Changes, GearingGiven, PowerCurve, PowerGain, ShiftPoint, apply_changes
from passband.analysis.whatif.converter import TurbineLink, fit_link, turns_by_ratios
from passband.analysis.whatif.drive import drive
from passband.analysis.whatif.worth import worth_of_torque
from tests.analysis.whatif.planted_model import planted_model
from tests.benchmarks.foretold import foretold_rows

GIVEN = GearingGiven((2.0, 1.4), 4.0, 2.0)
TURBINE = np.arange(500.0, 9001.0, 100.0)
LINK = TurbineLink(TURBINE, np.maximum(3800.0 + 0.5 * TURBINE, TURBINE))


def behind_converter():
    model = planted_model(lambda rpm: 900.0 - 0.06 * rpm, turns=(20.0, 14.0), shifts=(5000.0,), lock_rpm=4500.0)
    return replace(model, link=LINK, launch=_by_time(model.launch))


def _by_time(launch):
    part = slice(0, 100)
    return replace(
        launch, time_s=launch.time_s[part], torque_nm=launch.torque_nm[part], engine_rpm=launch.engine_rpm[part],
        locks=False,
    )  # fmt: skip


def test_engine_speed_is_found_again_from_the_turbines():
    # Planted: a stall at 4,000 rpm that goes over into a line, noise of 20 rpm
    rng = np.random.default_rng(3)
    turbine = np.linspace(1200.0, 6500.0, 1500)
    engine = np.hypot(4000.0, 1.05 * turbine)
    link = fit_link(turbine, engine + 20.0 * rng.standard_normal(turbine.size), np.full(turbine.size, 0.005))
    for at in (1500.0, 3000.0, 5000.0, 6400.0):
        assert float(link.engine_of(at)) == pytest.approx(math.hypot(4000.0, 1.05 * at), abs=15.0)
    assert np.all(np.diff(link.engine_rpm) > 0.0)
    # straight on by its own slope where nothing was seen
    assert float(link.engine_of(6700.0)) == pytest.approx(math.hypot(4000.0, 1.05 * 6700.0), abs=30.0)


def test_a_shift_point_is_moved_in_engine_speed():
    # By hand: where 100 rpm of the engine are 200 of the turbine, 100 rpm later are 200 rpm later through the gear
    model = behind_converter()
    moved = apply_changes(model, Changes(shift_points=(ShiftPoint(1, 100.0, by=True),)), GIVEN)
    assert not isinstance(moved, Finding)
    assert moved.shifts[0].at_rpm == pytest.approx(5200.0, abs=1.0)
    was, is_now = drive(model), drive(moved)
    assert is_now.rpm_before[0] - was.rpm_before[0] == pytest.approx(100.0, abs=10.0)
    # engine speed, not the turbine's: 3800 + half of what it turned at
    assert was.rpm_before[0] == pytest.approx(3800.0 + 2500.0, abs=10.0)
    assert was.rpm_after[0] == pytest.approx(3800.0 + 0.5 * 5000.0 * 0.7, abs=15.0)


def test_power_is_raised_by_engine_speed_and_worth_told_by_it():
    model = behind_converter()
    raised = apply_changes(model, Changes(power_gains=(PowerGain(6000.0, 0.05),)), GIVEN)
    factor = raised.torque.torque / model.torque.torque
    assert np.all(factor[model.torque.rpm <= 4400.0] == 1.0)
    assert np.all(factor[model.torque.rpm >= 4500.0] == pytest.approx(1.05))
    classes = worth_of_torque(model, drive(model))
    most = max(classes, key=lambda one: one.elapsed_s)
    assert 4500.0 <= most.from_rpm <= 6500.0


def test_an_engines_curve_is_not_put_in_a_turbines_place():
    curve = PowerCurve(np.array([4000.0, 8000.0]), np.array([300e3, 400e3]))
    refused = apply_changes(behind_converter(), Changes(curve=curve), GIVEN)
    assert isinstance(refused, Finding)
    assert "Behind a converter" in refused.text


def test_turns_follow_the_ratios_given():
    # By hand: 3.5 x 2.4 turns of the turbine on 2.1 m of ground
    samples = {"engine_rpm": np.full(30, 6240.0), "speed_mps": np.full(30, 40.0), "gear": np.full(30, 2)}
    car = Car(name="x", gear_ratios=[2.4, 1.5], final_drive=3.5, tire_circumference=2.1)
    assert turns_by_ratios(car, 2, **samples)[0] == pytest.approx(2.0 * math.pi * 2.4 * 3.5 / 2.1)
    # without the final drive the last gear seen sets the scale, and the ratios stand as they are
    bare = turns_by_ratios(Car(name="x", gear_ratios=[2.4, 1.5]), 2, **samples)
    assert bare[0] / bare[1] == pytest.approx(1.6)
    assert turns_by_ratios(Car(name="x"), 2, **samples) is None


def test_a_simulated_car_with_a_converter_does_what_was_foretold():
    # A car whose converter locks in top gear, one thing changed at a time, same driver and day
    for name, error, half, true, trap, trap_half in foretold_rows(("plain_converter", 21)):
        assert abs(error) <= max(0.02, 0.15 * abs(true)), name
        assert abs(error) <= half, name
        assert abs(trap) <= max(0.4, trap_half), name
