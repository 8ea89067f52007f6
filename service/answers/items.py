"""What a user tells beside cars and runs: parts of a car with what they have seen, and two groups of runs by a name.

Public: `PartGiven`, `GroupsGiven`, `part_json`, `part_told`, `groups_json`, `groups_shown`, `given_of`,
`add_item`, `change_item`, `let_go`, `item_of`, `sides_here`, `count_parts`, `PART`, `GROUPS`.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from passband.analysis.results.plain_values import JsonObject
from passband.analysis.runs.used_up import Part, UsedUp, count_part
from passband.service.answers.digests import digests_of
from passband.service.answers.run_list import Rpm
from passband.service.given.details import When
from passband.service.http.errors import Problem, not_found
from passband.service.library import Library
from passband.service.reviewing.upload_review import now
from passband.service.store.digest_rows import DatedRun
from passband.service.store.records import ItemRecord
from passband.web.shown.groups import GroupsShown
from passband.web.shown.parts import PartTold

PART, GROUPS = "part", "groups"
KEPT_BY_US = frozenset({"id", "car", "made_at", "gone", "used_up"})
"""Keys that an answer adds; sent back they are passed over."""


def _no_blank(text: str) -> str:
    if not text.strip():
        raise ValueError("must not be blank")
    return text.strip()


Name = Annotated[str, Field(max_length=200), AfterValidator(_no_blank)]
RunId = Annotated[str, Field(max_length=64)]


class PartGiven(BaseModel):
    """A part of a car, and in which of its runs it was, by dates and by runs: all where neither is given."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Name
    kind: str = Field("", max_length=100)
    fitted_from: When = ""
    fitted_to: When = ""
    first_run: RunId = ""
    last_run: RunId = ""
    above_rpm: list[Rpm] = Field(default_factory=list, max_length=20)
    notes: str = Field("", max_length=20_000)


