"""What else is known, held against power."""

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.power.balance import Balance
from passband.analysis.power.cross_checks import (
    check_between_gears,
    check_fuel,
    check_trap_speed,
    power_from_trap_speed,
)
from passband.analysis.power.driveline_series import GivenDriveline, read_driveline_series
from passband.analysis.results.estimate import Estimate
from passband.analysis.sensors.engine_speed import read_engine_speed
from tests.analysis.planted_pull import Setup, plant

SETUP = Setup()
PULL = plant(SETUP, end_s=6.0)


def flow(kg_per_s):
    return Traces((Channel("fuel_flow", "Flow", "kg/s", "", np.arange(0.0, 9.0, 0.1), np.full(90, kg_per_s), 10.0),))


def between(per_gear, name="manifold_pressure", air_pa=100e3, tilt_of_second=0.0):
    """Findings for torque that is the same in all gears, at what a channel shows in each gear.

    In the second gear it may also go with engine speed, by so much a 1,000 rpm, and be as given at 7,650.
    """
    engine = read_engine_speed(PULL.traces)
    series = read_driveline_series(PULL.motion, PULL.gears, PULL.shifts, engine, GivenDriveline(circumference_m=2.0))
    shown = np.array([0.0, *per_gear])[series.gear]
    rpm = series.engine_rad_per_s * 30.0 / np.pi
    shown = shown * np.where(series.gear == 2, 1.0 + tilt_of_second * (rpm - 7650.0) / 1000.0, 1.0)
    zero = np.zeros(series.time_s.size)
    parts = Balance(zero, zero, zero, zero, zero, 500.0 * series.engine_rad_per_s, zero)
    channel = Channel(name, name, "", "", series.time_s, shown, 200.0)
    return check_between_gears(series, parts, ~series.settling, Traces((channel,)), air_pressure_pa=air_pa)


def test_constant_power_and_constant_acceleration_bound_what_a_trap_speed_implies():
    # Hand: m v^3 / 3x and m v^3 / 4x, v at the line
    got = power_from_trap_speed(60.0, mass_kg=1000.0, distance_m=402.336)
    unit = 1000.0 * (60.0 * 1.0107) ** 3 / 402.336
    assert np.isclose(got.value + got.plus_minus, unit / 3) and np.isclose(got.value - got.plus_minus, unit / 4)


def test_a_gain_of_speed_that_fits_is_not_told_and_one_that_does_not_is():
    implied = Estimate(200e3, 30e3)
    assert check_trap_speed(implied, 225e3) == [] and check_trap_speed(None, 1.0) == []
    assert check_trap_speed(implied, 260e3)[0].level == "caution"


def test_fuel_that_fits_is_a_note_with_its_consumption():
    # Hand: 300 kW at 0.03 kg/s is 360 g/kWh, 23 % of petrol's heat
    (found,) = check_fuel(flow(0.03), Car(name="x"), 300e3, end_s=8.0)
    assert found.level == "note" and "360 g/kWh, 23 %" in found.text


def test_fuel_that_no_engine_could_live_on_is_a_caution():
    assert check_fuel(flow(0.01), Car(name="x"), 300e3, end_s=8.0)[0].level == "caution"
    assert check_fuel(flow(0.2), Car(name="x"), 300e3, end_s=8.0)[0].level == "caution"


def test_alcohol_burns_more_for_the_same_power():
    (found,) = check_fuel(flow(0.09), Car(name="x", fuel_stoichiometric_afr=6.47), 300e3, end_s=8.0)
    assert found.level == "note"


def test_no_fuel_flow_says_nothing():
    assert check_fuel(Traces(), Car(name="x"), 300e3, end_s=8.0) == []


def test_gears_that_agree_are_a_note_and_one_that_does_not_a_caution():
    assert [f.level for f in between([200e3] * 5)] == ["note"]
    (found,) = between([200e3, 200e3, 240e3, 240e3, 240e3])
    assert found.level == "caution" and "17 % lower in gear 3 than in gear 2" in found.text


def test_a_lowest_gear_held_back_for_grip_is_a_note():
    # Planted: 15 % less torque for its manifold pressure in the first gear alone; as much more there is none of that
    (held,) = between([230e3, 200e3, 200e3, 200e3, 200e3])
    assert held.level == "note" and "15 % higher in gear 2 than in gear 1: the lowest gear was held back" in held.text
    (more,) = between([170e3, 200e3, 200e3, 200e3, 200e3])
    assert more.level == "caution"


def test_gears_apart_at_some_engine_speeds_alone_are_no_doubt():
    # Planted: what begins 40 % off and ends as far off the other way is a gear's beginning and end, no gear's pull
    for tilt in (0.4, -0.4):
        for found in between([200e3, 200e3, 170e3, 170e3, 170e3], tilt_of_second=tilt):
            assert found.level == "note"
    (found,) = between([200e3, 200e3, 160e3, 160e3, 160e3], tilt_of_second=0.05)
    assert found.level == "caution" and "in gear 3 than in gear 2" in found.text


def test_gauge_boost_counts_with_the_airs_own_pressure():
    # Hand: 100 kPa gauge and 100 kPa of air against 140 and 100 is the same 17 %
    (found,) = between([100e3, 100e3, 140e3, 140e3, 140e3], "boost")
    assert found.level == "caution" and "17 % lower" in found.text


def test_power_per_injector_duty_is_held_likewise():
    (found,) = between([0.8] * 5, "injector_duty")
    assert (found.code, found.level) == ("duty-between-gears", "note")
    assert between([0.8, 0.8, 0.6, 0.6, 0.6], "injector_duty")[0].level == "caution"
    assert between([0.0] * 5, "injector_duty") == []
