"""Runs in two groups, and what a figure of each says of their difference.

Public: `TwoGroups`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.statistics.groups import student_half_width, welch_difference


@dataclass(frozen=True, slots=True)
class TwoGroups:
    """Runs before a change, then those after it."""

    runs: tuple[ComparedRun, ...]
    """All of them."""
    before: int
    """How many of them, the first, are before the change."""

    @property
    def sides(self) -> tuple[tuple[ComparedRun, ...], tuple[ComparedRun, ...]]:
        """Runs before, and runs after."""
        return self.runs[: self.before], self.runs[self.before :]

    @property
    def two_sided(self) -> bool:
        """Whether there is a run on both sides."""
        return 0 < self.before < len(self.runs)

    def only(self, use: Sequence[bool]) -> TwoGroups:
        """Those of the runs that are given to be used."""
        kept = [run for run, wanted in zip(self.runs, use, strict=True) if wanted]
        return TwoGroups(tuple(kept), sum(list(use)[: self.before]))

    def apart(self, values: FloatArray) -> float:
        """Mean of the after's less that of the before's."""
        return float(np.mean(values[self.before :]) - np.mean(values[: self.before]))

    def of_two_days(self, effects: FloatArray) -> float:
        """What moves all runs of a side the same way, each side by itself, makes of `apart`."""
        return math.hypot(float(np.mean(effects[: self.before])), float(np.mean(effects[self.before :])))

    def difference(
        self, values: FloatArray, own: FloatArray | None = None, *, tests: float = 1.0, scatter: bool = False
    ) -> Estimate:
        """After less before with Welch's interval; of a lone run by its own plus-minus.

        Parameters
        ----------
        values : array, shape (runs,)
            One figure a run.
        own : array, shape (runs,), optional
            95 % half-widths that are each run's alone.
        tests : float
            Out of how many it was picked.
        scatter : bool
            True where runs differ by more than `own` holds, as a driver's do: a lone run is then taken to scatter as
            the runs of the other side do. Of one run each way nothing shows that.

        Returns
        -------
        Estimate
            All of its plus-minus is the runs' own.
        """
        welch = welch_difference(values[: self.before], values[self.before :], tests=tests)
        if welch is not None:
            return Estimate.parted(welch.difference, welch.half_width, {})
        doubts = own if own is not None else np.zeros(values.size)
        sides = doubts[: self.before], doubts[self.before :]
        half = math.hypot(*(math.sqrt(float(np.sum(side**2))) / side.size for side in sides))
        half = max(half, self._as_others_scatter(values)) if scatter else half
        return Estimate.parted(self.apart(values), half, {})

    def _as_others_scatter(self, values: FloatArray) -> float:
        """95 % of a difference of means where only one side shows how far its runs scatter; 0 where none does."""
        deviation, freedom = self.deviation(values), values.size - 2
        if deviation is None:
            return 0.0
        return student_half_width(deviation, freedom) * math.sqrt(1.0 / self.before + 1.0 / (values.size - self.before))

    def residuals(self, values: FloatArray) -> FloatArray:
        """Figures less their group's mean, along the first axis."""
        sides = values[: self.before], values[self.before :]
        return np.concatenate([side - side.mean(axis=0) for side in sides if side.size])

    def deviation(self, values: FloatArray) -> float | None:
        """Standard deviation within the groups; None where no group has two runs."""
        freedom = values.shape[0] - (self.before > 0) - (self.before < values.shape[0])
        if freedom < 1:
            return None
        return math.sqrt(float(np.sum(self.residuals(values) ** 2)) / freedom)
