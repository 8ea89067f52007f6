"""Which wheels are driven."""

import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.sensors.wheels import (
    GearedCar,
    UndrivenWheels,
    driven_as_logged,
    driven_tire_speed,
    undriven_wheels,
    with_final_drive,
)
from tests.analysis.strip_run import plain_run, sensor

RUN = plain_run()


def four_wheels(rear_slip=1.05):
    return Traces(
        tuple(
            sensor(RUN, f"wheel_speed_{place}", RUN.speed_mps * (rear_slip if place[0] == "r" else 1.0), unit="m/s")
            for place in ("fl", "fr", "rl", "rr")
        )
    )


@pytest.mark.parametrize(("axle", "undriven"), [("front", "r"), ("rear", "f")])
def test_the_car_names_the_driven_axle(axle, undriven):
    found = undriven_wheels(four_wheels(), Car(name="x", driven_axle=axle))
    assert {channel.name[-2] for channel in found.channels} == {undriven} and found.findings == ()


def test_all_driven_has_no_undriven_wheel():
    assert undriven_wheels(four_wheels(), Car(name="x", driven_axle="all")) == UndrivenWheels()


def test_the_slower_axle_under_power_is_the_undriven_one():
    found = undriven_wheels(four_wheels(), Car(name="x"))
    assert {channel.name[-2] for channel in found.channels} == {"f"}
    assert found.findings[0].code == "undriven-axle-found"


def test_one_axle_alone_is_not_guessed_at():
    one = Traces(tuple(c for c in four_wheels() if c.name[-2] == "r"))
    found = undriven_wheels(one, Car(name="x"))
    assert found.channels == () and found.findings[0].code == "driven-axle-unknown"


def test_a_driveshaft_becomes_tire_speed():
    # Hand: 3000 rpm / 60 / 4 * 2 m = 25 m/s
    shaft = sensor(RUN, "driveshaft_speed", RUN.speed_mps * 0 + 3000.0, unit="rpm")
    channel = driven_tire_speed(Traces((shaft,)), Car(name="x", final_drive=4.0, tire_circumference="2 m")).speed
    assert channel.values[0] == pytest.approx(25.0)


def test_a_driveshaft_without_a_final_drive_is_told():
    shaft = sensor(RUN, "driveshaft_speed", RUN.speed_mps, unit="rpm")
    found = driven_tire_speed(Traces((shaft,)), Car(name="x"))
    assert found.speed is None and found.findings[0].code == "driveshaft-without-ratio"


def run_with_shaft(final_drive=4.1):
    shaft_rpm = RUN.speed_mps / 2.0 * 60.0 * final_drive
    return Traces((sensor(RUN, "driveshaft_speed", shaft_rpm, unit="rpm", rate_hz=100),))


def test_an_not_given_final_drive_is_found_from_shaft_and_ground_speed():
    # Planted: 4.10 with a circumference of 2 m
    found = with_final_drive(
        Car(name="x", tire_circumference="2 m"), run_with_shaft(), time_s=RUN.time_s, speed_mps=RUN.speed_mps
    )
    assert found.car.final_drive == pytest.approx(4.10, rel=0.005)
    assert [finding.code for finding in found.findings] == ["final-drive-found"]


def test_a_told_final_drive_stands():
    told = Car(name="x", tire_circumference="2 m", final_drive=4.56)
    assert with_final_drive(told, run_with_shaft(), time_s=RUN.time_s, speed_mps=RUN.speed_mps) == GearedCar(told)


def test_without_a_circumference_the_ratios_are_the_gearbox_alone_and_told_so():
    found = with_final_drive(Car(name="x"), run_with_shaft(), time_s=RUN.time_s, speed_mps=RUN.speed_mps)
    assert found.car.final_drive is None
    assert [finding.code for finding in found.findings] == ["final-drive-unknown"]


def test_wheels_of_the_axle_said_to_be_undriven_become_the_driven_ones_where_nothing_else_is_logged():
    traces = Traces(tuple(c for c in four_wheels() if c.name[-2] == "r"))
    front = Car(name="x", driven_axle="front")
    assert driven_as_logged(front, traces).driven_axle == "rear"
    assert driven_as_logged(front, four_wheels()) is front
