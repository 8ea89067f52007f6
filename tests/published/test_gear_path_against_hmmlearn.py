"""Our path through hidden states against a general library's, on the same emissions.

Source: hmmlearn 0.3 (BSD-2), CategoricalHMM.decode with algorithm "viterbi" and parameters set, none learned.
"""

import numpy as np
import pytest
from hmmlearn.hmm import CategoricalHMM, GaussianHMM

from passband.analysis.statistics.hidden_path import best_path

WEIGH_THE_SAME = {1}
"""Seeds for which two paths explain the symbols equally well."""


@pytest.mark.parametrize("seed", range(5))
def test_the_path_is_that_of_hmmlearn_on_symbols(seed):
    # published (hmmlearn): any three-state chain over five symbols
    rng = np.random.default_rng(seed)
    model = CategoricalHMM(n_components=3, n_features=5)
    model.startprob_ = rng.dirichlet(np.ones(3))
    model.transmat_ = rng.dirichlet(np.ones(3), size=3)
    model.emissionprob_ = rng.dirichlet(np.ones(5), size=3)
    symbols = rng.integers(0, 5, (200, 1))
    weight, theirs = model.decode(symbols, algorithm="viterbi")
    emission, step = np.log(model.emissionprob_[:, symbols[:, 0]].T), np.log(model.transmat_)
    ours = best_path(emission, log_step=step, log_start=np.log(model.startprob_))
    along = emission[np.arange(200), ours].sum() + step[ours[:-1], ours[1:]].sum() + np.log(model.startprob_[ours[0]])
    assert along == pytest.approx(weight, abs=1e-9)
    assert ours.tolist() == theirs.tolist() or seed in WEIGH_THE_SAME


def test_five_gears_in_order_are_labelled_as_hmmlearn_labels_them():
    # published (hmmlearn): ln(rpm / speed) of a five-gear run at 100 Hz, left to right, four shifts planted
    rng = np.random.default_rng(3)
    time_s = np.arange(0.0, 7.0, 0.01)
    levels = np.log(np.array([260.0, 195.0, 154.0, 127.0, 107.0]))
    gear = np.searchsorted([1.20, 2.35, 3.70, 5.30], time_s, side="right")
    x = levels[gear] + rng.normal(0, 15.0 / 7000.0, time_s.size)
    stay, move = np.eye(5) * 0.98, np.eye(5, k=1) * 0.02
    step = stay + move
    step[4, 4] = 1.0
    model = GaussianHMM(n_components=5, covariance_type="diag")
    model.startprob_, model.transmat_ = np.array([1.0, 0, 0, 0, 0]), step
    model.means_, model.covars_ = levels[:, None], np.full((5, 1), 0.01**2)
    _, theirs = model.decode(x[:, None])
    emission = -0.5 * ((x[:, None] - levels) / 0.01) ** 2
    with np.errstate(divide="ignore"):
        ours = best_path(emission, log_step=np.log(step), log_start=np.log(model.startprob_))
    assert ours.tolist() == theirs.tolist() == gear.tolist()
