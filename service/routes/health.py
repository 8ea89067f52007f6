"""Whether the service is there and its library answers."""

from __future__ import annotations

from fastapi import APIRouter
from sqlalchemy.exc import SQLAlchemyError

from passband.service.answers import Json, TheLibrary
from passband.service.errors import Problem
from passband.service.version import version

router = APIRouter(tags=["health"])


@router.get("/health")
def health(library: TheLibrary) -> Json:
    """Says ok if a question to the library comes back."""
    try:
        library.records.ping()
    except SQLAlchemyError:
        raise Problem(503, "Not ready", "The library does not answer; look into the server's own log.") from None
    return Json({"status": "ok", "version": version()})
