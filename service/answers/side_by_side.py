"""Several runs fetched together, for what lays them over each other.

Public: `FetchedRun`, `car_of`, `fetch_run`, `lay_side_by_side`, `prepare_stored`, `stored_review`,
`HeldAgainst`, `hold_against`, `run_before`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import orjson

from passband.analysis.results.codec import review_from_json
from passband.analysis.results.review import Review
from passband.service.answers.shared import listed
from passband.service.given.facts import NO_CAR, read_car, read_given
from passband.service.http.errors import Problem, not_found
from passband.service.library import Library
from passband.service.reviewing.remembered import Remembered
from passband.service.reviewing.tables import read_stored
from passband.service.settings import Settings
from passband.service.store.records import RunRecord

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.given.car import Car
    from passband.analysis.report import TableColumn
    from passband.analysis.runs.compared_run import ComparedRun
    from passband.analysis.runs.why import Against

AXES = ("time_s", "distance_m", "speed_mps")
"""Columns that every comparison needs."""


@dataclass(frozen=True, slots=True)
class FetchedRun:
    """One of the runs."""

    run: RunRecord
    review: Review
    """What was found in it."""
    table: pl.DataFrame
    """Time, distance, speed, and those of the channels asked for that the run has."""
    columns: tuple[TableColumn, ...] = ()
    """What the columns of its whole table are."""


def car_of(library: Library, run: RunRecord) -> Car:
    """A run's car as it ran; one of which nothing is known where the run names none.

    Parameters
    ----------
    library : Library
        Where it is.
    run : RunRecord
        The run.

    Returns
    -------
    Car
        In the version that the run was reviewed with.
    """
    record = library.records.car(*run.car) if run.car else None
    return read_car(record.given if record is not None else NO_CAR)


def lay_side_by_side(
    library: Library,
    runs: str,
    settings: Settings,
    *,
    channels: Sequence[str] = (),
    least: int = 1,
    most: int | None = None,
) -> list[FetchedRun]:
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
    list of FetchedRun
        In the order asked for.

    Raises
    ------
    Problem
        422 if there are too few or too many, 404 if any one of them is unknown.
    """
    ids = listed(runs, most=most or settings.side_by_side, what="runs")
    if len(ids) < least:
        raise Problem(422, "Not usable", f"runs: name at least {least} of them, parted by commas.")
    return [fetch_run(library, run_id, channels=channels) for run_id in ids]


def prepare_stored(one: FetchedRun, *, car: Car | None = None) -> ComparedRun:
    """A stored run, ready to be held against others.

    Parameters
    ----------
    one : FetchedRun
        Fetched with the channels of `KEPT`.
    car : Car, optional
        As it ran, where its tires matter.

    Returns
    -------
    ComparedRun
        Called by its label, or by its id where it has none. Its speed may be wrong as far as its splits tell.
    """
    from passband.analysis.given.car import Slip
    from passband.analysis.runs.compared_run import prepare_run

    details = one.run.details
    slip = read_given(Slip, details.slip, what="slip") if details.slip else None
    around_m = car.tire_circumference if car is not None else None
    label = details.label or one.run.id
    return prepare_run(one.review, one.table, label=label, slip=slip, tire_circumference_m=around_m)


def stored_review(library: Library, run_id: str | None) -> Review | None:
    """A run's review.

    Parameters
    ----------
    library : Library
        Where it is.
    run_id : str or None
        Which; None gives None.

    Returns
    -------
    Review or None
        None where there is no such run.
    """
    review = library.records.review(run_id) if run_id is not None else None
    return _read(review) if review is not None else None


_READ: Remembered[Review] = Remembered(32)
"""Reviews by their very bytes."""


def _read(review: bytes) -> Review:
    known = _READ.get(review)
    return known if known is not None else _READ.put(review, review_from_json(orjson.loads(review)))


@dataclass(frozen=True, slots=True)
class HeldAgainst:
    """A run held against others of its car at the event."""

    before_id: str | None
    """Id of the run before; None where there is none."""
    before: Against | None
    """Against the run before; None where there is none that shares the track with it."""
    best: Against | None
    """Against the best fair one, where it is another; None likewise."""


def hold_against(library: Library, this: FetchedRun, best_id: str | None) -> HeldAgainst:
    """A run held against the one before it and against the best fair one of the others.

    Parameters
    ----------
    library : Library
        Where they are.
    this : FetchedRun
        The run of interest, fetched with the channels of `KEPT`.
    best_id : str, optional
        Id of the car's best fair run of the event.

    Returns
    -------
    HeldAgainst
        Of the two together as the run before, where both are one.
    """
    before = run_before(library, this.run)
    before_id = before.id if before is not None else None
    words = "the run before and the best fair run" if before_id == best_id else "the run before"
    return HeldAgainst(
        before_id,
        _held(library, this, before_id, words) if before_id is not None else None,
        _held(library, this, best_id, "the best fair run") if best_id not in (None, before_id) else None,
    )


_HELD: Remembered[tuple[Against | None]] = Remembered(64)
"""What came of it, by both runs as they were reviewed."""


def _held(library: Library, this: FetchedRun, base_id: str, words: str) -> Against | None:
    from passband.analysis.runs.cost import compare_costs
    from passband.analysis.runs.why import Against, launch_beside
    from passband.web.sheets.sheet import heading

    run = library.records.run(base_id)
    key = (this.run.id, this.run.reviewed_at, *this.table.columns, base_id, run.reviewed_at if run else "", words)
    known = _HELD.get(key)
    if known is not None:
        return known[0]
    base = _prepared(library, base_id)
    costs, name = compare_costs(base, prepare_stored(this)), heading(base.review, "us").title
    beside = launch_beside(this.review, base.review)
    return _HELD.put(key, (Against(f"{name}, {words}", costs, beside) if costs is not None else None,))[0]


_PREPARED: Remembered[ComparedRun] = Remembered(16)
"""Runs that others were held against: the best one and the one before are asked for again and again."""


def _prepared(library: Library, run_id: str) -> ComparedRun:
    from passband.analysis.runs.compared_run import KEPT

    run = library.records.run(run_id)
    key = (run_id, run.reviewed_at) if run is not None else None
    known = _PREPARED.get(key)
    return known if known is not None else _PREPARED.put(key, prepare_stored(fetch_run(library, run_id, channels=KEPT)))


def run_before(library: Library, run: RunRecord) -> RunRecord | None:
    """The car's run of this event that was made before this one; None where there is none, no event or no car."""
    if not run.details.event or not run.car:
        return None
    older = library.records.find_runs(event=run.details.event, car=run.car[0], limit=1, after=run.id)
    return older[0] if older else None


def fetch_run(library: Library, run_id: str, *, channels: Sequence[str] = ()) -> FetchedRun:
    """Fetch a run.

    Parameters
    ----------
    library : Library
        Where it is.
    run_id : str
        Its id.
    channels : sequence of str
        Columns wanted besides time, distance and speed.

    Returns
    -------
    FetchedRun
        With those of the channels that it has.

    Raises
    ------
    Problem
        404 if it is unknown.
    """
    opened, review = library.files.open_table(run_id), library.records.review(run_id)
    if opened is None or review is None:
        raise not_found("run")
    run, file = opened
    with file:
        stored = read_stored(file, run.table_key, [*AXES, *channels])
        return FetchedRun(run, _read(review), stored.frame, stored.columns)
