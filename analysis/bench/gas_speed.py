"""How fast the gas must go: piston, port, valve, and the index at which an inlet valve begins to strangle an engine.

Public: `mean_piston_speed`, `mean_gas_speed`, `inlet_mach_index`, `rpm_at_mach_index`, `LIMIT_OF_INDEX`.
"""

from __future__ import annotations

import math

import numpy as np

from passband.analysis.air.atmosphere import AIR_GAS_CONSTANT
from passband.analysis.bench.valve_flow import AIR_GAMMA
from passband.analysis.quantities import FloatArray

LIMIT_OF_INDEX = 0.6
"""Inlet Mach index beyond which volumetric efficiency falls, whatever the engine. [-] Source: C. F. Taylor, *The
Internal-Combustion Engine in Theory and Practice*, vol. 1, chapter 6 (from memory)."""


def mean_piston_speed(stroke_m: float, engine_rpm: FloatArray | float) -> FloatArray:
    """Twice the stroke a turn.

    Parameters
    ----------
    stroke_m : float
        [m]
    engine_rpm : float or array
        [rpm]

    Returns
    -------
    array
        [m/s]

    Examples
    --------
    >>> float(mean_piston_speed(0.090, 3000.0))
    9.0
    """
    return np.asarray(2.0 * stroke_m * np.asarray(engine_rpm, float) / 60.0)


def mean_gas_speed(bore_m: float, stroke_m: float, area_m2: float, engine_rpm: FloatArray | float) -> FloatArray:
    """Mean speed that an area's gas must have to fill the cylinder at the mean piston speed.

    Parameters
    ----------
    bore_m, stroke_m : float
        [m]
    area_m2 : float
        Of all inlet valves, or the smallest of the port, of one cylinder. [m2]
    engine_rpm : float or array
        [rpm]

    Returns
    -------
    array
        Piston area over that area, times mean piston speed; at constant density. [m/s]

    Raises
    ------
    ValueError
        If the area is not above 0.
    """
    if not area_m2 > 0.0:
        raise ValueError(f"area_m2 is {area_m2}: a port's area is above 0")
    return np.asarray(math.pi / 4.0 * bore_m**2 / area_m2 * mean_piston_speed(stroke_m, engine_rpm))


def inlet_mach_index(
    gas_speed_mps: FloatArray | float, flow_coefficient: float, *, temperature_k: float = 293.15
) -> FloatArray:
    """Taylor's index: mean gas speed through the inlet valves as they flow, over the speed of sound.

    Parameters
    ----------
    gas_speed_mps : float or array
        Of `mean_gas_speed` with the valves' own area. [m/s]
    flow_coefficient : float
        Mean over the inlet event, on the same area, above 0. [-]
    temperature_k : float
        Of the gas in the port. [K]

    Returns
    -------
    array
        [-]

    Raises
    ------
    ValueError
        If the coefficient is not above 0.
    """
    if not flow_coefficient > 0.0:
        raise ValueError(f"flow_coefficient is {flow_coefficient}: a valve that passes air has one above 0")
    sound_mps = math.sqrt(AIR_GAMMA * AIR_GAS_CONSTANT * temperature_k)
    return np.asarray(np.asarray(gas_speed_mps, float) / (flow_coefficient * sound_mps))


def rpm_at_mach_index(index_at_1000_rpm: float, *, limit: float = LIMIT_OF_INDEX) -> float:
    """Engine speed at which the index, which is in proportion to engine speed, comes to its limit.

    Parameters
    ----------
    index_at_1000_rpm : float
        Above 0. [-]
    limit : float
        [-]

    Returns
    -------
    float
        [rpm]

    Raises
    ------
    ValueError
        If the index is not above 0.
    """
    if not index_at_1000_rpm > 0.0:
        raise ValueError(f"index_at_1000_rpm is {index_at_1000_rpm}: it is above 0 for any engine")
    return 1000.0 * limit / index_at_1000_rpm
