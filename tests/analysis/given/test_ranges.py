"""Numbers told: what each can be, what a bare one would have been, and that sound ones of every kind of car pass."""

from __future__ import annotations

import pytest

from passband.analysis.channels.catalogue import CATALOGUE
from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.given.ranges import FACTS, range_of_bound, read_within
from passband.analysis.quantities import conversion_to_si


@pytest.mark.parametrize(
    ("channel", "given", "said"),
    [
        # Hand: 60 Pa / 6894.757 = 0.0087 psi; 220 K = -53.15 degC = -63.67 degF; 1650 K = 1376.85 degC
        ("oil_pressure", 60, '60 would be 60 Pa (0.0087 psi): write "60 psi" or "60 kPa"'),
        ("oil_pressure", "60", '60 would be 60 Pa (0.0087 psi): write "60 psi" or "60 kPa"'),
        ("coolant_temperature", 220, '220 would be 220 K (-63.7 degF, -53.1 degC): write "220 degF"'),
        ("exhaust_temperature_3", 1650, '1650 would be 1650 K (2510 degF, 1377 degC): write "1650 degF"'),
        ("throttle", 90, '90 does not lie from -0.1 to 1.2; 90 % is 0.9: write "90 %" or 0.9'),
        ("boost", 1.5, '1.5 would be 1.5 Pa (0.000218 psi): write "1.5 psi", "1.5 kPa" or "1.5 bar"'),
        ("engine_speed", 9.1, '9.1 would be 9.1 rpm: write "9.1 rpm" or "9.1 krpm"'),
        ("gps_speed", 200, '200 would be 200 m/s (447 mph): write "200 mph", "200 km/h" or "200 m/s"'),
        ("lambda", 11.5, "11.5 cannot be: it must lie from 0.2 to 4; lambda is the air-fuel ratio over"),
        (
            "oil_pressure",
            "60 bar",
            "60 bar, which is 6000000 Pa (870 psi), cannot be: it must lie from -100000 to 2000000 Pa",
        ),
    ],
)
def test_a_bound_that_cannot_be_is_refused_with_its_reading_and_what_to_write(channel, given, said):
    with pytest.raises(ValueError) as refused:
        read_within(given, range_of_bound(channel))
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("fact", "given", "said"),
    [
        # Hand: 24 kg / 0.45359 = 52.9 lb; 3.4 m / 0.0254 = 134 in; 21.8 Pa / 6894.757 = 0.00316 psi
        ("mass", 24, "24, which is 24 kg (52.9 lb), cannot be: it must lie from 80 to 20000 kg"),
        ("mass", "24 kg", "24 kg (52.9 lb) cannot be: it must lie from 80 to 20000 kg (176 to 44092 lb)"),
        ("bore", "3.4 m", "3.4 m (134 in) cannot be: it must lie from 0.02 to 0.3 m"),
        ("bore", 3.4, '3.4 would be 3.4 m (134 in): write "3.4 in"'),
        ("stroke", 86, '86 would be 86 m (3386 in): write "86 mm"'),
        ("boost_threshold", "21.8", '21.8 would be 21.8 Pa (0.00316 psi): write "21.8 psi" or "21.8 kPa"'),
        ("tire_circumference", 77, 'write "77 in"'),
        ("tire_circumference", "26 in", "cannot be: it must lie from 0.9 to 6.5 m (35.4 to 256 in); all around it"),
        ("drag_area", 6.2, '6.2 would be 6.2 m^2 (66.7 ft^2): write "6.2 ft^2" or "6.2 m^2"'),
        ("rollout", 9.5, 'write "9.5 in"'),
        ("longer_than", 50, '50 would be 50 s: write "50 s" or "50 ms"'),
        ("driveline_efficiency", 91, '91 % is 0.91: write "91 %" or 0.91'),
        ("rolling_resistance", 1.5, '1.5 % is 0.015: write "1.5 %" or 0.015'),
        ("temperature", 75, '75 would be 75 K (-325 degF, -198 degC): write "75 degF"'),
        ("pressure", 29.86, '29.86 would be 29.86 Pa (0.00882 inHg): write "29.86 inHg"'),
        ("pressure", 1011, 'write "1011 hPa"'),
        ("relative_humidity", 48, '48 does not lie from 0 to 1; 48 % is 0.48: write "48 %" or 0.48'),
        ("wind", 25, 'write "25 mph"'),
        ("elevation", 5800, 'write "5800 ft"'),
        ("t60_s", 1512, 'write "1512 ms"'),
        ("v1320", 220, 'write "220 mph" or "220 km/h"'),
    ],
)
def test_a_fact_that_cannot_be_is_refused_with_its_reading_and_what_to_write(fact, given, said):
    with pytest.raises(ValueError) as refused:
        read_within(given, FACTS[fact])
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("fact", "given"),
    [
        ("mass", "200 kg"), ("mass", 285), ("mass", 2450), ("mass", "3 t"), ("tire_circumference", "1.3 m"),
        ("tire_circumference", "113 in"), ("drag_area", 0.346), ("drag_area", "6.2 ft^2"), ("engine_inertia", 0.015),
        ("engine_inertia", "2.3 lb ft²"), ("wheel_inertia", 12.26), ("rollout", "9.5 in"), ("bore", "3.4 in"),
        ("rpm_band", 2400), ("boost_threshold", 0), ("boost_threshold", "21.8 psi"), ("relative_humidity", "48 %"),
        ("fuel_stoichiometric_afr", 1.7), ("elevation", "-282 ft"), ("wind", -4.5), ("t1320_s", 3.6),
    ],
)  # fmt: skip
def test_sound_facts_of_motorcycles_cars_and_trucks_pass(fact, given):
    read_within(given, FACTS[fact])


