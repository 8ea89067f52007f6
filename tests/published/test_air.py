"""Air by formula against published tables, worked examples and other people's libraries.

Where a value is said to be computed, it is the published formula evaluated once by hand, not a printed answer.
"""

import csv
from pathlib import Path

import psychrolib
import pytest

from passband.analysis.air.atmosphere import (
    density_altitude,
    moist_air_density,
    pressure_altitude,
    saturation_vapour_pressure,
    standard_atmosphere,
    station_pressure,
    vapour_pressure,
    vapour_pressure_from_dew_point,
)

FOOT_M = 0.3048  # international foot, exact

DATA = Path(__file__).parent / "data"
EARTH_M = 6356766.0  # of the standard: geometric to geopotential height


def rows(name):
    with (DATA / name).open() as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize(
    "row", rows("standard_atmosphere_1976.csv")[::5], ids=lambda row: f"{row['z_geometric_m']:.0f}"
)
def test_the_us_standard_atmosphere_of_1976(row):
    # Published (as printed by the libraries fluids and ambiance)
    height = EARTH_M * row["z_geometric_m"] / (EARTH_M + row["z_geometric_m"])
    if height > 11000.0:
        pytest.fail("the formula holds below 11 km only; leave such rows out of the data")
    got = standard_atmosphere(height)
    assert got.temperature_k == pytest.approx(row["T_K"], abs=2e-3)
    assert got.pressure_pa == pytest.approx(row["P_Pa"], rel=2e-5)
    assert got.density_kgpm3 == pytest.approx(row["rho_kg_m3"], rel=2e-5)


@pytest.mark.parametrize(
    ("feet", "pascal"), [(1000, 97716.6), (2000, 94212.9), (3000, 90811.7), (5000, 84307.3), (10000, 69681.6)]
)
def test_the_standard_pressure_at_geopotential_feet(feet, pascal):
    # Published: ISO 2533:1975 by its closed form
    assert standard_atmosphere(feet * FOOT_M).pressure_pa == pytest.approx(pascal, abs=0.1)


def test_the_atmosphere_at_a_thousand_metres():
    # Published: documented example of a standard-atmosphere function, 281.65 K, 89875 Pa, 1.1116 kg/m3
    got = standard_atmosphere(1000.0)
    assert (got.temperature_k, got.pressure_pa, got.density_kgpm3) == pytest.approx((281.65, 89875.0, 1.1116), rel=5e-5)


@pytest.mark.parametrize(
    ("celsius", "kilopascal"),
    [(0, 0.61129), (10, 1.2281), (20, 2.3388), (25, 3.1690), (30, 4.2455), (40, 7.3814), (50, 12.344)],
)
def test_saturation_pressure_against_the_crc_handbook(celsius, kilopascal):
    # Published (CRC Handbook of Chemistry and Physics 1992-93, table); 0.1 %: between the table and later equations
    assert saturation_vapour_pressure(celsius + 273.15) == pytest.approx(1e3 * kilopascal, rel=1.1e-3)


def test_saturation_pressure_against_a_government_rule():
    # Published (40 CFR 1065.645, worked example): 9.5 degC is 1.186581 kPa
    assert saturation_vapour_pressure(282.65) == pytest.approx(1186.581, rel=1.5e-3)


def test_a_dew_point_against_the_same_rule():
    # Published (40 CFR 1065.645): 925.717 Pa has a dew point of 279.001 K; without the rule's rounding 279.013 K.
    # The pressure only enters the enhancement of 0.4 %
    assert vapour_pressure_from_dew_point(279.001, 100e3) == pytest.approx(925.717 * 1.004, rel=2.5e-3)


@pytest.mark.parametrize(
    ("celsius", "pascal", "humidity", "density"),
    [
        (20, 101325, 0.5, 1.199314), (20, 101325, 0.0, 1.204557), (15, 101325, 0.0, 1.225521),
        (25, 100000, 0.5, 1.161824), (30, 99000, 0.6, 1.126945),
    ],
)  # fmt: skip
def test_moist_air_by_cipm_2007(celsius, pascal, humidity, density):
    # Published formula (Picard et al., Metrologia 45 (2008) 149), values computed apart from this code
    kelvin = celsius + 273.15
    got = moist_air_density(kelvin, pascal, vapour_pressure(humidity, kelvin, pascal))
    assert got == pytest.approx(density, abs=2e-6)


