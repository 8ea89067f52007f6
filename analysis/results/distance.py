"""Where the car was: what its speed rests on, splits, traps, wheelspin.

Public: `MARKS_FT`, `SpeedBasis`, `Wheelspin`, `Split`, `Trap`, `Distance`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from passband.analysis.results.estimate import Estimate

MARKS_FT = (60, 330, 660, 1000, 1320)
"""Where the strip's beams stand. [ft] Source: sanctioning bodies' glossaries of timing terms."""


class SpeedBasis(StrEnum):
    """What ground speed rests on."""

    UNDRIVEN_WHEEL = "undriven wheel"
    """The best: it neither slips nor grows much."""
    GPS = "gps"
    """Late and slow, but of the ground."""
    DRIVEN_WHEEL = "driven wheel"
    """It slips and grows."""
    ENGINE_SPEED = "engine speed"
    """Through the gears given; until the clutch has locked nothing of the car is seen."""

    @property
    def through_driveline(self) -> bool:
        """Whether it rests on what the engine turns."""
        return self in (SpeedBasis.DRIVEN_WHEEL, SpeedBasis.ENGINE_SPEED)


@dataclass(frozen=True, slots=True)
class Wheelspin:
    """One episode in which the driven tires turned faster than the ground went by."""

    start_s: float
    """[s]"""
    end_s: float
    """[s]"""
    peak_slip: float | None
    """Greatest (tire speed - ground speed) / tire speed; None where spin shows, but not how much. [-]"""


@dataclass(frozen=True, slots=True)
class Split:
    """Elapsed time and speed at one mark."""

    at_ft: int
    """60, 330, 660, 1000 or 1320. [ft]"""
    time_s: Estimate
    """From clock start. [s]"""
    speed_mps: Estimate
    """[m/s]"""


@dataclass(frozen=True, slots=True)
class Trap:
    """Mean speed over the 66 ft that end at a mark."""

    at_ft: int
    """660 or 1320 (or the finish). [ft]"""
    speed_mps: Estimate
    """[m/s]"""


@dataclass(frozen=True, slots=True)
class Distance:
    """What the strip's own clocks would have said."""

    basis: str
    """What ground speed and start rest on, in words."""
    rollout_m: Estimate
    """Distance from rest to where the clock starts. [m]"""
    scale: Estimate | None
    """Factor that the slip asked of the logged speed; None where no slip was taken in. [-]"""
    splits: tuple[Split, ...]
    """As reached."""
    traps: tuple[Trap, ...]
    """As reached."""
    wheelspin: tuple[Wheelspin, ...]
    """Episodes in order, ET."""
