"""Signing in and out, joining, and a team's page: its people, tokens and journal. Plain forms: no script is needed."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from datetime import UTC, datetime
from typing import Annotated, Any
from urllib.parse import urlsplit

from fastapi import APIRouter, Form, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from fastapi.routing import APIRoute
from starlette.types import Message

from passband.service.access.door import TheWho
from passband.service.access.identity import LONGEST_S, SESSION_COOKIE, Access, Refused, Who
from passband.service.access.records import LastOwner, Role
from passband.service.access.tries import TooManyTries
from passband.service.answers.shared import TheUnits
from passband.service.http.bodies import steadily
from passband.service.http.errors import Problem, not_found
from passband.web.pages.page import render

FORM_BYTES = 16 * 1024
"""Longest form taken: nobody need have shown a name to send one. [B]"""


class _ShortForm(APIRoute):
    """A route whose body is read steadily and under a bound before the framework takes its form apart."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """As the framework's, of a question whose body is here already."""
        answer = super().get_route_handler()

        async def answer_short(request: Request) -> Response:
            seconds = request.app.state.settings.stall_seconds
            body = b"".join(
                [part async for part in steadily(request, most_bytes=FORM_BYTES, seconds=seconds, what="form")]
            )

            whole: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

            async def here() -> Message:
                return whole.pop() if whole else await request.receive()

            return await answer(Request(request.scope, here))

        return answer_short


router = APIRouter(include_in_schema=False, route_class=_ShortForm)

JOURNAL_LINES = 100
"""Lines of the journal on the page."""
FORM_HEADERS = {"Cache-Control": "no-store"}
Text = Annotated[str, Form(max_length=300)]
NOT_RIGHT = "Name and password do not go together, or the name belongs to no team."


def _access(request: Request) -> Access:
    access: Access = request.app.state.access
    return access


def _own_path(next_path: str) -> str:
    """A path of ours to go on to; anything else goes to the start."""
    parts = urlsplit(next_path)
    ours = (
        not parts.scheme and not parts.netloc and next_path.startswith("/") and not next_path.startswith(("//", "/\\"))
    )
    return next_path if ours else "/"


def _signed_in(to: str, key: str) -> Response:
    response = RedirectResponse(to, 303)
    response.set_cookie(SESSION_COOKIE, key, max_age=LONGEST_S, path="/", secure=True, httponly=True, samesite="lax")
    response.headers["Cache-Control"] = "no-store"
    return response


def _form(template: str, units: Any, *, status: int = 200, **shown: Any) -> HTMLResponse:
    return HTMLResponse(render(template, units, here="", **shown), status, FORM_HEADERS)


def _address(request: Request) -> str:
    return request.client.host if request.client else ""


def _to_wait(error: TooManyTries) -> Problem:
    return Problem(429, "Too many tries", str(error), headers={"Retry-After": str(error.wait_s)})


@router.get("/sign-in")
def sign_in_form(units: TheUnits, next: str = "/") -> HTMLResponse:
    """Name and password."""
    return _form("sign_in.html", units, next=_own_path(next), wrong="")


@router.post("/sign-in")
def sign_in(request: Request, units: TheUnits, name: Text, password: Text, next: Text = "/") -> Response:
    """Begin a session; a session that was there before ends."""
    try:
        begun = _access(request).sign_in(name, password, address=_address(request))
    except TooManyTries as error:
        raise _to_wait(error) from None
    if begun is None:
        return _form("sign_in.html", units, status=401, next=_own_path(next), wrong=NOT_RIGHT)
    _end(request)
    return _signed_in(_own_path(next), begun[0])


@router.post("/sign-out")
def sign_out(request: Request, who: TheWho) -> Response:
    """End this session."""
    _end(request)
    response = RedirectResponse("/sign-in", 303)
    response.delete_cookie(SESSION_COOKIE, path="/", secure=True, httponly=True, samesite="lax")
    return response


def _end(request: Request) -> None:
    access, key = _access(request), request.cookies.get(SESSION_COOKIE, "")
    who = access.of_session(key)
    if who is not None and who.session is not None:
        access.records.end_session(who.session)


@router.get("/join/{key}")
def join_form(request: Request, units: TheUnits, key: str) -> HTMLResponse:
    """Take up an invitation."""
    return _form("join.html", units, key=key, wrong="")


