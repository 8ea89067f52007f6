"""Pressures below the air's, logged as a vacuum: what is 15 inHg of vacuum is a gauge pressure of -15 inHg.

Public: `Vacuum`, `as_vacuum`, `vacuum_unit`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.recognition import NameMatch, recognise_name
from passband.analysis.channels.units import conversion_for, read_unit
from passband.analysis.quantities import FloatArray

TURNED_COST = 0.1
"""What it takes off the name's confidence that the sign is turned."""
DEEPEST_PA = 1.1e5
"""No vacuum is deeper than the air's own pressure: 1.08 bar at the most, where cars race. [Pa]"""
OF_ONE_SIGN = 0.9
"""Share of the values that have one sign where a sensor's zero is a little off. [-]"""
_VACUUM = re.compile(
    r"(?i)\b(?:vacuum|vac|unterdruck|dépression|depression|depressione|vacío|vacio|vácuo|undertryck|undertryk|"
    r"podciśnienie|podtlak|разрежение|вакуум|vide)\b"
)


IDLES_AT: tuple[tuple[str, float, float], ...] = (("inHg", 13.0, 27.0), ("kPa", 40.0, 85.0), ("psi", 6.0, 12.5))
"""A manifold's deepest vacuum, at idle or on the overrun, in units of gauges: 0.4 to 0.85 bar. Common practice."""


@dataclass(frozen=True, slots=True)
class Vacuum:
    """What a column named as a vacuum is."""

    match: NameMatch
    """The pressure it is of, by gauge."""
    turned: bool
    """Whether its values grow as the pressure falls; else they are a gauge pressure as they stand."""


def as_vacuum(bare: str, unit: str, values: FloatArray) -> Vacuum | None:
    """Which pressure a vacuum is of, and with which sign.

    Parameters
    ----------
    bare : str
        The header without its unit.
    unit : str
        As written; none, or an absolute one, is no vacuum's.
    values : array, shape (n,)
        Finite values, as written.

    Returns
    -------
    Vacuum or None
        None where the name is of no vacuum, or where both signs fit.

    Examples
    --------
    >>> found = as_vacuum("Manifold Vacuum", "inHg", np.array([18.0, 20.0, 0.5]))
    >>> found.match.channel, found.turned
    ('boost', True)
    >>> as_vacuum("Crankcase Vacuum", "inHg", np.array([-12.0, -14.0])).turned
    False
    """
    conversion = conversion_for(unit, kept="Pa") if unit else None
    if conversion is None or read_unit(unit).reference == "absolute" or not _VACUUM.search(bare) or not values.size:
        return None
    rest = _VACUUM.sub(" ", bare).strip(" _-.")
    named = recognise_name(f"{rest} pressure") if rest else ()
    if not rest or rest.casefold() in ("engine", "motor"):
        named = (NameMatch("manifold_pressure", 0.8),)
    match = next((one for one in named if (kind := kind_of(one.channel)) is not None and kind.unit == "Pa"), None)
    low, high = (float(edge) * conversion.scale for edge in np.quantile(values, (0.01, 0.99)))
    can_turn, can_stand = high <= DEEPEST_PA and low > -12 * DEEPEST_PA, low >= -DEEPEST_PA
    if match is None or match.completed:
        return None
    if can_turn and can_stand:  # then only values of one sign tell
        positive = float(np.mean(values > 0.0) / max(np.mean(values != 0.0), 1e-9))
        can_turn, can_stand = positive >= OF_ONE_SIGN, positive <= 1.0 - OF_ONE_SIGN
    if can_turn == can_stand:
        return None
    channel = "boost" if match.channel == "manifold_pressure" else match.channel
    return Vacuum(replace(match, channel=channel, confidence=round(match.confidence - TURNED_COST, 3)), can_turn)


def vacuum_unit(bare: str, values: FloatArray) -> str:
    """The unit of a manifold's vacuum that names none, by how deep it is at idle; empty where it does not tell.

    Parameters
    ----------
    bare : str
        The header, which holds no unit.
    values : array, shape (n,)
        Finite values, as written.

    Examples
    --------
    >>> vacuum_unit("Vac", np.array([18.0, 20.0, 0.5])), vacuum_unit("Pan Vac", np.array([18.0]))
    ('inHg', '')
    """
    found = _VACUUM.search(bare)
    rest = _VACUUM.sub(" ", bare).strip(" _-.").casefold() if found and values.size else None
    if rest not in ("", "engine", "motor", "manifold", "intake", "man", "inlet"):
        return ""
    deepest = float(np.quantile(np.abs(values), 0.99))
    return next((unit for unit, low, high in IDLES_AT if low <= deepest <= high), "")
