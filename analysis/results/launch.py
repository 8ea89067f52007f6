"""The launch.

Public: `Launch`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown


@dataclass(frozen=True, slots=True)
class Launch:
    """What happened between the release and the moment the clutch no longer slips."""

    rpm_at_launch: Estimate | Unknown
    """Mean engine speed of the last 0.2 s before the clutch lets go. [rpm]"""
    rpm_lowest: Estimate | Unknown
    """Lowest engine speed as the clutch bites, before it pulls back up. [rpm]"""
    rpm_drop: float | Unknown
    """The difference. [rpm]"""
    back_in_band_s: float | Unknown
    """When engine speed is back in the band to stay; unknown if it never left or no band is given. [s, ET]"""
    boost_at_launch_pa: float | Unknown
    """Gauge boost as the car leaves. [Pa]"""
    peak_acceleration_mps2: float | Unknown
    """Highest 50 ms mean of forward acceleration in the first 60 ft. [m/s2]"""
    clutch_locked_s: float | Unknown
    """When engine and driven wheel first turn together; unknown behind a converter, which has no clutch, and where no
    sensor shows the driven tires of a car that spun them. [s, ET]"""
    rises_again_s: float | None = None
    """When, before the drive carried, the engine rose again: its tires let go, or the clutch once more; None where it
    did not, or sensors show which. [s, ET]"""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
