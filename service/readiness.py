"""Whether the service can do its work now: stores that take what they are given, room, processes that answer.

Public: `lacking`, `Looked`, `ROOM_BYTES`.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Protocol

from sqlalchemy.exc import SQLAlchemyError

from passband.service.access.records import AccessRecords
from passband.service.library import Library
from passband.service.reviewing.workers import Workers
from passband.service.store.faults import FilesAway
from passband.service.store.room import takes_no_files

ROOM_BYTES = 1024 * 1024
"""Least that must be free beside the reserve: rows and records of an upload; its files need their own length. [B]"""
ANSWER_S = 5.0
"""How long a process for reviews is waited for. [s]"""
HOLD_S = 1.0
"""So long a look holds: whoever asks shows no name, and each look writes to the disk. [s]"""
DATABASE = "The database cannot be read and written."
FOLDER = "The folder takes no files."
ROOM = "Hardly any room is free on the disk, or the room set aside for deleting is used up."
FILES = "The store that holds logs and tables does not answer."
WORKERS = "No process that computes reviews answers."
ACCESS = "The records of who may cannot be read and written."

log = logging.getLogger("passband")


class Looked:
    """What the last look found, for a moment; one look at a time, however many ask."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._found: list[str] | None = None
        self._until_s = 0.0

    def found(self, look: Callable[[], list[str]]) -> list[str]:
        """What a look finds now, or found a moment ago; who comes while another looks is told what was found before."""
        with ExitStack() as held:
            if self._turn.acquire(blocking=self._found is None):
                held.callback(self._turn.release)
                if self._found is None or time.monotonic() >= self._until_s:
                    self._found = look()
                    self._until_s = time.monotonic() + HOLD_S
            return self._found or []


def lacking(libraries: Iterable[Library], workers: Workers, access: AccessRecords | None, data: Path) -> list[str]:
    """What the service lacks to take in a run.

    Parameters
    ----------
    libraries : iterable of Library
        Those that are open.
    workers : Workers
        What computes reviews.
    access : AccessRecords or None
        Who may; None where everybody may.
    data : Path
        The folder of it all.

    Returns
    -------
    list of str
        Sentences, each once, that name no team and no place; empty where nothing is lacking.
    """
    found = [] if access is None or _is_written(access) else [ACCESS]
    if takes_no_files(data) is not None:
        found.append(FOLDER)
    for library in libraries:
        found.extend(_of_library(library))
    if not workers.answers(within_s=ANSWER_S):
        found.append(WORKERS)
    return list(dict.fromkeys(found))


class Probed(Protocol):
    """What takes a change that is taken back at once."""

    def probe(self) -> None:
        """Begin to write and take it back."""


def _is_written(records: Probed) -> bool:
    try:
        records.probe()
    except SQLAlchemyError as error:
        log.error("not ready, the database: %s", getattr(error, "orig", error))
        return False
    return True


def _of_library(library: Library) -> Iterator[str]:
    if not _is_written(library.records):
        yield DATABASE
    try:
        library.folder.originals.probe()
    except FilesAway:
        yield FILES
    fault = takes_no_files(library.folder.incoming)
    if fault is not None:
        log.error("not ready, the folder: %s", fault)
        yield FOLDER
    elif not library.folder.reserve.is_whole(beside=ROOM_BYTES):
        yield ROOM
