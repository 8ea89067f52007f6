"""Compressor and valve flow against published worked examples and a general-purpose library's compressible flow."""

import math

import fluids
import numpy as np
import pytest

from passband.analysis.bench.gas_speed import inlet_mach_index, mean_gas_speed, mean_piston_speed, rpm_at_mach_index
from passband.analysis.bench.valve_flow import at_depression, discharge_coefficient, mass_flow_of_area
from passband.analysis.turbo.gas import (
    air_flow_by_fuel,
    air_flow_by_speed_density,
    corrected_flow,
    outlet_temperature,
)

LB_PER_MIN = 0.45359237 / 60.0  # international pound, exact
PSI = 6894.757293168  # from pound, inch and standard gravity


@pytest.mark.parametrize(
    ("ratio", "efficiency", "celsius"),
    # Computed by CoolProp 8.0.0 as a real gas from 298.15 K: constant specific heats are 0.5 K off at a ratio of 3.
    [
        (1.5, 1.0, 61.61),
        (2.0, 1.0, 90.22),
        (3.0, 1.0, 134.57),
        (1.5, 0.7, 77.31),
        (2.0, 0.7, 118.28),
        (3.0, 0.7, 182.06),
    ],
)
def test_outlet_temperature_is_the_real_gas_to_a_kelvin(ratio, efficiency, celsius):
    assert float(outlet_temperature(298.15, ratio, efficiency)) - 273.15 == pytest.approx(celsius, abs=0.7)


@pytest.mark.parametrize("ratio", [1.2, 1.8, 2.6, 3.9])
@pytest.mark.parametrize("efficiency", [0.6, 0.78])
def test_compression_agrees_with_the_library_fluids(ratio, efficiency):
    theirs = fluids.isentropic_T_rise_compression(T1=300.0, P1=1e5, P2=ratio * 1e5, k=1.4, eta=efficiency)
    ours = float(outlet_temperature(300.0, ratio, efficiency))
    assert ours == pytest.approx(theirs, rel=1e-9)


def test_the_printed_sizing_example_comes_out():
    # performancespecialties.wordpress.com, 2011/08/10: 400 hp at an air/fuel ratio of 12 and 0.55 lb/(hp h) takes
    # 44.0 lb/min; 122 in3 at 7,200 rpm (3,600 fillings), 92 % full at 130 degF, needs 41.1 psia for it
    fuel = np.array([400.0 * 0.55 * 0.45359237 / 3600.0])
    air = air_flow_by_fuel(fuel, np.array([12.0 / 14.7]), stoichiometric_afr=14.7)
    assert air[0] / LB_PER_MIN == pytest.approx(44.0, rel=1e-9)
    taken = air_flow_by_speed_density(
        np.array([7200.0]), np.array([41.0925 * PSI]), (130.0 + 459.67) / 1.8, displacement_m3=122 * 0.0254**3,
        volumetric_efficiency=0.92,
    )  # fmt: skip
    assert taken[0] / LB_PER_MIN == pytest.approx(44.0, rel=2e-3)  # their gas constant and 460 are rounded


def test_corrected_flow_by_hand():
    # 0.5 kg/s at 308.15 K and 84 kPa for 288.15 K and 101,325 Pa, computed once by hand
    flow = corrected_flow(0.5, 308.15, 84e3, reference_k=288.15, reference_pa=101325.0)
    assert float(flow) == pytest.approx(0.623705, abs=1e-6)


def test_valve_flow_chokes_where_the_library_fluids_says():
    # Flow through an area is highest at the critical ratio, and no more than that beyond it
    pressure = 101325.0
    critical = pressure - fluids.P_critical_flow(pressure, 1.4)
    below, at, beyond = (float(mass_flow_of_area(1e-3, one)) for one in (0.8 * critical, critical, 1.4 * critical))
    assert below < at
    assert beyond == pytest.approx(at, rel=1e-12)
    # Handbook form of choked flow, A p0 sqrt(gamma / (R T)) (2 / (gamma + 1))^((gamma + 1) / (2 (gamma - 1)))
    whole = 1e-3 * pressure * math.sqrt(1.4 / (287.05287 * 293.15)) * (2 / 2.4) ** (2.4 / 0.8)
    assert at == pytest.approx(whole, rel=1e-9)


def test_small_depressions_are_bernoullis():
    # A thousandth of an atmosphere: density hardly changes, so area times the root of twice density times depression
    density = 101325.0 / (287.05287 * 293.15)
    assert float(mass_flow_of_area(2e-3, 101.325)) == pytest.approx(2e-3 * math.sqrt(2 * density * 101.325), rel=1e-3)


def test_a_lossless_area_has_a_coefficient_of_one():
    flow = float(mass_flow_of_area(1e-3, 7000.0)) * 287.05287 * 293.15 / 101325.0
    found = discharge_coefficient(np.array([flow, 0.6 * flow]), 1e-3, 7000.0)
    assert found == pytest.approx([1.0, 0.6], rel=1e-12)


def test_flow_goes_by_the_root_of_the_depression():
    # The factor from 10 to 28 inches of water, 1.673, is in every table of conversion (common practice, no source)
    inch = 249.0889
    assert at_depression(np.array([1.0]), 10 * inch, wanted_pa=28 * inch)[0] == pytest.approx(1.673, abs=5e-4)


@pytest.mark.parametrize(
    ("stroke_mm", "rpm", "mps"),
    # motor-car.net 14842, kfz-tech.de, alumniagri.in, as printed
    [(90, 3000, 9.0), (85, 5500, 15.58), (90, 7200, 21.6), (92.8, 8700, 26.9)],
)
def test_mean_piston_speed_as_printed(stroke_mm, rpm, mps):
    assert float(mean_piston_speed(stroke_mm / 1000, rpm)) == pytest.approx(mps, abs=0.02)


def test_inlet_mach_index_by_hand():
    # Taylor's definition from memory, (bore / valve)^2 x piston speed / (coefficient x speed of sound):
    # 100 mm bore, 50 mm valve, 80 mm stroke at 6,000 rpm: 4 x 16 / (0.35 x 343.2) = 0.533
    gas = mean_gas_speed(0.100, 0.080, math.pi / 4 * 0.050**2, 6000.0)
    index = float(inlet_mach_index(gas, 0.35, temperature_k=293.15))
    assert index == pytest.approx(4 * 16 / (0.35 * 343.2), rel=1e-3)
    assert rpm_at_mach_index(index / 6.0) == pytest.approx(6000 * 0.6 / index, rel=1e-9)
