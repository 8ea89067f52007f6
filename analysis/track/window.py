"""The run's window: which stretch of a log is a run, and what the rest is."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Decoy:
    """A stretch of the log that is no run. Times on the log's own clock."""

    kind: str
    """``burnout``, ``staging creep``, ``false start``, ``return road``, ``dry hop``."""
    log_start_s: float
    """First moment. [s]"""
    log_end_s: float
    """Last moment. [s]"""


@dataclass(frozen=True, slots=True)
class RunWindow:
    """One run in a log, roughly: the launch is found to a sample or two, the finish only bounded."""

    launch_s: float
    """First forward motion of the run. [s, log]"""
    launch_plus_minus_s: float
    """95 % half-width of it. [s]"""
    stop_s: float
    """The latest moment that can belong to the run: the lift, or the end of the log. [s, log]"""
    lift_s: float | None
    """The driver's lift of the throttle after the pull; None where the log ends or shows none. [s, log]"""
    decoys: tuple[Decoy, ...]
    """What else the log holds before and after this run."""
    evidence: tuple[str, ...]
    """Channels that the launch rests on."""
