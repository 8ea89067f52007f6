"""The band solver against dense algebra."""

import numpy as np
import pytest

from passband.analysis.motion.band import factorize


def planted(count, seed=0):
    """A positive definite band of five diagonals, dense and by its diagonals; past their ends there is nothing."""
    rng = np.random.default_rng(seed)
    matrix = 0.1 * np.eye(count)
    for first in range(count):
        row = np.zeros(count)
        row[first : first + 3] = rng.normal(0, 1, min(3, count - first))
        matrix += np.outer(row, row)
    diagonals = np.full((3, count), np.nan)
    for below in range(min(3, count)):
        diagonals[below, : count - below] = np.diag(matrix, -below)
    return matrix, diagonals


@pytest.mark.parametrize("count", [*range(2, 12), 63, 64, 65, 72, 73, 135, 136, 137, 300])
@pytest.mark.parametrize("columns", [1, 12, 30])
def test_it_solves_as_dense_algebra_does(count, columns):
    # Slow twin: numpy's dense solution, for every remainder of stretches and halvings
    matrix, diagonals = planted(count)
    right = np.random.default_rng(1).normal(0, 1, (count, columns))
    band, solved = factorize(diagonals), np.linalg.solve(matrix, right)
    np.testing.assert_allclose(band.solve(right), solved, rtol=1e-8, atol=1e-8)
    np.testing.assert_allclose(band.squares(right), (right * solved).sum(axis=0), rtol=1e-8)


def test_a_band_of_many_unknowns_and_wide_weights_keeps_its_digits():
    # Planted: a smooth curve under a stiff prior, as a run's speed is; what it was multiplied from comes back
    count, stiff = 3000, 5e5
    diagonals = np.zeros((3, count))
    for first in range(count - 2):
        for a, share in enumerate((1.0, -2.0, 1.0)):
            for b, other in list(enumerate((1.0, -2.0, 1.0)))[a:]:
                diagonals[b - a, first + a] += stiff * share * other
    diagonals[0, ::5] += 400.0
    curve = np.sin(np.arange(count) / 200.0)
    right = diagonals[0] * curve
    for apart in (1, 2):
        right[apart:] += diagonals[apart, :-apart] * curve[:-apart]
        right[:-apart] += diagonals[apart, :-apart] * curve[apart:]
    np.testing.assert_allclose(factorize(diagonals).solve(right[:, None])[:, 0], curve, atol=1e-8)


def test_no_column_gives_none():
    assert factorize(planted(20)[1]).solve(np.empty((20, 0))).shape == (20, 0)


def test_an_unknown_in_no_equation_is_an_error():
    with pytest.raises(np.linalg.LinAlgError, match="Singular"):
        factorize(np.zeros((3, 5)))
