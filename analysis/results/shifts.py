"""One change of gear.

Public: `ShiftKind`, `Shift`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from passband.analysis.results.estimate import Estimate


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
    distance_m: float | None
    """Where the shift started. [m]"""
    kind: ShiftKind
    """What it was."""
    rpm_before: Estimate | None
    """Engine speed where the shift starts. [rpm]"""
    rpm_after: Estimate | None
    """Lowest engine speed from the start until 150 ms after the next gear carries. [rpm]"""
    rpm_drop: Estimate | None
    """The difference. [rpm]"""
    expected_rpm_after: float | None
    """RPM before times the step between the ratios; where it is not known, the next ratio times the wheels' speed as
    the next gear carries. A car that gains speed in the shift ends above it, one that loses speed below. [rpm]"""
    margin_to_band_low_rpm: float | None
    """rpm_after less the band's low end. [rpm]"""
    margin_to_band_high_rpm: float | None
    """The band's high end less rpm_before. [rpm]"""
    boost_before_pa: float | None
    """Gauge boost where the shift starts. [Pa]"""
    boost_lowest_pa: float | None
    """Lowest gauge boost from the start until boost recovers or 0.5 s after the end. [Pa]"""
    boost_recovery_s: float | None
    """From the end of the shift until boost is back at 95 % of what it was; None if it never is. [s]"""
    time_lost_s: float | None
    """Elapsed time that the shift cost against an uninterrupted pull. [s]"""
    speed_lost_mps: float | None
    """Speed that it cost. [m/s]"""
    cost_s: Estimate | None = None
    """What the interruption cost at the finish line, or at the lift: against the pull just before and just after joined
    without a gap, the same power after it. None where no later motion is known. [s]"""
