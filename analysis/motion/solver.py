"""The normal equations of the speed smoother: banded but for a few parameters, so that a run takes milliseconds.

Public: `Rows`, `Weights`, `Unknowns`, `Solution`, `solve_rows`, `reweigh`, `spread_about_fit`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

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
    """Rows of one kind of evidence: some neighbouring grid speeds, a few parameters, and what their sum should be."""

    key: str
    """What they are of: a sensor's name, or ``prior``, ``rest``, ``bias``."""
    place: IntArray | None
    """First of its grid points, shape (k,); None for rows of each grid point in turn from the first on."""
    shares: FloatArray
    """Factor of each of at most three neighbouring grid points, shape (s, k)."""
    target: FloatArray
    """Shape (k,)."""
    sd: FloatArray | float
    """Standard deviation, of all rows or of each, in the target's unit."""
    parameters: FloatArray | None = None
    """Factor of each of the parameters that are in the rows, shape (q, k); None where none is."""
    among: tuple[int, ...] = ()
    """Which of all parameters these are, q places."""
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


@dataclass(frozen=True)
class Solution:
    """Speed and parameters that fit best, and the factors of their inverse covariance."""

    mean: FloatArray
    """Speed on the grid, then the parameters, shape (n + p,)."""
    band: Band
    """The speed's own part."""
    border: FloatArray
    """Between speed and parameters, shape (n, p)."""
    schur: FloatArray
    """What is left for the parameters once the speed is out, shape (p, p)."""

    @cached_property
    def through(self) -> FloatArray:
        """The border carried through the band, shape (n, p)."""
        touched = np.flatnonzero(self.border.any(axis=0))
        through = np.zeros(self.border.shape)
        through[:, touched] = self.band.solve(self.border[:, touched])
        return through


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
    band, sides = np.zeros((3, count)), np.zeros((1 + parameters.mean.size, count))
    band[0] += LEAST_BAND
    corner, low = np.diag(parameters.sd**-2), parameters.mean * parameters.sd**-2
    for block in rows:
        weight, among = _weight_of(block, weights) / block.sd**2, list(block.among)
        pulled, size = weight * block.shares, block.shares.shape[0]
        for apart in range(size):
            band[apart] += _summed(block, pulled[None, : size - apart] * block.shares[apart:], count)[0]
        sides_of = block.target[None] if block.parameters is None else np.vstack((block.target, block.parameters))
        if size and sides_of.any():
            sums = _summed(block, pulled * sides_of[:, None], count)
            for column, its in zip((0, *(1 + place for place in among)), sums, strict=True):
                sides[column] += its
        if block.parameters is not None:
            both = (weight * block.parameters) @ sides_of.T
            corner[np.ix_(among, among)] += both[:, 1:]
            low[among] += both[:, 0]
    seen = sorted({place for block in rows if block.shares.size for place in block.among})
    return _solved(factorize(band), sides, seen, corner, low)


def _summed(block: Rows, values: FloatArray, count: int) -> FloatArray:
    """Values of the rows, shape (m, s, k), added up at the s grid points from each row's first on, shape (m, n)."""
    sums: FloatArray = np.zeros((values.shape[0], count))
    if block.place is None:
        for apart in range(values.shape[1]):
            sums[:, apart : apart + values.shape[2]] += values[:, apart]
        return sums
    point = block.place + np.arange(values.shape[1])[:, None]
    place = point + (count * np.arange(values.shape[0]))[:, None, None]
    found = np.bincount(place.ravel(), values.ravel(), minlength=sums.size)
    return np.asarray(found, dtype=np.float64).reshape(sums.shape)


def _solved(band: Band, sides: FloatArray, seen: list[int], corner: FloatArray, low: FloatArray) -> Solution:
    """The speed taken out, the parameters found, the speed found: `corner` and `low` are the parameters' own part.

    Sides are what stands beside the speed's own part: what it is pulled to, then its border with the parameters.
    Parameters that no row has seen wait for later conditions and are not carried through the band.
    """
    carried = band.carry(sides[[0, *(1 + place for place in seen)]].T)
    products = carried.products()
    corner[np.ix_(seen, seen)] -= products[1:, 1:]
    low[seen] -= products[1:, 0]
    theta = np.linalg.solve(corner, low)
    speed = carried.combined(np.concatenate(([1.0], -theta[seen]))[:, None])[:, 0]
    return Solution(np.concatenate((speed, theta)), band, sides[1:].T, corner)


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
    fitted: FloatArray = np.zeros(block.target.size)
    for apart, share in enumerate(block.shares):
        at = slice(apart, apart + fitted.size) if block.place is None else block.place + apart
        fitted += share * solution.mean[at]
    if block.parameters is not None:
        fitted += solution.mean[count:][list(block.among)] @ block.parameters
    return fitted


def spread_about_fit(residual: FloatArray) -> float:
    """Standard deviation of residuals about zero, blind to outliers.

    Examples
    --------
    >>> round(spread_about_fit(np.array([-1.0, 1.0, 1.0, 50.0])), 4)
    1.4826
    """
    return MAD_TO_SIGMA * middle(np.abs(residual))
