"""The one form in which the service says that something went wrong: problem details (RFC 9457).

Public: `Problem`, `not_found`, `database_away`, `problem_response`, `problem_json`, `problem_headers`, `problem_of`,
`our_mistake`, `KNOWN`, `install`.
"""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable
from dataclasses import asdict
from http import HTTPStatus
from typing import Any

import orjson
from fastapi import FastAPI, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse
from sqlalchemy.exc import SQLAlchemyError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from passband.analysis.channels.log import LogError, NoRunInLog, NotALog
from passband.analysis.results.findings import Finding
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.results.reading_back import record_from
from passband.service.given.facts import GivenError
from passband.service.given.told_meanwhile import ToldMeanwhile
from passband.service.http.headers import SAFE_HEADERS
from passband.service.http.log_lines import TOLD
from passband.service.http.request_ids import REQUEST_ID, path_for_log, request_id
from passband.service.reviewing.progress import Cancelled
from passband.service.reviewing.workers import ServiceEnding, TaskFailed, TaskLost, TaskTooLong
from passband.service.store.away import is_away, no_room_on_server
from passband.service.store.faults import CannotRestore, Contested, FilesAway, NotWhole, QuotaUsedUp
from passband.service.store.room import no_room

MEDIA_TYPE = "application/problem+json"
ENDING_SECONDS = 5
"""How soon to ask again of a service that is ending, or whose database is: as long as a restart takes. [s]"""
AWAY_SECONDS = 30
"""How soon to ask again while the store of files is away. Common practice, no source. [s]"""

log = logging.getLogger("passband")


class Problem(Exception):
    """An answer that is no success.

    Parameters
    ----------
    status : int
        HTTP status.
    title : str
        What kind of thing went wrong; the same each time.
    detail : str
        What went wrong here and what to do.
    headers : dict, optional
        Further response headers.
    **more
        Further members of the body, e.g. ``findings``.
    """

    def __init__(
        self, status: int, title: str, detail: str, *, headers: dict[str, str] | None = None, **more: Any
    ) -> None:
        super().__init__(detail)
        self.status = status
        self.title = title
        self.detail = detail
        self.headers = headers or {}
        self.more = more


def not_found(what: str) -> Problem:
    """What is asked for is not here; the same words for what never was and what is gone."""
    return Problem(404, "Not found", f"There is no such {what}.")


def database_away(error: Exception) -> Problem:
    """The database's server does not answer; told in the log, without a word of where it is."""
    log.error("the database: %s", getattr(error, "orig", error))
    said = (
        "The service's database does not answer now; ask again in a moment. If something was being changed, look "
        "whether it was kept before you send it again."
    )
    return Problem(503, "Not ready", said, headers={"Retry-After": str(ENDING_SECONDS)})


def problem_response(request: Request, problem: Problem) -> Response:
    """The response that tells a problem.

    Parameters
    ----------
    request : Request
        What was asked.
    problem : Problem
        What went wrong.

    Returns
    -------
    Response
        ``application/problem+json``; for a browser that asked for a page, a page that says the same.
    """
    instance, headers = request.url.path, problem_headers(problem)
    if _wants_page(request):
        from passband.web.pages.page import ProblemShown, render_error

        findings = tuple(record_from(Finding, one, "finding", {}) for one in problem.more.get("findings", ()))
        shown = ProblemShown(problem.title, problem.detail, findings)
        return HTMLResponse(render_error(shown), problem.status, headers)
    return Response(problem_json(problem, instance=instance), problem.status, headers, MEDIA_TYPE)


def problem_json(problem: Problem, *, instance: str) -> bytes:
    """The body that tells a problem.

    Parameters
    ----------
    problem : Problem
        What went wrong.
    instance : str
        Path of what was asked; empty where nobody got so far.

    Returns
    -------
    bytes
        JSON.
    """
    return orjson.dumps(_body(problem, instance))


