"""How figures are written. Evidence: hand, and pint's registry for the units."""

import pint
import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.web.wording.figures import estimate, figure, plain_number, reason_in
from passband.web.wording.units import chosen_units, kind_of_si, unit_for, units_of_language, written_unit
from tests.analysis.sparse_review import read


@pytest.mark.parametrize(
    ("kind", "si", "us", "metric"),
    [
        ("speed", "m/s", "mile/hour", "km/hour"),
        ("pressure", "Pa", "psi", "kPa"),
        ("power", "W", "hp", "kW"),
        ("length", "m", "ft", "m"),
        ("mass", "kg", "lb", "kg"),
        ("mass_flow", "kg/s", "lb/hour", "kg/hour"),
        ("density", "kg/m^3", "lb/ft^3", "kg/m^3"),
        ("piston_speed", "m/s", "ft/minute", "m/s"),
        ("acceleration", "m/s^2", "standard_gravity", "standard_gravity"),
    ],
)
def test_units_are_those_of_an_outside_registry(kind, si, us, metric):
    # Published: pint's registry
    registry = pint.UnitRegistry(cache_folder=None)
    for system, name in (("us", us), ("metric", metric)):
        expected = registry.Quantity(123.4, si).to(name).magnitude
        assert unit_for(kind, system).of(123.4) == pytest.approx(expected, rel=1e-9)


def test_a_temperature_has_an_offset_and_a_difference_of_two_has_none():
    # Hand: 20 degC = 68 degF; 10 K = 18 degF
    assert str(figure(293.15, "temperature", "us")) == "68 °F"
    assert str(figure(-10.0, "temperature", "us", difference=True)) == "−18 °F"


@pytest.mark.parametrize(("system", "step"), [("us", "delta_degF"), ("metric", "delta_degC")])
def test_a_difference_of_temperatures_is_shown_as_an_outside_registry_has_it(system, step):
    # Published: pint's registry
    registry = pint.UnitRegistry(cache_folder=None)
    expected = registry.Quantity(92.4, "kelvin").to(step).magnitude
    assert unit_for(kind_of_si("delta_K"), system).of(92.4) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("given", "label", "shown"),
    [
        ("80 degC", "°C", 92.4), ("150 degF", "°F", 166.32), ("80 K", "K", 92.4), ("80 delta_degC", "°C", 92.4),
        ("150 Δ°F", "°F", 166.32),
    ],
)  # fmt: skip
def test_a_spread_is_answered_in_the_unit_it_was_written_in_and_never_less_273(given, label, shown):
    # Hand: 92.4 K of difference are 166.32 degF of it
    unit = written_unit(given, si_unit="delta_K")
    assert unit is not None and (unit.label, unit.of(92.4)) == (label, pytest.approx(shown))


@pytest.mark.parametrize(
    ("value", "plus_minus", "kind", "expected"),
    [
        (10.8132, 0.0094, "time", "10.813 ±0.009 s"),
        (10.8132, 0.0123, "time", "10.813 ±0.012 s"),
        (10.8132, 0.04, "time", "10.81 ±0.04 s"),
        (10.8132, 0.0001, "time", "10.813 ±0.001 s"),
        (8505.3, 12.2, "rpm", "8,505 ±12 rpm"),
        (8505.3, 0.0, "rpm", "8,505 rpm"),
    ],
)
def test_a_figure_has_no_more_digits_than_it_is_sure_of(value, plus_minus, kind, expected):
    assert str(estimate(Estimate(value, plus_minus), kind, "us")) == expected


def test_what_is_not_known_says_why():
    assert str(estimate(None, "power", "us", reason="the mass is not given.")) == "not known: the mass is not given"


def test_an_unknown_figure_brings_its_own_reason():
    # Hand
    why = Unknown(Finding("band-not-given", "note", "No band is given. Tell it with the car."))
    for told in (figure(why, "time", "us"), estimate(why, "rpm", "us", reason="another")):
        assert str(told) == "not known: No band is given"


def test_nan_is_not_known():
    assert not figure(float("nan"), "rpm", "us").known


def test_a_small_minus_does_not_become_minus_zero():
    assert plain_number(-0.004, 2) == "0.00"


def test_a_limit_is_answered_in_the_unit_it_was_written_in():
    unit = written_unit("3.50 bar", si_unit="Pa")
    assert unit is not None
    assert (unit.label, unit.digits, unit.of(231000.0)) == ("bar", 2, pytest.approx(2.31))


@pytest.mark.parametrize("given", [9100, "9100", "0.9 lambda", "", "psi"])
def test_a_bound_without_a_fitting_unit_names_none(given):
    assert written_unit(given, si_unit="rpm") is None


def test_the_reason_of_a_figure_is_the_finding_that_explains_it():
    review = read({"findings": [
        {"code": "gears-unknown", "text": "Gears are not known."},
        {"code": "boost-gaps", "text": "Boost has gaps of 0.4 s in all. They stay open."},
    ]})  # fmt: skip
    assert reason_in(review, "boost-not-logged", "boost-gaps") == "Boost has gaps of 0.4 s in all."
    assert "findings" in reason_in(review, "wind-not-given")
    with pytest.raises(KeyError):
        reason_in(review, "no-such-code")


def test_an_unknown_wish_for_units_is_passed_over():
    assert chosen_units("furlongs", "metric") == "metric"
    assert chosen_units(None, None) == "us"


def test_who_never_chose_units_gets_those_of_the_browsers_language():
    wanted = {"de-DE,de;q=0.9": "metric", "pt-BR": "metric", "en-US,en;q=0.9": "us", "*": None, "": None}
    assert {asked: units_of_language(asked) for asked in wanted} == wanted
    assert chosen_units(None, "us", units_of_language("de")) == "us"  # what was chosen stays
