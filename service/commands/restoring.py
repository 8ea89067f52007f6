"""A backup put back into an empty folder: every byte held against its sum before anything is called a library.

Where an object store is set, originals and tables go on from there into a place that is nobody else's; where a
database on a server is, so do the rows, all in one transaction.

Public: `restore`.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from passband.service.access.teams_told import TEAMS_TOLD
from passband.service.store.archives import BackupError, KeptFile, Manifest, Reader, copy_hashed, open_reader
from passband.service.store.claiming import claim
from passband.service.store.faults import LibraryDamaged
from passband.service.store.files import sync_folder
from passband.service.store.folder import FOR_US_ONLY, LibraryFolder, hold_folder
from passband.service.store.kept_files import MARK, open_files
from passband.service.store.packing import PACKED, unpack_file
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.record_files import read_record
from passband.service.store.released_forms import NEWEST
from passband.service.store.schema import check_database
from passband.service.store.sending_rows import send_library

RESTORING = "restoring"
"""Folder in the library's for what is not yet checked."""
INTO_PLACE = ("originals", "runs", "uploads", "cars", "items", "library.state", "library.sqlite")
"""In this order, the rows last: without them it is no library."""
_BESIDE_A_FILE = ("library.sqlite", "library.state", "uploads", "cars", "items")
SHOWN = 5
"""So many damaged files are named; the rest are counted."""


def restore(target: Path, data: Path, *, store: str = "", rows: PostgresRecords | None = None) -> Manifest:
    """Put a backup into a folder.

    Parameters
    ----------
    target : Path
        A folder or ``.tar`` file that `back_up` made.
    data : Path
        Absent or empty, but for what an earlier restore that was cut off left there.
    store : str
        Address of an object store for originals and tables; empty for the folder.
    rows : PostgresRecords, optional
        Of the team on a server that is to have the rows, and has none yet; else they stay in their file.

    Returns
    -------
    Manifest
        What was restored; every file was the one that was backed up.

    Raises
    ------
    BackupError
        Naming every file that is missing or damaged, or saying why else nothing was restored.
    FilesElsewhere, FilesAway
        If the place in the store is another library's, or the store does not answer; a restore can begin again.
    """
    data = data.resolve()
    _check_empty(data)
    fresh = not data.exists()
    with open_reader(target) as reader:
        manifest = reader.manifest()
        if manifest.schema > NEWEST:
            raise BackupError(
                f"The backup is of version {manifest.schema} of the database; this program knows versions up to "
                f"{NEWEST}. Use a newer one."
            )
        try:
            data.mkdir(parents=True, exist_ok=True, mode=FOR_US_ONLY)
            lock = hold_folder(data)
            try:
                _put_back(reader, manifest, data, store, rows, fresh=fresh)
            finally:
                lock.release()
        except OSError as error:
            raise BackupError(f"Nothing was restored: {error.strerror or error}.") from error
    if rows is not None:
        with closing(LibraryFolder(data, shared=True, store=store)) as folder:
            claim(folder, rows)
    return manifest


def _put_back(
    reader: Reader, manifest: Manifest, data: Path, store: str, rows: PostgresRecords | None, *, fresh: bool
) -> None:
    _check_empty(data)
    _clear(data)
    whole = False
    try:
        _bring_in(reader, manifest, data / RESTORING)
        _into_store(data, store)
        if rows is not None:
            _onto_server(data, manifest, rows)
        _into_place(data)
        whole = True
    finally:
        if not whole:  # where files were sent to a store already, the mark stays: their place is this folder's
            _clear(data, all_of_it=fresh and not (data / MARK).exists())


def _check_empty(data: Path) -> None:
    if data.exists() and not data.is_dir():
        raise BackupError(f"{data} is no folder; name one that is absent or empty.")
    there = {path.name for path in data.iterdir()} if data.exists() else set()
    of_ours = {RESTORING, "lock", MARK, *INTO_PLACE} - {"library.sqlite"}
    there.discard(TEAMS_TOLD)
    if there - {"lock", MARK} and not (RESTORING in there and there <= of_ours):
        raise BackupError(f"{data} is not empty; a backup is restored only where nothing can be written over.")


