"""Cars: what the user knows of a vehicle, kept in versions."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query

from passband.service.answers import Json, TheBody, TheLibrary
from passband.service.errors import not_found
from passband.service.store.records import CarRecord

router = APIRouter(prefix="/api/cars", tags=["cars"])

KEPT_BY_US = frozenset({"id", "version", "made_at"})
"""Keys that an answer adds; sent back they are passed over, so that an answer can be changed and put."""


def car_json(car: CarRecord) -> dict[str, Any]:
    """A car as the API tells it: as the user gave it, and which version it is."""
    return {"id": car.id, "version": car.version, "made_at": car.made_at, **car.given}


def _given(body: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in body.items() if key not in KEPT_BY_US}


@router.post("", status_code=201)
def add_car(library: TheLibrary, body: TheBody) -> Json:
    """Describe a car; quantities are SI numbers or text with a unit."""
    car = library.add_car(_given(body))
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
def change_car(library: TheLibrary, car_id: str, body: TheBody) -> Json:
    """Make a new version of a car; reviews keep the version they were made with until they are made again."""
    car = library.change_car(car_id, _given(body))
    if car is None:
        raise not_found("car")
    return Json(car_json(car))