@router.post("/join/{key}")
def join(request: Request, units: TheUnits, key: str, name: Text, password: Text) -> Response:
    """Become a member and sign in; a session that was there before ends."""
    access, address = _access(request), _address(request)
    try:
        access.join(key, name, password, address=address)
        begun = access.sign_in(name, password, address=address)
    except Refused as error:
        return _form("join.html", units, status=422, key=key, wrong=str(error))
    except TooManyTries as error:
        raise _to_wait(error) from None
    _end(request)
    return _signed_in("/", begun[0]) if begun is not None else RedirectResponse("/sign-in", 303)


@router.get("/team")
def team_page(request: Request, units: TheUnits, who: TheWho) -> HTMLResponse:
    """The team's people; for owners also roles, invitations, tokens and the journal."""
    return _team_page(request, units, who)


def _team_page(request: Request, units: Any, who: Who, *, fresh: str = "", wrong: str = "") -> HTMLResponse:
    access = _access(request)
    records, owner = access.records, who.role >= Role.OWNER
    lines = records.journal(who.team.id, most=JOURNAL_LINES) if owner else []
    return HTMLResponse(
        render(
            "team.html", units, here="team", team=who.team, me=who.person, role=who.role.name.lower(), owner=owner,
            members=[(one.person_id, one.name, one.role.name.lower()) for one in records.members(who.team.id)],
            teams=records.teams_of(who.person.id), tokens=records.tokens(who.team.id) if owner else [],
            names={one.person_id: one.name for one in records.members(who.team.id)},
            own_tokens=[one.name for one in records.tokens_of(who.person.id)],
            invitations=[
                (one.id, one.role.name.lower(), _at(one.ends_at))
                for one in (records.invitations(who.team.id, now=access.now()) if owner else ())
            ],
            journal=[(_at(line.at), line.person, line.what) for line in lines], fresh=fresh, wrong=wrong,
            roles=[one.name.lower() for one in Role],
        ),
        422 if wrong else 200,
        FORM_HEADERS,
    )  # fmt: skip


def _at(seconds: int) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%d %H:%M UTC")


def _role(name: str) -> Role:
    try:
        return Role[name.upper()]
    except KeyError:
        raise Problem(422, "Not usable", "A role is reader, crew or owner.") from None


@router.post("/team")
def change_own(
    request: Request, units: TheUnits, who: TheWho, old: Text = "", new: Text = "", go_to: Text = "",
    with_tokens: Text = "",
) -> Response:  # fmt: skip
    """One's own: another password, or another of one's teams."""
    access = _access(request)
    if go_to:
        if who.session is None or access.records.role(go_to, who.person.id) is None:
            raise not_found("team")
        access.records.move_session(who.session, go_to)
        return RedirectResponse("/", 303)
    try:
        access.change_password(who.person, old, new, address=_address(request), with_tokens=bool(with_tokens))
    except Refused as error:
        return _team_page(request, units, who, wrong=str(error))
    except TooManyTries as error:
        raise _to_wait(error) from None
    return RedirectResponse("/sign-in", 303)


@router.post("/team/invitations")
def invite(request: Request, units: TheUnits, who: TheWho, role: Text) -> HTMLResponse:
    """A link for one person, shown once."""
    key = _access(request).invite(who.team, _role(role))
    return _team_page(request, units, who, fresh=f"{request.url.scheme}://{request.url.netloc}/join/{key}")


@router.post("/team/invitations/{invitation_id}/end")
def end_invitation(request: Request, who: TheWho, invitation_id: str) -> Response:
    """Let an invitation hold no more."""
    _access(request).records.end_invitation(who.team.id, invitation_id)
    return RedirectResponse("/team", 303)


@router.post("/team/members/{person_id}")
def change_member(request: Request, who: TheWho, person_id: str, role: Text = "") -> Response:
    """Another role, or none; the last owner stays."""
    records = _access(request).records
    if records.role(who.team.id, person_id) is None:
        raise not_found("member")
    try:
        records.set_role(who.team.id, person_id, _role(role) if role else None)
    except LastOwner:
        said = "A team keeps at least one owner; make somebody else one first."
        raise Problem(409, "Not possible now", said) from None
    return RedirectResponse("/team", 303)


@router.post("/team/tokens")
def make_token(request: Request, units: TheUnits, who: TheWho, name: Text, role: Text) -> HTMLResponse:
    """A key for a program, shown once."""
    return _team_page(request, units, who, fresh=_access(request).make_token(who, name, _role(role)))


@router.post("/team/tokens/{token_id}/revoke")
def revoke_token(request: Request, who: TheWho, token_id: str) -> Response:
    """End a token at once."""
    _access(request).records.revoke_token(who.team.id, token_id)
    return RedirectResponse("/team", 303)