def _clear(data: Path, *, all_of_it: bool = False) -> None:
    if (data / RESTORING).exists():
        for name in INTO_PLACE:
            shutil.rmtree(data / name) if (data / name).is_dir() else (data / name).unlink(missing_ok=True)
        shutil.rmtree(data / RESTORING)
    if all_of_it:
        shutil.rmtree(data)


def _bring_in(reader: Reader, manifest: Manifest, made: Path) -> None:
    made.mkdir()
    wrong = [fault for kept in manifest.files if (fault := _fault(reader, kept, made))]
    if wrong:
        more = f" and {len(wrong) - SHOWN} more" if len(wrong) > SHOWN else ""
        raise BackupError(
            f"{len(wrong)} of {len(manifest.files)} files of the backup are not what was backed up: "
            f"{'; '.join(wrong[:SHOWN])}{more}. Nothing was restored; take another backup."
        )
    try:
        check_database(made / "library.sqlite")
    except LibraryDamaged as error:
        raise BackupError(f"Nothing was restored. {error}") from None
    with closing(sqlite3.connect(f"{(made / 'library.sqlite').as_uri()}?immutable=1", uri=True)) as rows:
        counts = [rows.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in ("cars", "uploads", "runs")]
    if counts != [manifest.cars, manifest.uploads, manifest.runs]:
        raise BackupError("The backup's rows are not as many as its manifest says. Nothing was restored.")
    for folder in (made, *(path for path in made.rglob("*") if path.is_dir())):
        sync_folder(folder)


def _fault(reader: Reader, kept: KeptFile, made: Path) -> str:
    place = made / kept.path
    place.parent.mkdir(parents=True, exist_ok=True)
    try:
        with reader.open(kept.path) as source, place.open("xb") as target:
            copied = copy_hashed(kept.path, source, target)
            target.flush()
            os.fsync(target.fileno())
    except KeyError:
        return f"{kept.path} is missing"
    return "" if copied == kept else f"{kept.path} is damaged"


def _into_store(data: Path, store: str) -> None:
    made = data / RESTORING
    files = open_files(data, store, scratch=made)
    if files.aside is None:
        return
    for name, blobs in (("originals", files.originals), ("runs", files.tables)):
        for path in sorted((made / name).glob("??/*")):
            plain = path.with_suffix("") if path.suffix == PACKED else path
            if plain == path or unpack_file(path, plain):  # damaged ones were told when the backup was made
                blobs.put(plain)
        shutil.rmtree(made / name, ignore_errors=True)


def _onto_server(data: Path, manifest: Manifest, rows: PostgresRecords) -> None:
    """The rows go to a server; what stands beside a file has no place there."""
    made = data / RESTORING
    state = read_record((made / "library.state").read_bytes(), "library.state")
    if state["doubt"]:
        raise BackupError(
            "The library of the backup was not whole, and what lies beside its rows tells more than they do. Restore "
            "it into a folder without PASSBAND_DATABASE, have `passband recheck` mend it, and back that up."
        )
    of_this = hashlib.sha256(manifest.written() + os.fsencode(data)).hexdigest()[:32]  # begun again it is the same
    send_library(made / "library.sqlite", rows, mark=of_this)
    for name in _BESIDE_A_FILE:
        shutil.rmtree(made / name) if (made / name).is_dir() else (made / name).unlink(missing_ok=True)


def _into_place(data: Path) -> None:
    for name in INTO_PLACE:
        if (data / RESTORING / name).exists():
            os.rename(data / RESTORING / name, data / name)
            sync_folder(data)
    shutil.rmtree(data / RESTORING)
    sync_folder(data)
