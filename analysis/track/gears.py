"""Which gear carried the car at each moment."""

from dataclasses import dataclass

from analysis.quantities import Estimate, IntArray


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

    basis: str
    """What the naming rests on: ``ratios given``, ``ratios found in the data``, ``gear channel``."""
    overall_ratios: tuple[Estimate, ...]
    """Engine turns per turn of the driven wheel (given), or engine rpm per m/s scaled to the tire (found); first gear first. [-]"""
    intervals: tuple[GearInterval, ...]
    """In order of time; they do not overlap."""
    gear: IntArray
    """Gear at each sample of the motion's grid; 0 where none is known. Shape (n,)."""
