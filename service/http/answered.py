"""Each question under an id, and told when it has been answered: by which route, how, and how long it took.

Public: `Answered`, `RequestIds`, `log_answered`, `NO_ROUTE`.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from passband.service.http.request_ids import REQUEST_ID, request_id, taken_or_new

NO_ROUTE = "none"
"""Of a question that reached no route: a foreign name, nobody's, an address where nothing is."""
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
"""Others are told as ``other``: a client may invent as many as it likes."""

log = logging.getLogger("passband.requests")


@dataclass(frozen=True, slots=True)
class Answered:
    """What became of one question; nothing in it is of the sender's making."""

    method: str
    route: str
    """As the route is written, ``/api/runs/{run_id}``: no id, no name, nothing that was asked for."""
    status: int
    seconds: float
    """Until the last byte of the answer was handed on."""


def log_answered(answered: Answered) -> None:
    """One line of the log for a question."""
    log.info("answered", extra={"facts": {**asdict(answered), "seconds": round(answered.seconds, 4)}})


class RequestIds:
    """ASGI middleware that numbers questions and tells of each as it has been answered.

    Parameters
    ----------
    app : ASGI application
        What it stands before.
    tell : sequence of callable
        Each is called with an `Answered`.
    """

    def __init__(self, app: ASGIApp, *, tell: Sequence[Callable[[Answered], None]] = ()) -> None:
        self._app, self._tell = app, tuple(tell)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one question."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        taken = taken_or_new(Headers(scope=scope).get(REQUEST_ID, ""))
        request_id.set(taken)  # never taken back: an answer about our own mistake is made outside of here
        begun_s, status = time.perf_counter(), 500

        async def send_numbered(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                MutableHeaders(scope=message).setdefault(REQUEST_ID, taken)
            await send(message)

        try:
            await self._app(scope, receive, send_numbered)
        finally:
            method = scope["method"] if scope["method"] in METHODS else "other"
            answered = Answered(method, _route_of(scope), status, time.perf_counter() - begun_s)
            for tell in self._tell:
                tell(answered)


def _route_of(scope: Scope) -> str:
    written = getattr(scope.get("route"), "path", None)
    if written is not None:
        return str(written)
    return "/static" if scope["path"].startswith("/static/") and "endpoint" in scope else NO_ROUTE
