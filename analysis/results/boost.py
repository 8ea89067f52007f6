"""Boost of a run.

Public: `BoostBasis`, `DipCause`, `BoostDip`, `Boost`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown


class BoostBasis(StrEnum):
    """What gauge boost was made of."""

    AS_LOGGED = "gauge as logged"
    """A boost channel."""
    LESS_BAROMETER = "absolute less barometer logged"
    """Manifold pressure less what the log's barometer shows."""
    LESS_TOLD = "absolute less air pressure given"
    """Manifold pressure less the station's, or the elevation's."""
    LESS_REST = "absolute less its own rest before the run"
    """Manifold pressure less its own while the engine stood."""


class DipCause(StrEnum):
    """What made boost fall below its threshold."""

    SHIFT = "shift"
    """A change of gear."""
    LIFT = "lift"
    """The foot."""
    WHEELSPIN = "wheelspin"
    """Tires that let go."""
    UNEXPLAINED = "unexplained"
    """Nothing that the log shows."""


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
    cause: DipCause
    """What made it."""


@dataclass(frozen=True, slots=True)
class Boost:
    """Boost from clock start to finish or lift. Pressures are gauge."""

    threshold_pa: float | None
    """The car's threshold; None where it names none, and then nothing is held against it. [Pa]"""
    time_above_s: float | Unknown
    """[s]"""
    share_above: float | Unknown
    """Of the time. [-]"""
    longest_above_s: float | Unknown
    """Longest unbroken. [s]"""
    first_reached_s: float | Unknown
    """Unknown if never. [s, ET]"""
    lowest_after_pa: float | Unknown
    """Lowest after it was first reached. [Pa]"""
    highest_pa: float
    """[Pa]"""
    at_clock_start_pa: float
    """[Pa]"""
    deficit_pa_s: float | Unknown
    """Pressure below the threshold times time. [Pa s]"""
    dips: tuple[BoostDip, ...]
    """In order."""
    basis: BoostBasis
    """What it was made of."""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
