"""How often a signal really updates, and how finely it is printed.

A 10 Hz position receiver held on a 50 Hz grid says something new on every fifth row only; a coolant temperature in steps of
0.1 K repeats itself because it hardly moves. The two are told apart by when the changes fall: a held signal changes on a
lattice, a slow one whenever it happens to cross a step.

Public: `update_rate_hz`, `printed_step`.
"""

from __future__ import annotations

import numpy as np

from analysis.quantities import FloatArray

FEWEST_CHANGES = 16
"""Changes needed before a lattice is believed: fewer fall on one by chance."""
ON_LATTICE = 0.9
"""Share of the waits between changes that must be whole multiples of the update period."""
STEP_SAMPLE = 1500
"""Samples looked at for the printed step; they show it as surely as all."""


def update_rate_hz(time_s: FloatArray, values: FloatArray, *, row_s: float | None = None) -> float:
    """Rate at which a signal says something new.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising sample times [s] and the signal as logged.
    row_s : float, optional
        Median step of `time_s`, where it is known already. [s]

    Returns
    -------
    float
        The rate of its samples, or a lower one where changes fall on a lattice of several rows; 0 where there are
        fewer than two samples. Never lower than the changes support. [Hz]

    Notes
    -----
    The shortest wait that is no rarity (5th percentile of the waits, in rows) is the candidate; its mean over the waits near
    it is the update period, so that 20 Hz on a 50 Hz grid (waits of two and three rows) comes out as 20. At least
    `ON_LATTICE` of all waits must lie within one row of a whole multiple of it, and a fifth of them must be
    the period itself; else the sample rate stands.

    Examples
    --------
    >>> grid = np.arange(500) / 50.0
    >>> round(update_rate_hz(grid, np.sin(grid[(np.arange(500) // 5) * 5])), 3)
    10.0
    """
    if time_s.size < 2:
        return 0.0
    if row_s is None:
        row_s = float(np.median(np.diff(time_s)))
    own = 1.0 / row_s if row_s > 0 else 0.0
    changed = np.flatnonzero(values[1:] != values[:-1])
    if changed.size < FEWEST_CHANGES or changed.size > 0.75 * values.size:
        return own
    waits = np.diff(changed)
    shortest = float(np.quantile(waits, 0.05, method="lower"))
    if shortest < 2:
        return own
    near = waits[waits <= max(1.35 * shortest, shortest + 1)]
    period = float(np.mean(near))
    multiples = np.maximum(np.round(waits / period), 1.0)
    allowed = np.where(multiples <= 1, max(1.0, 0.25 * period), 1.0 + 0.02 * multiples * period)
    on_lattice = np.abs(waits - multiples * period) <= np.minimum(allowed, 0.3 * period + 0.55)
    if np.mean(on_lattice) < ON_LATTICE or near.size < max(0.2 * waits.size, 5):
        return own
    spans = time_s[changed[1:] + 1] - time_s[changed[:-1] + 1]
    period_s = float(np.mean(spans[waits <= max(1.35 * shortest, shortest + 1)]))
    return 1.0 / period_s if period_s > 0 else own


def printed_step(values: FloatArray) -> float:
    """Step between neighbouring values as the log prints them.

    Parameters
    ----------
    values : array, shape (n,)
        As written, before any conversion; NaN is passed over.

    Returns
    -------
    float
        0 where there are fewer than three distinct values or no step can be seen.

    Examples
    --------
    >>> printed_step(np.array([950.0, 960.0, 990.0, 950.0])), printed_step(np.array([0.1, 0.25, 0.3]))
    (10.0, 0.05)
    """
    stride = max(values.size // STEP_SAMPLE, 1)
    sample = values[::stride][: 2 * STEP_SAMPLE]
    sample = np.unique(sample[np.isfinite(sample)])
    if sample.size < 3:
        return 0.0
    for decimals in range(8):
        whole = sample * 10.0**decimals
        rounded = np.round(whole)
        if (
            np.all(np.abs(whole - rounded) <= 1e-6 * np.maximum(1.0, np.abs(whole) * 1e-6))
            and np.max(np.abs(rounded)) < 2**53
        ):
            return float(np.gcd.reduce(np.diff(rounded).astype(np.int64))) / 10.0**decimals
    return 0.0
