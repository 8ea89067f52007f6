"""The moments of a run that a limit's time is told by, and where the car was at any of them.

Public: `RunTimes`, `Whereabouts`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.driveline.gears import gear_at
from passband.analysis.motion.ground_speed import HasWay
from passband.analysis.results.gears import Gears
from passband.analysis.results.window import OtherEventKind
from passband.analysis.windows.window import RunWindow

STAGING_S = 8.0
"""Staging: this long before the launch, or since the burnout if that is nearer. Common practice, no source. [s]"""


@dataclass(frozen=True, slots=True)
class RunTimes:
    """The moments that a limit's time is told by. All ET."""

    launch_s: float
    """First motion. [s]"""
    end_s: float
    """Finish or lift. [s]"""
    burnouts: tuple[tuple[float, float], ...] = ()
    """Start and end of each burnout. [s]"""

    @classmethod
    def of(cls, window: RunWindow, *, start_s: float, end_s: float) -> RunTimes:
        """Those of a run on its log's clock, where ET starts at `start_s` of it and the run ends at `end_s` ET."""
        burnouts = tuple(
            (event.log_start_s - start_s, event.log_end_s - start_s)
            for event in window.other_events
            if event.kind is OtherEventKind.BURNOUT
        )
        return cls(launch_s=window.launch_s - start_s, end_s=end_s, burnouts=burnouts)

    def spans(self, during: str) -> tuple[tuple[float, float], ...]:
        """Stretches that a limit's ``during`` means, in s ET; empty where the log holds none."""
        if during == "run":
            return ((0.0, self.end_s),)
        if during == "burnout":
            return self.burnouts
        if during == "after":
            return ((self.end_s, np.inf),)
        if during == "log":
            return ((-np.inf, np.inf),)
        after_burnout = max((end for _, end in self.burnouts if end < self.launch_s), default=-np.inf)
        return ((max(self.launch_s - STAGING_S, after_burnout), self.launch_s),)


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where the car was when, and in which gear."""

    way: HasWay | None
    """ET; None where nothing shows its motion."""
    gears: Gears | None
    """ET; None where none could be named."""

    def distance_m(self, at_s: float) -> float | None:
        """From the start line, in metres; None where the motion does not reach."""
        if self.way is None or not self.way.time_s[0] <= at_s <= self.way.time_s[-1]:
            return None
        distance = float(np.interp(at_s, self.way.time_s, self.way.distance_m))
        return distance if np.isfinite(distance) else None

    def gear(self, at_s: float) -> int | None:
        """None in a shift, or where no gear is known."""
        if self.gears is None or not self.gears.intervals:
            return None
        gear = int(gear_at(np.array([at_s]), self.gears.intervals)[0])
        return gear if gear > 0 else None
