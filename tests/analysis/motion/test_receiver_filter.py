"""A receiver's filters round a speed off where acceleration changes; an accelerometer beside it shows by how much."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import GroundSpeed, fuse_ground_speed
from passband.analysis.motion.receiver_filter import bend_of_filter, rounded_off
from passband.analysis.windows.window import RunWindow
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor

STEP_S = 0.005
AT = np.arange(0.0, 6.0, STEP_S)
RUN = plain_run()


def twice_filtered(values, constant_s, step_s):
    out, keep = np.asarray(values, dtype=float).copy(), np.exp(-step_s / constant_s)
    for _ in range(2):
        for place in range(1, out.size):
            out[place] = keep * out[place - 1] + (1.0 - keep) * out[place]
    return out


@pytest.mark.parametrize("width_s", [0.02, 0.1, 0.25])
def test_a_speed_that_changes_evenly_is_only_late(width_s):
    # Limit: once the kernel has passed the start of the ramp nothing is left of it
    bend = bend_of_filter(7.0 * AT, width_s, step_s=STEP_S)
    assert np.abs(bend[AT > 4.0]).max() < 1e-3


@pytest.mark.parametrize("width_s", [0.05, 0.1, 0.2])
def test_half_the_variance_times_the_change_of_acceleration(width_s):
    # Hand: v = t^2, its second slope 2, half the variance w^2 / 2
    bend = bend_of_filter(AT**2, width_s, step_s=STEP_S)
    assert bend[1000] == pytest.approx(width_s**2, rel=0.01)


def test_a_start_is_put_forward_by_half_the_variance_times_the_pull():
    # Hand: the way gained over the same speed so much later is a w^2 / 2 = 6 * 0.005
    bend = bend_of_filter(6.0 * np.maximum(AT - 2.0, 0.0), 0.1, step_s=STEP_S)
    assert bend.sum() * STEP_S == pytest.approx(0.03, rel=0.01)


def test_as_two_filters_in_a_row_make_it():
    # Slow twin: sample by sample; a filter of time constant T is T less half a step late on this grid, twice
    speed = 6.0 * np.maximum(AT - 2.0, 0.0) - 4.0 * np.maximum(AT - 3.5, 0.0)
    constant_s = 0.08
    late_s = 2.0 * (constant_s - STEP_S / 2.0)
    late = np.interp(AT + late_s, AT, twice_filtered(speed, constant_s, STEP_S))
    bend = bend_of_filter(speed, np.sqrt(2.0) * constant_s, step_s=STEP_S)
    inside = AT < 5.5
    assert np.abs(bend - (late - speed))[inside].max() < 0.02


def test_by_the_smear_it_goes_as_the_difference_of_two():
    speed = 6.0 * np.maximum(AT - 2.0, 0.0)
    found = rounded_off(speed, 0.005, step_s=STEP_S)
    more, less = (bend_of_filter(speed, np.sqrt(2.0 * smear), step_s=STEP_S) for smear in (0.0052, 0.0048))
    assert found.by_smear == pytest.approx((more - less) / 0.0004, abs=0.5)
    assert np.isfinite(rounded_off(speed, 1e-5, step_s=STEP_S).by_smear).all()


@pytest.mark.parametrize("constant_s", [0.005, 0.05, 0.1])
def test_beside_an_accelerometer_the_smear_is_found(constant_s):
    # Planted: the plain run through two equal filters at 1 kHz; half the variance is the constant squared
    shown = twice_filtered(RUN.speed_mps, constant_s, 0.001)
    gps = sensor(RUN, "gps_speed", shown, unit="m/s", rate_hz=10.0, noise=0.03, late_s=0.1, seed=3)
    push = sensor(RUN, "acceleration", RUN.acceleration_mps2, unit="m/s^2", rate_hz=100.0, noise=0.06, late_s=0.02)
    window = RunWindow(LAUNCH_S, 0.04, 14.0, None, (), ("acceleration",))
    ground = fuse_ground_speed(Traces((gps, push)), Car(name="x"), window)
    assert isinstance(ground, GroundSpeed)
    found = ground.posterior.parameter("smear gps_speed")
    assert np.sqrt(max(found, 0.0)) == pytest.approx(constant_s, abs=0.02)
