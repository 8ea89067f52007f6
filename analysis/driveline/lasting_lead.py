"""What of an engine's lead over its gear lasts: wrong ratios or a wrong circumference lead for good, slip eases off.

A clutch that slips over half of the track, centrifugal or meant to slip, and a converter let the engine run ahead by a
share that falls smoothly until it holds. Ratios, a final drive or a circumference given wrong are off by one share in
every gear, at every speed and pull. So a gear's own level is the lower edge at which the lead settles, never the mean
of the slipping.

Public: `settled_samples`, `lasting_lead`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.statistics.filters import slope

SETTLED_PER_S = 0.03
"""A lead that drifts no faster has settled: tires that grow or grip again move it by 0.01 a second, a clutch on its way
to lock-up by 0.1 and more, a wheel sensor's noise by 0.01. [1/s]"""
SETTLED_SPAN_S = 0.25
"""Its drift is fitted over so long. [s]"""
LEAST_SETTLED_S = 0.3
"""A lead that settled for less in all says nothing of the setup. [s]"""
LOWER_EDGE = 0.25
"""A lasting lead is this quantile of the settled samples: what slips only ever lifts them. [-]"""


def settled_samples(lead: FloatArray, *, step_s: float) -> BoolArray:
    """Find where a lead hardly drifts.

    Parameters
    ----------
    lead : array, shape (n,)
        ln(engine speed / what the gear asks of it), even grid; NaN where unknown. [-]
    step_s : float
        Step of the grid. [s]

    Returns
    -------
    array of bool, shape (n,)
        False where it is unknown or drifts.

    Examples
    --------
    >>> eases = np.concatenate((np.linspace(0.5, 0.0, 200), np.zeros(200)))
    >>> settled = settled_samples(eases, step_s=0.01)
    >>> bool(settled[:180].any()), bool(settled[220:].all())
    (False, True)
    """
    lead = np.where(np.isfinite(lead), lead, np.nan)
    drift = slope(lead, step_s=step_s, span_s=SETTLED_SPAN_S, order=1)
    return np.asarray(np.isfinite(drift) & np.isfinite(lead) & (np.abs(drift) < SETTLED_PER_S))


def lasting_lead(lead: FloatArray, use: BoolArray, *, step_s: float, edge: float = LOWER_EDGE) -> float | None:
    """Find the share by which an engine leads its gears for good.

    Parameters
    ----------
    lead : array, shape (n,)
        As of `settled_samples`.
    use : array of bool, shape (n,)
        Where a gear is in and the tires grip.
    step_s : float
        Step of the grid. [s]
    edge : float
        Which quantile of the settled samples it is. [-]

    Returns
    -------
    float or None
        Log share; None where the lead never settles, as where a clutch slips all the way.

    Notes
    -----
    It does not tell a clutch that slips by one constant share from a ratio given wrong: nothing in engine and wheels
    does.

    Examples
    --------
    >>> eases = np.concatenate((np.linspace(0.5, 0.0, 200), np.zeros(200)))
    >>> lasting_lead(eases + 0.04, np.ones(400, dtype=bool), step_s=0.01)
    0.04
    >>> lasting_lead(eases[:200], np.ones(200, dtype=bool), step_s=0.01) is None
    True
    """
    settled = lead[use & settled_samples(lead, step_s=step_s)]
    if settled.size * step_s < LEAST_SETTLED_S:
        return None
    return float(np.quantile(settled, edge))
