"""A run's review, its traces, its logs as they came, and its table to take away."""

from __future__ import annotations

import os
from dataclasses import replace
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request, Response

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.downloads import Download, encodings, file_answer, sent_there
from passband.service.answers.shared import Json, TheLibrary, TheSettings, TheUnits, attachment, listed
from passband.service.answers.side_by_side import lay_side_by_side
from passband.service.answers.traces import ARROW_STREAM, Trace, as_arrow, take_traces
from passband.service.http.errors import Problem, not_found
from passband.service.kept.run_answers import car_shown
from passband.service.library import Library
from passband.service.reviewing.tables import as_csv, column_facts, read_table
from passband.service.settings import Settings
from passband.service.store.records import RunRecord
from passband.web.wording.units import UnitSystem

router = APIRouter(prefix="/api/runs/{run_id}", tags=["review"])

STRIP_COLUMNS = ("time_s", "distance_m", "speed_mps", "engine_speed", "boost", "manifold_pressure", "throttle")
"""What the picture of a run is drawn from."""
POINTS_UNASKED = 1200
"""Points of a trace where nobody says how many, or the most allowed if that is less."""


@router.get("/review")
def review(library: TheLibrary, run_id: str) -> Json:
    """Everything found in a run."""
    found = library.records.review(run_id)
    if found is None:
        raise not_found("run")
    return Json(found)


@router.get("/traces")
def traces(
    request: Request,
    library: TheLibrary,
    settings: TheSettings,
    run_id: str,
    channels: str = "engine_speed,boost,speed_mps",
    by: Literal["distance", "time"] = "distance",
    points: Annotated[int | None, Query(ge=4)] = None,
) -> Response:
    """Channels for drawing: JSON, or an Arrow stream where `Accept` asks for it. Thinned ones say so."""
    points = min(POINTS_UNASKED, settings.points) if points is None else points
    if points > settings.points:
        raise Problem(422, "Not usable", f"points: {points} is too many; ask for {settings.points} at most.")
    names = listed(channels, most=settings.channels, what="channels")
    opened = library.files.open_table(run_id)
    if opened is None:
        raise not_found("run")
    with opened[1] as file:
        taken = take_traces(file, names, by=by, points=points)
    if ARROW_STREAM in request.headers.get("accept", ""):
        return Response(as_arrow(taken, by=by), media_type=ARROW_STREAM, headers={"Cache-Control": "no-store"})
    answer = [_trace_json(trace) for trace in taken]
    missing = [name for name in names if name not in {trace.column.name for trace in taken}]
    return Json({"run": run_id, "by": by, "points": points, "channels": answer, "missing": missing})


def _trace_json(trace: Trace) -> JsonObject:
    column, drawn = trace.column, trace.drawn
    return {
        "name": column.name,
        "title": column.title,
        "unit": column.unit,
        "shown_unit": column.shown_unit,
        "log": column.log,
        "thinned": drawn.thinned,
        "samples": trace.samples,
        "x": drawn.x,
        "y": drawn.y,
    }


@router.get("/logs/{n}")
def log_as_it_came(request: Request, library: TheLibrary, settings: TheSettings, run_id: str, n: int) -> Response:
    """A log, byte for byte; by range too, or by an address in the store that it lies in, if set so."""
    found = library.files.log(run_id, n)
    if found is None:
        raise not_found("log")
    offered = Download(found.name, "application/octet-stream", found.sha256, found.bytes)
    there = _elsewhere(request, library, settings, run_id, offered)
    if there is not None:
        return there
    opened = library.files.open_log(run_id, n)
    if opened is None:
        raise not_found("log")
    return file_answer(request, opened[1], offered)


@router.get("/export")
def export(
    request: Request,
    library: TheLibrary,
    settings: TheSettings,
    units: TheUnits,
    run_id: str,
    format: Literal["parquet", "csv", "pdf", "png"] = "parquet",
) -> Response:
    """All channels of a run on one time grid, SI, as Parquet by range too; or its review as one sheet of A4."""
    if format in ("pdf", "png"):
        return _sheet(library, settings, units, run_id, format)
    if format == "parquet":
        return _table(request, library, settings, run_id)
    opened = library.files.open_table(run_id)
    if opened is None:
        raise not_found("run")
    with opened[1] as file:
        body = as_csv(read_table(file), column_facts(file))
    return Response(body, media_type="text/csv; charset=utf-8", headers=attachment(_named(opened[0], format)))


def _table(request: Request, library: Library, settings: Settings, run_id: str) -> Response:
    run = library.records.run(run_id)
    if run is None:
        raise not_found("run")
    offered = Download(_named(run, "parquet"), "application/vnd.apache.parquet", run.table_key, 0)
    there = _elsewhere(request, library, settings, run_id, offered)
    if there is not None:
        return there
    opened = library.files.open_table(run_id)
    if opened is None:
        raise not_found("run")
    run, file = opened
    size = file.seek(0, os.SEEK_END)
    return file_answer(request, file, replace(offered, key=run.table_key, bytes=size))


def _named(run: RunRecord, ending: str) -> str:
    return f"{run.details.label or f'run-{run.id[:8]}'}.{ending}"


def _elsewhere(
    request: Request, library: Library, settings: Settings, run_id: str, offered: Download
) -> Response | None:
    """Where the store itself can give a file out, and is to, the way there."""
    if not settings.signed_seconds:
        return None
    shown = {**attachment(offered.name), "Content-Type": offered.kind}
    address = library.files.address(
        run_id, offered.key, seconds=settings.signed_seconds, headers=shown, encodings=encodings(request)
    )
    return None if address is None else sent_there(address)


def _sheet(library: Library, settings: Settings, units: UnitSystem, run_id: str, form: str) -> Response:
    from passband.web.printed.paper import as_pdf, as_png, run_paper

    fetched = lay_side_by_side(library, run_id, settings, channels=STRIP_COLUMNS)[0]
    car = library.records.car(*fetched.run.car) if fetched.run.car else None
    svg = run_paper(fetched.review, fetched.table, given=car_shown(car).limits if car else (), units=units)
    body, kind = (as_pdf(svg), "application/pdf") if form == "pdf" else (as_png(svg), "image/png")
    name = fetched.run.details.label or f"run-{run_id[:8]}"
    return Response(body, media_type=kind, headers=attachment(f"{name}.{form}"))
