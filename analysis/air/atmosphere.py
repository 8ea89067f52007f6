"""Air by formula: moist-air density, vapour pressure, the standard atmosphere and altitudes in it.

Public: `saturation_vapour_pressure`, `vapour_pressure`, `vapour_pressure_from_dew_point`, `moist_air_density`,
`standard_atmosphere`, `StandardAir`, `density_altitude`, `pressure_altitude`, `station_pressure`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from passband.analysis.quantities import G_MPS2

KELVIN = 273.15
"""Zero degrees Celsius. [K]"""

STANDARD_TEMPERATURE_K = 288.15
STANDARD_PRESSURE_PA = 101325.0
STANDARD_DENSITY_KGPM3 = 1.2250
LAPSE_KPM = 0.0065
AIR_GAS_CONSTANT = 287.05287
"""ISO 2533:1975 and U.S. Standard Atmosphere 1976: sea level, lapse rate, gas constant of dry air. [J/(kg K)]"""


@dataclass(frozen=True, slots=True)
class StandardAir:
    """The standard atmosphere at one altitude."""

    temperature_k: float
    """[K]"""
    pressure_pa: float
    """[Pa]"""
    density_kgpm3: float
    """[kg/m3]"""


def saturation_vapour_pressure(temperature_k: float) -> float:
    """Pressure of water vapour over water at saturation, pure phase.

    Parameters
    ----------
    temperature_k : float
        250 to 330. [K]

    Returns
    -------
    float
        [Pa]

    Notes
    -----
    ln p = A T^2 + B T + C + D / T, the equation of CIPM-2007 (Metrologia 45 (2008) 149, as its constants are
    reprinted); within 0.1 % of the CRC Handbook's table from 0 to 50 degC.

    Examples
    --------
    >>> round(saturation_vapour_pressure(293.15), 1)
    2339.2
    """
    t = temperature_k
    return math.exp(1.2378847e-5 * t * t - 1.9121316e-2 * t + 33.93711047 - 6343.1645 / t)


def _enhancement(temperature_k: float, pressure_pa: float) -> float:
    """How much more vapour air holds than vacuum (CIPM-2007)."""
    return 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * (temperature_k - KELVIN) ** 2


def vapour_pressure(relative_humidity: float, temperature_k: float, pressure_pa: float) -> float:
    """Vapour pressure of moist air.

    Parameters
    ----------
    relative_humidity : float
        0 to 1. [-]
    temperature_k, pressure_pa : float
        Of the air. [K], [Pa]

    Returns
    -------
    float
        [Pa]

    Examples
    --------
    >>> round(vapour_pressure(0.5, 293.15, 101325.0), 1)
    1174.3
    """
    return relative_humidity * _enhancement(temperature_k, pressure_pa) * saturation_vapour_pressure(temperature_k)


def vapour_pressure_from_dew_point(dew_point_k: float, pressure_pa: float) -> float:
    """Vapour pressure of air with a given dew point.

    Parameters
    ----------
    dew_point_k, pressure_pa : float
        [K], [Pa]

    Returns
    -------
    float
        [Pa]

    Examples
    --------
    >>> round(vapour_pressure_from_dew_point(287.0169, 101325.0))
    1591
    """
    return vapour_pressure(1.0, dew_point_k, pressure_pa)


def moist_air_density(temperature_k: float, pressure_pa: float, vapour_pressure_pa: float) -> float:
    """Density of moist air by the CIPM-2007 equation.

    Parameters
    ----------
    temperature_k, pressure_pa, vapour_pressure_pa : float
        [K], [Pa], [Pa]

    Returns
    -------
    float
        [kg/m3]

    Notes
    -----
    rho = p Ma / (Z R T) (1 - xv (1 - Mv / Ma)), with 400 ppm of carbon dioxide. Stated for 15 to 27 degC and 60 to
    110 kPa; against real-gas tables it stays within 0.03 % from 10 to 40 degC.

    References
    ----------
    Picard, Davis, Glaeser, Fujii, Metrologia 45 (2008) 149-155, by its constants as reprinted.

    Examples
    --------
    >>> round(moist_air_density(293.15, 101325.0, vapour_pressure(0.5, 293.15, 101325.0)), 4)
    1.1993
    """
    t, celsius = temperature_k, temperature_k - KELVIN
    xv = vapour_pressure_pa / pressure_pa
    z = (
        1.0
        - (pressure_pa / t)
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * xv
            + (1.9898e-4 - 2.376e-6 * celsius) * xv**2
        )
        + (pressure_pa / t) ** 2 * (1.83e-11 - 0.765e-8 * xv**2)
    )
    dry_mass, water_mass, gas_constant = 28.96546e-3, 18.01528e-3, 8.314472
    return pressure_pa * dry_mass / (z * gas_constant * t) * (1.0 - xv * (1.0 - water_mass / dry_mass))


def standard_atmosphere(altitude_m: float) -> StandardAir:
    """The standard atmosphere at a geopotential altitude.

    Parameters
    ----------
    altitude_m : float
        -2000 to 11000. [m]

    Returns
    -------
    StandardAir
        Temperature, pressure, density.

    Notes
    -----
    T = T0 - L h, p = p0 (T / T0)^(g / (R L)), ISO 2533:1975.

    Examples
    --------
    >>> round(standard_atmosphere(1000.0).pressure_pa, 1)
    89874.6
    """
    temperature = STANDARD_TEMPERATURE_K - LAPSE_KPM * altitude_m
    exponent = G_MPS2 / (AIR_GAS_CONSTANT * LAPSE_KPM)
    pressure = STANDARD_PRESSURE_PA * math.pow(temperature / STANDARD_TEMPERATURE_K, exponent)
    return StandardAir(temperature, pressure, pressure / (AIR_GAS_CONSTANT * temperature))


def density_altitude(density_kgpm3: float) -> float:
    """Altitude in the standard atmosphere at which air is as thin.

    Parameters
    ----------
    density_kgpm3 : float
        [kg/m3]

    Returns
    -------
    float
        Geopotential; negative for air denser than the standard's at sea level. [m]

    Notes
    -----
    h = T0 / L (1 - (rho / rho0)^(1 / (g / (R L) - 1))).

    Examples
    --------
    >>> round(density_altitude(1.11164))
    1000
    """
    exponent = 1.0 / (G_MPS2 / (AIR_GAS_CONSTANT * LAPSE_KPM) - 1.0)
    return STANDARD_TEMPERATURE_K / LAPSE_KPM * (1.0 - math.pow(density_kgpm3 / STANDARD_DENSITY_KGPM3, exponent))


def pressure_altitude(pressure_pa: float) -> float:
    """Altitude in the standard atmosphere with this pressure.

    Parameters
    ----------
    pressure_pa : float
        Station's own. [Pa]

    Returns
    -------
    float
        Geopotential. [m]

    Examples
    --------
    >>> round(pressure_altitude(89874.6))
    1000
    """
    exponent = AIR_GAS_CONSTANT * LAPSE_KPM / G_MPS2
    return STANDARD_TEMPERATURE_K / LAPSE_KPM * (1.0 - math.pow(pressure_pa / STANDARD_PRESSURE_PA, exponent))


def station_pressure(sea_level_pressure_pa: float, *, elevation_m: float) -> float:
    """Station pressure from an altimeter setting, i.e. a pressure reduced to sea level.

    Parameters
    ----------
    sea_level_pressure_pa : float
        As a weather report or an airfield gives it. [Pa]
    elevation_m : float
        Of the strip. [m]

    Returns
    -------
    float
        [Pa]

    Notes
    -----
    The pressure at `elevation_m` in a standard atmosphere whose sea level lies higher or lower by the pressure
    altitude of the setting.

    Examples
    --------
    >>> round(station_pressure(101325.0, elevation_m=1000.0), 1)
    89874.6
    """
    return standard_atmosphere(elevation_m + pressure_altitude(sea_level_pressure_pa)).pressure_pa
