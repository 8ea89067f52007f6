"""What was found of a run's engine against the car's own earlier runs.

Public: `GearAgainstOwn`, `SameEngine`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from passband.analysis.results.estimate import Estimate


@dataclass(frozen=True, slots=True)
class GearAgainstOwn:
    """One gear of a run over the same gear of the reference runs."""

    gear: int
    """1 for the lowest."""
    from_rpm: float
    """Where the cells that all runs have begin. [rpm]"""
    power: Estimate
    """At the same engine speed, the day's air taken out. [-]"""
    left: Estimate | None
    """What of it manifold pressure does not explain; None where not all runs log it. [-]"""
    boost: float | None
    """Boost over the usual; None where it is not known. [-]"""
    manifold: float | None
    """Absolute manifold pressure over the usual, without boost over the station's too; None where not logged."""


@dataclass(frozen=True, slots=True)
class SameEngine:
    """A run's engine over the car's own reference runs."""

    label: str
    """Of the run."""
    against: tuple[str, ...]
    """Labels of the reference runs."""
    power: Estimate
    """Over all cells that the runs share, by time; the day's air taken out. [-]"""
    left: Estimate | None
    """What of it manifold pressure does not explain; None where not all runs log it. [-]"""
    boost: float | None
    """Boost over the usual; None where it is not known. [-]"""
    manifold: float | None
    """Absolute manifold pressure over the usual, without boost over the station's too; None where not logged."""
    gears: tuple[GearAgainstOwn, ...]
    """Gear by gear."""
    as_before: bool
    """Whether nothing was found unlike."""
    from_gear: int | None
    """The gear from which on power was unlike; None where it was all of them, or none."""
    from_rpm: float | None
    """Engine speed at which that began, in that gear or the one before it. [rpm]"""
    from_m: float | None
    """Where that was. [m]"""
    boost_from_gear: int | None
    """The gear from which on manifold pressure was unlike; None where it was not."""
    air_known: bool
    """Whether all runs name their air: else it was not taken out."""
    boosted: bool
    """Whether the engine makes boost."""
    line: str
    """All of it in a line."""
    fault: str = ""
    """Where it was unlike and down, that in a few words: such a run is no witness of how quick the car is."""

    def saying(self, line: str, *, fault: str) -> SameEngine:
        """The same with its line.

        Parameters
        ----------
        line : str
            For a reader.
        fault : str
            In a few words; empty where it was not down.

        Returns
        -------
        SameEngine
            A new one.
        """
        return replace(self, line=line, fault=fault)
