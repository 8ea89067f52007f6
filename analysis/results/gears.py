"""The gears of a run.

Public: `GearBasis`, `GearInterval`, `Gears`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding


class GearBasis(StrEnum):
    """What the naming of the gears rests on."""

    GIVEN = "ratios given"
    """The car's own ratios."""
    FOUND = "ratios found in the data"
    """Levels at which the record stands."""
    CHANNEL = "gear channel"
    """The logger's word alone."""
    GLIDES = "no fixed ratio"
    """The engine stands while the car gains speed, as with a belt drive: there are no gears to name."""
    UNKNOWN = "unknown"
    """No gear could be named."""


@dataclass(frozen=True, slots=True)
class GearInterval:
    """One stretch in one gear, from the moment it is engaged to the moment it is left."""

    gear: int
    """1 for the lowest."""
    start_s: float
    """[s, ET]"""
    end_s: float
    """[s, ET]"""


@dataclass(frozen=True, slots=True)
class Gears:
    """The gears of a run."""

    basis: GearBasis
    """What the naming rests on."""
    overall_ratios: tuple[Estimate, ...]
    """First gear first: engine turns per turn of the driven wheel (given), or engine rpm per m/s scaled to the tire
    (found). [-]"""
    intervals: tuple[GearInterval, ...]
    """In order of time; they do not overlap."""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
