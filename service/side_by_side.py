"""Several runs fetched together, for what lays them over each other.

Public: `ComparedRun`, `lay_side_by_side`, `lay_stored`, `other_runs_of_the_weekend`, `hold_against`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import orjson

from passband.analysis.results.codec import review_from_json
from passband.analysis.results.review import Review
from passband.service.answers import listed
from passband.service.errors import Problem, not_found
from passband.service.given import read_given
from passband.service.library import Library
from passband.service.settings import Settings
from passband.service.store.records import RunRecord
from passband.service.tables import read_table

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.runs.laid import LaidRun
    from passband.analysis.runs.why import Against

AXES = ("time_s", "distance_m", "speed_mps")
"""Columns that every comparison needs."""


@dataclass(frozen=True, slots=True)
class ComparedRun:
    """One of the runs."""

    run: RunRecord
    review: Review
    """What was found in it."""
    table: pl.DataFrame
    """Time, distance, speed, and those of the channels asked for that the run has."""


def lay_side_by_side(
    library: Library,
    runs: str,
    settings: Settings,
    *,
    channels: Sequence[str] = (),
    least: int = 1,
    most: int | None = None,
) -> list[ComparedRun]:
    """Fetch runs by a list of their ids.

    Parameters
    ----------
    library : Library
        Where they are.
    runs : str
        Ids parted by commas, the one that others are held against first.
    settings : Settings
        How many are allowed.
    channels : sequence of str
        Columns wanted besides time, distance and speed.
    least : int
        How many are needed.
    most : int, optional
        How many are allowed, where that is not what may be laid side by side.

    Returns
    -------
    list of ComparedRun
        In the order asked for.

    Raises
    ------
    Problem
        422 if there are too few or too many, 404 if any one of them is unknown.
    """
    ids = listed(runs, most=most or settings.side_by_side, what="runs")
    if len(ids) < least:
        raise Problem(422, "Not usable", f"runs: name at least {least} of them, parted by commas.")
    return [_fetch(library, run_id, [*AXES, *channels]) for run_id in ids]


def lay_stored(one: ComparedRun) -> LaidRun:
    """A stored run, ready to be held against others.

    Parameters
    ----------
    one : ComparedRun
        Fetched with the channels of `KEPT`.

    Returns
    -------
    LaidRun
        Called by its label, or by its id where it has none. Its speed may be wrong as far as its splits tell.
    """
    from passband.analysis.given.car import Slip
    from passband.analysis.runs.laid import lay_run

    told = one.run.details
    slip = read_given(Slip, told.slip, what="slip") if told.slip else None
    return lay_run(one.review, one.table, label=told.label or one.run.id, slip=slip)


def other_runs_of_the_weekend(library: Library, run: RunRecord, settings: Settings) -> list[tuple[RunRecord, Review]]:
    """The same car's other runs of the same event, with their reviews.

    Parameters
    ----------
    library : Library
        Where they are.
    run : RunRecord
        The run that they are others to.
    settings : Settings
        How many are looked at, newest first.

    Returns
    -------
    list of (RunRecord, Review)
        Newest first; empty where the run names no event or no car.
    """
    if not run.details.event or not run.car:
        return []
    runs = library.records.find_runs(event=run.details.event, car=run.car[0], limit=settings.page_runs, after=None)
    reviews = ((other, library.records.review(other.id)) for other in runs if other.id != run.id)
    return [(other, review_from_json(orjson.loads(review))) for other, review in reviews if review is not None]


def hold_against(library: Library, this: ComparedRun, others: Sequence[tuple[RunRecord, Review]]) -> list[Against]:
    """A run held against the one before it and against the best fair one of the others.

    Parameters
    ----------
    library : Library
        Where they are.
    this : ComparedRun
        The run of interest, fetched with the channels of `KEPT`.
    others : sequence of (RunRecord, Review)
        The car's other runs, newest first.

    Returns
    -------
    list of Against
        One where both are the same run; none where there is no other that shares the track with it.
    """
    from passband.analysis.runs.cost import compare_costs
    from passband.analysis.runs.laid import KEPT
    from passband.analysis.runs.why import Against, best_fair_run, launch_beside
    from passband.web.sheet import heading

    best = best_fair_run(this.review, [review for _, review in others])
    before = _run_before(library, this.run) if others else None
    chosen: dict[str, list[str]] = {}
    if best is not None:
        chosen.setdefault(next(run.id for run, review in others if review is best), []).append("the best fair run")
    if before is not None:
        chosen.setdefault(before, []).append("the run before")
    found = []
    laid = lay_stored(this) if chosen else None
    for run_id, words in chosen.items():
        base = lay_stored(_fetch(library, run_id, [*AXES, *KEPT]))
        costs = compare_costs(base, laid) if laid is not None else None
        name = heading(base.review, "us").title
        if costs is not None:
            beside = launch_beside(this.review, base.review)
            found.append(Against(f"{name}, {' and '.join(words)}", costs, beside))
    return found


def _run_before(library: Library, run: RunRecord) -> str | None:
    """Id of the car's run of this event that was sent before this one."""
    car = run.car[0] if run.car else None
    older = library.records.find_runs(event=run.details.event, car=car, limit=1, after=run.id)
    return older[0].id if older else None


def _fetch(library: Library, run_id: str, columns: Sequence[str]) -> ComparedRun:
    opened, review = library.open_table(run_id), library.records.review(run_id)
    if opened is None or review is None:
        raise not_found("run")
    run, file = opened
    with file:
        return ComparedRun(run, review_from_json(orjson.loads(review)), read_table(file, columns))
