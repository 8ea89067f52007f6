"""How clocks of several logs lie.

Public: `ClockMatch`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding


@dataclass(frozen=True, slots=True)
class ClockMatch:
    """How a further log's clock lies on the ECU log's: ``ecu = offset_s + t * (1 + rate_ppm * 1e-6)``."""

    log: str
    """Name of the further log."""
    offset_s: Estimate
    """ECU time of the further log's first row. [s]"""
    rate_ppm: Estimate
    """How much faster ECU time runs than the further log's own clock. [1e-6]"""
    matched_on: tuple[str, ...]
    """Channels that both hold and that were matched."""
    run_plus_minus_s: float = 0.0
    """95 % half-width of where the further log's times lie during the stretch that was matched; that of `offset_s`
    is wider where the log began long before, for the rate is only so well known. [s]"""
    felt_share: float = 0.0
    """Share of `offset_s` that rests on torque cuts felt by the further log's accelerometer: what that is later than
    expected makes the log lie too early by so much of it, at most. 0..1. [-]"""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
