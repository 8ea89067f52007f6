"""Every written unit against pint's own registry, and against published factors.

Outside: pint (registry as installed); factors from ISO 80000 and NIST SP 811, as printed beside each.
"""

import pint
import pytest

from passband.analysis import quantities
from passband.analysis.channels.units import conversion_for
from passband.analysis.quantities import ALIASES, conversion_to_si
from passband.analysis.unit_factors import FACTORS

UREG = pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
KEPT = ("Pa", "K", "m/s", "rpm", "m/s^2", "deg", "V", "kg/s", "s", "m", "kg", "N", "W")
TARGETS = {"deg": "degree"}


@pytest.mark.parametrize("alias", sorted(ALIASES))
def test_a_alias_converts_as_pint_converts_its_unit(alias):
    unit = UREG.Unit(ALIASES[alias])
    for kept in KEPT:
        target = TARGETS.get(kept, kept)
        ours = conversion_to_si(alias, si_unit=kept)
        if not unit.is_compatible_with(target) or (unit.dimensionless and kept in ("rpm", "deg")):
            continue
        assert ours is not None, kept
        for value in (0.0, 1.0, 36.6, -40.0):
            theirs = UREG.Quantity(value, unit).to(target).magnitude
            assert value * ours.scale + ours.offset == pytest.approx(theirs, rel=1e-12, abs=1e-9)


@pytest.mark.parametrize(
    ("written", "theirs"),
    [
        ("degC", "delta_degC"), ("°C", "delta_degC"), ("degF", "delta_degF"), ("°F", "delta_degF"), ("K", "kelvin"),
        ("degR", "degR"), ("degree_Celsius", "delta_degC"), ("delta_degC", "delta_degC"), ("Δ°F", "delta_degF"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("value", [0.0, 1.0, 80.0, 150.0, -12.5])
def test_a_difference_of_temperatures_converts_as_pints_delta_units(written, theirs, value):
    ours = conversion_to_si(written, si_unit="delta_K")
    assert ours is not None
    expected = UREG.Quantity(value, theirs).to("kelvin").magnitude
    assert value * ours.scale + ours.offset == pytest.approx(expected, rel=1e-12, abs=1e-12)


def test_a_difference_converts_as_pint_subtracts_two_temperatures():
    # 1500 degF less 1350 degF, subtracted by pint, is what 150 degF of difference is to us
    apart = UREG.Quantity(1500.0, "degF") - UREG.Quantity(1350.0, "degF")
    ours = conversion_to_si("degF", si_unit="delta_K")
    assert ours is not None and 150.0 * ours.scale == pytest.approx(apart.to("kelvin").magnitude, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "kept", "value", "si"),
    [
        ("psi", "Pa", 30.0, 206842.7188),  # NIST SP 811: 6.894757 kPa
        ("inHg", "Pa", 29.92, 101320.7481),  # conventional inch of mercury, 3386.389 Pa
        ("mph", "m/s", 100.0, 44.704),  # exact
        ("°F", "K", 100.0, 310.9278),  # 37.7778 degC
        ("lb/min", "kg/s", 60.0, 0.45359237),  # exact
        ("hp", "W", 1000.0, 745699.8716),  # mechanical horsepower
        ("PS", "W", 1000.0, 735498.75),  # metric horsepower, 75 kgf m/s, exact
        ("knots", "m/s", 1.0, 0.514444),  # 1852 m an hour, exact
        ("kgf/cm2", "Pa", 1.0, 98066.5),  # exact
        ("g", "m/s^2", 1.0, 9.80665),  # ISO 80000-3, exact
    ],
)
def test_units_convert_by_their_published_factors(written, kept, value, si):
    conversion = conversion_to_si(written, si_unit=kept)
    assert conversion is not None
    assert value * conversion.scale + conversion.offset == pytest.approx(si, rel=1e-6)


def test_where_we_depart_from_pint_a_hertz_of_a_shaft_is_a_turn_a_second():
    # Pint takes 1 Hz for 1 rad/s: 9.549 rev/min. A logger that writes Hz counts turns.
    assert UREG.Quantity(1.0, "Hz").to("rpm").magnitude == pytest.approx(9.5493, rel=1e-4)
    ours = conversion_for("Hz", kept="rpm")
    assert ours is not None and ours.scale == 60.0


def test_the_table_of_common_units_is_the_registrys_to_the_last_digit():
    # published (pint's registry as installed): each unit into each that is kept, also where that cannot be
    for kept in FACTORS:
        for name in sorted(quantities._COMMON):
            assert conversion_to_si(name, si_unit=kept) == quantities._by_the_registry(
                quantities.ALIASES.get(name.lower(), name), si_unit=kept
            ), (name, kept)


def test_every_unit_a_log_may_write_and_every_unit_kept_is_in_the_table():
    # hand: otherwise a common unit would cost the second that making the registry takes
    assert set(ALIASES.values()) <= quantities._COMMON
    assert set(quantities.KEPT.values()) == set(FACTORS)
