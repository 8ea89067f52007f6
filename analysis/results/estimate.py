"""A figure and how sure it is.

Public: `Estimate`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and how sure it is."""

    value: float
    """The figure, SI."""
    plus_minus: float
    """95 % half-width from sampling, sensor and method, in the figure's unit; never negative."""

    def __post_init__(self) -> None:
        """Refuse what is no figure: an unknown one is None, never an Estimate of NaN."""
        if not (math.isfinite(self.value) and math.isfinite(self.plus_minus) and self.plus_minus >= 0):
            raise ValueError(f"an estimate needs finite numbers and plus_minus >= 0, got {self!r}")
