"""Two groups of figures, and shares of few runs: intervals that say how little a handful of runs can prove.

Public: `welch_difference`, `student_half_width`, `WelchInterval`, `share_at_least`, `tolerance_factor`,
`runs_to_tell`, `independent_count`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray

SURE = 0.95
"""How sure an interval is. [-]"""
MOST_RUNS = 1000
"""Where more would be needed to tell a difference, it cannot be told. [-]"""


@dataclass(frozen=True, slots=True)
class WelchInterval:
    """Difference of two means whose spreads need not be alike."""

    difference: float
    """Mean of the second less mean of the first."""
    half_width: float
    """95 % half-width."""
    standard_error: float
    """Of the difference."""
    freedom: float
    """Degrees of freedom, by Welch and Satterthwaite. [-]"""


def welch_difference(first: FloatArray, second: FloatArray, *, tests: float = 1.0) -> WelchInterval | None:
    """Difference of two groups' means with Welch's interval.

    Parameters
    ----------
    first, second : array
        One figure a run; NaN is refused by what calls.
    tests : float
        Where the difference was picked out of several, how many: each is then held to Sidak's share of 5 %. [-]

    Returns
    -------
    WelchInterval or None
        None where a group has fewer than two runs: their spread is then unknown.

    Notes
    -----
    Variances s^2 / n add; freedom is their squared sum over the sum of each squared over n - 1 (Welch 1947,
    Satterthwaite 1946). Two groups without any spread give a half-width of zero.

    Examples
    --------
    >>> got = welch_difference(np.array([1.0, 2.0, 3.0]), np.array([2.0, 3.0, 4.0]))
    >>> round(got.difference, 3), round(got.half_width, 3), round(got.freedom, 3)
    (1.0, 2.267, 4.0)
    """
    from scipy.stats import t as student

    if first.size < 2 or second.size < 2:
        return None
    parts = [float(np.var(one, ddof=1)) / one.size for one in (first, second)]
    apart, error = float(np.mean(second) - np.mean(first)), math.sqrt(sum(parts))
    if error == 0.0:
        return WelchInterval(apart, 0.0, 0.0, float(first.size + second.size - 2))
    weights = zip(parts, (first, second), strict=True)
    freedom = sum(parts) ** 2 / sum(part**2 / (one.size - 1) for part, one in weights)
    sure = SURE ** (1.0 / max(tests, 1.0))
    return WelchInterval(apart, float(student.ppf(0.5 + sure / 2.0, freedom)) * error, error, freedom)


def student_half_width(deviation: float, freedom: int) -> float:
    """Half-width of 95 % for one figure, of a deviation that so many degrees of freedom show.

    Parameters
    ----------
    deviation : float
        Standard deviation.
    freedom : int
        At least 1.

    Returns
    -------
    float
        Student's t times the deviation.

    Raises
    ------
    ValueError
        If nothing shows the deviation.

    Examples
    --------
    >>> round(student_half_width(1.0, 2), 3)
    4.303
    """
    from scipy.stats import t as student

    if freedom < 1:
        raise ValueError(f"a deviation needs at least 1 degree of freedom, got {freedom}")
    return float(student.ppf(0.5 + SURE / 2.0, freedom)) * deviation


def share_at_least(good: int, of: int) -> float:
    """Lower bound of a share, 95 % sure, from how many were good.

    Parameters
    ----------
    good, of : int
        Counts, 0 <= good <= of, of > 0.

    Returns
    -------
    float
        One-sided bound by Clopper and Pearson: thirty good of thirty prove nine tenths, no more. [-]

    Raises
    ------
    ValueError
        If the counts are none.

    Examples
    --------
    >>> round(share_at_least(30, 30), 3), round(share_at_least(6, 6), 3), share_at_least(0, 6)
    (0.905, 0.607, 0.0)
    """
    from scipy.stats import beta

    if not 0 <= good <= of or of == 0:
        raise ValueError(f"counts must be 0 <= good <= of with of > 0, got {good=}, {of=}")
    return float(beta.ppf(1.0 - SURE, good, of - good + 1)) if good else 0.0


def tolerance_factor(runs: int, *, share: float = SURE) -> float:
    """How many standard deviations below the mean a share of all runs lies above, 95 % sure.

    Parameters
    ----------
    runs : int
        How many the mean and the deviation are of, at least 2.
    share : float
        Share of all runs that should lie above. [-]

    Returns
    -------
    float
        One-sided tolerance factor of a normal distribution, by the non-central t. [-]

    Raises
    ------
    ValueError
        If there are fewer than two runs.

    Examples
    --------
    >>> round(tolerance_factor(10), 3)
    2.911
    """
    from scipy.stats import nct, norm

    if runs < 2:
        raise ValueError(f"a tolerance bound needs at least 2 runs, got {runs}")
    root = math.sqrt(runs)
    return float(nct.ppf(SURE, runs - 1, float(norm.ppf(share)) * root)) / root


def runs_to_tell(deviation: float, difference: float) -> int | None:
    """How many runs each way make the interval no wider than a difference.

    Parameters
    ----------
    deviation : float
        From run to run within a group.
    difference : float
        What should be told, > 0, in the same unit.

    Returns
    -------
    int or None
        At least 2; None where more than a thousand would be needed.

    Examples
    --------
    >>> runs_to_tell(0.005, 0.01), runs_to_tell(0.02, 0.01)
    (4, 32)
    """
    from scipy.stats import t as student

    for runs in range(2, MOST_RUNS + 1):
        if float(student.ppf(0.5 + SURE / 2.0, 2 * runs - 2)) * deviation * math.sqrt(2.0 / runs) <= difference:
            return runs
    return None


def independent_count(residuals: FloatArray) -> float:
    """How many independent tests several that go together amount to.

    Parameters
    ----------
    residuals : array, shape (runs, tests)
        Each test's figure run by run, less its group's mean.

    Returns
    -------
    float
        From 1, where all rise and fall together, to their number, where none knows of another (Galwey 2009: the squared
        sum of the roots of the correlations' eigenvalues over their sum). [-]

    Examples
    --------
    >>> round(independent_count(np.array([[1.0, 2.0], [-1.0, -2.0], [0.0, 0.0]])), 6)
    1.0
    """
    size = np.sqrt(np.sum(residuals**2, axis=0))
    alive = residuals[:, size > 0] / size[size > 0]
    if alive.shape[1] < 2:
        return 1.0
    eigenvalues = np.clip(np.linalg.eigvalsh(alive.T @ alive), 0.0, None)
    return float(np.sum(np.sqrt(eigenvalues)) ** 2 / np.sum(eigenvalues))
