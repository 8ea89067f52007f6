"""The likeliest path through hidden states: which state a car was in at each moment, given scattered evidence.

Public: `best_path`.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray


def best_path(log_emission: FloatArray, *, log_step: FloatArray, log_start: FloatArray) -> IntArray:
    """The path of states that explains the evidence best (Viterbi).

    Parameters
    ----------
    log_emission : array, shape (n, k)
        Log likelihood of each sample in each state; NaN is no evidence and counts as 0. [-]
    log_step : array, shape (k, k)
        Log weight of going from state (row) to state (column) between two samples; ``-inf`` forbids it. [-]
    log_start : array, shape (k,)
        Log weight of each state at the first sample. [-]

    Returns
    -------
    array of int, shape (n,)
        State at each sample; empty for an empty record.

    Raises
    ------
    ValueError
        If the shapes do not agree.

    Notes
    -----
    Maximises ``log_start[s0] + sum(log_emission[t, s_t]) + sum(log_step[s_t, s_t+1])`` by dynamic programming.
    The weights need not sum to one: only differences between paths matter. It sees the whole record at once, so it is
    no use for a live display.

    Examples
    --------
    >>> emission = np.log(np.array([[0.9, 0.1], [0.4, 0.6], [0.9, 0.1]]))
    >>> step = np.log(np.array([[0.9, 0.1], [0.1, 0.9]]))
    >>> best_path(emission, log_step=step, log_start=np.log(np.array([0.5, 0.5])))
    array([0, 0, 0])
    """
    samples, states = log_emission.shape
    if log_step.shape != (states, states) or log_start.shape != (states,):
        raise ValueError(f"{states} states need log_step {(states, states)} and log_start {(states,)}")
    if samples == 0:
        return np.empty(0, dtype=np.int64)
    evidence = np.nan_to_num(log_emission, nan=0.0, neginf=-1e12)
    into = np.ascontiguousarray(np.maximum(log_step, -1e12).T)
    best = evidence.copy()
    best[0] += np.maximum(log_start, -1e12)
    ways, reached = np.empty_like(into), np.empty(states)
    for before, here in pairwise(best):
        np.add(into, before, out=ways)
        np.maximum.reduce(ways, axis=1, out=reached)
        here += reached
    state = int(best[-1].argmax())
    path = [state]
    for came_from in (into + best[:-1, None, :]).argmax(axis=2).tolist()[::-1]:
        path.append(state := came_from[state])
    return np.array(path[::-1], dtype=np.int64)
