"""Equations that bind each unknown to its two neighbours on either side, solved for many right sides at once.

Two unknowns are a pair, bound to the pairs beside it alone. Three of every four pairs are taken out by the fourth ones
about them, all in one stroke; what is left is of the same form, a quarter as long. So a run takes a few strokes over
whole arrays in place of a step for each unknown.

Public: `Band`, `Carried`, `factorize`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray

FEW = 32
"""So few pairs are solved as one dense system. [-] The fastest measured."""
COLUMNS = 24
"""Right sides solved at once: more would leave the processor's near memory. [-] The fastest measured."""


@dataclass(frozen=True, slots=True)
class _Stroke:
    """One stroke: of every four pairs the first three taken out, by stretches of four."""

    reach: FloatArray
    """What a change of the pairs before and after a stretch moves its three by, shape (k, 6, 4)."""
    halfway: FloatArray
    """The inverse of the three's own equations, and below it their shares in the pairs about, shape (k, 10, 6)."""


@dataclass(frozen=True, slots=True)
class Carried:
    """Right sides carried through the strokes, halfway to their solutions."""

    count: int
    """Unknowns."""
    strokes: tuple[_Stroke, ...]
    """In order."""
    taken: tuple[FloatArray, ...]
    """What each stroke took out of the right sides, shape (k, 6, c)."""
    found: tuple[FloatArray, ...]
    """The same through the inverse of its equations."""
    last: FloatArray
    """What is left of the right sides, shape (q, c)."""
    solved: FloatArray
    """That solved."""

    def products(self) -> FloatArray:
        """Each right side times the band's inverse times each, shape (c, c)."""
        total: FloatArray = self.last.T @ self.solved
        for taken, found in zip(self.taken, self.found, strict=True):
            total = total + np.tensordot(taken, found, axes=((0, 1), (0, 1)))
        return total

    def squares(self) -> FloatArray:
        """Each right side times the band's inverse times itself, shape (c,); not below zero."""
        total: FloatArray = (self.last * self.solved).sum(axis=0)
        for taken, found in zip(self.taken, self.found, strict=True):
            total = total + (taken * found).sum(axis=(0, 1))
        return total

    def combined(self, factors: FloatArray) -> FloatArray:
        """The solution for sums of the right sides.

        Parameters
        ----------
        factors : array, shape (c, m)
            Of each right side in each sum.

        Returns
        -------
        array, shape (n, m)
            One solution for each sum.
        """
        return self._back([found @ factors for found in self.found], self.solved @ factors)

    def solutions(self) -> FloatArray:
        """The solution for each right side, shape (n, c)."""
        return self._back(list(self.found), self.solved)

    def _back(self, inner: list[FloatArray], left: FloatArray) -> FloatArray:
        columns = left.shape[-1]
        for stroke, found in zip(reversed(self.strokes), reversed(inner), strict=True):
            stretches = found.shape[0]
            about = np.zeros((stretches, 4, columns))
            after = left[: 2 * stretches].reshape(stretches, 2, columns)
            about[:, 2:], about[1:, :2] = after, after[:-1]
            whole = np.empty((stretches, 8, columns))
            whole[:, :6], whole[:, 6:] = found - stroke.reach @ about, after
            left = whole.reshape(8 * stretches, columns)
        return left[: self.count]


