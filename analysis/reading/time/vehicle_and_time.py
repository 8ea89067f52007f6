"""What a vehicle can do in the time that a log says its rows take: the way over its speed, and how it gains speed.

Public: `seconds_by_way`, `gains_speed_too_quickly`, `USUALLY_MPS2`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.fits import middle, quantiles

LEAST_WAY_M, LEAST_MPS = 20.0, 5.0
"""A shorter way, and a lesser speed, tell no unit: a position wanders by metres. [m], [m/s]"""
QUICKEST_MPS2 = 80.0
"""No car gains or loses so much speed a second over a log: the quickest leave with five or six times gravity, and
parachutes and brakes take less. Common practice, no source. [m/s^2]"""
USUALLY_MPS2 = 30.0
"""Few cars gain more over a part of a log: three times gravity, which the quickest two classes do. Common practice, no
source. [m/s^2]"""
PARTS = 8
"""Parts of a log whose speeds are held against each other."""
FEWEST_PARTS_APART = 2
"""Parts next to each other are not: tires that spin gain speed quicker than the car."""
FEWEST = 10
"""Rows that show a way."""


def seconds_by_way(counts: FloatArray, speed_mps: FloatArray, way_m: FloatArray) -> float | None:
    """Seconds in one count of a time, by the way covered over speed times counts.

    Parameters
    ----------
    counts : array, shape (n,)
        The time as written, rising; NaN where blank.
    speed_mps : array, shape (n,)
        Of the same rows. [m/s]
    way_m : array, shape (n,)
        The way covered, from anywhere. [m]

    Returns
    -------
    float or None
        None where too little is covered to tell. [s]

    Examples
    --------
    >>> minutes = np.linspace(0.0, 0.1, 100)
    >>> round(seconds_by_way(minutes, np.full(100, 10.0), 600.0 * minutes), 3)
    60.0
    """
    known = np.isfinite(counts) & np.isfinite(speed_mps) & np.isfinite(way_m)
    if known.sum() < FEWEST:
        return None
    counts, speed_mps, way_m = counts[known], speed_mps[known], way_m[known]
    covered = float(way_m.max() - way_m.min())
    run = float(np.sum(np.diff(counts) * 0.5 * (speed_mps[1:] + speed_mps[:-1])))
    return covered / run if covered >= LEAST_WAY_M and run > 0.0 else None


def gains_speed_too_quickly(speed_mps: FloatArray, lasts_s: float, *, most_mps2: float = QUICKEST_MPS2) -> bool:
    """Whether a vehicle goes through its speeds in less time than any can.

    Parameters
    ----------
    speed_mps : array, shape (n,)
        NaN where blank. [m/s]
    lasts_s : float
        How long all rows last. [s]
    most_mps2 : float
        The most it can. [m/s^2]

    Examples
    --------
    >>> speed = np.linspace(0.0, 60.0, 100)
    >>> gains_speed_too_quickly(speed, 0.1), gains_speed_too_quickly(speed, 7.0)
    (True, False)
    """
    known = speed_mps[np.isfinite(speed_mps)]
    if known.size < FEWEST or known.max() - known.min() <= most_mps2 * lasts_s * FEWEST_PARTS_APART / PARTS:
        return False
    low, high = quantiles(known, (0.02, 0.98))
    if high <= LEAST_MPS:
        return False
    return bool(high - low > most_mps2 * lasts_s) or _in_a_part(known, lasts_s, most_mps2)


def _in_a_part(speed_mps: FloatArray, lasts_s: float, most_mps2: float) -> bool:
    """Whether it does in a part of the log: between parts' medians, which a lost signal does not move."""
    if speed_mps.size < PARTS * FEWEST:
        return False
    middles = np.array([middle(part) for part in np.array_split(speed_mps, PARTS)])
    gained = np.abs(middles[:, None] - middles[None, :])
    apart = np.abs(np.arange(PARTS)[:, None] - np.arange(PARTS)[None, :])
    return bool(np.any((apart >= FEWEST_PARTS_APART) & (gained > most_mps2 * lasts_s * apart / PARTS)))
