"""The day's air from what was given and logged; formulas are held to tables in tests/published/test_air.py."""

import numpy as np
import pytest

from passband.analysis.air.atmosphere import density_altitude, pressure_altitude, standard_atmosphere, station_pressure
from passband.analysis.air.day import measure_air
from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Air

NOTHING = Traces()


def barometer(pa):
    return Traces((Channel("barometer", "Baro", "Pa", "kPa", np.arange(5.0), np.full(5, pa), 1.0),))


def codes(findings):
    return {finding.code for finding in findings}


def test_air_told_whole_is_used_as_told():
    air = measure_air(Air(temperature="24 degC", pressure="101.1 kPa", relative_humidity=0.48), NOTHING)
    findings = air.findings
    # Hand, ideal mixture: pd/(287.05 T) + e/(461.5 T) with e = 0.48 x 2.98 kPa = 1.1789
    assert air.density_kgpm3.value == pytest.approx(1.1790, rel=6e-4)
    assert 0.002 < air.density_kgpm3.plus_minus < 0.008
    assert findings == () and air.wind_mps is None


def test_dew_point_stands_for_humidity():
    by_dew = measure_air(Air(temperature=298.15, pressure=101325.0, dew_point=287.017), NOTHING)
    by_share = measure_air(Air(temperature=298.15, pressure=101325.0, relative_humidity=0.5), NOTHING)
    assert by_dew.vapour_pressure_pa == pytest.approx(by_share.vapour_pressure_pa, rel=2e-3)


def test_a_dew_point_above_the_temperature_is_told():
    air = measure_air(Air(temperature=290.0, pressure=1e5, dew_point=295.0), NOTHING)
    findings = air.findings
    assert codes(findings) == {"dew-point-above-temperature"}
    assert air.vapour_pressure_pa == pytest.approx(1937.0, rel=0.01)


def test_the_barometer_stands_in_for_a_pressure_not_told():
    air = measure_air(Air(temperature=293.15), barometer(97e3))
    assert air.pressure_pa == 97e3
    assert "barometer" in air.basis


def test_elevation_stands_in_for_pressure_with_more_doubt():
    told = measure_air(Air(temperature=293.15, relative_humidity=0.5, pressure=89874.6), NOTHING)
    guessed = measure_air(Air(temperature=293.15, relative_humidity=0.5, elevation=1000.0), NOTHING)
    findings = guessed.findings
    assert guessed.density_kgpm3.value == pytest.approx(told.density_kgpm3.value, rel=1e-4)
    assert guessed.density_kgpm3.plus_minus > 3 * told.density_kgpm3.plus_minus
    assert codes(findings) == {"air-pressure-missing"}


def test_nothing_told_is_wide_and_says_so():
    air = measure_air(None, NOTHING)
    findings = air.findings
    assert air.density_kgpm3.plus_minus > 0.06
    assert codes(findings) == {"air-temperature-missing", "air-pressure-missing", "humidity-missing"}


def test_a_pressure_reduced_to_sea_level_is_doubted():
    findings = measure_air(
        Air(temperature=293.0, pressure=101800.0, relative_humidity=0.4, elevation=1500.0), NOTHING
    ).findings
    assert codes(findings) == {"air-pressure-looks-reduced"}
    fine = measure_air(
        Air(temperature=293.0, pressure=84600.0, relative_humidity=0.4, elevation=1500.0), NOTHING
    ).findings
    assert fine == ()


def test_told_and_logged_pressure_that_disagree_are_told():
    findings = measure_air(Air(temperature=293.0, pressure=101325.0, relative_humidity=0.4), barometer(97e3)).findings
    assert codes(findings) == {"air-pressure-disagrees"}


@pytest.mark.parametrize("altitude", [-300.0, 0.0, 700.0, 2500.0])
def test_altitudes_of_the_standard_atmosphere_give_themselves_back(altitude):
    # Inverse
    standard = standard_atmosphere(altitude)
    assert density_altitude(standard.density_kgpm3) == pytest.approx(altitude, abs=0.2)
    assert pressure_altitude(standard.pressure_pa) == pytest.approx(altitude, abs=1e-6)


def test_a_setting_of_standard_pressure_gives_the_standard_at_the_strip():
    assert station_pressure(101325.0, elevation_m=500.0) == pytest.approx(95460.8, abs=0.1)
