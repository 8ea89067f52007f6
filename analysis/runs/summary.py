"""A run in one line: what it was, how quick, how strong, and whether anything was wrong.

Public: `LimitCounts`, `FindingCounts`, `RunSummary`, `summarise`, `summary_from_json`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.results.distance import Split, Trap
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.plain_values import Stored
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.results.window import Outcome

SIXTY_FT = 60
"""The mark that a launch is judged by. [ft]"""


@dataclass(frozen=True, slots=True)
class LimitCounts:
    """How a run stands to all its limits."""

    inside: int
    """Kept."""
    outside: int
    """Broken."""
    no_data: int
    """Nobody could look."""


@dataclass(frozen=True, slots=True)
class FindingCounts:
    """How much had to be said."""

    stop: int
    """Figures that must not be used."""
    caution: int
    """Less sure than it looks."""
    note: int
    """Mended or chosen."""


@dataclass(frozen=True, slots=True)
class RunSummary:
    """What a list or a sheet shows of a run. None: not known, or not reached."""

    log_names: tuple[str, ...]
    """Files, the ECU's first."""
    car_name: str
    """The car's."""
    outcome: Outcome
    """How it ended."""
    at_ft: int | None
    """Where elapsed time and speed were taken; None where no finish was reached. [ft]"""
    elapsed_time_s: Estimate | None
    """[s]"""
    trap_speed_mps: Estimate | None
    """[m/s]"""
    sixty_ft_s: Estimate | None
    """[s]"""
    average_w: Estimate | None
    """At the flywheel. [W]"""
    share_in_band: float | None
    """Of the time. [-]"""
    share_on_boost: float | None
    """Of the time. [-]"""
    shifts: int
    """How many."""
    limits: LimitCounts
    """Its limits."""
    findings: FindingCounts
    """Its findings."""
    average_wheel_w: Estimate | None = None
    """At the wheels; None also of a run that was put in short before this was kept. [W]"""


def summarise(review: Review) -> RunSummary:
    """A run in one line.

    Parameters
    ----------
    review : Review
        Any.

    Returns
    -------
    RunSummary
        Figures are the review's own.
    """
    power, band, boost = known(review.power), known(review.band), known(review.boost)
    finish_ft = review.window.outcome.finish_ft
    finish, sixty, trap = _split(review, finish_ft), _split(review, SIXTY_FT), _trap(review, finish_ft)
    levels = [finding.level for finding in review.findings]
    return RunSummary(
        log_names=review.run.log_names,
        car_name=review.car.name,
        outcome=review.window.outcome,
        at_ft=finish_ft,
        elapsed_time_s=finish.time_s if finish else None,
        trap_speed_mps=trap.speed_mps if trap else None,
        sixty_ft_s=sixty.time_s if sixty else None,
        average_w=known(power.average_w) if power else None,
        share_in_band=band.share_in if band else None,
        share_on_boost=known(boost.share_above) if boost else None,
        shifts=len(review.shifts),
        limits=_counted(review.limits),
        findings=FindingCounts(levels.count("stop"), levels.count("caution"), levels.count("note")),
        average_wheel_w=known(power.average_wheel_w) if power else None,
    )


def summary_from_json(stored: Stored) -> RunSummary:
    """A stored run in one line, as `codec.plain` wrote it.

    Parameters
    ----------
    stored : mapping
        Its JSON, read.

    Returns
    -------
    RunSummary
        Without what other runs share of each figure: a list of many does not show it, and reading it takes twice the
        time of all else.
    """
    limits, findings = stored["limits"], stored["findings"]
    return RunSummary(
        log_names=tuple(stored["log_names"]),
        car_name=stored["car_name"],
        outcome=Outcome(stored["outcome"]),
        at_ft=stored["at_ft"],
        elapsed_time_s=_figure(stored["elapsed_time_s"]),
        trap_speed_mps=_figure(stored["trap_speed_mps"]),
        sixty_ft_s=_figure(stored["sixty_ft_s"]),
        average_w=_figure(stored["average_w"]),
        share_in_band=stored["share_in_band"],
        share_on_boost=stored["share_on_boost"],
        shifts=stored["shifts"],
        limits=LimitCounts(limits["inside"], limits["outside"], limits["no_data"]),
        findings=FindingCounts(findings["stop"], findings["caution"], findings["note"]),
        average_wheel_w=_figure(stored.get("average_wheel_w")),
    )


def _figure(stored: Stored | None) -> Estimate | None:
    if stored is None:
        return None
    return Estimate(stored["value"], stored["plus_minus"], stored.get("run_plus_minus"))


def _split(review: Review, mark_ft: int | None) -> Split | None:
    distance = known(review.distance)
    return next((one for one in distance.splits if one.at_ft == mark_ft), None) if distance else None


def _trap(review: Review, mark_ft: int | None) -> Trap | None:
    distance = known(review.distance)
    return next((one for one in distance.traps if one.at_ft == mark_ft), None) if distance else None


def _counted(limits: tuple[LimitVerdict, ...]) -> LimitCounts:
    verdicts = [limit.verdict for limit in limits]
    return LimitCounts(
        inside=verdicts.count(Verdict.INSIDE),
        outside=verdicts.count(Verdict.OUTSIDE),
        no_data=verdicts.count(Verdict.NO_DATA),
    )
