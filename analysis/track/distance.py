"""Distance down the strip: clock start, splits and traps as the strip defines them."""

from dataclasses import dataclass

from analysis.quantities import Estimate
from analysis.track.motion import Wheelspin


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
    """Factor that the slip asked of the logged speed. [-]"""
    splits: tuple[Split, ...]
    """As reached."""
    traps: tuple[Trap, ...]
    """As reached."""
    wheelspin: tuple[Wheelspin, ...]
    """Episodes in order, ET."""
