"""The door of a service with teams: nobody passes who has not shown who they are and may.

Public: `Door`, `TheWho`, `who_asks`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Annotated
from urllib.parse import quote

from fastapi import Depends, Request
from sqlalchemy.exc import SQLAlchemyError
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from passband.service.access.identity import SESSION_COOKIE, Access, Who, for_persons_only, needed_role
from passband.service.access.libraries import TeamLibraries
from passband.service.access.tries import Allowed
from passband.service.http.errors import Problem, database_away, problem_response
from passband.service.http.headers import CHANGING
from passband.service.library import Library
from passband.service.store.away import is_away
from passband.web.pages.page import reader_name

OPEN_TO_ALL = re.compile(
    r"/health|/ready|/metrics|/sign-in|/join/[\w-]{1,100}|/static/[\w./-]+|/worker\.js|/favicon\.ico"
)
"""What needs no name: nothing of it shows anything of a team; `/metrics`, which does, wants a token of its own."""
NOT_KEPT = "private, no-store"
"""Of what a team is shown: who goes back on a telephone that others use too, after signing out, is to see nothing."""
SIGN_IN_FIRST = "Sign in, or send a token as 'Authorization: Bearer ...'."


@dataclass(frozen=True, slots=True)
class _Seen:
    """What one look at a question finds: one, in one thread, as each further one is a wait of its own under load."""

    who: Who | None = None
    """Who asks."""
    problem: Problem | None = None
    """What stands against it."""
    library: Library | None = None
    """Their library where nothing does."""


class Door:
    """ASGI middleware that finds out who asks, and whether they may.

    Parameters
    ----------
    app : ASGI application
        What it stands before.
    access : Access
        People and teams.
    libraries : TeamLibraries
        One library a team.
    uploads_a_minute : int
        Most uploads of one team in a minute.
    """

    def __init__(self, app: ASGIApp, *, access: Access, libraries: TeamLibraries, uploads_a_minute: int) -> None:
        self._app, self._access, self._libraries = app, access, libraries
        self._uploads = Allowed("upload", uploads_a_minute, 60)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or OPEN_TO_ALL.fullmatch(scope["path"]):
            await self._app(scope, receive, send)
            return
        try:
            seen = await run_in_threadpool(self._look, scope)
        except SQLAlchemyError as error:
            if not is_away(error):
                raise
            seen = _Seen(problem=database_away(error))
        if seen.who is None or seen.library is None:
            await self._turn_away(scope, receive, send, seen.problem)
            return
        who = seen.who
        scope.setdefault("state", {})
        scope["state"]["who"] = who
        scope["state"]["library"] = seen.library
        reader_name.set(f"{who.person.name}, {who.team.name}")
        await self._app(scope, receive, self._journaled(who, scope, send))

    def _look(self, scope: Scope) -> _Seen:
        who = self._who(Headers(scope=scope))
        problem = self._objection(who, scope)
        return _Seen(who, problem, self._libraries.of(who.team) if who and problem is None else None)

    def _who(self, headers: Headers) -> Who | None:
        kind, _, token = headers.get("authorization", "").partition(" ")
        if kind.casefold() == "bearer":
            return self._access.of_token(token.strip())
        try:
            cookie = SimpleCookie(headers.get("cookie", "")).get(SESSION_COOKIE)
        except CookieError:
            return None
        return self._access.of_session(cookie.value) if cookie is not None else None

    def _objection(self, who: Who | None, scope: Scope) -> Problem | None:
        if who is None:
            return Problem(401, "Not signed in", SIGN_IN_FIRST, headers={"WWW-Authenticate": "Bearer"})
        needed = needed_role(scope["method"], scope["path"])
        if who.role < needed:
            said = f"As {who.role.name.lower()} you may not do this; it takes {needed.name.lower()}. Ask an owner."
            return Problem(403, "Not allowed", said)
        if who.session is None and for_persons_only(scope["method"], scope["path"]):
            said = "A program's token may not do this; sign in as a person."
            return Problem(403, "Not allowed", said)
        is_upload = scope["method"] == "POST" and scope["path"] == "/api/runs"
        if is_upload and (wait_s := self._access.tries.hit(self._uploads, who.team.id)):
            said = f"The team sent {self._uploads.most} uploads within a minute; wait {wait_s} s."
            return Problem(429, "Too many uploads", said, headers={"Retry-After": str(wait_s)})
        return None

    async def _turn_away(self, scope: Scope, receive: Receive, send: Send, problem: Problem | None) -> None:
        page = scope["method"] == "GET" and not scope["path"].startswith("/api/")
        if (
            problem is not None
            and problem.status == 401
            and page
            and "text/html" in Headers(scope=scope).get("accept", "")
        ):
            asked = scope["path"] + (f"?{scope['query_string'].decode('latin-1')}" if scope["query_string"] else "")
            await RedirectResponse(f"/sign-in?next={quote(asked, safe='')}", 303)(scope, receive, send)
        elif problem is not None:
            await problem_response(Request(scope), problem)(scope, receive, send)

    def _journaled(self, who: Who, scope: Scope, send: Send) -> Send:
        """A change that was made stands in the journal before its answer goes out, and nobody keeps the answer."""

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).setdefault("Cache-Control", NOT_KEPT)
            if message["type"] == "http.response.start" and scope["method"] in CHANGING and message["status"] < 400:
                if needed_role(scope["method"], scope["path"]) > 1:
                    said = f"{scope['method']} {scope['path']}"
                    note = self._access.records.note
                    await run_in_threadpool(note, who.team.id, who.person.name, said, now=self._access.now())
            await send(message)

        return sending


async def who_asks(request: Request) -> Who:
    """Who asks; the door has let them through."""
    who: Who = request.state.who
    return who


TheWho = Annotated[Who, Depends(who_asks)]
