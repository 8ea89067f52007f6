"""The air of a run.

Public: `PressureBasis`, `AirState`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding


class PressureBasis(StrEnum):
    """What the pressure of the air rests on."""

    TOLD = "station pressure as given"
    """The user's."""
    BAROMETER = "pressure from the barometer logged"
    """The log's."""
    ELEVATION = "standard pressure at the elevation given"
    """The strip's height."""
    TAKEN = "pressure taken as 101.3 kPa"
    """Nothing: as at sea level."""


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
    """From behind positive; None where not given. [m/s]"""
    basis: str
    """What was given, what was measured, what was taken as standard; for a reader."""
    pressure_basis: PressureBasis = PressureBasis.TAKEN
    """What the station's pressure rests on."""
    wind_plus_minus_mps: float | None = None
    """The wind's own plus-minus, 95 %; None where it was not given with one. [m/s]"""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
