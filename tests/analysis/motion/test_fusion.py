"""The smoother of ground speed: known truth back, honest plus-minus, constraints."""

import numpy as np
import pytest

from passband.analysis.motion.fusion import Accelerometer, SpeedSensor, fuse_speed
from tests.analysis.strip_run import LAUNCH_S, plain_run

RUN = plain_run()


def fused(*, wheel_noise=0.05, accelerometer=True, rate_hz=50.0, seed=0, late_s=0.02):
    rng = np.random.default_rng(seed)
    at = np.arange(2.0 + rng.uniform(0, 1 / rate_hz), 13.5, 1 / rate_hz)
    speed = np.interp(at - late_s, RUN.time_s, RUN.speed_mps)
    speed = speed + rng.normal(0, wheel_noise, at.size)
    pull = np.interp(at - late_s, RUN.time_s, RUN.acceleration_mps2) + rng.normal(0, 0.06, at.size)
    awake = speed > 1.5
    wheel = SpeedSensor("wheel", at[awake], speed[awake], 0.01, 0.02, 0.008, 0.0)
    device = Accelerometer(at, pull, 0.06, scale_sd=0.002) if accelerometer else None
    return fuse_speed([wheel], device, span_s=(2.0, 13.0), rest_until_s=LAUNCH_S - 0.02)


@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 200.0])
def test_the_speed_comes_back_through_noise_and_lateness(rate_hz):
    # Planted: speed of the plain run, sensors 20 ms late
    posterior = fused(rate_hz=rate_hz)
    inside = posterior.time_s > LAUNCH_S + 0.3
    error = posterior.speed - np.interp(posterior.time_s, RUN.time_s, RUN.speed_mps)
    assert np.std(error[inside]) < 0.06
    assert posterior.parameter("delay wheel") == pytest.approx(0.02, abs=0.012)


def test_a_sensor_that_jumps_is_outvoted():
    # Planted: a wheel hop of 8 m/s for a tenth of a second
    posterior = fused()
    hopped = fused_with_hop()
    assert np.abs(hopped.speed - posterior.speed)[posterior.time_s > 4].max() < 0.4


def fused_with_hop():
    at = np.arange(2.0, 13.5, 0.02)
    speed = np.interp(at - 0.02, RUN.time_s, RUN.speed_mps) + np.random.default_rng(0).normal(0, 0.05, at.size)
    pull = np.interp(at - 0.02, RUN.time_s, RUN.acceleration_mps2)
    speed[(at > 6.0) & (at < 6.1)] += 8.0
    awake = speed > 1.5
    wheel = SpeedSensor("wheel", at[awake], speed[awake], 0.01, 0.02, 0.008, 0.0)
    device = Accelerometer(at, pull, 0.06, scale_sd=0.002)
    return fuse_speed([wheel], device, span_s=(2.0, 13.0), rest_until_s=LAUNCH_S - 0.02)


def test_rows_read_speed_and_distance_between_grid_points():
    posterior = fused()
    at = 7.0123
    assert posterior.row_speed(at) @ posterior.mean == pytest.approx(
        np.interp(at, posterior.time_s, posterior.speed), abs=1e-9
    )
    fine = np.linspace(2.0, at, 200001)
    slow = np.trapezoid(np.interp(fine, posterior.time_s, posterior.speed), fine)  # slow twin
    assert posterior.row_distance(at) @ posterior.mean == pytest.approx(slow, abs=1e-5)


def test_a_condition_pulls_the_distance_to_what_was_measured():
    posterior = fused()
    row = posterior.row_distance(12.0)[None, :]
    before = (row @ posterior.mean)[0]
    posterior.condition(row, np.array([0.5]), np.array([1e-4]))
    assert (row @ posterior.mean)[0] == pytest.approx(before + 0.5, abs=0.01)
    assert posterior.deviation(row)[0] < 2e-4


def test_no_sensor_is_named_as_the_mistake():
    with pytest.raises(ValueError, match="at least one speed sensor"):
        fuse_speed([], None, span_s=(0.0, 5.0), rest_until_s=1.0)


def test_too_short_a_span_is_named_as_the_mistake():
    sensor = SpeedSensor("w", np.array([0.0]), np.array([1.0]), 0.1, 0.0, 0.01, 0.0)
    with pytest.raises(ValueError, match="span of at least"):
        fuse_speed([sensor], None, span_s=(0.0, 0.02), rest_until_s=0.0)