@pytest.mark.parametrize(("celsius", "hectopascal", "humidity"), [(20.0, 1013.25, 50.0), (30.0, 990.0, 60.0)])
def test_moist_air_by_the_weighing_recommendation(celsius, hectopascal, humidity):
    # Published formula (OIML R 111-1, eq. E.3-1, from memory), stated good to 2e-4
    import math

    stated = (0.34848 * hectopascal - 0.009 * humidity * math.exp(0.061 * celsius)) / (273.15 + celsius)
    kelvin = celsius + 273.15
    vapour = vapour_pressure(humidity / 100, kelvin, 100 * hectopascal)
    assert moist_air_density(kelvin, 100 * hectopascal, vapour) == pytest.approx(stated, rel=2e-4)


@pytest.mark.parametrize("row", rows("moist_air_checks.csv"), ids=lambda row: f"{row['T_C']:.0f}C")
def test_moist_air_against_a_real_gas_library(row):
    # Printed by CoolProp 8.0.0; 1e-4 is what a sum of partial pressures cannot do
    kelvin = row["T_C"] + 273.15
    vapour = vapour_pressure(row["RH"], kelvin, row["P_Pa"])
    assert vapour == pytest.approx(row["pw_coolprop_Pa"], abs=0.6)
    assert moist_air_density(kelvin, row["P_Pa"], vapour) == pytest.approx(row["rho_coolprop_kg_m3"], rel=1e-4)
    assert density_altitude(row["rho_coolprop_kg_m3"]) == pytest.approx(
        row["density_altitude_m_inverse_US1976"], abs=1.5
    )


@pytest.mark.parametrize(("celsius", "humidity"), [(5.0, 0.9), (25.0, 0.4), (38.0, 0.7)])
def test_moist_air_against_psychrolib_live(celsius, humidity):
    # Oracle at work: PsychroLib's ideal gases lie up to 0.05 % under real air
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, humidity, 99e3)
    want = psychrolib.GetMoistAirDensity(celsius, ratio, 99e3)
    kelvin = celsius + 273.15
    got = moist_air_density(kelvin, 99e3, vapour_pressure(humidity, kelvin, 99e3))
    assert got == pytest.approx(want, rel=6e-4)


def test_density_altitude_of_the_pilots_handbook():
    # Published (FAA-H-8083-25, density altitude chart, sample problem 1): field at 5,883 ft, 70 degF, altimeter 30.10
    # inHg gives 7,700 ft off the chart; a chart reads to some 50 ft
    pressure = station_pressure(30.10 * 3386.389, elevation_m=5883 * FOOT_M)
    kelvin = (70.0 - 32.0) / 1.8 + 273.15
    got = density_altitude(moist_air_density(kelvin, pressure, 0.0))
    assert got / FOOT_M == pytest.approx(7700, abs=50)


def test_the_altimeter_correction_of_the_same_chart():
    # Published (the chart's conversion table): 30.10 inHg is 165 ft below the field
    assert pressure_altitude(30.10 * 3386.389) / FOOT_M == pytest.approx(-165, abs=1.0)


def test_pressure_altitude_of_the_weather_service():
    # Published formula (NWS): 145366.45 (1 - (p / 1013.25)^0.190284) ft; 2.5 ft by its rounded constants
    for hectopascal in (1000.0, 950.0, 850.0):
        stated = 145366.45 * (1.0 - (hectopascal / 1013.25) ** 0.190284)
        assert pressure_altitude(100 * hectopascal) / FOOT_M == pytest.approx(stated, abs=2.5)


@pytest.mark.parametrize(
    ("celsius", "dew_celsius", "hectopascal", "feet"), [(30.0, 20.0, 1000.0, 2482.5), (35.0, 20.0, 850.0, 8414.9)]
)
def test_density_altitude_of_the_weather_service(celsius, dew_celsius, hectopascal, feet):
    # Published formula (NWS), computed; its rounded constants leave it 20 ft high
    pascal = 100 * hectopascal
    vapour = vapour_pressure_from_dew_point(dew_celsius + 273.15, pascal)
    got = density_altitude(moist_air_density(celsius + 273.15, pascal, vapour))
    assert got / FOOT_M == pytest.approx(feet, abs=45)