class GroupsGiven(BaseModel):
    """Two groups of runs: before a change, and after it."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Name
    before: list[RunId] = Field(min_length=1, max_length=1000)
    after: list[RunId] = Field(min_length=1, max_length=1000)
    notes: str = Field("", max_length=20_000)


def part_json(item: ItemRecord) -> JsonObject:
    """A part as the API tells it."""
    return {"id": item.id, "car": item.car_id, "made_at": item.made_at, "gone": item.gone, **item.given}


def part_told(item: ItemRecord) -> PartTold:
    """What its owner told of a part, for a page."""
    given = PartGiven.model_validate(item.given)
    return PartTold(**{**given.model_dump(), "above_rpm": tuple(given.above_rpm)})


def groups_json(item: ItemRecord) -> JsonObject:
    """Two groups as the API tells them."""
    return {"id": item.id, "made_at": item.made_at, "gone": item.gone, **item.given}


def groups_shown(item: ItemRecord) -> GroupsShown:
    """The same for a page."""
    given = GroupsGiven.model_validate(item.given)
    return GroupsShown(item.id, given.name, tuple(given.before), tuple(given.after), given.notes)


def given_of(body: JsonObject) -> JsonObject:
    """A body without what an answer adds."""
    return {key: value for key, value in body.items() if key not in KEPT_BY_US}


def add_item(library: Library, given: PartGiven | GroupsGiven, *, car: str | None = None) -> ItemRecord:
    """Keep something new that was given.

    Parameters
    ----------
    library : Library
        Where to.
    given : PartGiven or GroupsGiven
        What.
    car : str, optional
        Whose part it is.

    Returns
    -------
    ItemRecord
        As it is kept.

    Raises
    ------
    Problem
        404 if the car or a run is unknown, 422 if runs are named twice, or the wrong way round.
    """
    if isinstance(given, PartGiven) and (car is None or library.records.car(car) is None):
        raise not_found("car")
    kind = PART if isinstance(given, PartGiven) else GROUPS
    item = ItemRecord(secrets.token_hex(16), kind, car, now(), gone=False, given=given.model_dump())
    _check(library, item)
    library.records.keep_item(item)
    return item


def change_item(library: Library, item_id: str, given: PartGiven | GroupsGiven) -> ItemRecord:
    """Tell something anew; what was let go is here again. Raises as `add_item`."""
    kind = PART if isinstance(given, PartGiven) else GROUPS
    item = replace(item_of(library, item_id, kind), given=given.model_dump(), gone=False)
    _check(library, item)
    library.records.keep_item(item)
    return item


def let_go(library: Library, item_id: str, kind: str) -> None:
    """Take something out of the lists; it stays kept, and is here again when it is given anew."""
    library.records.keep_item(replace(item_of(library, item_id, kind), gone=True))


def item_of(library: Library, item_id: str, kind: str) -> ItemRecord:
    """One item of a kind; 404 if there is none."""
    item = library.records.item(item_id)
    if item is None or item.kind != kind:
        raise not_found("part" if kind == PART else "change")
    return item


def sides_here(library: Library, item: ItemRecord) -> tuple[str, str]:
    """The two groups as lists of ids, without runs that were deleted since.

    Parameters
    ----------
    library : Library
        Where the runs are.
    item : ItemRecord
        Two groups.

    Returns
    -------
    (str, str)
        Ids before and after the change, parted by commas.

    Raises
    ------
    Problem
        404 if a side has no run any more.
    """
    before, after = ([one for one in item.given[key] if library.records.run(one)] for key in ("before", "after"))
    if not before or not after:
        side = "after" if before else "before"
        raise Problem(404, "Not found", f"The runs {side} this change were all deleted; the trash has them.")
    return ",".join(before), ",".join(after)


def _check(library: Library, item: ItemRecord) -> None:
    given = item.given
    if item.kind == GROUPS:
        twice = sorted({*given["before"]} & {*given["after"]})
        if twice:
            raise Problem(422, "Not usable", f"Run {twice[0]} is named before and after the change: name it once.")
        unknown = [one for one in (*given["before"], *given["after"]) if library.records.run(one) is None]
        if unknown:
            raise Problem(422, "Not usable", f"No run has the id {unknown[0]!r}; take it out of the groups.")
        return
    if given["fitted_from"] and given["fitted_to"] and given["fitted_to"] < given["fitted_from"]:
        raise Problem(422, "Not usable", "fitted_to: the part came out before it was fitted; swap the two dates.")
    order = [run.id for run in library.records.digests.dated(item.car_id or "")]
    ends = [given[key] for key in ("first_run", "last_run") if given[key]]
    for run_id in ends:
        if run_id not in order:
            raise Problem(422, "Not usable", f"No run of this car has the id {run_id!r}.")
    if len(ends) == 2 and order.index(ends[0]) > order.index(ends[1]):
        raise Problem(422, "Not usable", "first_run stands behind last_run; swap the two.")


def count_parts(library: Library, items: Sequence[ItemRecord]) -> list[UsedUp]:
    """Count what parts have seen.

    Parameters
    ----------
    library : Library
        Where their cars' runs are.
    items : sequence of ItemRecord
        Parts.

    Returns
    -------
    list of UsedUp
        One for each. A run's date is the one given, else the day its logs came in.
    """
    runs = {car: library.records.digests.dated(car) for car in {one.car_id or "" for one in items}}
    counted = []
    for item in items:
        some = _in_part(runs[item.car_id or ""], item.given)
        digests = digests_of(library, [(run.id, run.reviewed_at) for run in some])
        part = Part(str(item.given["name"]), tuple(item.given["above_rpm"]))
        counted.append(count_part(part, digests, [run.day for run in some]))
    return counted


def _in_part(runs: Sequence[DatedRun], given: JsonObject) -> list[DatedRun]:
    """Runs that a part was in, of those that are still here."""
    ids = [run.id for run in runs]
    first = ids.index(given["first_run"]) if given["first_run"] in ids else 0
    last = ids.index(given["last_run"]) if given["last_run"] in ids else len(ids) - 1
    since, until = given["fitted_from"], given["fitted_to"]
    return [
        run
        for run in runs[first : last + 1]
        if run.at[: len(since)] >= since and (not until or run.at[: len(until)] <= until)
    ]
