"""The normal equations of the speed smoother: banded but for a few parameters, so that a run takes milliseconds.

Public: `Rows`, `Weights`, `Unknowns`, `Solution`, `solve_rows`, `reweigh`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.motion.band import Band, factorize
from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.statistics.fits import MAD_TO_SIGMA, middle

TAIL = 4.0
"""Degrees of freedom of the Student tails that samples and prior are given: an outlier of 5 sigma counts a sixth."""
LEAST_BAND = 1e-9
"""Weight that keeps the band solvable where nothing tells the speed. [1/(m/s)2]"""


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of one kind of evidence: three neighbouring grid speeds, a few parameters, and what their sum should be."""

    key: str
    """What they are of: a sensor's name, or ``prior``, ``rest``, ``bias``."""
    place: IntArray
    """First of the three grid points, never falling, shape (k,)."""
    shares: FloatArray
    """Factor of each of the three, shape (k, 3)."""
    target: FloatArray
    """Shape (k,)."""
    sd: float
    """Standard deviation of each row, in the target's unit."""
    parameters: FloatArray | None = None
    """Factor of each parameter, shape (k, p); None where no parameter is in the rows."""
    sample: IntArray | None = None
    """Which of its sensor's samples each row is of, shape (k,); None where rows are the same in every round."""
    samples: int = 0
    """How many samples that sensor has, those off the grid included."""
    robust: bool = True
    """Whether rows far off are to weigh less."""


Weights = dict[str, FloatArray]
"""Weight of each sample of each kind of evidence, 0..1.25; 1 for a sample that has not been on the grid yet."""


@dataclass(frozen=True, slots=True)
class Unknowns:
    """What is unknown beside the speed, and what is known of it beforehand."""

    names: tuple[str, ...]
    """Shape (p,)."""
    mean: FloatArray
    """Shape (p,)."""
    sd: FloatArray
    """Shape (p,)."""

    def column(self, name: str) -> int | None:
        """Place of a parameter among them; None for one that is not sought."""
        return self.names.index(name) if name in self.names else None


@dataclass(frozen=True, slots=True)
class Solution:
    """Speed and parameters that fit best, and the factors of their inverse covariance."""

    mean: FloatArray
    """Speed on the grid, then the parameters, shape (n + p,)."""
    band: Band
    """The speed's own part."""
    border: FloatArray
    """Between speed and parameters, shape (n, p)."""
    through: FloatArray
    """The border carried through the band, shape (n, p)."""
    schur: FloatArray
    """What is left for the parameters once the speed is out, shape (p, p)."""


def solve_rows(rows: Sequence[Rows], weights: Weights, parameters: Unknowns, *, count: int) -> Solution:
    """Solve the weighted least squares of all rows and the parameters' prior.

    Parameters
    ----------
    rows : sequence of Rows
        Of one round.
    weights : dict of str to array
        Of each kind of evidence by sample; kinds that are not in it count in full.
    parameters : Unknowns
        With their prior.
    count : int
        Points of the grid.

    Returns
    -------
    Solution
        Of the round.

    Notes
    -----
    The speed's part, a band, is eliminated; a Schur complement of the size of the parameters is left.
    """
    band, right, border = np.zeros((3, count)), np.zeros(count), np.zeros((parameters.mean.size, count))
    band[0] += LEAST_BAND
    corner, low = np.diag(parameters.sd**-2), parameters.mean * parameters.sd**-2
    for block in rows:
        weight = _weight_of(block, weights) / block.sd**2
        pulled = weight[:, None] * block.shares
        place = block.place[:, None] + np.arange(3)
        right += _summed(place, pulled * block.target[:, None], count)
        for apart in range(3):
            band[apart] += _summed(place[:, : 3 - apart], pulled[:, : 3 - apart] * block.shares[:, apart:], count)
        if block.parameters is None:
            continue
        known = np.flatnonzero(block.parameters.any(axis=0))
        own = block.parameters[:, known]
        for at, slope in zip(known, own.T, strict=True):
            part = _reach(slope)
            border[at] += _summed(place[part], pulled[part] * slope[part, None], count)
        corner[np.ix_(known, known)] += (own * weight[:, None]).T @ own
        low[known] += own.T @ (weight * block.target)
    return _solved(factorize(band), right, border, corner, low)


def _reach(slope: FloatArray) -> slice:
    """From the first to the last row that a parameter is in: a knot of the bias is in those about it alone."""
    rows = np.flatnonzero(slope)
    return slice(int(rows[0]), int(rows[-1]) + 1)


def _summed(place: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Values added up at each point of the grid."""
    return np.asarray(np.bincount(place.ravel(), values.ravel(), minlength=count), dtype=np.float64)


def _solved(band: Band, right: FloatArray, border: FloatArray, corner: FloatArray, low: FloatArray) -> Solution:
    """The speed taken out, the parameters found, the speed found: `corner` and `low` are the parameters' own part.

    Parameters that no row knows wait for later conditions and are not carried through the band.
    """
    touched = np.flatnonzero(border.any(axis=1))
    inner = band.solve(np.column_stack((right, *border[touched])))
    schur = corner
    schur[np.ix_(touched, touched)] -= border[touched] @ inner[:, 1:]
    low[touched] -= border[touched] @ inner[:, 0]
    theta = np.linalg.solve(schur, low)
    mean = np.concatenate((inner[:, 0] - inner[:, 1:] @ theta[touched], theta))
    through = np.zeros(border.T.shape)
    through[:, touched] = inner[:, 1:]
    return Solution(mean, band, border.T, through, schur)


def _weight_of(block: Rows, weights: Weights) -> FloatArray:
    """Weight of each row: its sample's own, whichever samples the delays of this round have put on the grid."""
    known = weights.get(block.key)
    if known is None:
        return np.ones(block.target.size)
    return known if block.sample is None else known[block.sample]


def reweigh(rows: Sequence[Rows], weights: Weights, solution: Solution, *, count: int) -> tuple[Weights, Weights]:
    """Weights for the next round, by how far each row lies off the fit; and what is left of each kind of evidence.

    Parameters
    ----------
    rows : sequence of Rows
        Of the round that was solved.
    weights : dict of str to array
        It was solved with; a sample that has left the grid keeps its own.
    solution : Solution
        What came of it.
    count : int
        Points of the grid.

    Returns
    -------
    weights : dict of str to array
        By sample, 1.25 on the fit, 1 a standard deviation off it, less the further off.
    residuals : dict of str to array
        Target less fit, by row.
    """
    found, residuals = dict(weights), {}
    for block in rows:
        if not block.robust:
            continue
        residual = block.target - _fitted(block, solution, count)
        own = (TAIL + 1) / (TAIL + (residual / block.sd) ** 2)
        if block.sample is not None:
            whole = weights[block.key].copy() if block.key in weights else np.ones(block.samples)
            whole[block.sample] = own
            own = whole
        found[block.key], residuals[block.key] = own, residual
    return found, residuals


def _fitted(block: Rows, solution: Solution, count: int) -> FloatArray:
    fitted = np.zeros(block.target.size)
    for a in range(3):
        fitted += block.shares[:, a] * solution.mean[block.place + a]
    if block.parameters is not None:
        fitted += block.parameters @ solution.mean[count:]
    return fitted


def spread_about_fit(residual: FloatArray) -> float:
    """Standard deviation of residuals about zero, blind to outliers.

    Examples
    --------
    >>> round(spread_about_fit(np.array([-1.0, 1.0, 1.0, 50.0])), 4)
    1.4826
    """
    return MAD_TO_SIGMA * middle(np.abs(residual))
