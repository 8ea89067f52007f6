"""The pages, and what they load: HTML out of what the API tells as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Annotated

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse

from passband.analysis.results.codec import plain, review_from_json
from passband.service.answers.items import GROUPS, groups_shown, part_told
from passband.service.answers.shared import TheBody, TheLibrary, TheSettings, TheUnits, listed
from passband.service.answers.side_by_side import fetch_run, hold_against, lay_side_by_side, run_before, stored_review
from passband.service.cars.car_between import car_differs
from passband.service.cars.corrections import facts_of_versions
from passband.service.cars.kept_sheets import sheet_shown, sheets_of
from passband.service.cars.usuals import usual_here
from passband.service.http.errors import not_found
from passband.service.kept.run_answers import car_shown, named_run, run_shown, title_of, whole_run
from passband.service.kept.same_logs import twins_of
from passband.service.library import Library
from passband.service.reviewing.tables import column_facts
from passband.service.routes.cars import KEPT_BY_US
from passband.service.routes.columns import asked_page_parts
from passband.service.routes.events import event_shown, season_of
from passband.service.routes.items import counted_parts
from passband.service.routes.trash import entry_shown
from passband.service.settings import Settings
from passband.service.store.records import RunRecord
from passband.service.store.run_order import newest_made_first
from passband.web.assets import STATIC
from passband.web.shown.car import CarShown, CarVersion, FactDiffers
from passband.web.shown.parts import PartOfCar
from passband.web.shown.run import CarriedOver
from passband.web.shown.trash import TrashShown
from passband.web.wording.units import UnitSystem

if TYPE_CHECKING:
    from passband.analysis.report import TableColumn

router = APIRouter(include_in_schema=False)

RUNS_A_PAGE = 50
"""Runs in the list before one has to turn the page."""
EVENTS_A_PAGE = 100
"""Events to choose from: some years of a car, and no more than a list lets one find."""
WEEKEND = timedelta(days=4)
"""So long after its last run an event is taken to go on: Thursday to Sunday."""
VERSIONS_SHOWN = 20
"""Versions of a car whose changes are listed, the newest."""
STRIP_COLUMNS = ("time_s", "distance_m", "speed_mps", "engine_speed", "boost", "manifold_pressure")
"""What the picture of a run is drawn from."""


@router.get("/worker.js")
def worker() -> FileResponse:
    """The script that keeps what was seen; at the root, because it may keep only what lies beneath it."""
    return FileResponse(STATIC / "worker.js", media_type="text/javascript", headers={"Cache-Control": "no-cache"})


@router.get("/")
def start(
    library: TheLibrary,
    units: TheUnits,
    event: str | None = None,
    car: str | None = None,
    after: str | None = None,
    deleted: str | None = None,
    events_after: str | None = None,
) -> HTMLResponse:
    """Drop logs here, and all runs."""
    from passband.web.pages.start import RunList, render_runs

    if after and library.records.run(after) is None:
        raise not_found("run")
    runs = library.records.find_runs(event=event or None, car=car or None, limit=RUNS_A_PAGE + 1, after=after or None)
    names = library.records.events(limit=EVENTS_A_PAGE + 1, after=events_after or None)
    shown = RunList(
        [run_shown(run) for run in newest_made_first(runs[:RUNS_A_PAGE])],
        [car_shown(one) for one in library.records.all_cars()],
        events=names[:EVENTS_A_PAGE],
        next_events=names[EVENTS_A_PAGE - 1] if len(names) > EVENTS_A_PAGE else None,
        event=event or "",
        car=car or "",
        next_run=runs[RUNS_A_PAGE - 1].id if len(runs) > RUNS_A_PAGE else None,
        doubt=library.condition.text,
        deleted=_deleted(library, deleted),
        from_older=bool(after),
        carried=carried_over(library, event),
    )
    return HTMLResponse(render_runs(shown, units=units))


def carried_over(library: Library, event: str | None) -> CarriedOver | None:
    """What the next run of an event begins with: what was said of the last one, an event that is over left out."""
    last = next(iter(library.records.find_runs(event=event or None, car=None, limit=1, after=None)), None)
    if last is None or (not event and datetime.now(UTC) - datetime.fromisoformat(last.added_at) > WEEKEND):
        return None
    given, car = last.details, last.car[0] if last.car else ""
    return CarriedOver(title_of(last), given.event, car, given.finish_ft, given.air)


@router.get("/carried")
def carried(library: TheLibrary, units: TheUnits, event: str) -> JSONResponse:
    """What a run of another event begins with, as the start page's fields take it; nothing where none was made."""
    from passband.web.pages.start import carried_fields

    fields = carried_fields(carried_over(library, event) if event else None, units)
    return JSONResponse({"carried": None if fields is None else asdict(fields)})


