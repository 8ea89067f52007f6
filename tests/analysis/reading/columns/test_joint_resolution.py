"""A column judged by the others of its log."""

import numpy as np
import pytest

from tests.analysis.reading.columns.test_plausibility import RISE, read

RPM = {"RPM": 2000 + 5000 * RISE}
ENGINE = {**RPM, "TPS [%]": 100 * RISE, "MAP [kPa]": 33 + 200 * RISE}


def name_of(log, header):
    return next(channel.name for channel in log.channels if channel.header == header)


def test_a_plain_wheel_speed_of_an_engine_log_is_the_driven_wheels_and_told():
    log = read(**ENGINE, **{"Wheel Speed [km/h]": 100 * RISE})
    assert name_of(log, "Wheel Speed [km/h]") == "wheel_speed_driven"
    assert log.get("wheel_speed_driven").confidence < 0.7
    assert [finding.code for finding in log.findings] == ["speed-of-which-wheel"]


def test_a_speed_that_says_driven_is_sure():
    log = read(**ENGINE, **{"Driven Wheel Speed [km/h]": 100 * RISE})
    assert log.get("wheel_speed_driven").confidence > 0.9 and log.findings == ()


@pytest.mark.parametrize("names", [("Left", "Right"), ("1", "2", "3", "4"), ("", "2")])
@pytest.mark.parametrize("what", ["Wheel Speed", "Speed"])
@pytest.mark.parametrize("company", [{}, ENGINE])
def test_speeds_of_no_told_axle_keep_their_own_headers_and_ask_for_a_mapping(names, what, company):
    headers = [f"{what} {name}".strip() + " [km/h]" for name in names]
    log = read(**company, **{header: 100 * RISE for header in headers})
    assert [name_of(log, header) for header in headers] == headers
    assert [(finding.code, finding.level) for finding in log.findings] == [("speed-of-which-wheel", "caution")]
    assert all(header in log.findings[0].text for header in headers) and "wheel_speed_fl" in log.findings[0].text


@pytest.mark.parametrize(
    ("headers", "channels"),
    [
        (["Lambda C5"], ["lambda"]),  # a pin of connector C as well as a cylinder
        (["LambdaC5", "EGT C1", "EGT C2"], ["lambda", "exhaust_temperature_1", "exhaust_temperature_2"]),
        (["EGT CH3", "Lambda AN2"], ["exhaust_temperature", "lambda"]),
        (["Lambda C4", "Lambda C5"], ["lambda_4", "lambda_5"]),
        (["Lambda", "Lambda C5"], ["lambda", "lambda_5"]),
        (["Lambda Cyl 5", "EGT 3"], ["lambda_5", "exhaust_temperature_3"]),
    ],
)
def test_a_letter_and_a_number_are_a_cylinders_in_a_row_of_such_alone(headers, channels):
    values = {"L": 0.8 + 0.1 * RISE, "E": 300 + 400 * RISE}
    log = read(**ENGINE, **{name: values[name[0]] + 0.01 * n for n, name in enumerate(headers)})
    assert [name_of(log, name) for name in headers] == channels


def test_two_sides_of_the_driven_axle_are_the_driven_wheels():
    log = read(**ENGINE, **{"Driven Wheel Speed Left [km/h]": 100 * RISE, "Driven Wheel Speed Right [km/h]": 99 * RISE})
    assert name_of(log, "Driven Wheel Speed Left [km/h]") == "wheel_speed_driven"


def test_a_vehicle_speed_of_an_engine_log_slips():
    assert (
        name_of(read(**ENGINE, **{"Vehicle Speed [km/h]": 100 * RISE}), "Vehicle Speed [km/h]") == "wheel_speed_driven"
    )


def test_a_vehicle_speed_beside_wheels_of_its_own_is_ground_speed():
    log = read(**ENGINE, **{"Vehicle Speed [km/h]": 100 * RISE, "Wheel Speed FL [km/h]": 100 * RISE})
    assert name_of(log, "Vehicle Speed [km/h]") == "ground_speed"


def test_a_speed_beside_satellites_is_the_receivers():
    assert read(**{"Speed [km/h]": 100 * RISE, "Satellites": 11 + 0 * RISE}).get("gps_speed") is not None


def test_a_catalogue_name_is_given_once_to_the_surest():
    log = read(**{"RPM Dash": 2000 + RISE, "Engine Speed": 2000 + 2 * RISE})
    assert name_of(log, "Engine Speed") == "engine_speed" and name_of(log, "RPM Dash") == "RPM Dash"
    assert [finding.code for finding in log.findings] == ["same-channel-twice"]


def test_the_only_column_an_engine_could_turn_is_taken_with_a_caution():
    log = read(**{"Kanal 7 [1/min]": 2000 + 5000 * RISE, "Output Shaft [rpm]": 3000 * RISE})
    assert name_of(log, "Kanal 7 [1/min]") == "engine_speed"
    assert [(finding.code, finding.level) for finding in log.findings] == [("engine-speed-assumed", "caution")]


def test_two_such_columns_are_left_alone():
    log = read(**{"Foo [rpm]": 2000 + 5000 * RISE, "Bar [rpm]": 2000 + 4000 * RISE})
    assert log.get("engine_speed") is None and np.isfinite(log.channels[0].values).all()
