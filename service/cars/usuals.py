"""The runs from which an engine's usual is a new one: after a change for good, its runs are held against those since.

Kept as an item of the car, by the first run of the new usual, so that backup, recheck and undo are those of any item.

Public: `UsualGiven`, `USUAL`, `usual_json`, `usual_of`, `begin_usual`, `end_usual`, `usuals_of_car`, `begun_at`,
`usual_here`.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import replace

from pydantic import BaseModel, ConfigDict, Field

from passband.analysis.results.plain_values import JsonObject
from passband.service.http.errors import Problem, not_found
from passband.service.library import Library
from passband.service.reviewing.upload_review import now
from passband.service.store.records import ItemRecord, RunRecord
from passband.web.shown.run import UsualHere

USUAL = "usual"


class UsualGiven(BaseModel):
    """What was changed in the engine for good before a run."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    notes: str = Field("", max_length=2_000)


def usual_json(item: ItemRecord) -> JsonObject:
    """A new usual as the API tells it."""
    return {"id": item.id, "car": item.car_id, "made_at": item.made_at, **item.given}


def usual_of(library: Library, run: RunRecord) -> ItemRecord | None:
    """What is kept of a run as the first of a new usual, also where it was let go; None if there is nothing."""
    if run.car is None:
        return None
    kept = library.records.items(USUAL, car=run.car[0])
    return next((one for one in kept if one.given["run"] == run.id), None)


def begin_usual(library: Library, run_id: str, given: UsualGiven) -> ItemRecord:
    """Let the usual of a car's engine be new from a run on, or say anew what was changed.

    Parameters
    ----------
    library : Library
        Where the run is.
    run_id : str
        The first run of the new usual.
    given : UsualGiven
        What was changed.

    Returns
    -------
    ItemRecord
        As it is kept.

    Raises
    ------
    Problem
        404 if there is no such run, 422 if it names no car.
    """
    run = _run(library, run_id)
    if run.car is None:
        raise Problem(
            422, "Not usable", "The run names no car, so it is held against no others; give it its car first."
        )
    said = {"run": run.id, "notes": given.notes.strip()}
    kept = usual_of(library, run)
    fresh = ItemRecord(secrets.token_hex(16), USUAL, run.car[0], now(), gone=False, given=said)
    item = replace(kept, given=said, gone=False) if kept is not None else fresh
    library.records.keep_item(item)
    return item


def end_usual(library: Library, run_id: str) -> None:
    """Take a new usual back: the run and those after it are held against the runs before it again."""
    kept = usual_of(library, _run(library, run_id))
    if kept is None or kept.gone:
        raise not_found("new usual")
    library.records.keep_item(replace(kept, gone=True))


def usuals_of_car(library: Library, car: str) -> dict[str, str]:
    """Runs from which a car's usual is new, and what was changed before each.

    Parameters
    ----------
    library : Library
        Where they are.
    car : str
        Its id.

    Returns
    -------
    dict
        Notes by id of run; a run in the trash counts again once it is back.
    """
    kept = library.records.items(USUAL, car=car)
    return {str(one.given["run"]): str(one.given["notes"]) for one in kept if not one.gone}


def usual_here(library: Library, run: RunRecord) -> UsualHere | None:
    """From where on a run's usual holds, as its page says it.

    Parameters
    ----------
    library : Library
        Where it is.
    run : RunRecord
        The run.

    Returns
    -------
    UsualHere or None
        None where the run names no car.
    """
    if run.car is None:
        return None
    usuals = usuals_of_car(library, run.car[0])
    ids = [one.id for one in library.records.digests.dated(run.car[0])] if usuals else [run.id]
    since = dict(zip(ids, begun_at(ids, usuals), strict=True)).get(run.id, "")
    return UsualHere(since, since == run.id, usuals.get(since, ""))


def begun_at(run_ids: Sequence[str], usuals: dict[str, str]) -> list[str]:
    """From which run on the usual of each run of a car holds.

    Parameters
    ----------
    run_ids : sequence of str
        All runs of the car, oldest first.
    usuals : dict
        As `usuals_of_car` gives them.

    Returns
    -------
    list of str
        Id of the first run of its usual; empty for those before any that was given.

    Examples
    --------
    >>> begun_at(["a", "b", "c"], {"b": "new springs"})
    ['', 'b', 'b']
    """
    begun, since = [], ""
    for run_id in run_ids:
        since = run_id if run_id in usuals else since
        begun.append(since)
    return begun


def _run(library: Library, run_id: str) -> RunRecord:
    run = library.records.run(run_id)
    if run is None:
        raise not_found("run")
    return run
