"""One change of gear.

Public: `ShiftKind`, `Shift`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown

COST_NOT_KEPT = Unknown(
    Finding("shift-cost-unseen", "note", "An earlier version did not work out what a shift costs at the finish line.")
)
"""The cost in a review from before it was worked out."""


class ShiftKind(StrEnum):
    """What a shift was; what went wrong goes before what was merely early or late."""

    NORMAL = "normal"
    """As the run's others."""
    CONVERTER = "converter"
    """Behind a converter."""
    MISSED = "missed"
    """The engine stood in neutral."""
    DOUBLE = "double"
    """A gear was skipped."""
    LIFTED = "lifted"
    """The foot came off, as in no other shift of the run."""
    LATE = "late"
    """Over the band or off the limiter."""
    SHORT = "short"
    """Made at less engine speed than the run's others."""


@dataclass(frozen=True, slots=True)
class Shift:
    """One change of gear. Times are ET."""

    from_gear: int
    """Gear that was left."""
    to_gear: int
    """Gear that carried next."""
    time_s: float
    """Drive torque is cut. [s]"""
    time_plus_minus_s: float
    """95 % half-width of it. [s]"""
    end_s: float
    """The next gear carries the car. [s]"""
    duration_s: float
    """end_s - time_s. [s]"""
    distance_m: float | Unknown
    """Where the shift started. [m]"""
    kind: ShiftKind
    """What it was."""
    rpm_before: Estimate | Unknown
    """Engine speed where the shift starts. [rpm]"""
    rpm_after: Estimate | Unknown
    """Lowest engine speed from the start until 150 ms after the next gear carries. [rpm]"""
    rpm_drop: Estimate | Unknown
    """The difference. [rpm]"""
    expected_rpm_after: float | Unknown
    """RPM before times the step between the ratios; where it is not known, the next ratio times the wheels' speed as
    the next gear carries. A car that gains speed in the shift ends above it, one that loses speed below. [rpm]"""
    margin_to_band_low_rpm: float | Unknown
    """rpm_after less the band's low end. [rpm]"""
    margin_to_band_high_rpm: float | Unknown
    """The band's high end less rpm_before. [rpm]"""
    boost_before_pa: float | Unknown
    """Gauge boost where the shift starts. [Pa]"""
    boost_lowest_pa: float | Unknown
    """Lowest gauge boost from the start until boost recovers or 0.5 s after the end. [Pa]"""
    boost_recovery_s: float | Unknown
    """From the end of the shift until boost is back at 95 % of what it was. [s]"""
    time_lost_s: float | Unknown
    """Elapsed time that the shift cost against an uninterrupted pull. [s]"""
    speed_lost_mps: float | Unknown
    """Speed that it cost. [m/s]"""
    cost_s: Estimate | Unknown = COST_NOT_KEPT
    """What the interruption cost at the finish line, or at the lift: against the pull just before and just after joined
    without a gap, the same power after it. [s]"""
