"""The whole job in one call: logs of a run in, reviews out. Reads like the story of a run."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.car import Car
from analysis.engine.air import AirState
from analysis.engine.band import Band
from analysis.engine.boost import Boost
from analysis.engine.limits import LimitVerdict
from analysis.engine.power import Power
from analysis.findings import Finding
from analysis.log import Traces
from analysis.track.clocks import ClockMatch
from analysis.track.distance import Distance
from analysis.track.gears import Gears
from analysis.track.launch import Launch
from analysis.track.motion import Motion
from analysis.track.shifts import Shift
from analysis.track.window import Decoy


@dataclass(frozen=True, slots=True)
class RunFacts:
    """Which run it is."""

    log_names: tuple[str, ...]
    """Files, the ECU's first."""
    label: str
    """The user's name for it; may be empty."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""


@dataclass(frozen=True, slots=True)
class Window:
    """When the run was, on the ECU log's own clock."""

    log_launch_s: float
    """First forward motion. [s]"""
    log_clock_start_s: float
    """The ET clock starts. [s]"""
    clock_start_plus_minus_s: float
    """95 % half-width. [s]"""
    log_finish_s: float | None
    """Finish line, or the lift of an aborted run. [s]"""
    distance_m: float | None
    """How far from clock start. [m]"""
    outcome: str
    """``quarter``, ``thousand``, ``eighth``, ``aborted``, ``log ends before the finish``."""
    decoys: tuple[Decoy, ...]
    """What else the log holds."""


@dataclass(frozen=True, slots=True)
class Review:
    """Everything found in one run."""

    run: RunFacts
    """Which run."""
    window: Window
    """When."""
    clocks: tuple[ClockMatch, ...]
    """One for each further log."""
    distance: Distance | None
    """Splits, traps, wheelspin."""
    gears: Gears | None
    """Gear intervals."""
    launch: Launch | None
    """The launch."""
    shifts: tuple[Shift, ...]
    """In order."""
    boost: Boost | None
    """None where no boost or threshold is known."""
    power: Power | None
    """None where the mass is unknown."""
    band: Band | None
    """None where no band is given."""
    limits: tuple[LimitVerdict, ...]
    """As the car lists them."""
    air: AirState | None
    """The air used."""
    findings: tuple[Finding, ...]
    """Weightiest first."""
    car: Car
    """The car it was made with."""
    version: str
    """Version of the analysis."""
    traces: Traces
    """All channels, ET. Not part of the JSON."""
    motion: Motion | None
    """The car's motion, ET. Not part of the JSON."""
