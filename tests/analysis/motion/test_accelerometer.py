"""An accelerometer as it is mounted: straight, askew, swapped, turned, dead."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.motion.accelerometer import MountedAccelerometer, calibrate_accelerometer
from passband.analysis.motion.fusion import SpeedSensor
from tests.analysis.strip_run import LAUNCH_S, plain_run, wheels_gps_accelerometer

RUN = plain_run()
TRACES = wheels_gps_accelerometer(RUN)


def reference():
    wheel = TRACES.get("wheel_speed_fl")
    awake = wheel.values > 1.5
    return SpeedSensor("wheel_speed_fl", wheel.time_s[awake], wheel.values[awake], 0.05, 0.02, 0.01, 0.0)


def mounted(forward, sideways=None):
    """Traces whose accelerometer reads as given."""
    channel = TRACES.get("acceleration")
    channels = [replace(channel, values=forward(channel.values))]
    if sideways is not None:
        channels.append(replace(channel, name="acceleration_lateral", values=sideways(channel.values)))
    return Traces(tuple(channels))


def pull_of(device):
    return np.interp(4.0, device.time_s, device.acceleration_mps2) - np.mean(device.acceleration_mps2[:40])


def test_a_straight_mounting_is_no_finding():
    found = calibrate_accelerometer(mounted(lambda a: a), reference(), launch_s=LAUNCH_S)
    assert found.findings == ()
    assert pull_of(found.forward) == pytest.approx(np.interp(4.0, RUN.time_s, RUN.acceleration_mps2), abs=0.3)


@pytest.mark.parametrize(
    ("forward", "sideways", "words"),
    [
        (lambda a: -a, None, "sign is turned"),
        (lambda a: 0.02 * a, lambda a: a, "axes are swapped"),
        (lambda a: 0.87 * a, lambda a: 0.5 * a, "askew"),
        (lambda a: 0.96 * a, lambda a: 0.27 * a, "askew by about 16 degrees"),
    ],
)
def test_a_wrong_mounting_is_found_mended_and_told(forward, sideways, words):
    found = calibrate_accelerometer(mounted(forward, sideways), reference(), launch_s=LAUNCH_S)
    assert words in found.findings[0].text
    assert pull_of(found.forward) == pytest.approx(np.interp(4.0, RUN.time_s, RUN.acceleration_mps2), abs=0.5)


def test_an_accelerometer_that_reads_something_else_is_left_out():
    found = calibrate_accelerometer(
        mounted(lambda a: np.sin(np.arange(a.size) / 200.0) * 8), reference(), launch_s=LAUNCH_S
    )
    assert found.forward is None
    assert [finding.code for finding in found.findings] == ["accelerometer-left-out"]


def test_none_logged_is_none():
    assert calibrate_accelerometer(Traces(()), reference(), launch_s=LAUNCH_S) == MountedAccelerometer()
