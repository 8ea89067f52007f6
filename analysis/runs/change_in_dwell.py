"""How long the engine stood at which speeds, before a change and after it.

Public: `DwellChange`, `compare_dwell`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.unknown import known
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.two_groups import TwoGroups


@dataclass(frozen=True, slots=True)
class DwellChange:
    """One class of engine speed."""

    low_rpm: float
    """[rpm]"""
    high_rpm: float
    """[rpm]"""
    before_s: float
    """Mean time a run stood in it before the change. [s]"""
    after_s: float
    """The same after it. [s]"""
    difference: Estimate
    """After less before. [s]"""
    runs: int
    """How many, both sides together."""


def compare_dwell(groups: TwoGroups) -> tuple[DwellChange, ...]:
    """Compare the time in each class of engine speed, from clock start to the finish.

    Parameters
    ----------
    groups : TwoGroups
        Clean runs; those to another finish than the usual one, and those whose engine speed is not known, are left out.

    Returns
    -------
    tuple of DwellChange
        Classes that any of the runs stood in, rising; empty where a side has no such run.
    """
    finishes = [run.review.window.outcome.finish_ft for run in groups.runs]
    usual = max(set(finishes), key=finishes.count, default=None)
    dwells = [_dwell(run) if finish == usual else {} for run, finish in zip(groups.runs, finishes, strict=True)]
    some = groups.only([bool(one) for one in dwells])
    if not some.two_sided:
        return ()
    sure = [one for one in dwells if one]
    found = []
    for low, high in sorted({span for one in sure for span in one}):
        values = np.array([one.get((low, high), 0.0) for one in sure])
        before, after = (float(np.mean(side)) for side in (values[: some.before], values[some.before :]))
        found.append(DwellChange(low, high, before, after, some.difference(values, np.zeros(values.size)), values.size))
    return tuple(found)


def _dwell(run: ComparedRun) -> dict[tuple[float, float], float]:
    band = known(run.review.band)
    return {(one.from_rpm, one.to_rpm): one.time_s for one in band.dwell if one.time_s > 0} if band is not None else {}
