"""Slip told apart from growth: planted by a formula that the fit is told nothing of."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.driveline.tire import fit_tire
from passband.analysis.driveline.tire_lead import YIELD
from passband.analysis.results.distance import SpeedBasis
from tests.analysis.planted_pull import GROWTH_PUT_ON, Setup, plant


def at_rest(pull):
    """The tires' surface speed as a wheel-speed sensor counts it."""
    return pull.motion.tire_speed_mps / (1.0 + GROWTH_PUT_ON * pull.motion.speed_mps**2)


SETUP = Setup(power_w=450e3, slip_per_g=0.035, slip_yield=0.0)
PULL = plant(SETUP, end_s=8.0, start_mps=18.0)
STEADY = np.interp(PULL.motion.time_s, np.arange(PULL.rows["brake"].size) * 0.0005, PULL.rows["brake"]) > 1.0
FORCE = np.interp(
    PULL.motion.time_s, np.arange(PULL.rows["ground"].size) * 0.0005, PULL.rows["ground"] / PULL.rows["speed"]
)
WEIGHT_N = SETUP.mass_kg * 9.80665


def fit(surface=None, motion=PULL.motion, told=True):
    surface = at_rest(PULL) if surface is None else surface
    return fit_tire(motion, surface, FORCE / WEIGHT_N, steady=STEADY, end_s=PULL.end_s, axle="rear", given=told)


def test_the_planted_slip_and_growth_are_found():
    got = fit()
    assert got.per_g == pytest.approx(SETUP.slip_per_g, abs=0.002)
    assert got.growth_at_70 == pytest.approx(SETUP.growth_at_70, abs=0.003)
    assert got.measured and got.scale == pytest.approx(1.0, abs=0.002)
    slip = SETUP.slip_per_g * FORCE / WEIGHT_N
    found = got.speed_mps / PULL.motion.speed_mps - 1.0
    assert (np.abs(found - slip)[STEADY] <= got.slip_plus_minus[STEADY] + 1e-4).all()


def test_the_roll_out_tells_growth_from_slip():
    # Slip without the yield that is usual on a front axle: from the pull alone it is taken for growth
    setup = replace(SETUP, power_w=400e3)
    off = {}
    for roll_out_s in (0.0, 0.8):
        pull = plant(setup, end_s=8.0, start_mps=18.0, roll_out_s=roll_out_s)
        time = pull.motion.time_s
        fine = np.arange(pull.rows["brake"].size) * 0.0005
        pulls = (np.interp(time, fine, pull.rows["brake"]) > 1.0) & (time < 8.0)
        force = np.interp(time, fine, pull.rows["ground"] / pull.rows["speed"])
        got = fit_tire(
            pull.motion, at_rest(pull), force / WEIGHT_N, steady=pulls, end_s=8.0,
            axle="front", given=True,
        )  # fmt: skip
        slip = np.array([setup.slip(each) for each in force])
        wrong = np.abs(got.speed_mps / pull.motion.speed_mps - 1.0 - slip)
        assert (wrong <= got.slip_plus_minus)[pulls].all()
        off[roll_out_s] = float(np.mean(wrong[pulls]))
    assert off[0.8] < 0.7 * off[0.0]


@pytest.mark.parametrize("scale", [0.94, 1.06])
def test_a_wrong_circumference_goes_into_the_scale_not_the_slip(scale):
    got = fit(scale * at_rest(PULL))
    assert got.scale == pytest.approx(1 / scale, abs=0.012)
    assert got.per_g == pytest.approx(SETUP.slip_per_g, abs=0.012)


def test_the_surface_is_never_slower_than_the_ground():
    got = fit()
    assert (got.speed_mps >= PULL.motion.speed_mps - 1e-9).all()


def test_rest_speed_takes_growth_off_again():
    got = fit()
    np.testing.assert_allclose(got.rest_speed(PULL.motion.speed_mps)[200:], at_rest(PULL)[200:], rtol=3e-3)


def test_without_tire_speed_the_usual_slip_stands_in_and_is_doubted():
    got = fit(np.full(PULL.motion.time_s.size, np.nan))
    assert (
        not got.measured
        and got.per_g == 0.03
        and (got.slip_plus_minus[STEADY] > 0.3 * (got.speed_mps / PULL.motion.speed_mps - 1)[STEADY]).all()
    )


def test_wheelspin_is_taken_as_measured():
    spin = plant(SETUP, end_s=8.0, start_mps=18.0, spin=(2.0, 2.3))
    inside = (spin.motion.time_s > 2.0) & (spin.motion.time_s < 2.3)
    surface = np.where(inside, 1.3 * at_rest(spin), at_rest(spin))
    got = fit(surface, spin.motion)
    np.testing.assert_allclose(got.speed_mps[inside], 1.3 * at_rest(spin)[inside], rtol=0.01)


@pytest.mark.parametrize(("axle", "carries", "shift"), [("front", 0.6, 0.2), ("rear", 0.5, -0.2), ("all", 1.0, 0.0)])
def test_slip_yields_as_a_brush_on_its_axles_load_does(axle, carries, shift):
    # Brush of bristles (Pacejka, Tire and Vehicle Dynamics, ch. 3, from memory): s ~ 1 - (1 - F / (mu Fz))^(1/3), grip
    # 1.5 of the load; by hand, at a tenth of the car's weight: how much more than at next to nothing
    def slip(pull):
        load = carries - shift * pull
        return 1.0 - (1.0 - pull / (1.5 * load)) ** (1.0 / 3.0)

    more = (slip(0.1) / 0.1) / (slip(1e-4) / 1e-4)
    assert 1.0 / (1.0 - YIELD[axle] * 0.1) == pytest.approx(more, abs=0.012)


def test_beside_a_lone_driven_wheel_what_spun_is_the_surface_speed():
    # Planted: from 2 to 3 s the wheel is at twice the car's speed; else the slip that was taken out is put back
    time_s = PULL.motion.time_s
    spinning = (time_s > 2.0) & (time_s < 3.0)
    motion = replace(PULL.motion, basis=SpeedBasis.DRIVEN_WHEEL, spinning=spinning)
    pull = np.maximum(FORCE / WEIGHT_N, 0.0)
    turned = np.where(spinning, 2.0, (1.0 + 0.06 * pull) / (1.0 + 3.06e-6 * motion.speed_mps**2)) * motion.speed_mps
    got = fit(surface=turned, motion=motion)
    assert got.speed_mps[spinning] == pytest.approx(2.0 * motion.speed_mps[spinning])
    steady = STEADY & ~spinning
    assert got.speed_mps[steady] == pytest.approx(((1.0 + 0.06 * pull) * motion.speed_mps)[steady], rel=2e-3)
