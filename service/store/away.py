"""Whether it is the database's server that does not answer, told apart from what is wrong with a question.

Public: `is_away`, `no_room_on_server`.
"""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

AWAY = ("08", "53", "57P", "25006", "40", "55P03", "57014")
"""Beginnings of the server's codes: no connection, no means, ending or starting, read only, and others that were in
the way for too long (appendix A of its manual)."""
FULL = "53100"


def is_away(error: BaseException | None) -> bool:
    """Whether an error means that the database cannot be had now, and the same may go well in a moment.

    Parameters
    ----------
    error : BaseException or None
        As SQLAlchemy raises it.

    Returns
    -------
    bool
        Never true of a SQLite file.
    """
    if isinstance(error, NoConnectionFree):
        return True
    if not isinstance(error, DBAPIError) or not hasattr(error.orig, "sqlstate"):
        return False
    code: str | None = getattr(error.orig, "sqlstate", None)
    return code.startswith(AWAY) if code else isinstance(error, OperationalError) or error.connection_invalidated


def no_room_on_server(error: BaseException) -> bool:
    """Whether an error means that the server's disk is full."""
    return getattr(getattr(error, "orig", None), "sqlstate", None) == FULL
