"""The one form in which the service says that something went wrong: problem details (RFC 9457).

Public: `Problem`, `problem_response`, `install`.
"""

from __future__ import annotations

import errno
import logging
import secrets
from dataclasses import asdict
from http import HTTPStatus
from typing import Any

import orjson
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse
from starlette.exceptions import HTTPException

from passband.analysis.channels.log import LogError, NotALog
from passband.service.headers import SAFE_HEADERS
from passband.service.told import ToldError

MEDIA_TYPE = "application/problem+json"
DISK_FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})

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
    body = {
        "type": "about:blank",
        "title": problem.title,
        "status": problem.status,
        "detail": problem.detail,
        "instance": request.url.path,
        **problem.more,
    }
    headers = {**SAFE_HEADERS, "Cache-Control": "no-store", **problem.headers}
    if _wants_page(request):
        from passband.web.pages import render_error

        return HTMLResponse(render_error({"findings": [], **body}), problem.status, headers)
    return Response(orjson.dumps(body), problem.status, headers, MEDIA_TYPE)


def _wants_page(request: Request) -> bool:
    return not request.url.path.startswith(("/api", "/static")) and "text/html" in request.headers.get("accept", "")


def install(app: FastAPI) -> None:
    """Make every error of an application come out as problem details.

    Parameters
    ----------
    app : FastAPI
        Changed in place.
    """
    app.exception_handler(Problem)(_tell_problem)
    app.exception_handler(LogError)(_tell_log_error)
    app.exception_handler(ToldError)(_tell_told_error)
    app.exception_handler(RequestValidationError)(_tell_validation)
    app.exception_handler(HTTPException)(_tell_http)
    app.exception_handler(OSError)(_tell_disk)
    app.exception_handler(Exception)(_tell_ours)


async def _tell_problem(request: Request, error: Problem) -> Response:
    return problem_response(request, error)


async def _tell_log_error(request: Request, error: LogError) -> Response:
    status, title = (415, "Not a log") if isinstance(error, NotALog) else (422, "No run in the log")
    findings = [asdict(finding) for finding in error.findings]
    return problem_response(request, Problem(status, title, str(error), findings=findings))


async def _tell_told_error(request: Request, error: ToldError) -> Response:
    return problem_response(request, Problem(422, "Not usable", str(error), errors=[asdict(f) for f in error.faults]))


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


async def _tell_disk(request: Request, error: OSError) -> Response:
    if error.errno in DISK_FULL:
        log.error("no room on the disk: %s", error)
        detail = "There is no room left on the disk; nothing was kept. Make room and send it again."
        return problem_response(request, Problem(507, "No room", detail))
    return await _tell_ours(request, error)


async def _tell_ours(request: Request, error: Exception) -> Response:
    reference = secrets.token_hex(4)
    log.error("error %s at %s %r", reference, request.method, request.url.path, exc_info=error)
    detail = f"Something went wrong here, and nothing was changed. The server's own log has it under {reference}."
    return problem_response(request, Problem(500, "Our mistake", detail, reference=reference))