@pytest.mark.parametrize(
    ("channel", "given"),
    [
        ("engine_speed", 800), ("oil_pressure", 1e5), ("oil_pressure", "7 psi"), ("crankcase_pressure", "-15 inHg"),
        ("crankcase_pressure", 9000), ("boost", 0), ("boost", -2e4), ("manifold_pressure", "-0 kPa"),
        ("fuel_pressure", "4 psi"), ("fuel_pressure", "1800 bar"), ("coolant_temperature", 333.15), ("lambda", 0.86),
        ("exhaust_temperature", 1200), ("exhaust_temperature_spread", 60), ("battery", 11.5), ("gear", 4), ("knock", 3),
        ("injector_duty", "92 %"), ("throttle", 1), ("ground_speed", 60), ("turbo_speed", 120000),
    ],
)  # fmt: skip
def test_sound_bounds_pass_idle_and_vacuum_among_them(channel, given):
    read_within(given, range_of_bound(channel))


def test_every_unit_offered_is_one_of_its_quantity():
    ranges = [*FACTS.values(), *(range_of_bound(name) for name in CATALOGUE)]
    for can_be in ranges:
        assert can_be.low < can_be.high
        assert all(conversion_to_si(unit, si_unit=can_be.si_unit) is not None for unit in can_be.units)


def test_every_quantity_of_car_slip_and_air_has_a_range():
    # Every float that a user tells; what is left are words, lists of limits and a count.
    told = {*Car.model_fields, *Slip.model_fields, *Air.model_fields}
    words = {"name", "driven_axle", "transmission", "cylinders", "channels", "layouts", "limits", "plus_minus"}
    assert told - words == set(FACTS) - {"longer_than"}


@pytest.mark.parametrize("written", ["6200-8600", "6200 to 8600 rpm", "6200, 8600", "6200 8600", "6.2 - 8.6 krpm"])
def test_a_band_is_read_as_people_write_it(written):
    assert Car(name="x", rpm_band=written).rpm_band == pytest.approx((6200.0, 8600.0))


@pytest.mark.parametrize("written", ["2.55, 1.8", "2.55 1.8", "2,55 1,8", "2.55/1.8", "2.55; 1.8", [2.55, 1.8]])
def test_ratios_are_read_as_people_write_them(written):
    assert Car(name="x", gear_ratios=written).gear_ratios == [2.55, 1.8]


@pytest.mark.parametrize("written", ["", "first", "2.55 @ 1.8"])
def test_a_list_that_is_none_is_refused(written):
    with pytest.raises(ValueError, match=r"write numbers|cannot turn"):
        Car(name="x", gear_ratios=written)


def test_a_bare_trap_speed_that_the_slips_own_times_do_not_allow_is_refused():
    # Hand: 320 ft in 1.42 s are 68.7 m/s; 139.7 m/s (312 mph) would be 2.0 times that, 44.97 m/s over all 3.1 times
    with pytest.raises(
        ValueError, match=r'139\.7 would be 139\.7 m/s \(31[23] mph\), 3\.1 times .* write "139\.7 mph"'
    ):
        Slip(t1320_s=8.947, v1320=139.7)
    assert Slip(t1320_s=8.947, v1320="139.7 mph").v1320 == pytest.approx(62.451, abs=1e-3)  # published: 0.44704 exact
    assert Slip(t1320_s=8.947, v1320=62.451).v1320 == 62.451


def test_a_mass_with_one_mark_is_refused_with_the_way_to_write_it():
    # hand: "2,450 lb" may be 2.45 or 2450
    with pytest.raises(ValueError, match=r"2\.45 lb.*for a thousand times as much write 2450 lb"):
        read_within("2,450 lb", FACTS["mass"])
