"""Events: all runs of one meeting on one sheet."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from service.answers import Json, TheLibrary, TheSettings
from service.errors import not_found
from service.library import Library
from service.routes.runs import run_json
from service.settings import Settings

router = APIRouter(prefix="/api/events", tags=["events"])


def sheet_json(library: Library, settings: Settings, name: str) -> dict[str, Any]:
    """The runs of an event in the order they came in; a problem if there are none."""
    runs = library.records.find_runs(event=name, car=None, limit=settings.page_runs, after=None)
    if not runs:
        raise not_found("event")
    return {"event": name, "runs": [run_json(run) for run in reversed(runs)]}


@router.get("/{name:path}/sheet")
def sheet(library: TheLibrary, settings: TheSettings, name: str) -> Json:
    """Every run of an event with what it did, oldest first."""
    return Json(sheet_json(library, settings, name))
