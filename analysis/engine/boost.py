"""Boost: time above the threshold, when first reached, every dip and its cause."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BoostDip:
    """One stretch below the threshold after it was first reached. Times ET."""

    start_s: float
    """[s]"""
    end_s: float
    """[s]"""
    lowest_pa: float
    """Lowest gauge boost in it. [Pa]"""
    shift: int | None
    """Index of the shift that caused it; None where none did."""
    cause: str
    """``shift``, ``lift``, ``wheelspin``, ``unexplained``."""


@dataclass(frozen=True, slots=True)
class Boost:
    """Boost from clock start to finish or lift. Pressures are gauge."""

    threshold_pa: float | None
    """The car's threshold. [Pa]"""
    time_above_s: float | None
    """[s]"""
    share_above: float | None
    """Of the time. [-]"""
    longest_above_s: float | None
    """Longest unbroken. [s]"""
    first_reached_s: float | None
    """None if never. [s, ET]"""
    lowest_after_pa: float | None
    """Lowest after it was first reached. [Pa]"""
    highest_pa: float
    """[Pa]"""
    at_clock_start_pa: float
    """[Pa]"""
    deficit_pa_s: float | None
    """Pressure below the threshold times time. [Pa s]"""
    dips: tuple[BoostDip, ...]
    """In order."""
    basis: str
    """``gauge as logged``, ``absolute less barometer logged``, ``absolute less air pressure given``, ``absolute less its own rest before the run``."""
