"""A shift that lies where engine speed is missing: what is open of it then.

Samples that a gap left out are bridged straight, so that the rest of a run can be read over them. A shift in such a
bridge has no fall to be seen: it lies somewhere in the gap, and its engine speeds are not known.

Public: `Gap`, `find_gap`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.shifts.fall import QUICK_S, Fall
from passband.analysis.statistics.intervals import find_true_runs

HIDES_S = 0.15
"""A gap longer than this may hide a fall and the lowest engine speed after it, which is sought for as long. [s]"""


@dataclass(frozen=True, slots=True)
class Gap:
    """Where engine speed is missing about a shift."""

    start_s: float
    """The last sample before it. [s]"""
    stop_s: float
    """The first sample after it. [s]"""

    @property
    def start(self) -> Edge:
        """Where a shift starts of which nothing else tells: anywhere in the gap."""
        return self._within(-0.5 * QUICK_S)

    @property
    def end(self) -> Edge:
        """Where its next gear carries."""
        return self._within(0.5 * QUICK_S)

    @property
    def unknown(self) -> Unknown:
        """What stands for its engine speeds."""
        text = (
            f"Engine speed is missing for {self.stop_s - self.start_s:.2f} s, and the shift lies in that gap: its "
            "engine speeds are not known. Look at the logger's memory and its bus."
        )
        return Unknown(Finding("shift-in-gap", "caution", text, f"{self.start_s:.2f} s from clock start"))

    def _within(self, by_s: float) -> Edge:
        half_s = 0.5 * (self.stop_s - self.start_s)
        return Edge(self.start_s + half_s + by_s, half_s, "gap")


def find_gap(engine: EngineSpeed, fall: Fall) -> Gap | None:
    """The gap that holds a fall of engine speed.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out, gaps bridged.
    fall : Fall
        Into the next gear.

    Returns
    -------
    Gap or None
        None where it was seen, or the gap is no longer than `HIDES_S`.
    """
    last = engine.time_s.size - 1
    for run in find_true_runs(engine.noisy):
        first_s, next_s = float(engine.time_s[max(run.start - 1, 0)]), float(engine.time_s[min(run.stop, last)])
        if first_s <= fall.middle_s <= next_s and next_s - first_s > HIDES_S:
            late_s = engine.late_s
            return Gap(first_s - late_s, next_s - late_s)
    return None
