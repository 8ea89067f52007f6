"""Equations that bind each unknown to its two neighbours on either side, solved for many right sides at once.

Every second stretch of the unknowns is taken out by its neighbours, all of them in one stroke, until few are left: half
as many equations each time, so that a run takes a dozen strokes over whole arrays in place of a step for each unknown.

Public: `Band`, `factorize`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray

STRETCH = 8
"""Unknowns in one stretch: at least two, so that stretches touch their neighbours only. [-] The fastest measured."""
FEW = 8
"""So few stretches are solved as one dense system. [-]"""
COLUMNS = 24
"""Right sides taken at once: more would leave the processor's near memory. [-] The fastest measured."""


@dataclass(frozen=True, slots=True)
class _Halving:
    """One halving of the stretches: every second one, the odd, taken out."""

    inverse: FloatArray
    """Of the odd ones' own equations, shape (odd, m, m)."""
    before: FloatArray
    """Share of each odd stretch in the even one before it, shape (odd, m, m)."""
    after: FloatArray
    """Share of each odd stretch in the even one after it, shape (odd or one fewer, m, m)."""


@dataclass(frozen=True, slots=True)
class Band:
    """A symmetric positive definite band of five diagonals, ready to be solved."""

    count: int
    """Unknowns."""
    halvings: tuple[_Halving, ...]
    """In order."""
    last: FloatArray
    """Inverse of the few stretches that are left, as one dense matrix."""

    def solve(self, right: FloatArray) -> FloatArray:
        """Its inverse times columns.

        Parameters
        ----------
        right : array, shape (n, k)
            The columns.

        Returns
        -------
        array, shape (n, k)
            One solution for each.
        """
        return np.concatenate([self._solve(part) for part in _few_at_once(right)], axis=1)

    def squares(self, right: FloatArray) -> FloatArray:
        """Each column times the band's inverse times that column, which costs half of solving for it.

        Parameters
        ----------
        right : array, shape (n, k)
            The columns.

        Returns
        -------
        array, shape (k,)
            Not below zero.
        """
        return np.concatenate([self._squares(part) for part in _few_at_once(right)])

    def _squares(self, right: FloatArray) -> FloatArray:
        taken, left = self._taken_out(right)
        last = left.reshape(self.last.shape[0], right.shape[1])
        total: FloatArray = (last * (self.last @ last)).sum(axis=0)
        for halving, odd in zip(self.halvings, taken, strict=True):
            total = total + (odd * (halving.inverse @ odd)).sum(axis=(0, 1))
        return total

    def _taken_out(self, right: FloatArray) -> tuple[list[FloatArray], FloatArray]:
        """The columns of the stretches that each halving takes out, and of those that are left."""
        missing = -right.shape[0] % STRETCH
        count = (right.shape[0] + missing) // STRETCH
        left: FloatArray = np.pad(right, ((0, missing), (0, 0))).reshape(count, STRETCH, right.shape[1])
        taken = []
        for halving in self.halvings:
            odd, left = left[1::2], left[0::2].copy()
            left[: odd.shape[0]] -= halving.before @ odd
            left[1:] -= halving.after @ odd[: left.shape[0] - 1]
            taken.append(odd)
        return taken, left

    def _solve(self, right: FloatArray) -> FloatArray:
        taken, left = self._taken_out(right)
        found: FloatArray = (self.last @ left.reshape(self.last.shape[0], right.shape[1])).reshape(left.shape)
        for halving, odd in zip(reversed(self.halvings), reversed(taken), strict=True):
            own = halving.inverse @ odd - halving.before.transpose(0, 2, 1) @ found[: odd.shape[0]]
            own[: found.shape[0] - 1] -= halving.after.transpose(0, 2, 1) @ found[1:]
            both = np.empty((odd.shape[0] + found.shape[0], *odd.shape[1:]))
            both[0::2], both[1::2] = found, own
            found = both
        return found.reshape(found.shape[0] * STRETCH, right.shape[1])[: right.shape[0]]


def _few_at_once(right: FloatArray) -> list[FloatArray]:
    return np.split(right, range(COLUMNS, right.shape[1], COLUMNS), axis=1)


def factorize(diagonals: FloatArray) -> Band:
    """Make a band ready to be solved.

    Parameters
    ----------
    diagonals : array, shape (3, n)
        The main diagonal, and the first and second below it, each from its first column on, n at least 2; what stands
        past their ends is not looked at.

    Returns
    -------
    Band
        For `Band.solve`.

    Raises
    ------
    numpy.linalg.LinAlgError
        If an unknown is in no equation.

    Notes
    -----
    Block cyclic reduction. With stretches ``D`` on the diagonal and ``E`` beside it, the odd ones' equations give
    ``x_odd = D_odd^-1 (b_odd - E_before^T x_before - E_after x_after)``; put into the even ones' these are again of
    the same form, half as many. For a positive definite band it needs no pivots.

    Examples
    --------
    >>> factorize(np.array([[2.0, 4.0], [0.0, 0.0], [0.0, 0.0]])).solve(np.array([[1.0], [1.0]])).ravel().tolist()
    [0.5, 0.25]
    """
    own, beside = _stretches(diagonals)
    halvings = []
    while own.shape[0] > FEW:
        inverse: FloatArray = np.asarray(np.linalg.inv(own[1::2]), dtype=np.float64)
        before, after = beside[0::2], beside[1::2]
        halving = _Halving(inverse, before @ inverse, after.transpose(0, 2, 1) @ inverse[: after.shape[0]])
        halvings.append(halving)
        own = own[0::2].copy()
        own[: before.shape[0]] -= halving.before @ before.transpose(0, 2, 1)
        own[1:] -= halving.after @ after
        beside = -halving.before[: after.shape[0]] @ after
    return Band(diagonals.shape[1], tuple(halvings), np.asarray(np.linalg.inv(_dense(own, beside)), dtype=np.float64))


def _stretches(diagonals: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The band by stretches: each one's own equations, shape (k, m, m), and its share in the next, (k - 1, m, m).

    The last is filled up with unknowns of their own that nothing binds.
    """
    count = diagonals.shape[1]
    whole = np.zeros((3, count + -count % STRETCH))
    whole[0] = 1.0
    for apart in range(3):
        whole[apart, : count - apart] = diagonals[apart, : count - apart]
    parts = whole.reshape(3, -1, STRETCH)
    own, beside = np.zeros((2, parts.shape[1], STRETCH, STRETCH))
    at = np.arange(STRETCH)
    for apart in range(3):
        own[:, at[apart:], at[: STRETCH - apart]] = parts[apart, :, : STRETCH - apart]
        own[:, at[: STRETCH - apart], at[apart:]] = parts[apart, :, : STRETCH - apart]
        for over in range(apart):
            beside[:, STRETCH - apart + over, over] = parts[apart, :, STRETCH - apart + over]
    return own, beside[:-1]


def _dense(own: FloatArray, beside: FloatArray) -> FloatArray:
    """The matrix of a few stretches."""
    count, size, _ = own.shape
    matrix = np.zeros((count, size, count, size))
    for at in range(count):
        matrix[at, :, at] = own[at]
        if at:
            matrix[at - 1, :, at], matrix[at, :, at - 1] = beside[at - 1], beside[at - 1].T
    return matrix.reshape(count * size, count * size)
