"""What was used up: runs, revolutions and time at speed of each part on the car. It counts, and foretells nothing.

Public: `Part`, `TimeAbove`, `LaunchCount`, `UsedUp`, `count_part`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
    """Date and time of the first as told; may be empty."""
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
        launches=tuple(_launch(run) for run in runs),
    )


def _launch(run: RunDigest) -> LaunchCount:
    locked, lowest = (run.before_shifts[name] for name in ("clutch_locked_s", "rpm_lowest"))
    return LaunchCount(
        run.label,
        float(locked) if isinstance(locked, (int, float)) else None,
        float(lowest) if isinstance(lowest, (int, float)) else None,
    )
