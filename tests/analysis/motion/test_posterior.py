"""What a fit leaves, against dense algebra: covariance, conditions, and the rows that read speed and distance."""

import numpy as np
import pytest

from passband.analysis.motion.band import factorize
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.solver import Solution

STEP_S, POINTS = 0.01, 40
NAMES = ("delay", "scale", "mode")


def planted(seed=0, names=NAMES):
    """A posterior and the dense precision it was made of: a band of three, a border, a corner."""
    rng = np.random.default_rng(seed)
    lower = np.diag(rng.uniform(1.0, 3.0, POINTS))
    for below in (1, 2):
        lower += np.diag(rng.normal(0, 0.7, POINTS - below), -below)
    band, border = lower @ lower.T, rng.normal(0, 0.3, (POINTS, len(names)))
    corner = border.T @ np.linalg.solve(band, border) + np.diag(rng.uniform(1.0, 2.0, len(names)))
    precision = np.block([[band, border], [border.T, corner]])
    diagonals = np.zeros((3, POINTS))
    for below in range(3):
        diagonals[below, : POINTS - below] = np.diag(band, -below)
    mean = np.concatenate((np.cumsum(rng.uniform(0, 0.2, POINTS)), rng.normal(0, 0.1, len(names))))
    time = 2.0 + STEP_S * np.arange(POINTS)
    fit = Solution(mean, factorize(diagonals), border, corner - border.T @ np.linalg.solve(band, border))
    return Posterior(time, mean, names, {}, {}, fit), precision


def dense_condition(mean, covariance, rows, surplus, sd):
    """Slow twin: the same measurements as further rows of the normal equations."""
    precision = np.linalg.inv(covariance) + rows.T @ np.diag(sd**-2.0) @ rows
    after = np.linalg.inv(precision)
    return mean + after @ (rows.T @ (surplus / sd**2)), after


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("names", [NAMES, ()])
def test_the_covariance_is_the_dense_inverse(seed, names):
    # Slow twin: numpy's inverse of the whole precision; with no parameter at all, too
    posterior, precision = planted(seed, names)
    got = posterior.spread(np.eye(precision.shape[0]))
    np.testing.assert_allclose(got, np.linalg.inv(precision), atol=1e-10)
    np.testing.assert_allclose(
        posterior.deviation(np.eye(precision.shape[0])), np.sqrt(np.diag(np.linalg.inv(precision))), rtol=1e-9
    )


def test_conditions_taken_one_after_another_are_taken_all_at_once():
    # Slow twin: all of them in one dense update
    posterior, precision = planted()
    rng = np.random.default_rng(7)
    rows, sd = rng.normal(0, 1, (3, precision.shape[0])), np.array([0.1, 1e-3, 2.0])
    surplus = rng.normal(0, 0.5, 3)
    before, covariance = posterior.mean.copy(), np.linalg.inv(precision)
    for each in range(3):
        moved = rows[[each]] @ (posterior.mean - before)
        posterior.condition(rows[[each]], surplus[[each]] - moved, sd[[each]])
    mean, after = dense_condition(before, covariance, rows, surplus, sd)
    np.testing.assert_allclose(posterior.mean, mean, atol=1e-7)
    np.testing.assert_allclose(posterior.spread(np.eye(mean.size)), after, atol=1e-7)


def test_after_a_condition_the_plus_minus_holds_the_truth_as_often_as_it_says():
    # Planted: 400 truths drawn from the posterior itself, each measured once with noise. Of 400 at 95 % fewer than
    # 368 or more than 390 within are met with once in a hundred trials (binomial).
    base, precision = planted()
    rng = np.random.default_rng(11)
    root = np.linalg.cholesky(np.linalg.inv(precision))
    row, read = base.row_distance(2.3)[None, :], base.row_speed(2.21)[None, :]
    inside = 0
    for _ in range(400):
        truth = base.mean + root @ rng.standard_normal(base.mean.size)
        posterior = base.copy()
        posterior.condition(row, row @ (truth - base.mean) + rng.normal(0, 0.02, 1), np.array([0.02]))
        off = (read @ (truth - posterior.mean))[0]
        inside += abs(off) < 1.96 * posterior.deviation(read)[0]
    assert 368 <= inside <= 390


def test_a_measurement_of_no_worth_changes_nothing():
    posterior, _ = planted()
    before, row = posterior.mean.copy(), posterior.row_speed(2.1)[None, :]
    spread = posterior.deviation(row)[0]
    posterior.condition(row, np.array([5.0]), np.array([1e9]))
    np.testing.assert_allclose(posterior.mean, before, atol=1e-9)
    assert posterior.deviation(row)[0] == pytest.approx(spread, rel=1e-9)


def test_a_copy_is_conditioned_alone():
    posterior, _ = planted()
    row, before = posterior.row_speed(2.1)[None, :], posterior.mean.copy()
    spread = posterior.deviation(row)[0]
    other = posterior.copy()
    other.condition(row, np.array([1.0]), np.array([1e-3]))
    other.modes["mode"] = np.ones(POINTS)
    np.testing.assert_array_equal(posterior.mean, before)
    assert posterior.deviation(row)[0] == spread and posterior.modes == {}


@pytest.mark.parametrize("at_s", [2.0, 2.0001, 2.005, 2.19, 2.3333, 2.0 + STEP_S * (POINTS - 1)])
@pytest.mark.parametrize("mode", [False, True])
def test_rows_read_what_the_traces_show(at_s, mode):
    # Slow twin: interpolated speed, and its trapezoids on a hundredfold grid; an unseen error's mode is in both
    posterior, _ = planted()
    if mode:
        posterior.modes["mode"] = np.linspace(0.0, 1.0, POINTS)
    fine = np.union1d(np.linspace(2.0, at_s, 3001), posterior.time_s[posterior.time_s <= at_s])
    slow = np.trapezoid(np.interp(fine, posterior.time_s, posterior.speed), fine)
    assert posterior.row_speed(at_s) @ posterior.mean == pytest.approx(
        np.interp(at_s, posterior.time_s, posterior.speed), abs=1e-12
    )
    assert posterior.row_distance(at_s) @ posterior.mean == pytest.approx(slow, abs=1e-9)


def test_distance_on_the_grid_is_what_its_rows_read():
    posterior, _ = planted()
    posterior.modes["mode"] = np.linspace(0.0, 1.0, POINTS)
    read = [posterior.row_distance(at) @ posterior.mean for at in posterior.time_s]
    np.testing.assert_allclose(posterior.distance, read, atol=1e-12)


@pytest.mark.parametrize("at_s, place", [(1.0, 0), (9.0, POINTS - 1)])
def test_beyond_the_grid_the_last_speed_known_is_read(at_s, place):
    posterior, _ = planted()
    assert posterior.row_speed(at_s) @ posterior.mean == pytest.approx(posterior.speed[place])


def test_acceleration_is_read_over_a_stretch():
    # Hand: speed 3 m/s2 times time
    posterior, _ = planted()
    posterior.mean[:POINTS] = 3.0 * posterior.time_s
    rows = posterior.rows_acceleration(np.array([2.15, 2.25]), over_s=0.1)
    assert rows @ posterior.mean == pytest.approx([3.0, 3.0])


def test_a_parameter_is_read_by_its_name():
    posterior, _ = planted()
    assert posterior.parameter("scale") == posterior.mean[POINTS + 1]
    assert posterior.row_parameter("scale") @ posterior.mean == posterior.mean[POINTS + 1]


def test_a_parameter_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="not in tuple"):
        planted()[0].parameter("growth")