def problem_headers(problem: Problem) -> dict[str, str]:
    """What goes above the body: the safe headers, the id of the question, and the problem's own."""
    numbered = {REQUEST_ID: request_id.get()} if request_id.get() else {}
    return {**SAFE_HEADERS, "Cache-Control": "no-store", **numbered, **problem.headers}


def _body(problem: Problem, instance: str) -> JsonObject:
    return {
        "type": "about:blank",
        "title": problem.title,
        "status": problem.status,
        "detail": problem.detail,
        "instance": instance,
        **({"request_id": request_id.get()} if request_id.get() else {}),
        **problem.more,
    }


def _wants_page(request: Request) -> bool:
    return not request.url.path.startswith(("/api", "/static")) and "text/html" in request.headers.get("accept", "")


def install(app: FastAPI) -> None:
    """Make every error of an application come out as problem details.

    Parameters
    ----------
    app : FastAPI
        Changed in place.
    """
    for kind in KNOWN:
        app.exception_handler(kind)(_tell_known)
    app.exception_handler(RequestValidationError)(_tell_validation)
    app.exception_handler(HTTPException)(_tell_http)
    app.exception_handler(OSError)(_tell_disk)
    app.exception_handler(ClientDisconnect)(_tell_gone)
    app.exception_handler(SQLAlchemyError)(_tell_disk)
    app.exception_handler(Exception)(_tell_ours)


def problem_of(error: BaseException) -> Problem | None:
    """What an error is told as; None if it is none that is told in words of its own.

    Parameters
    ----------
    error : BaseException
        Any.

    Returns
    -------
    Problem or None
        The same for whoever waits for the answer and for whoever asks for it later.
    """
    problems = (KNOWN[kind](error) for kind in type(error).__mro__ if kind in KNOWN)
    return next(problems, None)


def our_mistake(error: BaseException, where: str) -> Problem:
    """What is told of an error that nobody foresaw, which goes into the log under a reference.

    Parameters
    ----------
    error : BaseException
        Any.
    where : str
        What was being done.

    Returns
    -------
    Problem
        500.
    """
    reference = secrets.token_hex(4)
    log.error("error %s at %s", reference, where, exc_info=error)
    error.add_note(TOLD)
    detail = f"Something went wrong here, and nothing was changed. The server's own log has it under {reference}."
    return Problem(500, "Our mistake", detail, reference=reference)


async def _tell_known(request: Request, error: Exception) -> Response:
    problem = problem_of(error)
    return await _tell_ours(request, error) if problem is None else problem_response(request, problem)


def _of_log_error(error: LogError) -> Problem:
    status, title = (415, "Not a log") if isinstance(error, NotALog) else (422, "No run in the log")
    findings = [asdict(finding) for finding in error.findings]
    if isinstance(error, NoRunInLog) and error.columns:
        return Problem(status, title, str(error), findings=findings, columns=[asdict(one) for one in error.columns])
    return Problem(status, title, str(error), findings=findings)


def _of_given_error(error: GivenError) -> Problem:
    return Problem(422, "Not usable", str(error), errors=[asdict(f) for f in error.faults])


def _of_not_whole(error: NotWhole) -> Problem:
    log.error("%s", error)
    return Problem(409, "Run not whole", str(error), run=error.run_id, missing=error.what)


def _of_away(error: FilesAway) -> Problem:
    return Problem(503, "Files away", str(error), headers={"Retry-After": str(AWAY_SECONDS)})


def _of_conflict(error: Exception) -> Problem:
    return Problem(409, "Not possible now", str(error))


def _of_broken(error: TaskFailed) -> Problem:
    detail = (
        f"{_listed(error)} could not be reviewed: something in {_them(error)} breaks the computation, or asks for more "
        "memory than a review may take. Nothing was kept or changed. Export again from the logger, or cut the log to "
        f"the run; the server's own log has this under {error.reference}."
    )
    return Problem(422, "Not reviewable", detail, reference=error.reference)


def _of_too_long(error: TaskTooLong) -> Problem:
    detail = (
        f"The review of {_listed(error)} took longer than it may and was given up; nothing was kept or changed. Cut "
        f"the log to the run and send that; the server's own log has this under {error.reference}."
    )
    return Problem(422, "Not reviewable", detail, reference=error.reference)


