"""The independent simulator: its physics held against laws it does not use, its cases against the form of ours.

Hand: work and energy, distance as the integral of speed, engine speed by the gears. Planted: its own runs.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.proving.cases import INDEPENDENT, make_case, review_case
from tests.proving.independent.coupled_car import RPM, STEP_S
from tests.proving.independent.devices import by_teeth
from tests.proving.independent.happened import happened
from tests.proving.independent.kinds import KINDS, draw_car
from tests.proving.independent.run import drive
from tests.proving.independent.specs import Day
from tests.proving.scoring import pair_shifts

STILL_AIR = Day(20.0, 101.3, 0.5, 1.2, 1.0, 0.0, 0.0, 0.0)
QUICK_KINDS = ("high_revving", "three_gears", "diesel_pickup")


@pytest.fixture(scope="module", params=QUICK_KINDS)
def ran(request):
    rng = np.random.default_rng(5)
    return drive(draw_car(request.param, rng), STILL_AIR, rng)


def test_the_tires_work_is_kinetic_energy_and_what_air_and_rolling_took(ran):
    # Hand: force times way = 1/2 m v^2 (the free wheels' spin counted) + 1/2 rho cdA v^3 dt + rolling
    body, of = ran.spec.body, ran.of
    end = round(happened(ran).of["end_of_run"] / STEP_S)
    speed = of["speed_mps"][:end]
    work = float(np.sum(of["tire_n"][:end] * speed)) * STEP_S
    free_kg = body.undriven_inertia_kgm2 / body.undriven_m**2
    kinetic = 0.5 * (body.mass_kg + free_kg) * (speed[-1] ** 2 - speed[round(ran.held_s / STEP_S)] ** 2)
    took = float(np.sum(0.5 * STILL_AIR.density * body.drag_area_m2 * speed**3 + of["rolling_w"][:end])) * STEP_S
    assert work == pytest.approx(kinetic + took, rel=0.01)


def test_way_is_the_integral_of_speed(ran):
    since = round(ran.held_s / STEP_S)
    summed = np.cumsum(ran.of["speed_mps"][since:]) * STEP_S
    assert np.max(np.abs(summed - ran.of["distance_m"][since:])) < 0.01


def test_engine_and_wheels_turn_by_the_gear_but_for_a_converters_slip(ran):
    time = ran.of["time_s"]
    until_s = ran.shifts[2].begins_s if len(ran.shifts) > 2 else ran.finish_s
    third = (time > ran.shifts[1].closed_s + 0.2) & (time < until_s)
    overall = ran.spec.box.ratios[2] * ran.spec.box.final
    share = float(np.median(ran.of["engine_rads"][third] / (ran.of["wheel_rads"][third] * overall)))
    if ran.spec.clutch.kind == "converter":
        assert 1.01 < share < 1.3
    else:
        assert share == pytest.approx(1.0, abs=0.002)


def test_less_comes_out_of_each_part_than_went_into_it(ran):
    power = happened(ran).of["power"]
    flow = [power[name]["avg_w"] for name in ("flywheel_brake", "clutch_output", "wheel_hub", "tractive")]
    assert flow == sorted(flow, reverse=True)


def test_counted_teeth_give_the_mean_speed_between_them():
    # Hand: from 100 rad/s gaining 50 rad/s2, the mean over the last 4 of 24 teeth is the speed half their time ago
    time = np.arange(0.0, 4.0, STEP_S)
    turning, at_s = 100.0 + 50.0 * time, np.linspace(1.0, 3.9, 200)
    counted = by_teeth(turning, 24, 4, at_s, forgets_s=0.4)
    spans = 4 * 2.0 * np.pi / 24 / (100.0 + 50.0 * at_s)
    tooth_s = spans / 4
    assert np.all(counted <= 100.0 + 50.0 * at_s)
    assert np.all(counted >= 100.0 + 50.0 * (at_s - spans / 2.0 - 1.05 * tooth_s))


def test_the_same_seed_is_the_same_case(tmp_path):
    first = make_case(tmp_path / "a", "motorcycle", 3, model=INDEPENDENT)
    again = make_case(tmp_path / "b", "motorcycle", 3, model=INDEPENDENT)
    assert (tmp_path / "a/motorcycle_3/ecu.csv").read_bytes() == (tmp_path / "b/motorcycle_3/ecu.csv").read_bytes()
    assert first.truth == again.truth


@pytest.mark.parametrize("kind", ["high_revving", "wheels_up", "eight_cylinders"])
def test_a_review_finds_its_shifts_and_invents_none(tmp_path, kind):
    # Planted; how near each figure comes is printed by `python -m tests.benchmarks.proving --model independent`
    case = make_case(tmp_path, kind, 7, model=INDEPENDENT)
    (review,) = review_case(case).reviews
    (run,) = case.truth["runs"]
    asked = [shift for shift in run["shifts"] if shift["completed"]]
    assert len(pair_shifts(review, run)) >= len(asked)
    assert len(review.shifts) <= len(run["shifts"])


def test_every_kind_can_be_driven():
    # Each begins at rest with the engine turning, and its drawn facts are a car's
    for place, kind in enumerate(KINDS):
        spec = draw_car(kind, np.random.default_rng(place))
        assert spec.engine.idle_rpm < spec.drive.shift_rpm and 200.0 < spec.body.mass_kg < 2500.0
        assert RPM * 2.0 * np.pi == pytest.approx(60.0)
