"""Of which parts a plus-minus is: what facts of car and day make of it, and what sensors and the method do.

Public: `of_facts`, `of_method`, `of_devices`, `is_of_device`.
"""

from __future__ import annotations

import math

from passband.analysis.results.estimate import DEVICE, Estimate


def of_facts(estimate: Estimate) -> float:
    """What facts of the car and of the day make of a plus-minus.

    Parameters
    ----------
    estimate : Estimate
        Any.

    Returns
    -------
    float
        In the figure's unit; 0 where nobody parted it.
    """
    return math.hypot(*(part.effect for part in estimate.shared if not is_of_device(part.cause)))


def of_method(estimate: Estimate) -> float:
    """What sensors and method make of a plus-minus: all but the facts.

    Parameters
    ----------
    estimate : Estimate
        Any.

    Returns
    -------
    float
        In the figure's unit; all of it where nobody parted it.
    """
    return math.sqrt(max(estimate.plus_minus**2 - of_facts(estimate) ** 2, 0.0))


def of_devices(estimate: Estimate) -> float:
    """What the devices make of a plus-minus, which runs share that share them.

    Parameters
    ----------
    estimate : Estimate
        Any.

    Returns
    -------
    float
        In the figure's unit; 0 where nobody parted it.
    """
    return math.hypot(*(part.effect for part in estimate.shared if is_of_device(part.cause)))


def is_of_device(cause: str) -> bool:
    """Whether a cause is a device's.

    Parameters
    ----------
    cause : str
        As an estimate names it.

    Returns
    -------
    bool
        False for what belongs to the car or the day.

    Examples
    --------
    >>> is_of_device("device: pick-up lag"), is_of_device("car: mass")
    (True, False)
    """
    return cause.partition(":")[0] == DEVICE