@dataclass(frozen=True, slots=True)
class Band:
    """A symmetric positive definite band of five diagonals, ready to be solved."""

    count: int
    """Unknowns."""
    strokes: tuple[_Stroke, ...]
    """In order."""
    last: FloatArray
    """Inverse of the few pairs that are left, as one dense matrix."""

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
        return np.concatenate([self.carry(part).solutions() for part in _few_at_once(right)], axis=1)

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
        return np.concatenate([self.carry(part).squares() for part in _few_at_once(right)])

    def carry(self, right: FloatArray) -> Carried:
        """Columns carried through the strokes: enough for their products with each other.

        Parameters
        ----------
        right : array, shape (n, k)
            The columns.

        Returns
        -------
        Carried
            Their products, and the solution of any sum of them.
        """
        columns, taken, found, left = right.shape[1], [], [], right
        for stroke in self.strokes:
            stretches = stroke.reach.shape[0]
            whole = np.zeros((stretches, 8, columns))
            whole.reshape(8 * stretches, columns)[: left.shape[0]] = left
            both = stroke.halfway @ whole[:, :6]
            rest = whole[:, 6:] - both[:, 8:]
            rest[:-1] -= both[1:, 6:8]
            taken.append(whole[:, :6])
            found.append(both[:, :6])
            left = rest.reshape(2 * stretches, columns)
        last = np.zeros((self.last.shape[0], columns))
        last[: left.shape[0]] = left
        return Carried(self.count, self.strokes, tuple(taken), tuple(found), last, self.last @ last)


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
    Block elimination. With ``D`` the equations of three pairs, and ``E`` what binds them to the pairs about, these give
    ``x = D^-1 (b - E x_about)``; put into those of the pairs about, these are again pairs bound to their
    neighbours. For a positive definite band it needs no pivots.

    Examples
    --------
    >>> factorize(np.array([[2.0, 4.0], [0.0, 0.0], [0.0, 0.0]])).solve(np.array([[1.0], [1.0]])).ravel().tolist()
    [0.5, 0.25]
    """
    own, beside = _pairs(diagonals)
    strokes = []
    while own.shape[2] > FEW:
        stroke, own, beside = _taken_out(own, beside)
        strokes.append(stroke)
    return Band(diagonals.shape[1], tuple(strokes), np.asarray(np.linalg.inv(_dense(own, beside)), dtype=np.float64))


def _pairs(diagonals: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The band by pairs: each one's own equations, and its share in the next one's, shape (2, 2, k) both.

    The last is filled up with an unknown of its own that nothing binds.
    """
    count = diagonals.shape[1]
    whole = np.zeros((3, count + count % 2))
    whole[0] = 1.0
    for apart in range(3):
        whole[apart, : count - apart] = diagonals[apart, : count - apart]
    (main, first, second), size = whole.reshape(3, -1, 2), whole.shape[1] // 2
    own, beside = np.zeros((2, 2, 2, size))
    own[0, 0], own[1, 1], own[0, 1], own[1, 0] = main[:, 0], main[:, 1], first[:, 0], first[:, 0]
    beside[0, 0], beside[0, 1], beside[1, 1] = second[:, 0], first[:, 1], second[:, 1]
    return own, beside


def _taken_out(own: FloatArray, beside: FloatArray) -> tuple[_Stroke, FloatArray, FloatArray]:
    """One stroke, and the pairs that it leaves."""
    stretches = -(-own.shape[2] // 4)
    pairs, binds = np.zeros((2, 2, 2, 4 * stretches))
    pairs[0, 0] = pairs[1, 1] = 1.0
    pairs[..., : own.shape[2]], binds[..., : own.shape[2]] = own, beside
    pairs, binds = (np.moveaxis(each.reshape(2, 2, stretches, 4), 3, 0) for each in (pairs, binds))
    inner = np.zeros((6, 6, stretches))
    for at in range(3):
        inner[2 * at : 2 * at + 2, 2 * at : 2 * at + 2] = pairs[at]
    for at in range(2):
        inner[2 * at + 2 : 2 * at + 4, 2 * at : 2 * at + 2] = binds[at]
        inner[2 * at : 2 * at + 2, 2 * at + 2 : 2 * at + 4] = binds[at].swapaxes(0, 1)
    inverse, before, after = _inverses(inner), np.zeros((2, 2, stretches)), binds[2].swapaxes(0, 1)
    before[..., 1:] = binds[3, ..., :-1]
    reach = np.concatenate((_times(inverse[:, :2], before), _times(inverse[:, 4:], after)), axis=1)
    across = _times(binds[2], reach[4:])
    left, bound = pairs[3] - across[:, 2:], np.zeros((2, 2, stretches))
    left[..., :-1] -= _times(before.swapaxes(0, 1), reach[:2, :2])[..., 1:]
    bound[..., :-1] = -across[:, :2, 1:]
    halfway = np.concatenate((inverse, reach.swapaxes(0, 1)))
    return _Stroke(*(np.ascontiguousarray(np.moveaxis(each, 2, 0)) for each in (reach, halfway))), left, bound


def _times(left: FloatArray, right: FloatArray) -> FloatArray:
    """Products of many small matrices, shape (a, 2, k) and (2, b, k) to (a, b, k)."""
    return np.asarray(left[:, :1] * right[:1] + left[:, 1:] * right[1:])


def _inverses(matrices: FloatArray) -> FloatArray:
    """Inverses of many small positive definite matrices, shape (m, m, k): each pivot of all of them at once."""
    left = matrices.copy()
    for at in range(left.shape[0]):
        pivot, column = left[at, at].copy(), left[:, at].copy()
        if not pivot.all():
            raise np.linalg.LinAlgError("Singular matrix")
        row = left[at] / pivot
        left -= column[:, None] * row
        left[at], left[:, at] = row, -column / pivot
        left[at, at] = 1.0 / pivot
    return left


def _dense(own: FloatArray, beside: FloatArray) -> FloatArray:
    """The matrix of a few pairs."""
    count = own.shape[2]
    matrix = np.zeros((count, 2, count, 2))
    for at in range(count):
        matrix[at, :, at] = own[..., at]
        if at:
            matrix[at - 1, :, at], matrix[at, :, at - 1] = beside[..., at - 1].T, beside[..., at - 1]
    return matrix.reshape(2 * count, 2 * count)
