"""The likeliest path: against every path tried one by one, and at its limits."""

from itertools import pairwise, product

import numpy as np
import pytest

from passband.analysis.statistics.hidden_path import best_path


def test_the_path_is_the_best_of_all_tried_one_by_one():
    # slow twin: all 3^6 paths summed by hand
    rng = np.random.default_rng(2)
    emission, step, start = rng.normal(size=(6, 3)), rng.normal(size=(3, 3)), rng.normal(size=3)

    def weight(path):
        along = sum(emission[t, s] for t, s in enumerate(path))
        return start[path[0]] + along + sum(step[a, b] for a, b in pairwise(path))

    best = max(product(range(3), repeat=6), key=weight)
    assert best_path(emission, log_step=step, log_start=start).tolist() == list(best)


def test_a_forbidden_step_is_not_taken():
    emission = np.log(np.array([[0.9, 0.1], [0.01, 0.99]]))
    step = np.array([[0.0, -np.inf], [0.0, 0.0]])
    assert best_path(emission, log_step=step, log_start=np.array([0.0, -np.inf])).tolist() == [0, 0]


def test_nan_is_no_evidence():
    emission = np.array([[0.0, -5.0], [np.nan, np.nan], [0.0, -5.0]])
    assert best_path(emission, log_step=np.zeros((2, 2)), log_start=np.zeros(2))[[0, 2]].tolist() == [0, 0]


def test_an_empty_record_has_an_empty_path():
    assert best_path(np.empty((0, 2)), log_step=np.zeros((2, 2)), log_start=np.zeros(2)).size == 0


def test_shapes_that_do_not_agree_are_refused():
    with pytest.raises(ValueError, match="2 states need log_step"):
        best_path(np.zeros((3, 2)), log_step=np.zeros((3, 3)), log_start=np.zeros(2))