def _of_ending(error: ServiceEnding) -> Problem:
    detail = f"The service is ending, and with it the review of {_listed(error)}; nothing was kept. Send it again soon."
    return Problem(503, "Ending", detail, headers={"Retry-After": str(ENDING_SECONDS)})


def _of_told_meanwhile(error: ToldMeanwhile) -> Problem:
    return Problem(409, "Changed meanwhile", str(error), now=error.now)


KNOWN: dict[type[Exception], Callable[[Any], Problem]] = {
    Problem: lambda error: error,
    LogError: _of_log_error,
    GivenError: _of_given_error,
    NotWhole: _of_not_whole,
    FilesAway: _of_away,
    Contested: _of_conflict,
    CannotRestore: _of_conflict,
    ToldMeanwhile: _of_told_meanwhile,
    Cancelled: lambda error: Problem(409, "Cancelled", "The upload was cancelled, and nothing was kept."),
    QuotaUsedUp: lambda error: Problem(403, "Quota used up", str(error)),
    TaskFailed: _of_broken,
    TaskTooLong: _of_too_long,
    ServiceEnding: _of_ending,
}
"""Errors that are told in words of their own."""


def _listed(error: TaskLost) -> str:
    return " and ".join(filter(None, (", ".join(error.files[:-1]), *error.files[-1:]))) or "the logs"


def _them(error: TaskLost) -> str:
    return "it" if len(error.files) == 1 else "them"


async def _tell_validation(request: Request, error: RequestValidationError) -> Response:
    faults = [{"where": ".".join(str(part) for part in e["loc"]), "text": str(e["msg"])} for e in error.errors()]
    said = "; ".join(f"{fault['where']}: {fault['text']}" for fault in faults)
    return problem_response(request, Problem(422, "Not usable", f"The question cannot be used: {said}.", errors=faults))


async def _tell_http(request: Request, error: HTTPException) -> Response:
    sentences = {
        404: f"There is nothing at {request.url.path}.",
        405: f"{request.method} is not possible at {request.url.path}.",
    }
    title = HTTPStatus(error.status_code).phrase.capitalize()
    detail = sentences.get(error.status_code, str(error.detail))
    headers = dict(error.headers or {})
    if error.status_code == 405:
        headers["Allow"] = ", ".join(sorted(_methods(request)))
    return problem_response(request, Problem(error.status_code, title, detail, headers=headers))


def _methods(request: Request) -> set[str]:
    """What is possible at an address, by all routes and not only by the first that fits."""
    routes = [route for route in request.app.state.routes if route.path_regex.fullmatch(request.url.path)]
    return {method for route in routes for method in route.methods} | ({"HEAD"} if routes else set())


async def _tell_disk(request: Request, error: Exception) -> Response:
    if no_room_on_server(error):
        log.error("no room on the database's server")
        said = (
            "There is no room left on the database's server, and nothing was changed. Make room there, and try again."
        )
        return problem_response(request, Problem(507, "No room", said, headers={"Connection": "close"}))
    if is_away(error):
        return problem_response(request, database_away(error))
    if await run_in_threadpool(no_room, error, request.app.state.settings.data):
        log.error("no room on the disk: %s", error)
        detail = (
            "There is no room left on the service's disk, and nothing was changed. "
            "Make room there, by emptying the trash too, and try again."
        )
        return problem_response(request, Problem(507, "No room", detail, headers={"Connection": "close"}))
    return await _tell_ours(request, error)


async def _tell_gone(request: Request, error: ClientDisconnect) -> Response:
    log.info(
        "the client of %s %r went away amid its body; nothing was kept", request.method, path_for_log(request.url.path)
    )
    return problem_response(request, Problem(400, "Broken off", "The body breaks off before its end; send it again."))


async def _tell_ours(request: Request, error: Exception) -> Response:
    return problem_response(request, our_mistake(error, f"{request.method} {path_for_log(request.url.path)!r}"))
