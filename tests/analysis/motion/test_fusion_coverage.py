"""Whether the smoother's plus-minuses hold the truth as often as they say, figure by figure.

Planted: a plain run, seen by a wheel and an accelerometer whose rate, phase, noise, bias, scale and lateness are drawn
from the very distributions that the smoother is told. A 95 % half-width must then hold the truth in 95 of 100 draws; a
count so low that it is met less than once in two hundred such trials (binomial) is no chance.
"""

from __future__ import annotations

from functools import cache
from math import comb

import numpy as np
import pytest

from passband.analysis.motion.fusion import Accelerometer, SpeedSensor, fuse_speed
from tests.analysis.strip_run import LAUNCH_S, plain_run

RUN = plain_run()
DRAWS, FEW = 60, 24
WHEEL_LATE_S, FELT_LATE_S, LATE_SIGMA_S = 0.020, 0.022, 0.008
NO_DRAW_S = 2e-4
"""So little open of a lateness that it counts as known. [s]"""


def least_within(draws: int, *, share: float = 0.95, chance: float = 0.005) -> int:
    """The smallest count of draws within that is met at least as often as `chance`."""
    total = 0.0
    for within in range(draws + 1):
        total += comb(draws, within) * share**within * (1.0 - share) ** (draws - within)
        if total > chance:
            return within
    return draws


def fused(seed: int, *, accelerometer: bool, late_sigma_s: float):
    """One draw: the posterior."""
    rng = np.random.default_rng([seed, 6])
    rate_hz = float(rng.choice([25.0, 50.0, 100.0]))
    at = np.arange(2.0 + rng.uniform(0, 1 / rate_hz), 10.4, 1 / rate_hz)
    late, felt = WHEEL_LATE_S, FELT_LATE_S
    if late_sigma_s > NO_DRAW_S:
        late, felt = rng.normal(late, late_sigma_s), rng.normal(felt, late_sigma_s)
    speed = np.interp(at - late, RUN.time_s, RUN.speed_mps) + rng.normal(0, 0.05, at.size)
    pull = rng.normal(1, 0.03) * np.interp(at - felt, RUN.time_s, RUN.acceleration_mps2)
    pull = pull + rng.normal(0, 0.3) + rng.normal(0, 0.06, at.size)
    wheel = SpeedSensor("wheel", at[speed > 1.5], speed[speed > 1.5], 0.01, WHEEL_LATE_S, late_sigma_s, 0.0)
    device = Accelerometer(at, pull, 0.06, FELT_LATE_S, late_sigma_s, 0.03) if accelerometer else None
    return fuse_speed([wheel], device, span_s=(2.0, 10.0), rest_until_s=LAUNCH_S - 0.02)


def true_distance(at_s):
    return np.interp(at_s, RUN.time_s, RUN.distance_m)


def elapsed_time(posterior):
    """From 5 m to 150 m, as beams would time it: error and row."""
    first, last = (float(np.interp(metres, posterior.distance, posterior.time_s)) for metres in (5.0, 150.0))
    rows = [posterior.row_distance(at) / np.interp(at, posterior.time_s, posterior.speed) for at in (first, last)]
    return (last - first) - (RUN.moment(150.0) - RUN.moment(5.0)), rows[1] - rows[0]


def trap_speed(posterior):
    row = (posterior.row_distance(8.0) - posterior.row_distance(7.6)) / 0.4
    return row @ posterior.mean - (true_distance(8.0) - true_distance(7.6)) / 0.4, row


def early_speed(posterior):
    row = posterior.row_speed(4.0)
    return row @ posterior.mean - np.interp(4.0, RUN.time_s, RUN.speed_mps), row


def late_speed(posterior):
    row = posterior.row_speed(9.0)
    return row @ posterior.mean - np.interp(9.0, RUN.time_s, RUN.speed_mps), row


def distance(posterior):
    row = posterior.row_distance(8.0)
    return row @ posterior.mean - true_distance(8.0), row


def acceleration(posterior):
    (row,) = posterior.rows_acceleration(np.array([6.0]), over_s=0.5)
    gained = np.interp(6.25, RUN.time_s, RUN.speed_mps) - np.interp(5.75, RUN.time_s, RUN.speed_mps)
    return row @ posterior.mean - gained / 0.5, row


FIGURES = (elapsed_time, trap_speed, early_speed, late_speed, distance, acceleration)


@cache
def errors_in_sigmas(accelerometer: bool, late_sigma_s: float, draws: int):
    """Of each figure in each draw: error over standard deviation."""
    found = {figure: [] for figure in FIGURES}
    for seed in range(draws):
        posterior = fused(seed, accelerometer=accelerometer, late_sigma_s=late_sigma_s)
        for figure in FIGURES:
            error, row = figure(posterior)
            found[figure].append(error / posterior.deviation(row[None, :])[0])
    return {figure: np.array(each) for figure, each in found.items()}


def within(errors):
    return int((np.abs(errors) < 1.96).sum())


def test_the_bound_is_the_binomial_one():
    # Hand: of 20 at 95 %, 15 or fewer have a chance of 0.26 %, 16 or fewer of 1.6 %
    assert least_within(20) == 16


@pytest.mark.parametrize("figure", FIGURES)
def test_where_lateness_is_known_each_plus_minus_holds_the_truth_as_often_as_it_says(figure):
    errors = errors_in_sigmas(True, NO_DRAW_S, DRAWS)[figure]
    assert within(errors) >= least_within(DRAWS)


@pytest.mark.parametrize("figure", FIGURES)
def test_and_is_not_wider_than_it_need_be(figure):
    # Errors of a half or less of what is said would be a plus-minus twice too wide
    errors = errors_in_sigmas(True, NO_DRAW_S, DRAWS)[figure]
    assert 0.5 < np.sqrt(np.mean(errors**2)) < 1.5


@pytest.mark.parametrize("figure", FIGURES)
def test_where_lateness_is_drawn_as_it_is_told(figure):
    # What both sensors are late by together shows nowhere, and must be in the plus-minus of when, not of how long
    errors = errors_in_sigmas(True, LATE_SIGMA_S, FEW)[figure]
    assert within(errors) >= least_within(FEW)
    assert np.sqrt(np.mean(errors**2)) > 0.5


@pytest.mark.parametrize("figure", FIGURES)
def test_where_only_a_wheel_is_there(figure):
    errors = errors_in_sigmas(False, NO_DRAW_S, FEW)[figure]
    assert within(errors) >= least_within(FEW)
