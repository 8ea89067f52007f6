"""The folder of a library: who has it open, what lies where.

    library.sqlite   rows, with its -wal and -shm       uploads/, cars/,  a record of each, beside the rows
                                                       items/
    library.state    how far the rows had come          trash/            what was deleted, with its reason
    originals/       logs byte for byte                 incoming/         uploads on their way; emptied at start
    runs/            a table for each run               kept/             runs as their bounds see them
    reserve          room set aside for deleting        lock              held while the folder is open

Public: `LibraryFolder`, `hold_folder`.
"""

from __future__ import annotations

import logging
import os
import shutil
import stat
from collections.abc import Iterator
from pathlib import Path

from filelock import FileLock, Timeout

from passband.service.store.faults import LibraryInUse
from passband.service.store.files import Blobs, FolderBlobs
from passband.service.store.kept_runs import KeptRuns
from passband.service.store.ledger import Ledger
from passband.service.store.record_files import DamagedRecord
from passband.service.store.room import Reserve
from passband.service.store.trash import Trash
from passband.service.store.upload_records import UploadRecord, read_upload

FOR_US_ONLY = 0o700

log = logging.getLogger("passband")


class LibraryFolder:
    """A library's folder, held against other programs until it is closed.

    Parameters
    ----------
    root : Path
        Made if it is not there, for nobody but its owner.
    reserve_bytes : int
        How much room to set aside for deleting on a full disk; given up at once where the disk is full now.

    Raises
    ------
    LibraryInUse
        If another program has it open.
    """

    def __init__(self, root: Path, *, reserve_bytes: int = 0) -> None:
        self.root = root.resolve()
        self.root.mkdir(parents=True, exist_ok=True, mode=FOR_US_ONLY)
        self._lock = hold_folder(self.root)
        self.reserve = Reserve(self.root / "reserve", reserve_bytes)
        self.reserve.make_way()
        _tighten(self.root)
        self.incoming = self.root / "incoming"
        shutil.rmtree(self.incoming, ignore_errors=True)
        self.incoming.mkdir(exist_ok=True)
        self.database = self.root / "library.sqlite"
        self.originals: Blobs = FolderBlobs(self.root / "originals")
        self.tables: Blobs = FolderBlobs(self.root / "runs", suffix=".parquet")
        self.kept = KeptRuns(self.root / "kept")
        self.ledger = Ledger(self.root, scratch=self.incoming)
        self.trash = Trash(self.root / "trash", scratch=self.incoming)

    def close(self) -> None:
        """Let go of the folder."""
        self._lock.release()

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


def hold_folder(root: Path) -> FileLock:
    """Hold a folder against other programs until it is released; `LibraryInUse` if another one holds it."""
    lock = FileLock(root / "lock", thread_local=False, fallback_to_soft=False, preserve_lock_file=True)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        raise LibraryInUse(f"The folder {root} is in use by another Passband; give each its own folder.") from None
    return lock


def _tighten(root: Path) -> None:
    """Nobody but its owner looks into a library."""
    facts = root.stat()
    if os.name == "posix" and facts.st_uid == os.geteuid() and stat.S_IMODE(facts.st_mode) & ~FOR_US_ONLY:
        root.chmod(FOR_US_ONLY)
        log.info("the folder is now open to its owner only")
