"""Room on the disk: how a full one is told from other trouble, and what is set aside so that deleting works on one.

Public: `no_room`, `told_if_full`, `takes_no_files`, `Reserve`, `NO_ROOM`.
"""

from __future__ import annotations

import errno
import logging
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from sqlalchemy.exc import DBAPIError

NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
"""What the system says when bytes find no place: disk full, share of it used up, file longer than may be."""
LOW_BYTES = 1024 * 1024
"""With less than this free a delete is not tried before the reserve is given up: a row, a record, a folder's names."""
LEAST_BYTES = 64 * 1024
"""A smaller reserve would not carry a delete. Also what is written to see whether the disk takes anything."""

log = logging.getLogger("passband")
Done = TypeVar("Done")


def no_room(error: BaseException, folder: Path) -> bool:
    """Whether an error means that the disk is full.

    Parameters
    ----------
    error : BaseException
        Of the system, or of SQLite (also as SQLAlchemy wraps it).
    folder : Path
        Where the bytes should have gone: SQLite says of some full disks only that reading or writing failed, and then
        a few bytes are tried there.

    Returns
    -------
    bool
        False for all other trouble.
    """
    if isinstance(error, OSError):
        return error.errno in NO_ROOM
    code = getattr(getattr(error, "orig", error), "sqlite_errorcode", None)
    if code is None:
        return False
    kind = code & 0xFF  # the rest of the code says more closely what kind of reading or writing
    if kind == sqlite3.SQLITE_FULL:
        return True
    return kind in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN) and not _takes_bytes(folder)


@contextmanager
def told_if_full(folder: Path) -> Iterator[None]:
    """Trouble of a database that means a full disk, told as the system's own error of a folder that takes nothing."""
    try:
        yield
    except DBAPIError as error:
        if not no_room(error, folder):
            raise
        full = "there is no room left on its disk, and nothing was changed; make room and try again"
        raise OSError(errno.ENOSPC, full, str(folder)) from error


def takes_no_files(folder: Path) -> OSError | None:
    """Why a folder takes no files, found out by writing one; None if it takes them."""
    try:
        _write_probe(folder)
    except OSError as error:
        return error
    return None


def _takes_bytes(folder: Path) -> bool:
    error = takes_no_files(folder)
    return error is None or error.errno not in NO_ROOM


def _write_probe(folder: Path) -> None:
    probe = folder / f"probe-{os.getpid()}-{threading.get_ident()}.part"
    try:
        with probe.open("wb") as file:
            file.write(bytes(LEAST_BYTES))
            file.flush()
            os.fsync(file.fileno())
    finally:
        probe.unlink(missing_ok=True)


class Reserve:
    """Room set aside in a file of its own, given up where deleting meets a full disk and set aside again afterwards.

    Parameters
    ----------
    path : Path
        The file; made by `fill`.
    wanted : int
        How much, in bytes; 0 for none.
    """

    def __init__(self, path: Path, wanted: int) -> None:
        self._path = path
        self._wanted = wanted
        self._turn = threading.Lock()

    def fill(self) -> int:
        """Set aside what is wanted, or as much of it as there is room for; bytes that are set aside now."""
        with self._turn:
            return self._fill()

    def is_whole(self, *, beside: int) -> bool:
        """Whether all that is wanted is set aside, if need be now, and so many bytes are free beside it."""
        wanted = self._wanted if self._wanted >= LEAST_BYTES else 0
        return self.fill() >= wanted and _free_bytes(self._path.parent) >= beside

    def give_up(self) -> bool:
        """Let go of what is set aside; False if there was nothing."""
        with self._turn:
            if _size_of(self._path) == 0:
                return False
            with self._path.open("r+b") as file:
                file.truncate(0)
                os.fsync(file.fileno())  # some file systems hand freed blocks out only once that is on the disk
            log.warning("the disk is full; the room set aside for deleting is in use")
            return True

    def make_way(self) -> None:
        """Let go of what is set aside if hardly anything is free beside it."""
        if _free_bytes(self._path.parent) < LOW_BYTES:
            self.give_up()

    def spend(self, act: Callable[[], Done]) -> Done:
        """Do what makes room, on a full disk too.

        Parameters
        ----------
        act : callable
            Must leave nothing behind where it fails: it is done again with the reserve given up.

        Returns
        -------
        object
            What `act` returns. Afterwards room is set aside again, as far as there is any.

        Raises
        ------
        OSError, DBAPIError
            As `act` raises them; for want of room only if there is none even without the reserve.
        """
        from sqlalchemy.exc import DBAPIError  # the processes for reviews want only `NO_ROOM` of this module

        try:
            self.make_way()
            try:
                return act()
            except (OSError, DBAPIError) as error:
                if not no_room(error, self._path.parent) or not self.give_up():
                    raise
            return act()
        finally:
            self.fill()

    def _fill(self) -> int:
        there, wanted = _size_of(self._path), self._wanted
        if there > wanted:
            os.truncate(self._path, wanted)
        elif there < wanted:
            wanted = min(wanted, there + _free_bytes(self._path.parent) // LEAST_BYTES * LEAST_BYTES)
        while there < wanted >= LEAST_BYTES:
            try:
                _allocate(self._path, wanted)
                return wanted
            except OSError as error:
                if self._path.exists():
                    os.truncate(self._path, there)
                if error.errno not in NO_ROOM:
                    log.warning("no room could be set aside for deleting: %s", error.strerror)
                    break
                wanted //= 2
        return min(there, self._wanted)


def _free_bytes(folder: Path) -> int:
    facts = os.statvfs(folder)
    return facts.f_bavail * facts.f_frsize


def _size_of(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _allocate(path: Path, wanted: int) -> None:
    """Make a file that long, with blocks of the disk behind every byte and not only a length."""
    with path.open("ab") as file:
        if hasattr(os, "posix_fallocate"):
            os.posix_fallocate(file.fileno(), 0, wanted)
        else:
            file.write(bytes(wanted - file.tell()))
        file.flush()
        os.fsync(file.fileno())
