"""Slip told apart from growth: planted by a formula that the fit is told nothing of."""

import numpy as np
import pytest
from planted_pull import Setup, plant

from analysis.engine.tire import fit_tire

SETUP = Setup(power_w=450e3)
PULL = plant(SETUP, end_s=8.0, start_mps=18.0)
STEADY = np.interp(PULL.motion.time_s, np.arange(PULL.rows["brake"].size) * 0.0005, PULL.rows["brake"]) > 1.0
FORCE = np.interp(
    PULL.motion.time_s, np.arange(PULL.rows["ground"].size) * 0.0005, PULL.rows["ground"] / PULL.rows["speed"]
)


def fit(surface=None, motion=PULL.motion, told=True):
    surface = PULL.motion.tire_speed_mps if surface is None else surface
    return fit_tire(motion, surface, FORCE, mass_kg=SETUP.mass_kg, steady=STEADY, told=told)


def test_the_planted_slip_and_growth_are_found():
    got = fit()
    assert got.per_g == pytest.approx(SETUP.slip_per_g, abs=0.002)
    assert got.growth_at_70 == pytest.approx(SETUP.growth_at_70, abs=0.003)
    assert got.measured and got.scale == pytest.approx(1.0, abs=0.002)
    assert abs(got.per_g - SETUP.slip_per_g) <= got.per_g_plus_minus


@pytest.mark.parametrize("scale", [0.94, 1.06])
def test_a_wrong_circumference_goes_into_the_scale_not_the_slip(scale):
    got = fit(scale * PULL.motion.tire_speed_mps)
    assert got.scale == pytest.approx(1 / scale, abs=0.012)
    assert got.per_g == pytest.approx(SETUP.slip_per_g, abs=0.012)


def test_the_surface_is_never_slower_than_the_ground():
    got = fit()
    assert (got.speed_mps >= PULL.motion.speed_mps - 1e-9).all()


def test_rest_speed_takes_growth_off_again():
    got = fit()
    np.testing.assert_allclose(got.rest_speed(PULL.motion.speed_mps)[200:], PULL.motion.tire_speed_mps[200:], rtol=3e-3)


def test_without_tire_speed_the_usual_slip_stands_in_and_is_doubted():
    got = fit(np.full(PULL.motion.time_s.size, np.nan))
    assert not got.measured and got.per_g == 0.035 and got.per_g_plus_minus == pytest.approx(0.02)


def test_wheelspin_is_taken_as_measured():
    spin = plant(SETUP, end_s=8.0, start_mps=18.0, spin=(2.0, 2.3))
    inside = (spin.motion.time_s > 2.0) & (spin.motion.time_s < 2.3)
    surface = np.where(inside, 1.3 * spin.motion.tire_speed_mps, spin.motion.tire_speed_mps)
    got = fit_tire(spin.motion, surface, FORCE, mass_kg=SETUP.mass_kg, steady=STEADY, told=True)
    np.testing.assert_allclose(got.speed_mps[inside], 1.3 * spin.motion.tire_speed_mps[inside], rtol=0.01)
