"""Runs: logs in, and what is said of each run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Annotated, TypeVar

from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.engines_held import hold_engines
from passband.service.answers.shared import Json, TheBody, TheLibrary, TheSettings, json_body
from passband.service.given.details import RunChanges, SortDetails, UploadDetails
from passband.service.given.facts import read_given
from passband.service.http.errors import Problem, not_found
from passband.service.http.request_ids import request_id
from passband.service.jobs.job_answers import accepted, wants_no_wait
from passband.service.kept.run_answers import run_json
from passband.service.library import Library, TakenIn
from passband.service.metrics import Metrics
from passband.service.reviewing.following import follow, wants_events
from passband.service.reviewing.progress import Progress, unheard
from passband.service.reviewing.sorting import SortTask
from passband.service.reviewing.tables import column_facts
from passband.service.store.records import CarRecord, Days, RunRecord
from passband.service.uploads.received import Received, receive, sorting_limits

if TYPE_CHECKING:
    from passband.analysis.report import TableColumn

router = APIRouter(prefix="/api/runs", tags=["runs"])
T = TypeVar("T")

PARTS = ("log", "car", "details")
"""What an upload may hold."""
RUNS_UNASKED = 50
"""Runs in an answer where nobody says how many, or the most allowed if that is less."""


def whole_run_json(run: RunRecord, channels: Sequence[TableColumn]) -> JsonObject:
    """A run with all that was said of it, its files and its channels."""
    logs = [{"n": log.n, "name": log.name, "bytes": log.bytes, "sha256": log.sha256} for log in run.logs]
    said = {"notes": run.details.notes, "slip": run.details.slip, "air": run.details.air}
    return {**run_json(run), **said, "logs": logs, "channels": [asdict(one) for one in channels]}


@router.post("", status_code=201)
async def add_runs(request: Request, library: TheLibrary, settings: TheSettings) -> Response:
    """Upload the logs of a run (or of several in one log); the same logs again give the same runs.

    Asked for `text/event-stream` it tells each stage as it begins, and gives the answer as the last event; closing the
    line cancels the upload. Asked with `Prefer: respond-async` it keeps the logs and answers 202; `Location` says
    where to ask what became of them.
    """
    metrics: Metrics = request.app.state.metrics
    with metrics.refusals(), ExitStack() as held:
        folder = held.enter_context(library.incoming())
        received = await receive(request, folder, settings)
        car, details = await run_in_threadpool(_read_parts, library, received)
        until_done = held.pop_all()
    if wants_no_wait(request) and not wants_events(request):
        return await _put_off(request, library, received, car, details, until_done)

    async def take_in(progress: Progress) -> Response:
        with metrics.refusals(), until_done:
            taken = await _cleared(
                request,
                until_done,
                lambda: library.take_in(received.files, car=car, details=details, progress=progress),
            )
        metrics.upload_taken(new=taken.new)
        if taken.new:
            await run_in_threadpool(hold_engines, library, taken.runs)
        return Json(_taken_json(taken), 201 if taken.new else 200)

    return follow(request, take_in) if wants_events(request) else await take_in(unheard())


async def _cleared(request: Request, until_done: ExitStack, work: Callable[[], T]) -> T:
    """Work's outcome, once its turn came, with the upload's folder cleared in the same thread.

    Where a disk is busy that takes a while, and meanwhile nobody would be answered by the thread that answers all.
    """

    def work_and_clear() -> T:
        with until_done:
            return work()

    return await to_thread.run_sync(work_and_clear, limiter=request.app.state.review_turns)


async def _put_off(
    request: Request,
    library: Library,
    received: Received,
    car: CarRecord | None,
    details: UploadDetails,
    until_done: ExitStack,
) -> Response:
    beside = {"asked": request.url.path, "request_id": request_id.get()}
    with request.app.state.metrics.refusals(), until_done:
        put = await _cleared(
            request,
            until_done,
            lambda: library.put_off(received.files, car=car, details=details, beside=beside),
        )
    if isinstance(put, TakenIn):
        request.app.state.metrics.upload_taken(new=False)
        return Json(_taken_json(put))
    return accepted(request, library, put)


def _taken_json(taken: TakenIn) -> JsonObject:
    return {"runs": [run_json(run) for run in taken.runs], "findings": taken.findings}


@router.post("/sort")
async def sort_files(request: Request, library: TheLibrary, settings: TheSettings) -> Json:
    """Which files are of one run, by their clocks, names and times; files may be cut short, and nothing is kept."""
    with library.incoming() as folder:
        received = await receive(request, folder, sorting_limits(settings))
        task = await run_in_threadpool(_sort_task, library, received)
        limiter = request.app.state.review_turns
        files = await to_thread.run_sync(lambda: library.sort(task), limiter=limiter)
    return Json({"files": [asdict(file) for file in files]})


def _sort_task(library: Library, received: Received) -> SortTask:
    if not received.files:
        raise Problem(422, "Not usable", "There is no log to sort; send each as a file in a part called 'log'.")
    asked = read_given(SortDetails, json_body(received.fields.get("details", b""), what="details"), what="details")
    count = len(received.files)
    whole, saved = asked.whole or [False] * count, asked.saved_s or [None] * count
    if not len(whole) == len(saved) == count:
        raise Problem(422, "Not usable", f"`whole` and `saved_s` must tell of {count} files each, in order.")
    car_id = received.fields.get("car", b"").decode("utf-8", "replace").strip()
    car = library.records.car(car_id) if car_id else None
    logs = tuple((file.path, file.name) for file in received.files)
    return SortTask(logs, tuple(whole), tuple(saved), car.given if car else None)


def _read_parts(library: Library, received: Received) -> tuple[CarRecord | None, UploadDetails]:
    unknown = [name for name in received.fields if name not in PARTS]
    if unknown:
        raise Problem(422, "Not usable", f"{unknown[0]!r} is no part of an upload; the parts are {', '.join(PARTS)}.")
    if not received.files:
        raise Problem(422, "Not usable", "The upload holds no log; send each as a file in a part called 'log'.")
    car_id = received.fields.get("car", b"").decode("utf-8", "replace").strip()
    car = library.records.car(car_id) if car_id else None
    if car_id and car is None:
        raise not_found("car")
    given = json_body(received.fields.get("details", b""), what="details")
    return car, read_given(UploadDetails, given, what="details")


@router.get("")
def find_runs(
    library: TheLibrary,
    settings: TheSettings,
    event: str | None = None,
    car: str | None = None,
    limit: Annotated[int | None, Query(ge=1)] = None,
    after: str | None = None,
    since: Annotated[date | None, Query(alias="from")] = None,
    until: Annotated[date | None, Query(alias="to")] = None,
) -> Json:
    """Runs, newest first; `next` is what to give as `after` for those behind.

    `from` and `to` are the first and the last day, ISO 8601: of when a run was made, or where nothing tells that, of
    when its logs came in (UTC).
    """
    limit = min(RUNS_UNASKED, settings.page_runs) if limit is None else limit
    if limit > settings.page_runs:
        raise Problem(422, "Not usable", f"limit: {limit} is too many at once; ask for {settings.page_runs} at most.")
    if after is not None and library.records.run(after) is None:
        raise not_found("run")
    if since and until and until < since:
        raise Problem(422, "Not usable", "to: the last day lies before the first; swap `from` and `to`.")
    days = Days(since.isoformat() if since else "", until.isoformat() if until else "")
    runs = library.records.find_runs(event=event, car=car, limit=limit + 1, after=after, days=days)
    next_id = runs[limit - 1].id if len(runs) > limit else None
    return Json({"runs": [run_json(run) for run in runs[:limit]], "next": next_id})


@router.get("/{run_id}")
def one_run(library: TheLibrary, run_id: str) -> Json:
    """What was said of a run, its files and what was understood of their channels."""
    opened = library.files.open_table(run_id)
    if opened is None:
        raise not_found("run")
    run, file = opened
    with file:
        channels = column_facts(file)
    return Json(whole_run_json(run, channels))


@router.patch("/{run_id}")
async def change_run(request: Request, library: TheLibrary, run_id: str, body: TheBody) -> Json:
    """Change what is said of a run; it is reviewed again, with the newest version of its car."""
    changes = read_given(RunChanges, body, what="change")
    if changes.car is not None and await run_in_threadpool(library.records.car, changes.car) is None:
        raise not_found("car")
    limiter = request.app.state.review_turns
    run = await to_thread.run_sync(lambda: library.review_again(run_id, changes), limiter=limiter)
    if run is None:
        raise not_found("run")
    return Json(run_json(run))


@router.delete("/{run_id}", status_code=204)
def remove_run(library: TheLibrary, run_id: str, place_to: str = "") -> Response:
    """Put a run into the trash, with its files if no other run is of them; `Location` is its entry there.

    With `place_to` that run, of more of the same logs, stands in its place among the runs from now on.
    """
    if place_to and (place_to == run_id or library.records.run(place_to) is None):
        raise Problem(422, "Not usable", "place_to: no other run has this id; nothing was deleted.")
    entry = library.deleting.remove(run_id, place_to=place_to)
    if entry is None:
        raise not_found("run")
    return Response(status_code=204, headers={"Location": f"/api/trash/{entry}"})
