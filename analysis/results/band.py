"""The usable RPM band of a run.

Public: `GearBand`, `Dwell`, `Band`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown


@dataclass(frozen=True, slots=True)
class GearBand:
    """The band within one gear."""

    gear: int
    """1 for the lowest."""
    time_in_s: float
    """[s]"""
    time_below_s: float
    """[s]"""
    time_above_s: float
    """[s]"""
    distance_in_m: float
    """[m]"""


@dataclass(frozen=True, slots=True)
class Dwell:
    """Time in one class of engine speed."""

    from_rpm: float
    """[rpm]"""
    to_rpm: float
    """[rpm]"""
    time_s: float
    """[s]"""


@dataclass(frozen=True, slots=True)
class Band:
    """Engine speed against the band, clock start to finish or lift."""

    low_rpm: float
    """[rpm]"""
    high_rpm: float
    """[rpm]"""
    time_in_s: float
    """[s]"""
    time_below_s: float
    """[s]"""
    time_above_s: float
    """[s]"""
    share_in: float
    """Of the time in which engine speed is known. [-]"""
    distance_in_m: float
    """[m]"""
    by_gear: tuple[GearBand, ...]
    """Gears in order."""
    dwell: tuple[Dwell, ...]
    """Classes in order."""
    shown_by_data: tuple[float, float] | Unknown
    """Where power stays above 90 % of its peak, low and high. [rpm]"""
    would_have_kept: tuple[str, ...]
    """Which shift point or step would have kept the engine inside, one sentence for each shift that left it."""
    time_unknown_s: float = 0.0
    """Time of the window without engine speed. [s]"""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
