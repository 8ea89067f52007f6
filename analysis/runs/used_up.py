"""What was used up: runs, revolutions and time at speed of each part on the car. It counts, and foretells nothing.

Public: `Part`, `TimeAbove`, `LaunchCount`, `UsedUp`, `count_part`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.digest import RunDigest


@dataclass(frozen=True, slots=True)
class Part:
    """A part as the user names it."""

    name: str
    """``clutch``, ``valve springs``."""
    above_rpm: tuple[float, ...] = ()
    """Engine speeds above which time is counted. [rpm]"""


@dataclass(frozen=True, slots=True)
class TimeAbove:
    """Time at or above one engine speed."""

    rpm: float
    """[rpm]"""
    time_s: float
    """[s]"""


@dataclass(frozen=True, slots=True)
class LaunchCount:
    """What the clutch did in one run."""

    label: str
    """Of the run."""
    clutch_locked_s: float | None
    """When the clutch had locked; None where not known. [s, ET]"""
    rpm_lowest: float | None
    """Lowest engine speed of the launch; None where not known. [rpm]"""
    at: str = ""
    """Date and time as given; may be empty."""
    heat_j: Estimate | None = None
    """Into the clutch; None where not known. [J]"""


@dataclass(frozen=True, slots=True)
class UsedUp:
    """What one part has seen."""

    part: str
    """Its name."""
    runs: int
    """Runs that it was in."""
    first: str
    """Label of the first; empty where there is none."""
    last: str
    """Label of the last."""
    first_at: str
    """Date and time of the first as given; may be empty."""
    last_at: str
    """Of the last."""
    not_counted: tuple[str, ...]
    """Labels of runs without engine speed in their logs: in `runs`, but not in what follows."""
    revolutions: float
    """All that are recorded, burnout and staging among them. [-]"""
    run_revolutions: float
    """From clock start to the finish or lift. [-]"""
    running_s: float
    """Time that the engine turned. [s]"""
    above: tuple[TimeAbove, ...]
    """Time above chosen speeds."""
    launches: tuple[LaunchCount, ...]
    """Run by run."""
    heat_j: Estimate | None = None
    """Into the clutch, over the runs in which it is known; None where it is in none. What is open of each adds up, for
    most of it is the car's own facts. [J]"""
    heat_not_known: tuple[str, ...] = ()
    """Labels of runs whose heat is not in `heat_j`."""


def count_part(part: Part, runs: Sequence[RunDigest], at: Sequence[str] | None = None) -> UsedUp:
    """Count what a part has seen.

    Parameters
    ----------
    part : Part
        What to count for.
    runs : sequence of RunDigest
        Those that it was in, oldest first.
    at : sequence of str, optional
        Date and time of each.

    Returns
    -------
    UsedUp
        Only what the logs hold: an engine that ran without its logger is not in it.
    """
    times = list(at) if at is not None else [""] * len(runs)
    used = [run.use for run in runs if run.use is not None]
    launches = tuple(_launch(run, when) for run, when in zip(runs, times, strict=True))
    heats = [one.heat_j for one in launches if one.heat_j is not None]
    return UsedUp(
        part=part.name,
        runs=len(runs),
        first=runs[0].label if runs else "",
        last=runs[-1].label if runs else "",
        first_at=times[0] if times else "",
        last_at=times[-1] if times else "",
        not_counted=tuple(run.label for run in runs if run.use is None),
        revolutions=sum(one.revolutions for one in used),
        run_revolutions=sum(one.run_revolutions for one in used),
        running_s=sum(one.running_s for one in used),
        above=tuple(TimeAbove(rpm, sum(one.above_s(rpm) for one in used)) for rpm in part.above_rpm),
        launches=launches,
        heat_j=Estimate(sum(one.value for one in heats), sum(one.plus_minus for one in heats)) if heats else None,
        heat_not_known=tuple(one.label for one in launches if one.heat_j is None),
    )


def _launch(run: RunDigest, at: str) -> LaunchCount:
    names = ("clutch_locked_s", "rpm_lowest", "clutch_heat_j", "clutch_heat_plus_minus_j")
    figures = [run.before_shifts[name] for name in names]
    locked, lowest, heat, open_by = (float(one) if isinstance(one, (int, float)) else None for one in figures)
    known = Estimate(heat, open_by) if heat is not None and open_by is not None else None
    return LaunchCount(run.label, locked, lowest, at, known)
