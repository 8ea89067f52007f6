"""Facts of a car, told or usual, and what telling one would narrow."""

import re

import pytest

from passband.analysis.given.car import Car
from passband.analysis.power.facts import read_facts, tell_not_given
from tests.analysis.planted_pull import Setup

SETUP = Setup()


def facts_of(**told):
    return read_facts(SETUP.car(**told), SETUP.air())


def test_what_is_given_is_as_sure_as_a_careful_owner_is():
    nobody_gives = ("wind", "gearbox input inertia", "strip's slope")
    facts = facts_of()
    assert facts.mass.value == SETUP.mass_kg and facts.mass.half_width == pytest.approx(0.008 * SETUP.mass_kg)
    assert all(fact.given for fact in facts.all if fact.source not in nobody_gives)
    assert facts.radius.value == pytest.approx(SETUP.radius_m)


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("drag_area", "drag_area"), ("rolling_resistance", "rolling"), ("driveline_efficiency", "efficiency"),
        ("engine_inertia", "engine_inertia"), ("wheel_inertia", "wheel_inertia"), ("tire_circumference", "radius"),
    ],
)  # fmt: skip
def test_what_is_missing_gets_its_usual_value_and_a_doubt_that_holds_this_car(key, name):
    told, usual = getattr(facts_of(), name), getattr(facts_of(**{key: None}), name)
    assert not usual.given and usual.half_width > 1.2 * told.half_width
    assert abs(usual.value - told.value) <= usual.half_width


def test_a_fact_given_with_its_own_plus_minus_keeps_it():
    facts = facts_of(mass="958 kg +- 2 kg", drag_area="0.56 m^2 +- 5 %", tire_circumference="2 m +- 6.2832 mm")
    assert facts.mass.half_width == 2.0 and facts.drag_area.half_width == pytest.approx(0.028)
    assert facts.radius.half_width == pytest.approx(0.001, rel=1e-4)


def test_no_mass_no_facts():
    assert read_facts(Car(name="x"), SETUP.air()) is None


def test_all_wheel_drive_has_no_undriven_wheels():
    facts = facts_of(driven_axle="all")
    assert facts.rolling_mass == SETUP.mass_kg
    assert facts.spinning_mass == pytest.approx(SETUP.wheel_inertia / facts.radius.value**2)


def test_undriven_wheels_add_to_the_rolling_mass():
    # Hand: 3.8 x 0.34 / 0.32^2 = 12.6 kg
    assert facts_of().rolling_mass - SETUP.mass_kg == pytest.approx(12.617, abs=0.01)


def test_a_missing_fact_says_what_was_taken_and_what_it_leaves_open():
    # Hand: as the sheet lists it among the parts of the plus-minus
    facts = facts_of(drag_area=None)
    (found, *_) = tell_not_given(facts, {"drag area": 12e3, "mass": 5e3}, average_w=300e3)
    taken = rf"taken was {facts.drag_area.value:.3g} m\^2, give or take [0-9.]+\. That leaves .* open by 12\.0 kW"
    assert re.search(taken, found.text) and found.code == "car-fact-missing"


def test_a_share_that_was_taken_is_told_in_per_cent():
    facts = facts_of(driveline_efficiency=None)
    (found, *_) = tell_not_given(facts, {"driveline efficiency": 12e3}, average_w=300e3)
    assert f"taken was {100 * facts.efficiency.value:.3g} %, give or take " in found.text


def test_what_hardly_matters_is_not_told():
    assert tell_not_given(facts_of(drag_area=None), {"drag area": 0.1e3}, average_w=300e3) == []


def test_not_given_wind_is_told_per_metre_a_second():
    facts = facts_of()
    (found,) = tell_not_given(facts, {"wind": 2e3 * facts.wind.half_width}, average_w=300e3)
    assert found.code == "wind-not-given" and "2.0 kW" in found.text


def test_a_strips_slope_is_open_by_the_weight_that_it_lifts():
    # Hand: 1 m on a quarter mile is 0.0025; three quarters of that lie within what is open, and twice it does not
    slope = facts_of().slope
    assert slope.value == 0.0 and 0.0025 < slope.half_width < 0.005
