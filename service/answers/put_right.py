"""One thing said wrong of many runs, such as the car, put right of all of them at once; and taken back again.

Before the first run is changed it is kept, as an item, what stood of each. So nothing is lost whatever ends the service
meanwhile, and whoever takes it back puts each run to what it was; a run of which somebody has said otherwise since
stays as it is.

Public: `PutRightAsked`, `SaidOfMany`, `Turned`, `Turning`, `begin`, `turning_back`, `turn`, `end`, `put_rights`,
`put_right_json`, `PUT_RIGHT`, `MOST_RUNS`.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from passband.analysis.channels.log import LogError
from passband.analysis.results.plain_values import JsonObject
from passband.service.given.details import FinishFt, RunChanges
from passband.service.given.facts import GivenError
from passband.service.given.told_meanwhile import ToldMeanwhile
from passband.service.http.errors import Problem, not_found, problem_of
from passband.service.library import Library
from passband.service.reviewing.upload_review import now
from passband.service.reviewing.workers import TaskFailed, TaskTooLong
from passband.service.store.faults import NotWhole
from passband.service.store.records import ItemRecord, RunRecord
from passband.web.shown.put_right import PutRightShown

PUT_RIGHT = "put-right"
MOST_RUNS = 200
"""Runs put right at once: a season of one car; at half a second a review it is done within two minutes."""
SHOWN = 10
"""So many of the last ones are listed, to be taken back."""
CALLED = {"car": "car", "event": "event", "slip": "slip", "air": "air", "finish_ft": "finish line"}


class SaidOfMany(BaseModel):
    """What may be said of many runs alike; what is not named stays as it is. Null takes car, slip or air away."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    car: str | None = None
    event: str = Field("", max_length=200)
    slip: JsonObject | None = None
    air: JsonObject | None = None
    finish_ft: FinishFt = 1320


class PutRightAsked(BaseModel):
    """Which runs, and what is true of all of them."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    runs: list[Annotated[str, Field(min_length=1, max_length=64)]] = Field(min_length=1, max_length=MOST_RUNS)
    change: SaidOfMany


@dataclass(frozen=True, slots=True)
class Turned:
    """One run that was to be changed."""

    run: str
    changed: bool
    """Whether it now says so."""
    why: str = ""
    """Why not, else."""
    again: bool = False
    """Whether another try may do it: it was not somebody's word that stood in the way."""

    @property
    def json(self) -> JsonObject:
        """As the API tells it."""
        return {"run": self.run, "changed": self.changed, "why": self.why}


@dataclass(frozen=True, slots=True)
class Turning:
    """Runs that are to be changed, and the item that keeps what stood of them."""

    item: ItemRecord
    changes: tuple[tuple[str, RunChanges], ...]


def begin(library: Library, asked: PutRightAsked) -> Turning:
    """Keep what stands of runs that are about to be changed.

    Parameters
    ----------
    library : Library
        Where they are.
    asked : PutRightAsked
        Which and how.

    Returns
    -------
    Turning
        What is to be done, run by run; nothing of it is done yet.

    Raises
    ------
    Problem
        404 if a run or the car is unknown, 422 if nothing is said; nothing is kept then.
    """
    change = asked.change.model_dump(exclude_unset=True)
    if not change:
        raise Problem(422, "Not usable", "change: say at least one thing that is true of all these runs.")
    if change.get("car") is not None and library.records.car(change["car"]) is None:
        raise not_found("car")
    found = [library.records.run(run_id) for run_id in dict.fromkeys(asked.runs)]
    runs = [run for run in found if run is not None]
    if len(runs) < len(found):
        raise not_found("run")
    stood = {run.id: _stands(run, change) for run in runs}
    given = {"change": change, "runs": [{"run": run_id, "was": was} for run_id, was in stood.items()]}
    item = ItemRecord(secrets.token_hex(16), PUT_RIGHT, None, now(), gone=False, given=given)
    library.records.keep_item(item)
    return Turning(item, tuple((run_id, RunChanges(**change, was=was)) for run_id, was in stood.items()))


def turning_back(library: Library, item_id: str) -> Turning:
    """What takes a change of many runs back; 404 if there is none, 409 if it was taken back already."""
    item = library.records.item(item_id)
    if item is None or item.kind != PUT_RIGHT:
        raise not_found("change")
    if item.gone:
        raise Problem(409, "Not possible", "This was taken back already; nothing was changed.")
    given = item.given
    changes = [(one["run"], RunChanges(**one["was"], was=given["change"])) for one in given["runs"]]
    return Turning(item, tuple(changes))


def turn(library: Library, run_id: str, changes: RunChanges) -> Turned:
    """Change one of many runs; what stands in its way is told, and the others go on.

    Parameters
    ----------
    library : Library
        Where it is.
    run_id : str
        Which.
    changes : RunChanges
        To what; `was` says what it is changed from.

    Returns
    -------
    Turned
        What became of it; until its new review is whole the old one stands.
    """
    run = library.records.run(run_id)
    if run is None:
        return Turned(run_id, changed=False, why="It was deleted; the trash has it.")
    if _stands(run, changes.told) == changes.told:
        return Turned(run_id, changed=True)
    try:
        library.review_again(run_id, changes)
    except ToldMeanwhile:
        return Turned(run_id, changed=False, why="Somebody has said otherwise of it since; it stays as it is.")
    except (LogError, GivenError, NotWhole, TaskFailed, TaskTooLong) as error:
        problem = problem_of(error)
        return Turned(run_id, changed=False, why=problem.detail if problem else str(error), again=True)
    return Turned(run_id, changed=True)


def end(library: Library, item: ItemRecord, turned: Sequence[Turned]) -> None:
    """A change was taken back: it is listed no more, unless a run could not be reviewed and wants another try."""
    if not any(one.again for one in turned):
        library.records.keep_item(replace(item, gone=True))


def put_rights(library: Library) -> list[PutRightShown]:
    """The last changes of many runs that can be taken back, newest first."""
    items = [one for one in library.records.items(PUT_RIGHT) if not one.gone]
    return [_shown(library, one) for one in items[: -SHOWN - 1 : -1]]


def put_right_json(item: ItemRecord, turned: Sequence[Turned] = ()) -> JsonObject:
    """A change of many runs as the API tells it, with what became of each run where it was just made."""
    told = {"id": item.id, "made_at": item.made_at, **item.given}
    return {**told, "turned": [one.json for one in turned]}


def _stands(run: RunRecord, change: JsonObject) -> JsonObject:
    said = {"car": run.car[0] if run.car else None}
    return {key: said["car"] if key == "car" else getattr(run.details, key) for key in change}


def _shown(library: Library, item: ItemRecord) -> PutRightShown:
    change, given = item.given["change"], item.given["runs"]
    runs = [library.records.run(one["run"]) for one in given]
    so = sum(run is not None and _stands(run, change) == change for run in runs)
    said = [_words(library, key, value) for key, value in change.items()]
    return PutRightShown(item.id, item.made_at, ", ".join(said), len(given), so)


def _words(library: Library, key: str, value: object) -> str:
    if value in (None, ""):
        return f"no {CALLED[key]}"
    if key == "car":
        car = library.records.car(str(value))
        return f"car {car.given.get('name', '') if car else value}"
    if key == "finish_ft":
        return f"finish line {value} ft"
    return f"event {value}" if key == "event" else f"one {CALLED[key]} for all"
