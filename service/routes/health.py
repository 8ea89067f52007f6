"""Whether the service is there and its library answers."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlalchemy.exc import SQLAlchemyError

from passband.service.answers import Json, TheLibrary
from passband.service.errors import Problem
from passband.service.version import version

router = APIRouter(tags=["health"])


@router.get("/health")
def health(request: Request, library: TheLibrary) -> Json:
    """Says ok if a question to the library comes back; `library` says whether all that is kept is shown."""
    if hasattr(request.app.state, "access"):  # whoever asks shows no name: nothing of any team is said
        request.app.state.access.records.all_teams()
        return Json({"status": "ok", "version": version()})
    try:
        library.records.ping()
    except SQLAlchemyError:
        raise Problem(503, "Not ready", "The library does not answer; look into the server's own log.") from None
    found = library.condition
    kept = {"complete": found.doubt is None, "uploads_without_row": found.uploads, "logs_without_row": found.originals}
    return Json({"status": "ok", "version": version(), "library": {**kept, "text": found.text}})
