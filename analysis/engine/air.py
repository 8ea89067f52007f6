"""The day's air: density, density altitude, and the published power corrections with their limits."""

from dataclasses import dataclass

from analysis.quantities import Estimate


@dataclass(frozen=True, slots=True)
class AirState:
    """The air the run was made in."""

    temperature_k: float
    """[K]"""
    pressure_pa: float
    """Station pressure, absolute. [Pa]"""
    vapour_pressure_pa: float
    """[Pa]"""
    density_kgpm3: Estimate
    """[kg/m3]"""
    density_altitude_m: float
    """Altitude in the standard atmosphere with the same density. [m]"""
    wind_mps: float | None
    """From behind positive; None where not told. [m/s]"""
    basis: str
    """What was told, what was measured, what was taken as standard."""
