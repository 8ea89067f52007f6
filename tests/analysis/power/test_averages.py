"""Mean power: what a fast shift turns to heat, by hand."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.driveline.tire import TireFit
from passband.analysis.power.averages import PowerBasis, average_power
from passband.analysis.power.driveline_series import GivenDriveline, read_driveline_series
from passband.analysis.power.facts import read_facts
from passband.analysis.sensors.engine_speed import read_engine_speed
from tests.analysis.planted_pull import Setup, plant

SETUP = Setup()


def averages(shift_s):
    """Of a pull whose engine speed is too coarse to show the clutch's slip in its shifts."""
    setup = replace(SETUP, shift_s=shift_s)
    pull = plant(setup)
    engine = read_engine_speed(pull.traces)
    series = read_driveline_series(
        pull.motion, pull.gears, pull.shifts, engine, GivenDriveline(circumference_m=2.0 * np.pi * setup.radius_m)
    )
    blind = replace(series, slipping=np.zeros(series.time_s.size, dtype=np.bool_), end_s=pull.end_s)
    tire = TireFit(series.speed_mps, 0.0, np.zeros(series.time_s.size), 0.0, 1.0, measured=True)
    basis = PowerBasis(blind, read_facts(setup.car(), setup.air()), tire, engine)
    return average_power(basis), basis, pull


def without_heat(basis):
    """The same for a clutch and dogs that slip nothing: an engine of no inertia gives no heat, its spin put back."""
    bare = average_power(
        replace(basis, facts=replace(basis.facts, engine_inertia=replace(basis.facts.mass, value=0.0)))
    )
    rpm = basis.engine.at(np.array([0.0, basis.end_s])) * np.pi / 30.0
    return bare.brake + 0.5 * SETUP.engine_inertia * (rpm[1] ** 2 - rpm[0] ** 2) / basis.end_s


@pytest.mark.parametrize(("shift_s", "counts"), [(0.06, True), (0.25, False)])
def test_half_of_the_inertia_times_the_squared_step_is_heat_in_a_fast_shift(shift_s, counts):
    got, basis, pull = averages(shift_s)
    steps = [
        (shift.rpm_before.value - shift.expected_rpm_after) * np.pi / 30.0
        for shift in pull.shifts
        if shift.end_s < pull.end_s
    ]
    heat_w = sum(0.5 * SETUP.engine_inertia * step**2 for step in steps) / pull.end_s
    assert got.brake - without_heat(basis) == pytest.approx(heat_w if counts else 0.0, abs=0.2 * heat_w)
