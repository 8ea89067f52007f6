"""How the car moved: ground speed, acceleration and distance fused from whatever the logs hold."""

from dataclasses import dataclass

from analysis.quantities import BoolArray, Estimate, FloatArray


@dataclass(frozen=True, slots=True)
class Wheelspin:
    """One episode in which the driven tires turned faster than the ground went by."""

    start_s: float
    """[s]"""
    end_s: float
    """[s]"""
    peak_slip: float
    """Greatest (tire speed - ground speed) / tire speed. [-]"""


@dataclass(frozen=True, slots=True)
class Motion:
    """The car's motion on one even time grid. All arrays have shape (n,)."""

    time_s: FloatArray
    """Even grid, log clock until the distance is known, from clock start (ET) afterwards. [s]"""
    speed_mps: FloatArray
    """Ground speed, forward positive. [m/s]"""
    speed_plus_minus_mps: FloatArray
    """95 % half-width. [m/s]"""
    acceleration_mps2: FloatArray
    """Forward acceleration along the track. [m/s2]"""
    acceleration_plus_minus_mps2: FloatArray
    """95 % half-width. [m/s2]"""
    distance_m: FloatArray
    """From where the clock starts (negative before); until that is known from the car's rest. [m]"""
    distance_plus_minus_m: FloatArray
    """95 % half-width. [m]"""
    tire_speed_mps: FloatArray
    """Surface speed of the driven tires, NaN where nothing shows it. [m/s]"""
    spinning: BoolArray
    """True within an episode of wheelspin."""
    basis: str
    """What ground speed rests on: ``undriven wheel``, ``gps``, ``driven wheel``, ``engine speed``."""
    scale: Estimate | None
    """Factor that a timing slip asked of the speed; None where no slip was given. [-]"""
    wheelspin: tuple[Wheelspin, ...]
    """Episodes in order."""
