"""A column judged by the others of its log."""

import numpy as np

from tests.analysis.reading.test_plausibility import RISE, read

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
    log = read(**{"Umdrehungen [1/min]": 2000 + 5000 * RISE, "Output Shaft [rpm]": 3000 * RISE})
    assert name_of(log, "Umdrehungen [1/min]") == "engine_speed"
    assert [(finding.code, finding.level) for finding in log.findings] == [("engine-speed-assumed", "caution")]


def test_two_such_columns_are_left_alone():
    log = read(**{"Foo [rpm]": 2000 + 5000 * RISE, "Bar [rpm]": 2000 + 4000 * RISE})
    assert log.get("engine_speed") is None and np.isfinite(log.channels[0].values).all()
