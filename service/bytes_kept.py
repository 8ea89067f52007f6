"""How much a library keeps and may keep, and how many of its jobs wait.

Public: `Kept`, `kept_by`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.service.library import Library
from passband.service.store.jobs import Waits


@dataclass(frozen=True, slots=True)
class Kept:
    """How much one library keeps."""

    team: str
    """Its name; empty where there are no teams."""
    bytes: int | None
    """Of all logs; None where the library is not open. [B]"""
    quota_bytes: int | None
    """Most that it may keep; None for no bound. [B]"""
    jobs: Waits | None = None
    """How many jobs are yet to be done; None where the library is not open."""


def kept_by(team: str, library: Library | None, quota_bytes: int | None) -> Kept:
    """How much a team's library keeps, as far as it is open.

    Parameters
    ----------
    team : str
        Its name; empty where there are no teams.
    library : Library or None
        Where it is open.
    quota_bytes : int or None
        Most that it may keep. [B]

    Returns
    -------
    Kept
        With its jobs that are yet to be done.
    """
    if library is None:
        return Kept(team, None, quota_bytes)
    return Kept(team, library.records.bytes_of_logs(), quota_bytes, library.records.jobs.waits())
