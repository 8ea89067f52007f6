"""The folder of a library: who has it open, what lies where.

    library.sqlite   rows, with its -wal and -shm       uploads/, cars/,  a record of each, beside the rows
                                                       items/
    library.state    how far the rows had come          trash/            what was deleted, with its reason
    originals/       logs byte for byte                 incoming/         uploads on their way; emptied at start
    runs/            a table for each run               files.json        where these two are, if not here
    kept/            runs as their bounds see them
    reserve          room set aside for deleting        lock              held while the folder is open

Where the rows are on a server, several programs have the folder open: `library.mark` says which library the rows are
(`store.claiming`), each program has a folder of its own in `incoming/`, and the lock is held for a moment only.

Public: `LibraryFolder`, `hold_folder`, `clear_left_behind`, `MARK`.
"""

from __future__ import annotations

import logging
import os
import secrets
import shutil
import stat
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, suppress
from pathlib import Path

from filelock import FileLock, Timeout

from passband.service.store.faults import LibraryInUse, RowsElsewhere
from passband.service.store.kept_files import open_files
from passband.service.store.kept_runs import KeptRuns
from passband.service.store.ledger import Ledger
from passband.service.store.record_files import DamagedRecord
from passband.service.store.room import Reserve
from passband.service.store.trash import Trash
from passband.service.store.upload_records import UploadRecord, read_upload

FOR_US_ONLY = 0o700
MARK = "library.mark"
LEFT_BEHIND_S = 24 * 3600
"""What another program left for itself is taken away when it is as old: no upload and no backup takes a day. [s]"""

log = logging.getLogger("passband")


class LibraryFolder:
    """A library's folder, held against other programs until it is closed.

    Parameters
    ----------
    root : Path
        Made if it is not there, for nobody but its owner.
    reserve_bytes : int
        How much room to set aside for deleting on a full disk; given up at once where the disk is full now.
    shared : bool
        Whether the rows are on a server, and other programs that know it may have the folder open too.
    store : str
        Address of the object store that holds originals and tables; empty for this folder.

    Raises
    ------
    LibraryInUse
        If another program has it open, or its files lie elsewhere than `store` says.
    FilesAway
        If the object store does not answer.
    RowsElsewhere
        If its rows are on a server and it is not opened as shared, or the other way round.
    """

    def __init__(self, root: Path, *, reserve_bytes: int = 0, shared: bool = False, store: str = "") -> None:
        self.root = root.resolve()
        self.root.mkdir(parents=True, exist_ok=True, mode=FOR_US_ONLY)
        self.database = self.root / "library.sqlite"
        self._shared = shared
        self._lock = hold_folder(self.root, seconds=SHARED_S if shared else 0)
        with ExitStack() as undone:
            undone.callback(self._lock.release)
            self._check_rows()
            self.reserve = Reserve(self.root / "reserve", reserve_bytes)
            self.reserve.make_way()
            _tighten(self.root)
            self.incoming = self.root / "incoming"
            if shared:
                self.incoming, held = _own_folder(self.incoming)
            else:
                shutil.rmtree(self.incoming, ignore_errors=True)
                self.incoming.mkdir(exist_ok=True)
            files = open_files(self.root, store, scratch=self.incoming)
            undone.pop_all()
        if shared:
            self._lock.release()
            self._lock = held
        self.originals, self.tables = files.originals, files.tables
        self.apart = files.aside is not None
        self.kept = KeptRuns(self.root / "kept")
        self.ledger = Ledger(self.root, scratch=self.incoming)
        self.trash = Trash(self.root / "trash", scratch=self.incoming, aside=files.aside)

    def close(self) -> None:
        """Let go of the folder."""
        self._lock.release()
        if self._shared:
            shutil.rmtree(self.incoming, ignore_errors=True)

    def _check_rows(self) -> None:
        if self._shared and self.database.exists():
            raise RowsElsewhere(
                f"The folder {self.root} holds a library with its rows in library.sqlite. Take PASSBAND_DATABASE away, "
                "or give the library on the server a folder of its own."
            )
        if not self._shared and (self.root / MARK).exists():
            raise RowsElsewhere(f"The rows of the library in {self.root} are on a server: set PASSBAND_DATABASE.")

    def recorded_uploads(self) -> Iterator[tuple[UploadRecord, int]]:
        """Each upload's record with its generation; damaged ones are passed over and told in the log."""
        for key in self.ledger.uploads.keys():
            recorded = self.recorded_upload(key)
            if recorded is not None:
                yield recorded

    def recorded_upload(self, key: str) -> tuple[UploadRecord, int] | None:
        """An upload's record with its generation; None if there is none or it is damaged, which the log tells."""
        try:
            body = self.ledger.uploads.read(key)
            return read_upload(body) if body is not None else None
        except DamagedRecord as error:
            log.warning("%s", error)
            return None


SHARED_S = 5
"""How long a program that shares the folder waits for another that is just opening it. [s]"""


def hold_folder(root: Path, *, seconds: float = 0, name: str = "lock") -> FileLock:
    """Hold a folder against other programs until it is released; `LibraryInUse` if another one holds it that long."""
    lock = FileLock(root / name, thread_local=False, fallback_to_soft=False, preserve_lock_file=True)
    try:
        lock.acquire(timeout=seconds)
    except Timeout:
        raise LibraryInUse(f"The folder {root} is in use by another Passband; give each its own folder.") from None
    return lock


def _own_folder(incoming: Path) -> tuple[Path, FileLock]:
    """A folder for this program's uploads on their way, held while it runs; what others left behind long ago goes."""
    incoming.mkdir(exist_ok=True)
    clear_left_behind(incoming.iterdir())
    own = incoming / secrets.token_hex(8)
    own.mkdir()
    return own, hold_folder(own)


def clear_left_behind(folders: Iterable[Path]) -> None:
    """Remove those folders that programs which are no more once held for themselves, and have left behind long ago."""
    for path in folders:
        with suppress(LibraryInUse, OSError):
            if path.is_dir() and time.time() - path.stat().st_mtime > LEFT_BEHIND_S:
                lock = hold_folder(path)
                shutil.rmtree(path)
                lock.release()


def _tighten(root: Path) -> None:
    """Nobody but its owner looks into a library."""
    facts = root.stat()
    if os.name == "posix" and facts.st_uid == os.geteuid() and stat.S_IMODE(facts.st_mode) & ~FOR_US_ONLY:
        root.chmod(FOR_US_ONLY)
        log.info("the folder is now open to its owner only")
