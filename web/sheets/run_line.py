"""A run in one line of a list.

Public: `RunLine`, `run_line`, `standing_of`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import Verdict
from passband.analysis.results.window import Outcome
from passband.analysis.runs.summary import LimitCounts
from passband.web.sheets.sheet import Standing, standing
from passband.web.shown.run import RunShown
from passband.web.wording.figures import Figure, estimate, figure
from passband.web.wording.units import UnitSystem


@dataclass(frozen=True, slots=True)
class RunLine:
    """What a list shows of a run."""

    id: str
    """Its id."""
    title: str
    """The user's label, else event and round, else the ECU log's name."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""
    car: str
    """The car's name."""
    outcome: str
    """How the run ended, where it reached no finish line; else empty."""
    time: Figure
    """Elapsed time at the finish line."""
    speed: Figure
    """Trap speed there."""
    sixty: Figure
    """Elapsed time at 60 ft."""
    power: Figure
    """Average at the flywheel; at the wheels where that alone is known."""
    power_at: str
    """``at the wheels`` of the second, else empty."""
    in_band: Figure
    """Share of the run in the band."""
    on_boost: Figure
    """Share of the run at or above the boost threshold."""
    standing: Standing
    """How it stands to its limits."""
    stops: int
    """Findings that forbid the use of a figure."""
    told_apart_by: str
    """Of a run that is called by its file alone, when it was made or came in, to the minute; else empty."""


def run_line(run: RunShown, units: UnitSystem) -> RunLine:
    """A run's summary as a reader sees it.

    Parameters
    ----------
    run : RunShown
        Any.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    RunLine
        Figures that are not known are missing; the others have the plus-minus of a run among others.
    """
    short = run.summary
    at_wheels = short.average_w is None and short.average_wheel_w is not None
    return RunLine(
        id=run.id,
        title=run.title,
        event=run.event,
        round=run.round,
        car=run.car.name if run.car else "",
        outcome="" if short.outcome.finish_ft or short.outcome is Outcome.UNKNOWN else short.outcome,
        time=estimate(_among_runs(short.elapsed_time_s), "time", units),
        speed=estimate(_among_runs(short.trap_speed_mps), "speed", units),
        sixty=estimate(_among_runs(short.sixty_ft_s), "time", units),
        power=estimate(_among_runs(short.average_wheel_w if at_wheels else short.average_w), "power", units),
        power_at="at the wheels" if at_wheels else "",
        in_band=figure(short.share_in_band, "share", units),
        on_boost=figure(short.share_on_boost, "share", units),
        standing=standing_of(short.limits),
        stops=short.findings.stop,
        told_apart_by="" if run.label or run.round else _when(run),
    )


def _when(run: RunShown) -> str:
    return run.at[:16].replace("T", " ") or f"in {run.added_at[:16].replace('T', ' ')} UTC"


def _among_runs(figure: Estimate | None) -> Estimate | None:
    """A figure as it stands beside those of other runs: with what is this run's own."""
    return None if figure is None else figure.among_runs()


@lru_cache(maxsize=256)
def standing_of(limits: LimitCounts) -> Standing:
    """How a run stands to its limits, out of how many of each verdict there are."""
    counts = {Verdict.INSIDE: limits.inside, Verdict.OUTSIDE: limits.outside, Verdict.NO_DATA: limits.no_data}
    return standing([verdict for verdict in Verdict for _ in range(counts[verdict])])
