"""Columns without a written unit, read in the unit of their kind."""

import numpy as np
import pytest

from tests.analysis.reading.columns.test_plausibility import RISE, read

# A run in SI: idle to full load. Planted: what each log holds, whatever unit it prints.
PRESSURES = {
    "MAP": 34e3 + 190e3 * RISE, "Oil Pressure": 190e3 + 260e3 * RISE, "Fuel Pressure": 300e3 + 150e3 * RISE,
    "Coolant Pressure": 70e3 + 60e3 * RISE, "Crankcase Pressure": -4e3 + 9e3 * RISE,
    "Exhaust Back Pressure": 1e3 + 210e3 * RISE,
}  # fmt: skip
NAMES = {
    "MAP": "manifold_pressure", "Oil Pressure": "oil_pressure", "Fuel Pressure": "fuel_pressure",
    "Coolant Pressure": "coolant_pressure", "Crankcase Pressure": "crankcase_pressure",
    "Exhaust Back Pressure": "back_pressure",
}  # fmt: skip
PA = {"kPa": 1e3, "psi": 6894.757293168, "bar": 1e5, "mbar": 100.0}


def codes(log):
    return [(finding.code, finding.level) for finding in log.findings]


@pytest.mark.parametrize("unit", PA)
def test_all_pressures_of_a_log_share_a_unit(unit):
    log = read(**{header: values / PA[unit] for header, values in PRESSURES.items()})
    for header, values in PRESSURES.items():
        np.testing.assert_allclose(log.get(NAMES[header]).values, values, rtol=1e-4, atol=0.01 * PA[unit])
    assert codes(log) == [("unit-assumed", "note")]


@pytest.mark.parametrize("unit", PA)
def test_a_barometer_may_have_a_unit_of_its_own(unit):
    columns = {header: values / PA[unit] for header, values in PRESSURES.items()}
    log = read(**columns, Barometer=98.5 + 0 * RISE)
    assert log.get("barometer").values[0] == pytest.approx(98.5e3)
    assert log.get("coolant_pressure").values[-1] == pytest.approx(130e3, rel=1e-3)


def test_boost_in_kpa_beside_oil_is_no_psi():
    log = read(**{"Boost": -60 + 140 * RISE, "Oil Pressure": 190 + 260 * RISE})
    assert log.get("boost").values[-1] == pytest.approx(80e3)


def test_a_pressure_that_its_size_does_not_tell_keeps_its_header():
    log = read(**{"Coolant Pressure": 12 + 3 * RISE})
    assert log.channels[0].name == "Coolant Pressure"
    assert codes(log) == [("pressure-unit-assumed", "caution")] and "kPa or psi" in log.findings[0].text


def test_boost_that_its_size_does_not_tell_is_a_caution():
    assert ("pressure-unit-assumed", "caution") in codes(read(Boost=-9 + 30 * RISE))


def test_a_pressure_that_fits_none_of_the_others_units_keeps_its_header():
    columns = {header: PRESSURES[header] / 1e5 for header in ("MAP", "Oil Pressure")}
    log = read(**columns, **{"Crankcase Pressure": -4 + 9 * RISE})
    assert log.get("crankcase_pressure") is None and log.channels[-1].name == "Crankcase Pressure"
    assert ("pressure-unit-assumed", "caution") in codes(log)


def test_a_written_unit_stands():
    log = read(**{"MAP": 34 + 190 * RISE, "Oil Pressure": 190 + 260 * RISE, "Coolant Pressure [psi]": 10 + 0 * RISE})
    assert log.get("coolant_pressure").values[0] == pytest.approx(68947.57, rel=1e-5)


@pytest.mark.parametrize(("scale", "offset"), [(1.0, 273.15), (5 / 9, 459.67 * 5 / 9)], ids=["degC", "degF"])
def test_all_temperatures_of_a_log_share_a_unit(scale, offset):
    # Hand: 75 F is 297.04 K; alone it would be taken for 75 C.
    celsius = {"Coolant Temp": 84 + RISE, "IAT": 24 + 16 * RISE, "Oil Temp": 96 + RISE, "EGT 1": 300 + 520 * RISE}
    printed = {header: (values + 273.15 - offset) / scale for header, values in celsius.items()}
    log = read(**printed)
    assert [channel.values[0] for channel in log.channels] == pytest.approx([357.15, 297.15, 369.15, 573.15], rel=1e-4)


def test_hot_oil_does_not_make_a_log_fahrenheit():
    log = read(**{"Coolant Temp": 92 + RISE, "Oil Temp": 138 + RISE, "IAT": 45 + RISE})
    assert log.get("oil_temperature").values[0] == pytest.approx(138 + 273.15)


def test_accelerations_follow_the_one_that_cannot_be_in_g():
    log = read(**{"Accel X": 14 * RISE - 1, "Accel Y": 1.5 * RISE - 0.7})
    assert log.get("acceleration_lateral").values[-1] == pytest.approx(0.8)
