"""Speeds in the wrong unit or scale."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Log, TextFacts, TimeFacts
from passband.analysis.given.car import Car
from passband.analysis.reading.health.speed_scale import (
    is_driven,
    mend_engine_scale,
    mend_speed_scale,
    speeds_from_turning,
)

TIME = np.arange(1200) / 100.0
CAR = Car(
    name="x",
    driven_axle="rear",
    gear_ratios=[2.6, 1.8, 1.35, 1.05],
    final_drive=4.1,
    tire_circumference=2.1,
    undriven_tire_circumference=1.8,
)
SPEED = 5.0 + 5.0 * TIME
GEAR = np.searchsorted([15, 28, 42], SPEED)
RPM = SPEED / 2.1 * 60 * 4.1 * np.array([2.6, 1.8, 1.35, 1.05])[GEAR]


def a_log(name="ecu.csv", **channels):
    made = [
        Channel(
            key, key, "rpm" if key in ("engine_speed", "driveshaft_speed") else "m/s", "km/h", TIME, values, 100.0, 0.9
        )
        for key, values in channels.items()
    ]
    text = TextFacts("utf-8", ",", ".", 1, None, 2, TIME.size)
    return Log(name, tuple(made), text, TimeFacts("column Time", 0.0, 12.0, 100.0))


def told(logs):
    return [finding for log in logs for finding in log.findings]


@pytest.mark.parametrize("factor", [1.609344, 1 / 1.609344, 3.6, 1 / 3.6, 10.0, 0.1, 1000.0])
def test_the_gearing_convicts_a_wrong_scale(factor):
    logs = mend_speed_scale([a_log(engine_speed=RPM, wheel_speed_driven=SPEED / factor)], CAR)
    (finding,) = told(logs)
    np.testing.assert_allclose(logs[0].get("wheel_speed_driven").values, SPEED, rtol=1e-9)
    assert finding.level == "caution" and "scale" in finding.text


@pytest.mark.parametrize("factor", [10.0, 1000.0, 0.1])
def test_an_engine_speed_off_by_a_scale_is_mended(factor):
    log = mend_engine_scale(a_log(engine_speed=RPM / factor))
    np.testing.assert_allclose(log.get("engine_speed").values, RPM, rtol=1e-9)
    assert [finding.code for finding in log.findings] == ["engine-speed-scale"]


@pytest.mark.parametrize("still", [0, 300])
def test_an_idling_engine_is_not_ten_times_too_slow(still):
    idle = 900.0 + 60.0 * np.sin(TIME)
    idle[:still] = 0.0
    log = a_log(engine_speed=idle)
    assert mend_engine_scale(log) is log


def test_a_low_engine_speed_at_open_throttle_is_no_idle():
    log = a_log(engine_speed=RPM.max() / 10.0 + 0.0 * RPM, throttle=np.full(TIME.size, 0.95))
    assert mend_engine_scale(log).findings[0].code == "engine-speed-scale"


def test_a_long_steady_drive_back_convicts_nobody():
    # Planted: after the run, twice as long, at 30 m/s with a slipping clutch: just where a gear would be in miles
    steady = np.full(2 * TIME.size, 30.0)
    slipping = steady / 2.1 * 60 * 4.1 * 1.8 / 1.609344
    time = np.arange(3 * TIME.size) / 100.0
    log = a_log(engine_speed=RPM, wheel_speed_fl=SPEED)
    channels = [
        replace(one, time_s=time, values=np.concatenate((one.values, back)))
        for one, back in zip(log.channels, (slipping, steady), strict=True)
    ]
    assert told(mend_speed_scale([replace(log, channels=tuple(channels))], CAR)) == []


def test_a_late_receiver_is_not_convicted():
    # Planted: all in first gear; 7 % behind, the receiver lies between the gears as written, on the other one in miles
    car = CAR.model_copy(update={"gear_ratios": [2.6, 2.6 / 1.609344 / 0.93]})
    rpm = SPEED / 2.1 * 60 * 4.1 * 2.6
    assert told(mend_speed_scale([a_log(engine_speed=rpm, gps_speed=0.93 * SPEED)], car)) == []
    both = a_log(engine_speed=rpm, gps_speed=0.93 * SPEED, wheel_speed_fl=SPEED)
    assert told(mend_speed_scale([both], car)) == []


@pytest.mark.parametrize("wrong", [0.94, 1.06])
def test_a_circumference_told_wrong_convicts_no_speed(wrong):
    # Planted: 6 % off, every sample lies between the gears as written; in miles some would fall on other gears
    car = CAR.model_copy(update={"gear_ratios": [2.28, 1.66, 1.28, 1.0], "tire_circumference": 2.1 * wrong})
    rpm = SPEED / 2.1 * 60 * 4.1 * np.array([2.28, 1.66, 1.28, 1.0])[GEAR]
    assert told(mend_speed_scale([a_log(engine_speed=rpm, gps_speed=SPEED)], car)) == []


def test_all_speeds_of_a_log_in_the_wrong_unit_are_convicted_together():
    slow = {name: SPEED / 1.609344 for name in ("gps_speed", "wheel_speed_fl", "wheel_speed_fr")}
    logs = mend_speed_scale([a_log(engine_speed=RPM, **slow)], CAR)
    assert len(told(logs)) == 3
    np.testing.assert_allclose(logs[0].get("wheel_speed_fl").values, SPEED, rtol=1e-9)


@pytest.mark.parametrize("slip", [1.0, 1.04, 0.97])
def test_a_sound_speed_with_slip_or_growth_is_left_alone(slip):
    logs = mend_speed_scale([a_log(engine_speed=RPM, wheel_speed_driven=SPEED * slip)], CAR)
    assert told(logs) == [] and np.array_equal(logs[0].get("wheel_speed_driven").values, SPEED * slip)


def test_wrong_gearing_convicts_nobody():
    odd = CAR.model_copy(update={"final_drive": 3.55})
    assert told(mend_speed_scale([a_log(engine_speed=RPM, wheel_speed_driven=SPEED)], odd)) == []


def test_a_wheel_against_the_position_receiver_of_another_log():
    ecu = a_log(wheel_speed_driven=SPEED / 1.609344)
    logs = mend_speed_scale([ecu, a_log("dash.csv", gps_speed=SPEED)], Car(name="x"))
    (finding,) = told(logs)
    assert "position receiver" in finding.text and np.array_equal(logs[0].channels[0].values, ecu.channels[0].values)
    silent = replace(ecu, channels=(replace(ecu.channels[0], unit_written=""),))
    logs = mend_speed_scale([silent, a_log("dash.csv", gps_speed=SPEED)], Car(name="x"))
    (finding,) = told(logs)
    np.testing.assert_allclose(logs[0].channels[0].values, SPEED, rtol=1e-9)


def test_a_sound_engine_speed_is_left_alone():
    log = a_log(engine_speed=RPM)
    assert mend_engine_scale(log) is log


def test_a_turning_speed_becomes_a_road_speed_by_its_own_tire():
    log = a_log(wheel_speed_fl=SPEED, wheel_speed_rl=SPEED)
    turning = replace(log, channels=tuple(replace(one, unit="rpm", values=one.values * 60) for one in log.channels))
    mended = speeds_from_turning(turning, CAR)
    np.testing.assert_allclose(mended.get("wheel_speed_fl").values, SPEED * 1.8)
    np.testing.assert_allclose(mended.get("wheel_speed_rl").values, SPEED * 2.1)
    assert mended.findings == () and mended.get("wheel_speed_fl").unit == "m/s"


def test_without_the_tire_a_turning_speed_is_no_speed():
    log = a_log(wheel_speed_fl=SPEED)
    turning = replace(log, channels=(replace(log.channels[0], unit="rpm"),))
    mended = speeds_from_turning(turning, Car(name="x"))
    (finding,) = mended.findings
    assert mended.get("wheel_speed_fl") is None and "circumference" in finding.text


@pytest.mark.parametrize(("axle", "fl", "rl"), [("front", True, False), ("rear", False, True), ("all", True, True)])
def test_a_wheel_is_driven_where_its_axle_is(axle, fl, rl):
    car = Car(name="x", driven_axle=axle)
    assert (is_driven("wheel_speed_fl", car), is_driven("wheel_speed_rl", car)) == (fl, rl)
