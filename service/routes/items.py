"""Parts of cars, with what each has seen; groups of runs about a change."""

from __future__ import annotations

from fastapi import APIRouter, Response

from passband.analysis.results.codec import plain
from passband.analysis.runs.used_up import UsedUp
from passband.service.answers.group_change import hold_groups
from passband.service.answers.items import (
    GROUPS,
    PART,
    GroupsGiven,
    PartGiven,
    add_item,
    change_item,
    count_parts,
    given_of,
    groups_json,
    item_of,
    let_go,
    part_json,
    sides_here,
)
from passband.service.answers.shared import Json, TheBody, TheLibrary, TheSettings
from passband.service.given.facts import read_given
from passband.service.http.errors import not_found
from passband.service.library import Library
from passband.service.routes.compare import two_sides
from passband.service.store.records import ItemRecord

router = APIRouter(prefix="/api", tags=["items"])


def counted_parts(library: Library, car_id: str) -> list[tuple[ItemRecord, UsedUp]]:
    """A car's parts with their counts, in the order they were given; a problem if there is no such car."""
    if library.records.car(car_id) is None:
        raise not_found("car")
    items = [one for one in library.records.items(PART, car=car_id) if not one.gone]
    return list(zip(items, count_parts(library, items), strict=True))


@router.get("/cars/{car_id}/parts")
def parts_of_car(library: TheLibrary, car_id: str) -> Json:
    """What each part of a car has seen: runs, revolutions, time above speeds, launches, heat. It foretells nothing."""
    parts = [{**part_json(item), "used_up": plain(used)} for item, used in counted_parts(library, car_id)]
    return Json({"car": car_id, "parts": parts})


@router.post("/cars/{car_id}/parts", status_code=201)
def add_part(library: TheLibrary, car_id: str, body: TheBody) -> Json:
    """Tell of a part, and from when to when it was in the car."""
    item = add_item(library, read_given(PartGiven, given_of(body), what="part"), car=car_id)
    return Json(part_json(item), 201)


@router.put("/parts/{part_id}")
def change_part(library: TheLibrary, part_id: str, body: TheBody) -> Json:
    """Tell of a part anew; one that was let go is here again."""
    return Json(part_json(change_item(library, part_id, read_given(PartGiven, given_of(body), what="part"))))


@router.delete("/parts/{part_id}", status_code=204)
def let_part_go(library: TheLibrary, part_id: str) -> Response:
    """Take a part out of the list; given anew it is here again."""
    let_go(library, part_id, PART)
    return Response(status_code=204)


@router.get("/groups")
def all_groups(library: TheLibrary) -> Json:
    """Groups of runs that were given a name, oldest first."""
    return Json({"groups": [groups_json(one) for one in library.records.items(GROUPS) if not one.gone]})


@router.post("/groups", status_code=201)
def add_groups(library: TheLibrary, body: TheBody) -> Json:
    """Give two groups of runs a name, to be found and shared by."""
    item = add_item(library, read_given(GroupsGiven, given_of(body), what="groups"))
    return Json(groups_json(item), 201, {"Location": f"/api/groups/{item.id}"})


@router.get("/groups/{groups_id}")
def one_change(library: TheLibrary, settings: TheSettings, groups_id: str) -> Json:
    """Two groups of runs, and what the change between them did."""
    item = item_of(library, groups_id, GROUPS)
    sides = two_sides(library, settings, *sides_here(library, item))
    found = hold_groups(library, *sides)
    return Json({**groups_json(item), "change": plain(found)})


@router.put("/groups/{groups_id}")
def change_groups(library: TheLibrary, groups_id: str, body: TheBody) -> Json:
    """Tell of two groups anew; groups that were let go are here again."""
    return Json(groups_json(change_item(library, groups_id, read_given(GroupsGiven, given_of(body), what="groups"))))


@router.delete("/groups/{groups_id}", status_code=204)
def let_groups_go(library: TheLibrary, groups_id: str) -> Response:
    """Take two groups out of the list; given anew they are here again."""
    let_go(library, groups_id, GROUPS)
    return Response(status_code=204)