@router.get("/runs/{run_id}")
def one_run(
    library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, answered: str | None = None
) -> HTMLResponse:
    """A run's review; `answered` where questions about its columns were answered just now."""
    from passband.service.answers.digests import beside_of
    from passband.web.drawn.strip import strip_svg
    from passband.web.pages.run import AroundRun, render_run

    fetched = lay_side_by_side(library, run_id, settings, channels=(*STRIP_COLUMNS, "throttle"))[0]
    car = library.records.car(*fetched.run.car) if fetched.run.car else None
    beside = beside_of(library, fetched.run)
    usual = usual_here(library, fetched.run)
    alone = len(library.records.siblings(fetched.run.upload_id)) == 1
    held = hold_against(library, fetched, beside.best)
    around = AroundRun(
        car=car_shown(car) if car else None,
        cars=[car_shown(one) for one in library.records.all_cars()],
        channels=[column for column in fetched.columns if column.log is not None],
        best=stored_review(library, beside.best),
        best_id=beside.best,
        engine=beside.engine.shown.line if beside.engine is not None else "",
        usual=usual,
        twins=twins_of(library.records, fetched.run),
        takes_logs=alone and not (usual is not None and usual.begins),
        before_id=held.before_id,
        since=held.before,
        against=held.best,
        differs=_differs(library, fetched.run),
        columns=asked_page_parts(library, fetched, most=settings.page_runs, just_answered=answered is not None),
    )
    strip = strip_svg(fetched.review, fetched.table, units=units)
    return HTMLResponse(render_run(fetched.review, whole_run(fetched.run), strip, around, units=units))


def _differs(library: Library, run: RunRecord) -> str:
    """What was told otherwise of the car than at the run before, in a line."""
    before = run_before(library, run)
    found = car_differs(library, run, before) if before is not None else ()
    return f"Car described otherwise than at {title_of(before)}: {'; '.join(found)}." if before and found else ""


@router.get("/runs/{run_id}/bench")
def bench_beside_run(library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str) -> HTMLResponse:
    """Bench and compressor map beside a run."""
    return _beside_run(library, settings, units, run_id, "bench.html")


@router.get("/runs/{run_id}/whatif")
def what_if_of_run(library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str) -> HTMLResponse:
    """What a change would have done to a run."""
    return _beside_run(library, settings, units, run_id, "whatif.html")


@router.get("/runs/{run_id}/lines")
def lines_of_a_run(
    library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, channels: str = ""
) -> JSONResponse:
    """What the page draws of a run: some channels, or those drawn first; with the names of all it has."""
    from passband.web.drawn.lines import FIRST_CHANNELS, run_lines, unit_and_title

    names = listed(channels, most=settings.page_runs, what="channels") or list(FIRST_CHANNELS)
    fetched = lay_side_by_side(library, run_id, settings, channels=names)[0]
    drawn = run_lines(fetched.review, fetched.table, names, units=units)
    known = [(one, unit_and_title(one, units)[1]) for one in _beside_axes(fetched.columns)]
    return JSONResponse(plain(replace(drawn, known=known)))


@router.get("/overlay")
def side_by_side(
    library: TheLibrary,
    settings: TheSettings,
    units: TheUnits,
    runs: str = "",
    run: Annotated[list[str] | None, Query()] = None,
) -> HTMLResponse:
    """Runs laid over each other, and others to choose from."""
    from passband.web.drawn.strip import strips_svg
    from passband.web.pages.page import render_overlay

    ticked = [one.strip() for one in (*runs.split(","), *(run or ()))]
    wanted = ",".join(dict.fromkeys(one for one in ticked if one))
    fetched = lay_side_by_side(library, wanted, settings, channels=STRIP_COLUMNS, least=0)
    others = library.records.find_runs(event=None, car=None, limit=settings.page_runs, after=None)
    page = render_overlay(
        [run_shown(one) for one in others],
        [run_shown(one.run) for one in fetched],
        strips_svg=strips_svg([one.review for one in fetched], [one.table for one in fetched], units=units)
        if fetched
        else "",
        units=units,
    )
    return HTMLResponse(page)


@router.get("/cars")
def all_cars(library: TheLibrary, units: TheUnits) -> HTMLResponse:
    """All cars."""
    from passband.web.pages.page import render_cars

    return HTMLResponse(render_cars([car_shown(car) for car in library.records.all_cars()], units=units))


@router.get("/cars/new")
def new_car(
    library: TheLibrary,
    units: TheUnits,
    copy: str | None = None,
    for_run: Annotated[str | None, Query(alias="for")] = None,
) -> HTMLResponse:
    """A form for a car that is not known yet; it may begin as a copy of another, or be that of a run without one."""
    from passband.web.pages.car import render_car

    run = library.records.run(for_run) if for_run is not None else None
    if copy is None:
        return HTMLResponse(render_car(None, last_run=run_shown(run) if run else None, units=units))
    car = library.records.car(copy)
    if car is None:
        raise not_found("car")
    begun = CarShown.of(car.given)
    return HTMLResponse(render_car(begun, copied_from=begun.name, units=units))


