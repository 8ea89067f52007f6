"""Numbers with units and doubt."""

import math

import pytest

from passband.analysis.quantities import ALIASES, TEMPERATURE_DIFFERENCE, conversion_to_si, parse_quantity
from passband.analysis.results.estimate import Estimate


@pytest.mark.parametrize(
    ("given", "si_unit", "value"),
    [
        # Published (ISO 80000, NIST SP 811): exact or to the digits shown
        ("2450 lb", "kg", 1111.30130650),
        ("38 psi", "Pa", 262000.776772),
        ("24 degC", "K", 297.15),
        ("212 °F", "K", 373.15),
        ("90 %", "", 0.9),
        ("98.31 mph", "m/s", 43.9485024),
        ("29.92 inHg", "Pa", 101320.75),
        ("66 ft", "m", 20.1168),
        ("1,25 bar", "Pa", 125000.0),
        ("9100", "rpm", 9100.0),
        (7.5, "m", 7.5),
        (" -3.5e2 kPa ", "Pa", -350000.0),
    ],
)
def test_quantities_in_any_unit(given, si_unit, value):
    assert parse_quantity(given, si_unit=si_unit) == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ("fast", "must be a number with a unit"),
        ("38 psi psi", "cannot turn"),
        ("38 kg", "cannot turn"),
        (True, "must be a number or a text"),
        (None, "must be a number or a text"),
        (math.inf, "must be finite"),
        ("1e999 Pa", "must be finite"),
        ("5 %$#@!", "cannot turn"),
    ],
)
def test_what_is_no_quantity_is_named(given, why):
    with pytest.raises(ValueError, match=why):
        parse_quantity(given, si_unit="Pa", name="boost_threshold")


def test_the_error_names_the_quantity():
    with pytest.raises(ValueError, match="boost_threshold"):
        parse_quantity("x", si_unit="Pa", name="boost_threshold")


@pytest.mark.parametrize(
    ("given", "kelvin"),
    [
        # Hand: a degree Fahrenheit is 5/9 of a kelvin; a difference has no zero to be shifted
        ("80 degC", 80.0), ("80 °C", 80.0), ("150 degF", 250 / 3), ("150 °F", 250 / 3), ("80 K", 80.0), (80, 80.0),
        ("80", 80.0), ("80 delta_degC", 80.0), ("80 delta degC", 80.0), ("18 Δ°F", 10.0), ("80 ΔK", 80.0),
        ("80 delta_K", 80.0),
    ],
)  # fmt: skip
def test_a_difference_of_temperatures_has_no_offset(given, kelvin):
    assert parse_quantity(given, si_unit=TEMPERATURE_DIFFERENCE) == pytest.approx(kelvin, rel=1e-12)


@pytest.mark.parametrize("unit", ["delta_degC", "ΔK", "delta degF"])
def test_a_difference_is_no_temperature(unit):
    assert conversion_to_si(unit, si_unit="K") is None
    with pytest.raises(ValueError, match="cannot turn"):
        parse_quantity(f"80 {unit}", si_unit="K")


@pytest.mark.parametrize("given", ["80 kPa", "80 delta kPa", "80 delta", "80 Δ"])
def test_what_is_no_difference_of_temperatures_is_refused_in_plain_words(given):
    with pytest.raises(ValueError, match="into a difference of temperatures; write a unit of that kind"):
        parse_quantity(given, si_unit=TEMPERATURE_DIFFERENCE)


def test_text_and_number_give_the_same():
    assert parse_quantity("262 kPa", si_unit="Pa") == parse_quantity(262000.0, si_unit="Pa")


def test_every_alias_is_a_unit_and_lower_case():
    for alias, unit in ALIASES.items():
        assert alias == alias.lower()
        assert any(conversion_to_si(unit, si_unit=kept) for kept in KEPT_UNITS), alias


KEPT_UNITS = (
    "Pa", "K", "m/s", "rpm", "", "m/s^2", "deg", "V", "kg/s", "s", "m", "kg", "N", "W", "N*m", "A", "ohm", "Hz",
)  # fmt: skip


@pytest.mark.parametrize(
    "unit", ["", "  ", "V", "driven", "1/0", "**", "m**9999999", "9**9**9", "Pa^9^9^9", "__class__", "(" * 50]
)
def test_free_text_is_no_unit_and_no_error(unit):
    assert conversion_to_si(unit, si_unit="Pa") is None


@pytest.mark.parametrize(("value", "plus_minus"), [(math.nan, 1.0), (1.0, math.inf), (1.0, -0.1)])
def test_an_estimate_is_finite(value, plus_minus):
    with pytest.raises(ValueError, match="finite"):
        Estimate(value, plus_minus)


@pytest.mark.parametrize(
    ("written", "kg"),
    [("1.450,5 kg", 1450.5), ("1,450.5 kg", 1450.5), ("1 450 kg", 1450.0), ("1\u00a0450,5 kg", 1450.5),
     ("1'450 kg", 1450.0), ("1450,5 kg", 1450.5), ("1.45e3 kg", 1450.0), ("1.450 kg", 1.45)],
)  # fmt: skip
def test_thousands_in_groups_are_read_where_nothing_else_is_meant(written, kg):
    # hand: two marks, blanks and apostrophes ; groups by a small space: ISO 80000-1 7.3, from memory
    assert parse_quantity(written, si_unit="kg") == pytest.approx(kg)
