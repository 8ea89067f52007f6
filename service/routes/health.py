"""Whether the service is there, whether it can do its work, and what it counts of itself."""

from __future__ import annotations

import logging
import secrets

from fastapi import APIRouter, Request, Response
from sqlalchemy.exc import SQLAlchemyError

from passband.service.answers.shared import Json, TheLibrary, TheSettings
from passband.service.http.errors import Problem
from passband.service.http.guard import is_this_machine
from passband.service.metrics import METRICS_TYPE
from passband.service.readiness import lacking
from passband.service.settings import Settings
from passband.service.version import version

router = APIRouter(tags=["health"])
log = logging.getLogger("passband")

ASK_AGAIN_S = 5
"""How soon to ask again of a service that is not ready. [s]"""
OF_A_PROXY = ("x-forwarded-for", "forwarded", "via")
"""A question with one of these came from beyond this machine, whatever address it has here."""


@router.get("/health")
def health(request: Request, library: TheLibrary) -> Json:
    """Says ok if a question to the library comes back; `library` says whether all that is kept is shown."""
    teams = hasattr(request.app.state, "access")
    try:
        _ = request.app.state.access.records.all_teams() if teams else library.records.ping()
    except SQLAlchemyError as error:
        log.error("not healthy, the database: %s", getattr(error, "orig", error))
        raise Problem(503, "Not ready", "The library does not answer; look into the server's own log.") from None
    if teams:  # whoever asks shows no name: nothing of any team is said
        return Json({"status": "ok", "version": version()})
    found = library.condition
    kept = {"complete": found.doubt is None, "uploads_without_row": found.uploads, "logs_without_row": found.originals}
    return Json({"status": "ok", "version": version(), "library": {**kept, "text": found.text}})


@router.get("/ready")
def ready(request: Request, settings: TheSettings) -> Json:
    """Says ready if stores take what they are given, room is free and reviews are computed; else 503 and what lacks."""
    state = request.app.state
    if state.teams is not None:
        libraries, access = list(state.teams.libraries.open_ones().values()), state.access.records
    else:
        libraries, access = [state.library], None
    missing = state.readiness.found(lambda: lacking(libraries, state.workers, access, settings.data))
    if missing:
        said = f"{' '.join(missing)} The server's own log says more."
        raise Problem(503, "Not ready", said, headers={"Retry-After": str(ASK_AGAIN_S)})
    return Json({"status": "ready", "version": version()})


@router.get("/metrics", response_class=Response)
def metrics(request: Request, settings: TheSettings) -> Response:
    """What is counted, as Prometheus reads it: with the token of the settings, else only to this machine."""
    _check_may_see(request, settings)
    return Response(request.app.state.metrics.text(), headers={"Cache-Control": "no-store"}, media_type=METRICS_TYPE)


def _check_may_see(request: Request, settings: Settings) -> None:
    wanted = settings.metrics_token.get_secret_value()
    if wanted:
        kind, _, token = request.headers.get("authorization", "").partition(" ")
        if kind.casefold() != "bearer" or not secrets.compare_digest(token.strip().encode(), wanted.encode()):
            said = "The metrics want their own token: 'Authorization: Bearer ...'."
            raise Problem(401, "Not shown", said, headers={"WWW-Authenticate": "Bearer"})
        return
    here = request.client is not None and is_this_machine(request.client.host)
    if request.app.state.teams is not None or not here or any(name in request.headers for name in OF_A_PROXY):
        said = "The metrics are shown to this machine's own programs, or with a token: set PASSBAND_METRICS_TOKEN."
        raise Problem(403, "Not shown", said)