@router.get("/cars/{car_id}")
def one_car(library: TheLibrary, units: TheUnits, car_id: str, run: str | None = None) -> HTMLResponse:
    """A form for the next version of a car, beside its last run or one that is named."""
    from passband.web.pages.car import render_car

    car = library.records.car(car_id)
    if car is None:
        raise not_found("car")
    first = max(1, car.version - VERSIONS_SHOWN + 1)
    versions = [library.records.car(car_id, version) for version in range(first, car.version + 1)]
    differ = facts_of_versions(library, car_id)
    facts = {
        number: tuple(FactDiffers(one.fact, one.said) for one in differ if one.version == number)
        for number in range(car.version + 1)
    }
    last = library.records.run(run) if run else None
    last = last or next(iter(library.records.find_runs(event=None, car=car_id, limit=1, after=None)), None)
    page = render_car(
        car_shown(car),
        versions=[CarVersion(car_shown(one), facts[one.version]) for one in versions if one is not None],
        last_run=run_shown(last) if last else None,
        last_review=stored_review(library, last.id if last else None),
        units=units,
    )
    return HTMLResponse(page)


@router.post("/runs/{run_id}/tried")
async def tried_on_run(
    request: Request, library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, body: TheBody
) -> JSONResponse:
    """How a run would stand to a car's limits, and what it saw of each channel; nothing is kept."""
    from passband.web.pages.car import seen_in, tried_limits

    given = {key: value for key, value in body.items() if key not in KEPT_BY_US}
    limiter = request.app.state.review_turns
    tried = await to_thread.run_sync(lambda: library.try_car(run_id, given), limiter=limiter)
    if tried is None:
        raise not_found("run")
    review = review_from_json(tried)
    names = await run_in_threadpool(_drawable, library, run_id)
    table = (await run_in_threadpool(fetch_run, library, run_id, channels=names)).table
    end_s = review.window.log_finish_s - review.window.log_clock_start_s if review.window.log_finish_s else math.inf
    limits = {name: asdict(limit) for name, limit in tried_limits(review, given, units).items()}
    return JSONResponse({"limits": limits, "seen": seen_in(table, end_s=end_s, units=units)})


@router.get("/cars/{car_id}/parts")
def parts_of_car(library: TheLibrary, settings: TheSettings, units: TheUnits, car_id: str) -> HTMLResponse:
    """What was used up of a car's parts."""
    from passband.web.pages.parts import render_parts

    counted = counted_parts(library, car_id)
    car = library.records.car(car_id)
    if car is None:
        raise not_found("car")
    runs = library.records.find_runs(event=None, car=car_id, limit=settings.page_runs, after=None)
    named = [named_run(run) for run in reversed(runs)]
    parts = [PartOfCar(item.id, part_told(item), used) for item, used in counted]
    sheets = [sheet_shown(one) for one in sheets_of(library, car_id)]
    return HTMLResponse(render_parts(car_shown(car), parts, named, sheets=sheets, units=units))


@router.get("/events/{name:path}")
def event_sheet(library: TheLibrary, settings: TheSettings, units: TheUnits, name: str) -> HTMLResponse:
    """The sheet of one event."""
    from passband.web.pages.page import render_event

    found = season_of(library, settings, name)
    here = {run.id for run in found.runs}
    changes = [
        groups_shown(one)
        for one in library.records.items(GROUPS)
        if not one.gone and here & {*one.given["before"], *one.given["after"]}
    ]
    return HTMLResponse(render_event(event_shown(found, name), changes=changes, units=units))


@router.get("/trash")
def what_was_deleted(library: TheLibrary, units: TheUnits) -> HTMLResponse:
    """What lies in the trash."""
    from passband.web.pages.page import render_trash

    return HTMLResponse(render_trash([entry_shown(entry) for entry in library.trash.entries()], units=units))


def _beside_run(library: Library, settings: Settings, units: UnitSystem, run_id: str, template: str) -> HTMLResponse:
    from passband.web.pages.page import render_beside_run

    fetched = lay_side_by_side(library, run_id, settings)[0]
    car = library.records.car(*fetched.run.car) if fetched.run.car else None
    shown = car_shown(car) if car else None
    return HTMLResponse(render_beside_run(template, run_shown(fetched.run), fetched.review, car=shown, units=units))


def _deleted(library: Library, entry_id: str | None) -> TrashShown | None:
    """What was deleted just now, for the start page to offer it back."""
    entry = library.trash.entry(entry_id) if entry_id else None
    return entry_shown(entry) if entry is not None else None


def _drawable(library: Library, run_id: str) -> list[str]:
    """Columns of a run's table that can be drawn, its axes left out."""
    opened = library.files.open_table(run_id)
    if opened is None:
        raise not_found("run")
    with opened[1] as file:
        return _beside_axes(column_facts(file))


def _beside_axes(columns: Sequence[TableColumn]) -> list[str]:
    return [column.name for column in columns if column.name not in ("time_s", "distance_m")]
