"""A car's facts as its owner knows them: weighed on the strip's scales, looked up, measured with a tape.

Public: `as_an_owner_knows`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

SHARES = {
    "mass_kg": 0.008,
    "tyre_circumference_m": 0.008,
    "undriven_tyre_circumference_m": 0.008,
    "cda_m2": 0.10,
    "crr": 0.40,
    "engine_inertia_kgm2": 0.25,
    "wheels_driveline_inertia_kgm2": 0.25,
}
"""95 % of what each is off by, as a share of the truth: a scale's and the driver's gear, a tape around a tire, a drag
area from a table of like cars, an inertia by its parts. Common practice, no source."""
EFFICIENCY_POINTS = 0.03
"""The same of the driveline's efficiency. [-]"""


def as_an_owner_knows(setup: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    """A setup whose measured facts are off by what a careful owner's are.

    Parameters
    ----------
    setup : dict
        As it truly is, with the keys of a case's ``setup.json``.
    rng : numpy Generator
        What the errors are drawn from, normally distributed.

    Returns
    -------
    dict
        Gear ratios and all that is counted stay as they are.
    """
    off = {key: 1.0 + 0.5 * share * float(rng.standard_normal()) for key, share in SHARES.items()}
    known = {key: round(value * off[key], 5) if key in SHARES else value for key, value in setup.items()}
    if "driveline_efficiency" in known:
        points = 0.5 * EFFICIENCY_POINTS * float(rng.standard_normal())
        known["driveline_efficiency"] = round(min(setup["driveline_efficiency"] + points, 0.99), 4)
    return known
