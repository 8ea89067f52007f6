"""The smoother's normal equations: weights that follow their samples."""

import numpy as np
import pytest

from passband.analysis.motion.solver import Rows, Unknowns, reweigh, solve_rows

COUNT = 12
LEVEL = Unknowns(("level",), np.array([0.0]), np.array([1.0]))


def rows_of(sample, values):
    """Samples that each read one grid point, of a sensor with six samples."""
    sample = np.asarray(sample)
    return Rows("wheel", sample, np.ones((1, sample.size)), np.asarray(values), 1.0, sample=sample, samples=6)


def smooth():
    steady = np.tile([[1.0], [-2.0], [1.0]], COUNT - 2)
    return Rows("prior", None, steady, np.zeros(COUNT - 2), 0.05, robust=False)


def test_a_sample_keeps_its_weight_when_another_leaves_the_grid():
    # Planted: sample 3 is far off and known to be; in this round a delay has put sample 0 over the edge
    weights = {"wheel": np.array([0.7, 1.0, 1.0, 1e-3, 1.0, 1.0])}
    fewer = [rows_of(range(1, 6), [0.0, 0.0, 40.0, 0.0, 0.0]), smooth()]
    found = solve_rows(fewer, weights, LEVEL, count=COUNT)
    assert abs(found.mean[3]) < 0.5 < 5.0 < abs(solve_rows(fewer, {}, LEVEL, count=COUNT).mean[3])
    kept, residuals = reweigh(fewer, weights, found, count=COUNT)
    assert kept["wheel"][0] == 0.7 and residuals["wheel"].size == 5
    assert kept["wheel"][3] < 0.01 and kept["wheel"][5] > 1.0


def test_the_banded_solution_is_the_dense_one():
    # Slow twin: the same rows as one dense least-squares problem with the parameter's prior
    rng = np.random.default_rng(5)
    place = np.sort(rng.integers(0, COUNT - 3, 30))
    block = Rows("wheel", place, rng.random((3, 30)), rng.random(30), 0.3, rng.random((1, 30)), (0,), np.arange(30), 30)
    found = solve_rows([block, smooth()], {}, LEVEL, count=COUNT)
    dense = np.zeros((30 + COUNT - 2 + 1, COUNT + 1))
    for row, first in enumerate(place):
        dense[row, first : first + 3] = block.shares[:, row] / 0.3
        dense[row, COUNT] = block.parameters[0, row] / 0.3
    for row in range(COUNT - 2):
        dense[30 + row, row : row + 3] = np.array([1.0, -2.0, 1.0]) / 0.05
    dense[-1, COUNT] = 1.0
    target = np.concatenate((block.target / 0.3, np.zeros(COUNT - 1)))
    assert found.mean == pytest.approx(np.linalg.lstsq(dense, target, rcond=None)[0], abs=1e-6)
