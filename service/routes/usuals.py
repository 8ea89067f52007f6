"""From which runs on the usual of a car's engine is a new one."""

from __future__ import annotations

from fastapi import APIRouter, Response

from passband.service.answers.items import given_of
from passband.service.answers.shared import Json, TheBody, TheLibrary
from passband.service.cars.usuals import USUAL, UsualGiven, begin_usual, end_usual, usual_json
from passband.service.given.facts import read_given
from passband.service.http.errors import not_found

router = APIRouter(prefix="/api", tags=["items"])


@router.get("/cars/{car_id}/usuals")
def usuals(library: TheLibrary, car_id: str) -> Json:
    """Runs from which the car's engine was changed for good; each later run is held against those since the last."""
    if library.records.car(car_id) is None:
        raise not_found("car")
    kept = [one for one in library.records.items(USUAL, car=car_id) if not one.gone]
    return Json({"car": car_id, "usuals": [usual_json(one) for one in kept]})


@router.put("/runs/{run_id}/usual")
def begin_new_usual(library: TheLibrary, run_id: str, body: TheBody) -> Json:
    """The engine was changed for good before this run: it and later ones are held against no run before it."""
    given = {key: value for key, value in given_of(body).items() if key != "run"}
    return Json(usual_json(begin_usual(library, run_id, read_given(UsualGiven, given, what="usual"))))


@router.delete("/runs/{run_id}/usual", status_code=204)
def take_usual_back(library: TheLibrary, run_id: str) -> Response:
    """It was no new usual: the run and later ones are held against the runs before it again; given anew it is here."""
    end_usual(library, run_id)
    return Response(status_code=204)
