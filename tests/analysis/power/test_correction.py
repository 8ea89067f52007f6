"""Where the published power rules apply, and where they do not."""

import pytest

from passband.analysis.given.car import Car
from passband.analysis.power.correction import RULES, correct_power, power_correction
from passband.analysis.results.air import AirState
from passband.analysis.results.estimate import Estimate
from tests.analysis.planted_pull import Setup

AVERAGE = Estimate(300e3, 3e3)
MILD = Setup().air()


def air(temperature=293.15, pressure=101325.0, vapour=1100.0):
    return AirState(temperature, pressure, vapour, Estimate(1.18, 0.004), 0.0, None, "")


def test_reference_air_changes_nothing():
    # Identity: 25 degC, 99 kPa dry
    for rule in ("SAE J1349", "ISO 1585"):
        got = power_correction(rule, temperature_k=298.0, pressure_pa=100e3, vapour_pressure_pa=1e3)
        assert got == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("rule", RULES)
def test_hot_and_thin_air_is_corrected_upward(rule):
    cold = power_correction(rule, temperature_k=283.0, pressure_pa=102e3, vapour_pressure_pa=500.0)
    hot = power_correction(rule, temperature_k=308.0, pressure_pa=96e3, vapour_pressure_pa=2000.0)
    assert cold < hot


def test_an_unknown_rule_is_named():
    with pytest.raises(ValueError, match="rule must be one of SAE J1349"):
        power_correction("horse sense", temperature_k=298.0, pressure_pa=1e5, vapour_pressure_pa=0.0)
    with pytest.raises(ValueError, match="dry pressure"):
        power_correction("ISO 1585", temperature_k=298.0, pressure_pa=1e3, vapour_pressure_pa=2e3)


def test_petrol_without_boost_in_mild_air_is_corrected():
    got = correct_power(AVERAGE, MILD, Car(name="x"), boosted=False)
    assert isinstance(got.average_w, Estimate)
    assert got.average_w.value == pytest.approx(AVERAGE.value * got.factor)
    assert got.average_w.plus_minus == pytest.approx(AVERAGE.plus_minus * got.factor)


@pytest.mark.parametrize(
    ("car", "boosted", "day", "word"),
    [
        (Car(name="x"), True, MILD, "without boost"),
        (Car(name="x", fuel_stoichiometric_afr=6.47), False, MILD, "alcohol"),
        (Car(name="x"), False, air(pressure=84e3, temperature=305.35, vapour=1450.0), "outside the 0.93 to 1.07"),
    ],
)
def test_where_no_rule_applies_the_figure_stays_and_says_why(car, boosted, day, word):
    got = correct_power(AVERAGE, day, car, boosted=boosted)
    why = got.average_w.reason
    assert word in why.text and why.level == "note"
