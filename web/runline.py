"""A run in one line of a list.

Public: `RunLine`, `run_line`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import Verdict
from passband.analysis.results.window import Outcome
from passband.web.sheet import Standing, standing
from passband.web.units import UnitSystem
from passband.web.words import Figure, Json, estimate, figure


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
    """Average at the flywheel."""
    in_band: Figure
    """Share of the run in the band."""
    on_boost: Figure
    """Share of the run at or above the boost threshold."""
    standing: Standing
    """How it stands to its limits."""
    stops: int
    """Findings that forbid the use of a figure."""
    added: str
    """When it came, to the minute."""


def run_line(run: Json, units: UnitSystem) -> RunLine:
    """A run's summary as a reader sees it.

    Parameters
    ----------
    run : mapping
        As ``GET /api/runs`` gives it.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    RunLine
        Figures that are null are missing.
    """
    verdicts = [verdict for verdict in Verdict for _ in range(run["limits"][verdict.name.lower()])]
    where = ", ".join(filter(None, (run["event"], run["round"])))
    outcome = run["outcome"]
    return RunLine(
        id=run["id"],
        title=run["label"] or where or run["log_names"][0],
        event=run["event"],
        round=run["round"],
        car=(run["car"] or {}).get("name", ""),
        outcome="" if Outcome(outcome).finish_ft else outcome,
        time=estimate(_estimate_of(run["elapsed_time_s"]), "time", units),
        speed=estimate(_estimate_of(run["trap_speed_mps"]), "speed", units),
        sixty=estimate(_estimate_of(run["sixty_ft_s"]), "time", units),
        power=estimate(_estimate_of(run["average_w"]), "power", units),
        in_band=figure(run["share_in_band"], "share", units),
        on_boost=figure(run["share_on_boost"], "share", units),
        standing=standing(verdicts),
        stops=run["findings"]["stop"],
        added=str(run.get("added_at", ""))[:16].replace("T", " "),
    )


def _estimate_of(figure: Json | None) -> Estimate | None:
    """A figure as it stands beside those of other runs: with what is this run's own."""
    if figure is None:
        return None
    return Estimate(figure["value"], figure["plus_minus"], figure.get("run_plus_minus")).among_runs()
