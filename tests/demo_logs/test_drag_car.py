"""The forward model against energy, closed forms and the limits of grip."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from passband.demo_logs.acts import rest
from passband.demo_logs.car_specs import CARS, CarSpec
from passband.demo_logs.drag_car import COLUMNS, DragCar, converter_torque
from passband.demo_logs.driver import run
from passband.demo_logs.story import RunPlan, Story, drive

AIR = {"ambient_pa": 1.0e5, "air_density": 1.18}


def a_run(spec: CarSpec, **plan: object) -> tuple[dict[str, np.ndarray], dict[str, object]]:
    car, story = DragCar(spec, **AIR), Story()

    def play() -> Iterator[None]:
        yield from rest(car, 0.5)
        yield from run(car, story, RunPlan(**plan), np.random.default_rng(5))

    rows = np.array(drive(car, play()))
    return dict(zip(COLUMNS, rows.T, strict=True)), story.runs()[0]


def work(power_w: np.ndarray, c: dict[str, np.ndarray]) -> float:
    return float(np.sum(power_w * np.diff(c["time_s"], prepend=c["time_s"][0])))


@pytest.mark.parametrize("key", ["front_foot", "rear_lever", "rear_natural", "all_foot", "eighth_lever"])
def test_the_energy_of_a_run_closes(key: str) -> None:
    # Slow twin: every loss of the model summed on its own; what is left is the integrator's error and the shafts'
    # spring let go in neutral.
    spec = CARS[key]
    columns, facts = a_run(spec, finish_ft=660.0)
    c = {
        name: v[(columns["time_s"] >= facts["clutch_release"]) & (columns["time_s"] < facts["end"])]
        for name, v in columns.items()
    }
    ratio = np.array([0.0, *spec.gears])[c["gear"].astype(int)] * spec.final
    output = np.divide(c["input_rads"], ratio, out=np.zeros_like(ratio), where=ratio > 0)
    engine = work(c["brake_torque_nm"] * c["engine_rads"], c)
    spring = spec.shaft_stiffness_nm * c["twist_rad"]
    lost = {
        "clutch": work(c["clutch_torque_nm"] * (c["engine_rads"] - c["input_rads"]), c),
        "gears": work(c["input_torque_nm"] * c["input_rads"] - c["shaft_torque_nm"] * output, c),
        "shafts": work((c["shaft_torque_nm"] - spring) * (output - c["wheel_rads"]), c),
        "tire": work(c["tire_force_n"] * (c["wheel_rads"] * c["radius_m"] - c["speed_mps"]), c),
        "air and road": work(c["resistance_n"] * c["speed_mps"], c),
    }
    moving = (
        0.5 * spec.engine.inertia_kgm2 * c["engine_rads"] ** 2
        + 0.5 * spec.input_inertia_kgm2 * c["input_rads"] ** 2
        + 0.5 * spec.driven_inertia_kgm2 * c["wheel_rads"] ** 2
        + 0.5 * (spec.mass_kg + spec.undriven_inertia_kgm2 / spec.undriven_radius_m**2) * c["speed_mps"] ** 2
        + 0.5 * spring * c["twist_rad"]
    )
    left = engine - sum(lost.values()) - (moving[-1] - moving[0])
    assert all(value > -1e3 for value in lost.values())
    assert abs(left) < 0.001 * engine


def ideal(power_w: float) -> CarSpec:
    """A car of constant power: no drag, no losses, grip without end, one gear, hardly any inertia of its own."""
    points = tuple((float(rpm), power_w / (rpm * np.pi / 30)) for rpm in range(1500, 16000, 50))
    spec = CARS["all_foot"]
    engine = replace(spec.engine, torque_points=points, friction_nm=(0.0, 0.0), boost_pa=0.0, limiter_rpm=15500.0)
    tire = replace(spec.tire, grip=30.0, growth=0.0)
    return replace(
        spec,
        engine=engine,
        tire=tire,
        drag_area_m2=1e-6,
        rolling=0.0,
        efficiency=1.0,
        gears=(1.0,),
        final=4.0,
        gear_share=(),
    )


def test_constant_power_moves_the_car_by_the_closed_form() -> None:
    # Hand: d(m v^2 / 2) = P dt, so v(t) = sqrt(v0^2 + 2 P t / m), m with what turns at the wheels' speed.
    power_w = 250e3
    spec = ideal(power_w)
    car = DragCar(spec, **AIR)
    c = car.controls
    c.gear, c.clutch_share, c.brake_n, c.pedal, c.dt = 1, 50.0, 0.0, 1.0, 0.0005
    car.engine.plate, car.engine.map_pa = 1.0, AIR["ambient_pa"]
    car.v = 20.0
    car.wheel_rads = car.v / spec.tire.radius_m
    car.engine_rads = car.front_rads = car.input_rads = 4.0 * car.wheel_rads
    car.select(1)
    for _ in range(1000):
        car.step()
    rows = np.array([car.step() for _ in range(8000)])
    t, v = rows[:, COLUMNS.index("time_s")], rows[:, COLUMNS.index("speed_mps")]
    turning = spec.driven_inertia_kgm2 + 16.0 * (spec.engine.inertia_kgm2 + spec.input_inertia_kgm2)
    mass = spec.mass_kg + spec.undriven_inertia_kgm2 / spec.undriven_radius_m**2 + turning / spec.tire.radius_m**2
    expected = np.sqrt(v[0] ** 2 + 2 * power_w * (t - t[0]) / mass)
    assert v[-1] > 40.0
    assert v == pytest.approx(expected, rel=0.01)  # the manifold's last per cent and the tire's little slip


def test_a_start_limited_by_grip_takes_at_least_the_time_grip_allows() -> None:
    # Hand: with all wheels driven, a <= grip x g and a >= slide x grip x g while the wheels spin, so that
    # sqrt(2 d / a) bounds the time to 60 ft.
    spec = CARS["all_foot"]
    strong = replace(
        spec, engine=replace(spec.engine, launch_boost_pa=160e3), gear_share=(1.0,), clutch_spring_nm=1500.0
    )
    columns, facts = a_run(strong, finish_ft=660.0)
    t, x = columns["time_s"], columns["distance_m"] - facts["x_stage"]
    took = t[np.argmax(x >= 18.288)] - facts["clutch_release"]
    best = np.sqrt(2 * 18.288 / (spec.tire.grip * 9.80665))
    worst = np.sqrt(2 * 18.288 / (0.9 * spec.tire.slide * spec.tire.grip * 9.80665))
    spin = columns["wheel_rads"] * columns["radius_m"] - columns["speed_mps"]
    assert spin.max() > 3.0
    assert best <= took <= worst + 0.25  # the clutch takes a moment to come in


def test_a_car_in_neutral_slows_by_drag_and_rolling_alone() -> None:
    # Hand: m a = -(rho CdA v^2 / 2 + Crr m g), m with the undriven wheels; driven wheels turn along.
    spec = CARS["rear_natural"]
    car = DragCar(spec, **AIR)
    car.controls.brake_n, car.v = 0.0, 60.0
    car.wheel_rads = 60.0 / spec.tire.radius_m
    for _ in range(2000):
        car.step()
    drag = 0.5 * 1.18 * spec.drag_area_m2 * car.v**2 + spec.rolling * spec.mass_kg * 9.80665
    mass = spec.mass_kg + spec.wheel_inertia_kgm2 / spec.tire.radius_m**2
    assert car.a == pytest.approx(-drag / mass, rel=0.02)


def test_a_converter_multiplies_at_stall_and_not_when_it_couples() -> None:
    converter = CARS["converter"].converter
    assert converter is not None
    pump, turbine = converter_torque(converter, 400.0, 0.0)
    assert turbine == pytest.approx(converter.stall_ratio * pump)
    pump, turbine = converter_torque(converter, 400.0, 380.0)
    assert turbine == pytest.approx(pump)
    assert converter_torque(converter, 400.0, 400.0)[1] == pytest.approx(0.0)


@pytest.mark.parametrize("key", list(CARS))
def test_every_car_runs_through_its_gears(key: str) -> None:
    spec = CARS[key]
    columns, facts = a_run(spec, finish_ft=1320.0)
    assert [shift["to"] for shift in facts["shifts"]] == list(range(2, len(spec.gears) + 1))
    assert all(shift["completed"] for shift in facts["shifts"])
    assert 7.5 < facts["finish"] - facts["clutch_release"] < 13.0
    assert columns["engine_rads"].max() * 30 / np.pi < spec.engine.limiter_rpm + 100
