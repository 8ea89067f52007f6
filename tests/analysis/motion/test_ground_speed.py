"""Which sensors carry the ground speed, and what is told of them."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import fuse_ground_speed
from passband.analysis.sensors.new_values import new_values
from passband.analysis.windows.window import RunWindow
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor, wheels_gps_accelerometer

RUN = plain_run()
CAR = Car(name="rear", driven_axle="rear")
WINDOW = RunWindow(LAUNCH_S, 0.02, 15.3, 15.2, (), ())


def worst_error(ground):
    time = ground.posterior.time_s
    inside = (time > LAUNCH_S + 0.3) & (time < 13.0)
    return np.abs(ground.posterior.speed - np.interp(time, RUN.time_s, RUN.speed_mps))[inside]


def test_undriven_wheels_gps_and_accelerometer_are_fused():
    ground = fuse_ground_speed(wheels_gps_accelerometer(RUN), CAR, WINDOW)
    assert ground.basis == "undriven wheel"
    assert worst_error(ground).std() < 0.05 and worst_error(ground).mean() < 0.12
    assert ground.findings == ()


def test_gps_alone_serves_and_says_so():
    traces = Traces(tuple(channel for channel in wheels_gps_accelerometer(RUN) if "wheel" not in channel.name))
    ground = fuse_ground_speed(traces, CAR, WINDOW)
    assert ground.basis == "gps"
    assert worst_error(ground).mean() < 0.25


def test_gps_that_freezes_and_creeps_back_is_left_out_and_told():
    # Planted: held for 1.5 s from 8 s, the lag then dies out within 0.7 s; 6.5 m lost if believed
    (gps,) = (channel for channel in wheels_gps_accelerometer(RUN) if channel.name == "gps_speed")
    time, true = gps.time_s, gps.values
    held = float(np.interp(8.0, time, true))
    lag = (np.interp(9.5, time, true) - held) * np.exp(-np.maximum(time - 9.5, 0.0) / 0.7)
    froze = np.where((time > 8.0) & (time < 9.5), held, np.where(time >= 9.5, true - lag, true))
    ground = fuse_ground_speed(Traces((replace(gps, values=froze),)), CAR, WINDOW)
    assert "speed-froze" in {finding.code for finding in ground.findings}
    gone = np.interp(13.0, ground.posterior.time_s, ground.posterior.distance)
    assert gone == pytest.approx(float(np.interp(13.0, RUN.time_s, RUN.distance_m)), abs=2.0)


def test_a_wheel_scaled_for_another_tire_is_set_right_by_gps():
    # Planted: the wheel reads 6 % high
    traces = wheels_gps_accelerometer(RUN)
    wrong = Traces(tuple(replace(c, values=c.values * 1.06) if c.name.startswith("wheel") else c for c in traces))
    ground = fuse_ground_speed(wrong, CAR, WINDOW)
    assert {finding.code for finding in ground.findings} == {"wheel-speed-scale"}
    assert worst_error(ground).mean() < 0.15


def test_the_driven_wheel_alone_is_a_caution():
    traces = Traces((sensor(RUN, "wheel_speed_driven", RUN.speed_mps * 1.02, unit="m/s", noise=0.06),))
    ground = fuse_ground_speed(traces, CAR, WINDOW)
    assert ground.basis == "driven wheel"
    assert [finding.code for finding in ground.findings] == ["ground-speed-from-driven-wheel"]


def test_no_speed_at_all_is_told_not_guessed():
    traces = Traces((sensor(RUN, "engine_speed", RUN.speed_mps * 100, unit="rpm"),))
    ground = fuse_ground_speed(traces, CAR, WINDOW)
    assert ground.reason.code == "no-ground-speed"
    assert ground.reason.level == "stop"
    assert [finding.code for finding in ground.beside] == ["speed-needs-gearing"]


def test_a_held_value_is_told_once():
    channel = sensor(RUN, "gps_speed", RUN.speed_mps, unit="m/s", rate_hz=50)
    held = replace(channel, values=np.repeat(channel.values[::5], 5)[: channel.values.size], rate_hz=10.0)
    fresh = new_values(held)
    assert fresh.time_s.size < channel.time_s.size / 4
    assert np.all(np.diff(fresh.values) != 0)


@pytest.mark.parametrize("gap", [(8.0, 9.2)])
def test_a_second_without_gps_is_bridged_by_the_accelerometer(gap):
    traces = wheels_gps_accelerometer(RUN)
    kept = []
    for channel in traces:
        if channel.name.startswith("wheel"):
            continue
        if channel.name == "gps_speed":
            there = (channel.time_s < gap[0]) | (channel.time_s > gap[1])
            channel = replace(channel, time_s=channel.time_s[there], values=channel.values[there])
        kept.append(channel)
    ground = fuse_ground_speed(Traces(tuple(kept)), CAR, WINDOW)
    assert worst_error(ground).max() < 0.45


@pytest.mark.parametrize("late_s", [0.4, -0.4])
def test_a_launch_less_sure_than_the_receivers_lateness_does_not_set_the_clock_of_a_lone_gps(late_s):
    # Planted: signs that disagree have the launch wrong by 0.4 s, and said to be known to 0.6
    traces = Traces(tuple(channel for channel in wheels_gps_accelerometer(RUN) if channel.name == "gps_speed"))
    window = replace(
        WINDOW, launch_s=LAUNCH_S + late_s, launch_plus_minus_s=0.6, evidence=("engine_speed", "gps_speed")
    )
    posterior = fuse_ground_speed(traces, CAR, window).posterior
    for metres in (0.3, 100.0):
        at_s = float(np.interp(metres, posterior.distance, posterior.time_s))
        assert at_s == pytest.approx(float(np.interp(metres, RUN.distance_m, RUN.time_s)), abs=0.15)
