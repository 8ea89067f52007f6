"""Events: all runs of one meeting on one sheet."""

from __future__ import annotations

from typing import Annotated, Literal

import orjson
from fastapi import APIRouter, Query, Response

from passband.analysis.results.codec import plain, review_from_json
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.runs.season_sheet import SeasonSheet
from passband.analysis.runs.weekend import make_sheet
from passband.service.answers.digests import EventSheet, sheet_of
from passband.service.answers.shared import Json, TheLibrary, TheSettings, TheUnits, attachment
from passband.service.answers.sheet_files import sheet_as_csv, sheet_as_parquet
from passband.service.http.errors import Problem, not_found
from passband.service.kept.run_answers import run_json, run_shown
from passband.service.library import Library
from passband.service.settings import Settings
from passband.service.store.records import RunRecord
from passband.web.sheets.season import EventShown, season
from passband.web.wording.units import UnitSystem

router = APIRouter(prefix="/api/events", tags=["events"])


EVENTS_UNASKED = 50
"""Events in an answer where nobody says how many, or the most allowed if that is less."""


@router.get("")
def find_events(
    library: TheLibrary,
    settings: TheSettings,
    limit: Annotated[int | None, Query(ge=1)] = None,
    after: str | None = None,
) -> Json:
    """Events, that of the newest run first; `next` is what to give as `after` for those behind."""
    limit = min(EVENTS_UNASKED, settings.page_runs) if limit is None else limit
    if limit > settings.page_runs:
        raise Problem(422, "Not usable", f"limit: {limit} is too many at once; ask for {settings.page_runs} at most.")
    if after is not None and not library.records.find_runs(event=after, car=None, limit=1, after=None):
        raise not_found("event")
    names = library.records.events(limit=limit + 1, after=after)
    next_name = names[limit - 1] if len(names) > limit else None
    return Json({"events": [{"name": name} for name in names[:limit]], "next": next_name})


def _by_car(library: Library, runs: list[RunRecord]) -> list[JsonObject]:
    """Each car's own sheet: rows, spread and trend, every shift over its runs."""
    cars: dict[str | None, list[RunRecord]] = {}
    for run in runs:
        cars.setdefault(run.car[0] if run.car else None, []).append(run)
    found = []
    for car, mine in cars.items():
        reviews = [review for run in mine if (review := library.records.review(run.id)) is not None]
        sheet = plain(make_sheet([review_from_json(orjson.loads(review)) for review in reviews]))
        found.append({"car": car, "run_ids": [run.id for run in mine], "sheet": sheet})
    return found


@router.get("/{name:path}/sheet")
def sheet(
    library: TheLibrary,
    settings: TheSettings,
    units: TheUnits,
    name: str,
    format: Literal["json", "csv", "parquet", "pdf", "png"] = "json",
    cars: bool = False,
) -> Response:
    """Every run of an event with what it did, oldest first, as JSON or a file; `cars` adds each car's shifts."""
    found = season_of(library, settings, name)
    if format in ("pdf", "png"):
        return _paper(event_shown(found, name), units, format)
    if format != "json":
        return _file(found.sheet, format)
    return Json({**sheet_json(found, name), "cars": _by_car(library, list(found.runs)) if cars else []})


def _paper(event: EventShown, units: UnitSystem, form: str) -> Response:
    """The sheet on one A4 lying across."""
    from passband.web.printed.paper import as_pdf, as_png
    from passband.web.printed.paper_event import event_paper

    svg = event_paper(event.event, season(event, units))
    body, kind = (as_pdf(svg), "application/pdf") if form == "pdf" else (as_png(svg), "image/png")
    return Response(body, media_type=kind, headers=attachment(f"sheet.{form}"))


def sheet_json(found: EventSheet, name: str) -> JsonObject:
    """An event's runs, the sheet's rows in the same order, and each run's engine against those before it."""
    return {
        "event": name,
        "runs": [run_json(run) for run in found.runs],
        "columns": plain(found.sheet.columns),
        "rows": found.sheet.runs,
        "best": found.best[0].id if len(found.best) == 1 and found.best[0] is not None else None,
        "spreads": plain(found.sheet.spreads),
        "by_car": [
            {
                "car": one.car,
                "best": best.id if best is not None else None,
                "spreads": plain(one.spreads),
                "usual_faults": list(one.usual_faults),
            }
            for one, best in zip(found.sheet.cars, found.best, strict=True)
        ],
        "air_rules": list(found.sheet.air_rules),
        "same_engine": [None if one is None else one.said for one in found.engine],
        "new_usual": list(found.new_usual),
    }


def event_shown(found: EventSheet, name: str) -> EventShown:
    """The same for a page."""
    engine = tuple(None if one is None else one.shown for one in found.engine)
    best = tuple(one.id for one in found.best if one is not None)
    return EventShown(name, tuple(run_shown(run) for run in found.runs), found.sheet, engine, best)


def season_of(library: Library, settings: Settings, name: str) -> EventSheet:
    """The runs of an event on one sheet, in the order they were made; a problem if there are none."""
    runs = library.records.find_runs(event=name, car=None, limit=settings.page_runs, after=None)
    if not runs:
        raise not_found("event")
    return sheet_of(library, runs[::-1])


def _file(sheet: SeasonSheet, form: str) -> Response:
    content = sheet_as_csv(sheet) if form == "csv" else sheet_as_parquet(sheet)
    kind = "text/csv; charset=utf-8" if form == "csv" else "application/vnd.apache.parquet"
    return Response(content, media_type=kind, headers=attachment(f"sheet.{form}"))
