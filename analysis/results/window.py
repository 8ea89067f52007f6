"""When a run was, and what else its log holds.

Public: `Outcome`, `FINISHES`, `OtherEventKind`, `OtherEvent`, `Window`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from passband.analysis.results.unknown import Unknown


class Outcome(StrEnum):
    """How a run ended."""

    QUARTER = "quarter"
    """At its finish line, 1320 ft."""
    THOUSAND = "thousand"
    """At its finish line, 1000 ft."""
    EIGHTH = "eighth"
    """At its finish line, 660 ft."""
    ABORTED = "aborted"
    """By a lift for good."""
    LOG_ENDS = "log ends before the finish"
    """Nobody knows."""
    UNKNOWN = "not known"
    """Nothing shows where the car was."""

    @property
    def finish_ft(self) -> int | None:
        """Where the finish line is that was reached; None where none was, in feet."""
        return next((feet for feet, outcome in FINISHES.items() if outcome is self), None)


FINISHES = {660: Outcome.EIGHTH, 1000: Outcome.THOUSAND, 1320: Outcome.QUARTER}
"""Finish lines, and what a run that reached them is called. [ft]"""


class OtherEventKind(StrEnum):
    """What a log holds beside its runs."""

    BURNOUT = "burnout"
    STAGING_CREEP = "staging creep"
    BUMP_IN = "bump-in"
    FALSE_START = "false start"
    ROLLED_BACK = "rolled back"
    DRY_HOP = "dry hop"
    RETURN_ROAD = "return road"


@dataclass(frozen=True, slots=True)
class OtherEvent:
    """A stretch of the log that is no run. Times on the log's own clock."""

    kind: OtherEventKind
    """What it is."""
    log_start_s: float
    """First moment. [s]"""
    log_end_s: float
    """Last moment. [s]"""


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
    """Finish line, or the lift of an aborted run, or the log's end; None where a stored review does not tell it. [s]"""
    distance_m: float | Unknown
    """How far from clock start. [m]"""
    outcome: Outcome
    """How the run ended."""
    decoys: tuple[OtherEvent, ...]
    """What else the log holds."""
