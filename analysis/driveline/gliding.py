"""Whether what drives the car is a gear at all: a gear takes the engine along as the car gains speed, a belt need not.

Public: `engine_stands`, `LEAST_NEAR`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray

GAINED_ENOUGH = 0.07
"""So much, log, the driven end must gain before anything is said: below it noise and tire growth say as much. [-]"""
FOLLOWS = 0.25
"""In a gear engine and driven end gain alike: all of it behind a clutch, a third and more behind a converter that takes
hold. An engine that gains less than this share stands. By arithmetic. [-]"""
LEAST_NEAR = 15
"""Samples of a hundred a second that tell, as many as a level needs."""


def engine_stands(rpm: FloatArray, driven: FloatArray, near: BoolArray) -> bool:
    """Whether an engine stands while what it drives gains speed.

    Parameters
    ----------
    rpm, driven : array, shape (n,)
        Engine speed, and that of the driven end in any unit. [rpm], [-]
    near : array of bool, shape (n,)
        The samples that stand for the level of a gear.

    Returns
    -------
    bool
        False where the driven end gains too little to tell.

    Notes
    -----
    The slope of ln(engine) against ln(driven), by least squares: 1 in a gear, 0 where a belt lets the ratio glide to
    hold the engine at its speed. A clutch that slips all along looks alike: neither has a ratio that a gear could have.

    Examples
    --------
    >>> speed = np.linspace(20.0, 40.0, 100)
    >>> engine_stands(200.0 * speed, speed, speed > 0), engine_stands(7000.0 + 0.0 * speed, speed, speed > 0)
    (False, True)
    """
    known = near & (np.nan_to_num(rpm) > 0) & (np.nan_to_num(driven) > 0)
    if known.sum() < LEAST_NEAR:
        return False
    engine, gained = np.log(rpm[known]), np.log(driven[known])
    if float(np.quantile(gained, 0.95) - np.quantile(gained, 0.05)) < GAINED_ENOUGH:
        return False
    away = gained - gained.mean()
    return bool(away @ engine < FOLLOWS * (away @ away))
