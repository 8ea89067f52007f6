"""Events: all runs of one meeting on one sheet."""

from __future__ import annotations

from typing import Any

import orjson
from fastapi import APIRouter

from passband.analysis.results.codec import plain, review_from_json
from passband.analysis.runs.weekend import make_sheet
from passband.service.answers import Json, TheLibrary, TheSettings
from passband.service.errors import not_found
from passband.service.library import Library
from passband.service.routes.runs import run_json
from passband.service.settings import Settings
from passband.service.store.records import RunRecord

router = APIRouter(prefix="/api/events", tags=["events"])


def sheet_json(library: Library, settings: Settings, name: str) -> dict[str, Any]:
    """The runs of an event in the order they came in; a problem if there are none."""
    runs = library.records.find_runs(event=name, car=None, limit=settings.page_runs, after=None)
    if not runs:
        raise not_found("event")
    in_order = list(reversed(runs))
    return {"event": name, "runs": [run_json(run) for run in in_order], "cars": _by_car(library, in_order)}


def _by_car(library: Library, runs: list[RunRecord]) -> list[dict[str, Any]]:
    """Each car's own sheet: rows, spread and trend, every shift over its runs."""
    cars: dict[str | None, list[RunRecord]] = {}
    for run in runs:
        cars.setdefault(run.car[0] if run.car else None, []).append(run)
    told = []
    for car, mine in cars.items():
        reviews = [review for run in mine if (review := library.records.review(run.id)) is not None]
        sheet = plain(make_sheet([review_from_json(orjson.loads(review)) for review in reviews]))
        told.append({"car": car, "run_ids": [run.id for run in mine], "sheet": sheet})
    return told


@router.get("/{name:path}/sheet")
def sheet(library: TheLibrary, settings: TheSettings, name: str) -> Json:
    """Every run of an event with what it did, oldest first."""
    return Json(sheet_json(library, settings, name))
