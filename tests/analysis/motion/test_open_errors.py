"""What no sensor of a run shows of its speed's error: by its shape, and that a wrong tire's splits hold the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.distance import time_the_run
from passband.analysis.motion.ground_speed import fuse_ground_speed
from passband.analysis.windows.window import RunWindow
from tests.analysis.strip_run import LAUNCH_S, plain_run, sensor

RUN = plain_run()
CAR = Car(name="x", driven_axle="rear")
WINDOW = RunWindow(LAUNCH_S, 0.04, 14.0, None, (), ("engine_speed",))
ROLLOUT_M, FOOT_M = 0.27, 0.3048


def by_the_driven_wheel(tire_mps):
    wheel = sensor(RUN, "wheel_speed_driven", tire_mps, unit="m/s", noise=0.03, late_s=0.022, rate_hz=100.0)
    return fuse_ground_speed(Traces((wheel,)), CAR, WINDOW)


def pull():
    return np.maximum(np.convolve(RUN.acceleration_mps2, np.ones(101) / 101, mode="same"), 0.0)


def test_what_a_tire_slips_at_its_limit_is_open_where_the_car_pulls_hardest():
    modes = by_the_driven_wheel(RUN.speed_mps * (1.0 + 0.004 * pull())).posterior.modes
    at = [int(moment / 0.005) for moment in (2.5, 8.0)]  # after the grid's start: 1.5 s and 7 s into the run
    share = np.abs(modes["launch slip"]) / np.maximum(np.abs(modes["slip"]), 1e-9)
    # Hand: the one goes with the cube of the pull, the other with the pull itself, so their ratio with its square
    assert share[at[0]] > 2.0 * share[at[1]] > 0.0


def test_how_the_tire_changes_is_open_by_steps_that_add_up():
    ground = by_the_driven_wheel(RUN.speed_mps)
    modes, speed = ground.posterior.modes, np.maximum(ground.posterior.speed, 1.0)
    steps = np.array([mode / speed for name, mode in modes.items() if name.startswith("wander")])
    assert steps.shape[0] == 6
    assert (np.diff(steps, axis=1)[:, 300:-300] > -1e-4).all()  # none takes back what it opened
    open_share = np.sqrt((steps**2).sum(axis=0))
    assert open_share[500] < open_share[-400]


def test_undriven_wheels_have_neither():
    wheel = sensor(RUN, "wheel_speed_fl", RUN.speed_mps, unit="m/s", noise=0.03, late_s=0.022, rate_hz=100.0)
    modes = fuse_ground_speed(Traces((wheel,)), CAR, WINDOW).posterior.modes
    assert not any(mode.any() for name, mode in modes.items() if name.startswith(("wander", "launch")))


@pytest.mark.parametrize("more", [0.0, 0.015, 0.025])
def test_splits_of_a_lone_driven_wheel_hold_whatever_it_slips_at_the_launch(more):
    # Planted: the slip that is usual, and up to 2.5 % more of the speed where the pull is greatest
    near = (pull() / pull().max()) ** 3
    ground = by_the_driven_wheel(RUN.speed_mps * (1.0 + 0.004 * pull() + more * near))
    found = time_the_run(ground, rollout_m=ROLLOUT_M, slip=None, finish_ft=1320, end_log_s=14.0)
    start = RUN.moment(ROLLOUT_M)
    assert abs(found.clock_start_s.value - start) < found.clock_start_s.plus_minus
    for split in found.distance.splits:
        truth = RUN.moment(ROLLOUT_M + split.at_ft * FOOT_M) - start
        assert abs(split.time_s.value - truth) < split.time_s.plus_minus


def by_wheel_and_gps(seed, *, alike):
    rng = np.random.default_rng(seed)
    wheel = sensor(RUN, "wheel_speed_fl", 1.003 * RUN.speed_mps, unit="m/s", noise=0.03, seed=seed, log=1)
    gps = sensor(RUN, "gps_speed", RUN.speed_mps, unit="m/s", rate_hz=10.0, late_s=0.15, log=1)
    errors = rng.normal(0.0, 0.05 * (1.0 - alike**2) ** 0.5, gps.values.size)
    for place in range(1, errors.size):
        errors[place] += alike * errors[place - 1]
    told = Traces((wheel, replace(gps, values=gps.values + errors)))
    return fuse_ground_speed(told, CAR, WINDOW)


@pytest.mark.parametrize("alike", [0.0, 0.6])
def test_traps_hold_where_a_receivers_errors_hang_together(alike):
    # Planted: 0.05 m/s of error, free or fading by 0.6 from value to value; the GPS sets the wheel's scale
    held = []
    for seed in range(12):
        ground = by_wheel_and_gps(seed, alike=alike)
        found = time_the_run(ground, rollout_m=ROLLOUT_M, slip=None, finish_ft=1320, end_log_s=14.0)
        for trap in found.distance.traps:
            at = RUN.moment(ROLLOUT_M + trap.at_ft * FOOT_M)
            truth = 66 * FOOT_M / (at - RUN.moment(ROLLOUT_M + (trap.at_ft - 66) * FOOT_M))
            held.append(abs(trap.speed_mps.value - truth) < trap.speed_mps.plus_minus)
    assert np.mean(held) >= 0.88


def test_errors_that_hang_together_open_the_scale_and_free_ones_do_not():
    free, alike = (by_wheel_and_gps(1, alike=share).posterior for share in (0.0, 0.8))
    assert alike.modes["scale"][-400] > 1.5 * free.modes["scale"][-400]
    # Hand: a GPS's own clock alone, 0.015 %
    assert free.modes["scale"][-400] == pytest.approx(1.5e-4 * free.speed[-400], rel=0.05)


def test_a_wheel_alone_has_no_receiver_to_doubt():
    wheel = sensor(RUN, "wheel_speed_fl", RUN.speed_mps, unit="m/s", noise=0.03, rate_hz=100.0)
    ground = fuse_ground_speed(Traces((wheel,)), CAR, WINDOW).posterior
    assert ground.modes["scale"][-400] == pytest.approx(0.002 * ground.speed[-400])
