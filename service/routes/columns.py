"""Answers about columns that a log leaves open: by JSON, and by a form that needs no script."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import parse_qs

from anyio import to_thread
from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.answering import Answered, answer_columns, given_answers, layouts_of, others_asked
from passband.service.answers.shared import Json, TheBody, TheLibrary, TheSettings
from passband.service.answers.side_by_side import FetchedRun
from passband.service.given.details import ColumnAnswers
from passband.service.given.facts import read_given
from passband.service.http.bodies import steadily
from passband.service.http.errors import Problem, not_found
from passband.service.kept.run_answers import named_run, run_json
from passband.service.library import Library
from passband.service.settings import Settings
from passband.web.shown.run import ColumnsAsked

router = APIRouter(prefix="/api/runs", tags=["runs"])
page = APIRouter(include_in_schema=False)

FORM = "application/x-www-form-urlencoded"
FIELDS = ("layout", "column", "channel", "unit")
"""What the form holds of each question, in the page's order."""


@router.post("/{run_id}/columns")
async def answer_about_columns(
    request: Request, library: TheLibrary, settings: TheSettings, run_id: str, body: TheBody
) -> Json:
    """Say what columns are that the logs leave open: kept with the car, for all its logs of that layout."""
    done = await _answer(request, library, settings, run_id, body)
    car = {"id": done.car[0], "version": done.car[1]}
    return Json({"run": run_json(done.run), "car": car, "others": [run_json(one) for one in done.others]})


async def _form(request: Request, settings: TheSettings) -> dict[str, list[str]]:
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != FORM:
        raise Problem(415, "Not a form", f"Send the page's form, {FORM}; JSON goes to /api/runs/.../columns.")
    body = bytearray()
    async for chunk in steadily(request, most_bytes=settings.json_bytes, seconds=settings.stall_seconds, what="form"):
        body += chunk
    return parse_qs(body.decode("utf-8", "replace"), keep_blank_values=True)


@page.post("/runs/{run_id}/columns")
async def answer_by_form(
    request: Request,
    library: TheLibrary,
    settings: TheSettings,
    run_id: str,
    form: Annotated[dict[str, list[str]], Depends(_form)],
) -> RedirectResponse:
    """The same from a form; questions that were left open are passed over."""
    columns = [form.get(name, []) for name in FIELDS]
    if len({len(one) for one in columns}) > 1:
        raise Problem(422, "Not usable", "The form is not whole; load the page anew and answer again.")
    answers = _answers_in(form, columns)
    if columns[0] and not answers:  # all were left open: nothing is saved, and the page must not say so
        run = await run_in_threadpool(library.records.run, run_id)
        if run is None:
            raise not_found("run")
        return RedirectResponse(f"/runs/{run.id}#asked", 303, {"Cache-Control": "no-store"})
    car, new_car = (next(iter(form.get(name, [])), "") for name in ("car", "new_car"))
    said: JsonObject = {"answers": answers, "car": car or None, "new_car": "" if car else new_car}
    done = await _answer(request, library, settings, run_id, said)
    back = next(iter(form.get("back", [])), done.run.id)
    shown = back if await run_in_threadpool(library.records.run, back) is not None else done.run.id
    return RedirectResponse(f"/runs/{shown}?answered=1#asked", 303, {"Cache-Control": "no-store"})


def _answers_in(form: dict[str, list[str]], columns: list[list[str]]) -> list[JsonObject]:
    """What the form answers; of a question whose unit alone was chosen, that the channel is as taken."""
    if "takes_back" in form:
        return [{"layout": one[0], "column": one[1], "channel": None, "unit": ""} for one in zip(*columns, strict=True)]
    taken = [*zip(form.get("taken", []), form.get("read", []), strict=False)]
    taken += [("", "")] * (len(columns[0]) - len(taken))
    answers = []
    for (layout, column, channel, unit), (as_taken, as_read) in zip(zip(*columns, strict=True), taken, strict=False):
        said = channel or (as_taken if unit != as_read else "")
        if said:
            answers.append({"layout": layout, "column": column, "channel": said, "unit": unit})
    return answers


async def _answer(request: Request, library: Library, settings: Settings, run_id: str, body: JsonObject) -> Answered:
    said = read_given(ColumnAnswers, body, what="body")
    if said.car is not None and await run_in_threadpool(library.records.car, said.car) is None:
        raise not_found("car")
    limiter = request.app.state.review_turns
    done = await to_thread.run_sync(
        lambda: answer_columns(library, run_id, said, most=settings.page_runs), limiter=limiter
    )
    if done is None:
        raise not_found("run")
    return done


def asked_page_parts(library: Library, fetched: FetchedRun, *, most: int, just_answered: bool) -> ColumnsAsked:
    """What the page of a run shows of questions and answers beside the review's own doubts.

    Parameters
    ----------
    library : Library
        Where the run is.
    fetched : FetchedRun
        The run.
    most : int
        Runs of the car to look through.
    just_answered : bool
        Whether to look for others of the car that were asked the same.

    Returns
    -------
    ColumnsAsked
        Answers in the car's order.
    """
    run, layouts = fetched.run, layouts_of(fetched.review)
    car = library.records.car(run.car[0]) if run.car else None
    others = others_asked(library, run, most=most) if just_answered else ()
    given = given_answers(layouts, car.given if car else None)
    return ColumnsAsked(layouts, given, tuple(named_run(one) for one in others), just_answered)
