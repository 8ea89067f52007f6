"""Cars: what the user knows of a vehicle, kept in versions."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Path, Query

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.shared import Json, TheBody, TheLibrary
from passband.service.cars.corrections import FactsGiven, Whether, facts_of_versions, tell_facts
from passband.service.given.facts import read_given
from passband.service.http.errors import not_found
from passband.service.kept.run_answers import car_json

router = APIRouter(prefix="/api/cars", tags=["cars"])

KEPT_BY_US = frozenset({"id", "version", "made_at"})
"""Keys that an answer adds; sent back they are passed over, so that an answer can be changed and put."""


def _given(body: JsonObject) -> JsonObject:
    return {key: value for key, value in body.items() if key not in KEPT_BY_US}


@router.post("", status_code=201)
def add_car(library: TheLibrary, body: TheBody) -> Json:
    """Describe a car; quantities are SI numbers or text with a unit."""
    car = library.cars.add(_given(body))
    return Json(car_json(car), 201, {"Location": f"/api/cars/{car.id}"})


@router.get("")
def all_cars(library: TheLibrary) -> Json:
    """All cars in their newest versions, by name."""
    return Json({"cars": [car_json(car) for car in library.records.all_cars()]})


@router.get("/{car_id}")
def one_car(library: TheLibrary, car_id: str, version: Annotated[int | None, Query(ge=1, le=2**31)] = None) -> Json:
    """A car, in its newest version unless one is named."""
    car = library.records.car(car_id, version)
    if car is None:
        raise not_found("car")
    return Json(car_json(car))


@router.put("/{car_id}")
def change_car(
    library: TheLibrary, car_id: str, body: TheBody, facts: Annotated[Whether | None, Query()] = None,
    made_of: Annotated[int | None, Query(ge=1, le=2**31)] = None,
) -> Json:  # fmt: skip
    """Make a new version of a car; `facts` says whether what differs was changed on the car or only corrected.

    With `made_of`, the version that the sender saw, it is refused where another was made meanwhile.
    """
    car = library.cars.change(car_id, _given(body), made_of=made_of)
    if car is None:
        raise not_found("car")
    if facts is not None:
        differ = [one.fact for one in facts_of_versions(library, car_id) if one.version == car.version]
        tell_facts(library, car_id, car.version, FactsGiven(**dict.fromkeys(differ, facts)))
    return Json(car_json(car))


@router.get("/{car_id}/facts")
def facts_that_differ(library: TheLibrary, car_id: str) -> Json:
    """Facts in which the car's versions differ, and whether they were changed on the car or corrected."""
    return Json({"car": car_id, "facts": [asdict(one) for one in facts_of_versions(library, car_id)]})


@router.put("/{car_id}/versions/{version}/facts")
def tell_what_differs(
    library: TheLibrary, car_id: str, version: Annotated[int, Path(ge=1, le=2**31)], body: TheBody
) -> Json:
    """Say of a version's facts which were changed on the car and which describe the same car better."""
    said = tell_facts(library, car_id, version, read_given(FactsGiven, body, what="facts"))
    return Json({"car": car_id, "facts": [asdict(one) for one in said]})
