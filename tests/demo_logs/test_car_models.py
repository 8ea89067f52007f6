"""The second model of the car: of another form than the first, and physical."""

from __future__ import annotations

import math

import pytest

from passband.demo_logs.car_models import MODELS, SecondCar
from passband.demo_logs.car_specs import CARS
from passband.demo_logs.drag_car import DragCar
from passband.demo_logs.proving import plan_case

SPEC = CARS["rear_lever"]


def made(model: str) -> DragCar:
    """A car at rest on a usual day."""
    return MODELS[model](SPEC, ambient_pa=100e3, air_density=1.18)


def test_its_tire_saturates_at_the_grip_and_slides_with_less() -> None:
    # Hand: a brush has slid all along its contact at the slip where the parabola ends; no force grows beyond it.
    car = made("second")
    car.slip = 0.9
    slow, fast = car._force_share(0.0), car._force_share(40.0)
    assert slow == pytest.approx(SPEC.tire.grip)
    assert 0.7 * slow < fast < 0.75 * slow


def test_both_tires_grow_alike_at_75_m_a_second_and_not_between() -> None:
    # Hand: both laws are written so that growth at 75 m/s is the car's own.
    radii = {}
    for name in MODELS:
        car = made(name)
        car.wheel_rads = 75.0 / SPEC.tire.radius_m
        top = car._radius_m()
        car.wheel_rads /= 2.0
        radii[name] = (top, car._radius_m())
    assert radii["second"][0] == pytest.approx(radii["first"][0], rel=1e-6)
    assert radii["second"][1] > radii["first"][1] * 1.0005


def test_its_clutch_fades_with_heat_and_never_gains() -> None:
    # Hand: after far more heat than fades it, 12 % of the torque is gone.
    car = made("second")
    assert isinstance(car, SecondCar)
    car.controls.clutch_share = 1.0
    cold = car._capacity_nm()
    car._heat_j = 2e6
    assert car._capacity_nm() == pytest.approx(0.88 * cold, rel=1e-3)


def test_its_shafts_stiffen() -> None:
    # Hand: twice the twist, more than twice the torque.
    car = made("second")
    car.twist = 0.02
    once = car._spring_nm()
    car.twist = 0.04
    assert car._spring_nm() > 2.0 * once > 0.0
    assert math.isfinite(once)


def test_a_plan_keeps_its_model() -> None:
    assert plan_case("plain_rear_lever", 5).model == "first"
    assert plan_case("plain_rear_lever", 5, model="second").model == "second"
