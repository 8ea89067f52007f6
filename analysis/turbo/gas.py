"""Air through a compressor: its temperature, its flow as a map counts it, and the air that an engine takes.

Public: `outlet_temperature`, `corrected_flow`, `air_flow_by_speed_density`, `air_flow_by_fuel`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.air.atmosphere import AIR_GAS_CONSTANT
from passband.analysis.quantities import FloatArray

EXPONENT = 0.4 / 1.4
"""(gamma - 1) / gamma of air. [-]"""


def outlet_temperature(
    inlet_k: FloatArray | float, pressure_ratio: FloatArray | float, efficiency: FloatArray | float
) -> FloatArray:
    """Temperature behind a compressor.

    Parameters
    ----------
    inlet_k : float or array
        Total, before it. [K]
    pressure_ratio : float or array
        Absolute outlet over inlet. [-]
    efficiency : float or array
        Isentropic, total to total, 0..1. [-]

    Returns
    -------
    array
        T1 (1 + (ratio^0.2857 - 1) / efficiency); NaN where an input is. [K]

    Examples
    --------
    >>> round(float(outlet_temperature(298.15, 2.5, 0.75)), 2)
    417.12
    """
    rise = np.asarray(pressure_ratio, float) ** EXPONENT - 1.0
    return np.asarray(np.asarray(inlet_k, float) * (1.0 + rise / np.asarray(efficiency, float)))


def corrected_flow(
    flow_kgps: FloatArray | float,
    inlet_k: FloatArray | float,
    inlet_pa: FloatArray | float,
    *,
    reference_k: float,
    reference_pa: float,
) -> FloatArray:
    """Mass flow as a map counts it: W sqrt(T1 / Tref) / (p1 / pref).

    Parameters
    ----------
    flow_kgps : float or array
        [kg/s]
    inlet_k, inlet_pa : float or array
        Total, before the compressor. [K], [Pa]
    reference_k, reference_pa : float
        The map's own conditions. [K], [Pa]

    Returns
    -------
    array
        [kg/s]

    Examples
    --------
    >>> round(float(corrected_flow(0.5, 308.15, 84e3, reference_k=288.15, reference_pa=101325.0)), 6)
    0.623705
    """
    hot = np.sqrt(np.asarray(inlet_k, float) / reference_k)
    return np.asarray(np.asarray(flow_kgps, float) * hot / (np.asarray(inlet_pa, float) / reference_pa))


def air_flow_by_speed_density(
    engine_rpm: FloatArray,
    manifold_pa: FloatArray,
    manifold_k: FloatArray | float,
    *,
    displacement_m3: float,
    volumetric_efficiency: float,
) -> FloatArray:
    """Air that a four-stroke takes: efficiency x density in the manifold x displacement, every second turn.

    Parameters
    ----------
    engine_rpm, manifold_pa : array, shape (n,)
        [rpm], absolute [Pa]
    manifold_k : float or array, shape (n,)
        [K]
    displacement_m3 : float
        Of all cylinders. [m3]
    volumetric_efficiency : float
        On the density in the manifold. [-]

    Returns
    -------
    array, shape (n,)
        [kg/s]
    """
    density = np.asarray(manifold_pa, float) / (AIR_GAS_CONSTANT * np.asarray(manifold_k, float))
    return np.asarray(volumetric_efficiency * density * displacement_m3 * np.asarray(engine_rpm, float) / 120.0)


def air_flow_by_fuel(fuel_kgps: FloatArray, mixture: FloatArray, *, stoichiometric_afr: float) -> FloatArray:
    """Air that burns a fuel flow at a lambda: fuel x lambda x the fuel's own air by mass.

    Parameters
    ----------
    fuel_kgps : array, shape (n,)
        [kg/s]
    mixture : array, shape (n,)
        Lambda. [-]
    stoichiometric_afr : float
        [-]

    Returns
    -------
    array, shape (n,)
        [kg/s]
    """
    return np.asarray(np.asarray(fuel_kgps, float) * np.asarray(mixture, float) * stoichiometric_afr)
