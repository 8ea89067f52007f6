"""What a cylinder head's flow says of its valves: areas, discharge coefficient, one common depression.

Public: `curtain_area`, `seat_area`, `mass_flow_of_area`, `discharge_coefficient`, `at_depression`.
"""

from __future__ import annotations

import math

import numpy as np

from passband.analysis.air.atmosphere import AIR_GAS_CONSTANT
from passband.analysis.quantities import FloatArray

AIR_GAMMA = 1.4
"""Ratio of specific heats of air. [-] Source: any handbook; 1.4 to 0.3 % from 250 to 350 K."""
COMMON_DEPRESSION_PA = 6974.5
"""28 inches of water, the depression that most sheets are written at (common practice, no source). [Pa]"""


def curtain_area(valve_diameter_m: float, lift_m: FloatArray) -> FloatArray:
    """Cylinder between valve head and seat: pi times diameter times lift.

    Parameters
    ----------
    valve_diameter_m : float
        Of the head. [m]
    lift_m : array, shape (n,)
        [m]

    Returns
    -------
    array, shape (n,)
        [m2]

    Notes
    -----
    The reference area of the discharge coefficient in J. B. Heywood, *Internal Combustion Engine Fundamentals*, 1988,
    section 6.3.2 (from memory).

    Examples
    --------
    >>> (curtain_area(0.05, np.array([0.0125])) * 1e6).round(2).tolist()
    [1963.5]
    """
    return np.pi * valve_diameter_m * np.asarray(lift_m, float)


def seat_area(valve_diameter_m: float, *, stem_diameter_m: float = 0.0) -> float:
    """Circle of the valve less its stem: beyond a lift of a quarter diameter, the curtain is the larger.

    Parameters
    ----------
    valve_diameter_m, stem_diameter_m : float
        [m]

    Returns
    -------
    float
        [m2]
    """
    return math.pi / 4.0 * (valve_diameter_m**2 - stem_diameter_m**2)


def mass_flow_of_area(
    area_m2: FloatArray | float,
    depression_pa: FloatArray | float,
    *,
    pressure_pa: float = 101325.0,
    temperature_k: float = 293.15,
) -> FloatArray:
    """Mass flow of air through an area without loss, from rest, at a depression.

    Parameters
    ----------
    area_m2 : float or array
        [m2]
    depression_pa : float or array
        Pressure before the area less pressure behind it, at least 0. [Pa]
    pressure_pa, temperature_k : float
        Of the air at rest before it. [Pa], [K]

    Returns
    -------
    array
        Choked where the ratio of pressures is beyond the critical 0.528. [kg/s]

    Notes
    -----
    Isentropic flow: Heywood 1988, appendix C, equations C.8 and C.9 (from memory); a test holds it against a
    general-purpose library's critical flow.
    """
    gamma = AIR_GAMMA
    critical = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
    ratio = np.maximum(1.0 - np.asarray(depression_pa, float) / pressure_pa, critical)
    speed = 2.0 * gamma / (gamma - 1.0) * (1.0 - ratio ** ((gamma - 1.0) / gamma))
    density_speed = pressure_pa / math.sqrt(AIR_GAS_CONSTANT * temperature_k) * ratio ** (1.0 / gamma) * np.sqrt(speed)
    return np.asarray(np.asarray(area_m2, float) * density_speed)


def discharge_coefficient(
    flow_m3ps: FloatArray,
    area_m2: FloatArray | float,
    depression_pa: FloatArray | float,
    *,
    pressure_pa: float = 101325.0,
    temperature_k: float = 293.15,
) -> FloatArray:
    """Measured flow over what the same area would pass without loss.

    Parameters
    ----------
    flow_m3ps : array, shape (n,)
        Air as the bench says, at the conditions before the valve. [m3/s]
    area_m2 : float or array, shape (n,)
        The reference area: curtain or seat. [m2]
    depression_pa : float or array, shape (n,)
        [Pa]
    pressure_pa, temperature_k : float
        Of the bench's room. [Pa], [K]

    Returns
    -------
    array, shape (n,)
        NaN where the area or the depression is 0. [-]
    """
    density = pressure_pa / (AIR_GAS_CONSTANT * temperature_k)
    whole = mass_flow_of_area(area_m2, depression_pa, pressure_pa=pressure_pa, temperature_k=temperature_k)
    flow = np.asarray(flow_m3ps, float) * density
    found = np.full(np.broadcast(flow, whole).shape, np.nan)
    np.divide(flow, whole, out=found, where=whole > 0.0)
    return found


def at_depression(
    flow_m3ps: FloatArray, depression_pa: FloatArray | float, *, wanted_pa: float = COMMON_DEPRESSION_PA
) -> FloatArray:
    """A flow as it would be at another depression: as its square root.

    Parameters
    ----------
    flow_m3ps : array, shape (n,)
        [m3/s]
    depression_pa : float or array, shape (n,)
        At which it was measured, above 0. [Pa]
    wanted_pa : float
        At which it is wanted. [Pa]

    Returns
    -------
    array, shape (n,)
        [m3/s]

    Raises
    ------
    ValueError
        If a depression is not above 0.

    Notes
    -----
    Bernoulli's law at one discharge coefficient; what the coefficient does between the two depressions it does not see.

    Examples
    --------
    >>> at_depression(np.array([0.1]), 2500.0, wanted_pa=10_000.0).tolist()
    [0.2]
    """
    if not (np.all(np.asarray(depression_pa) > 0.0) and wanted_pa > 0.0):
        raise ValueError("a depression must be above 0: give the one that the flow was measured at")
    return np.asarray(flow_m3ps, float) * np.sqrt(wanted_pa / np.asarray(depression_pa, float))
