"""Time stamps on their way to rising evenly, with all that was said of them on it.

Public: `Stamps`, `count_of_rows`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.results.findings import Finding


@dataclass(frozen=True, slots=True)
class Stamps:
    """Time stamps of rows that follow each other."""

    time_s: FloatArray
    """One per row; NaN where it cannot be read or the row is set aside. [s]"""
    step_s: float
    """Usual interval of the rows. [s]"""
    first_row: int = 0
    """Row of the table that the first belongs to, from 0."""
    findings: tuple[Finding, ...] = ()
    """What was mended or set aside so far."""

    @property
    def rows(self) -> IntArray:
        """Rows whose stamps are known, from 0 for the first of these."""
        return np.flatnonzero(np.isfinite(self.time_s))

    def moved(self, time_s: FloatArray) -> Stamps:
        """The same rows at other times."""
        return replace(self, time_s=time_s)

    def with_findings(self, *findings: Finding) -> Stamps:
        """The same stamps with findings after their own."""
        return replace(self, findings=(*self.findings, *findings))

    def piece(self, start: int, stop: int) -> Stamps:
        """The stamps of some rows ``[start, stop)``, with no finding yet."""
        return Stamps(self.time_s[start:stop], self.step_s, self.first_row + start)

    def place(self, row: int) -> str:
        """Where a row stands, in words: its number in the table, and the time since the first stamp."""
        known = self.time_s[self.rows]
        before = known[: np.searchsorted(self.rows, row, side="right")]
        number = f"row {self.first_row + row + 1}"
        return f"{number}, {float(before[-1] - known[0]):.3f} s" if before.size else number


def count_of_rows(number: int) -> str:
    """A number of rows in words.

    Examples
    --------
    >>> count_of_rows(1), count_of_rows(2)
    ('1 row', '2 rows')
    """
    return f"{number} row{'s' if number != 1 else ''}"
