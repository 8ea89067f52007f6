"""What several kinds of evidence say of one quantity, brought together.

Public: `Opinion`, `settle`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Opinion:
    """What one kind of evidence says of an offset or a rate."""

    value: float
    """[s] or [ppm]"""
    sigma: float
    """Its standard deviation: half of what an `Estimate` tells."""


def settle(opinions: Sequence[Opinion]) -> Opinion:
    """Weigh opinions by one over their variance.

    Parameters
    ----------
    opinions : sequence of Opinion
        At least one, independent of each other.

    Returns
    -------
    Opinion
        Their weighted mean and its deviation.

    Notes
    -----
    Where they lie further apart than their deviations allow, these are too small: the mean's is raised by
    sqrt(chi^2 / (n - 1)), the scale factor of the Particle Data Group (Review of Particle Physics, introduction; from
    memory).

    Examples
    --------
    >>> apart = settle([Opinion(0.0, 1.0), Opinion(2.0, 1.0)])
    >>> apart.value, round(apart.sigma, 6)
    (1.0, 1.0)
    """
    weight = sum(opinion.sigma**-2 for opinion in opinions)
    value = sum(opinion.value * opinion.sigma**-2 for opinion in opinions) / weight
    misfit = sum(((opinion.value - value) / opinion.sigma) ** 2 for opinion in opinions)
    return Opinion(value, float(weight**-0.5 * max(1.0, float(np.sqrt(misfit / max(len(opinions) - 1, 1))))))
