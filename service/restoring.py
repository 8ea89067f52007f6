"""A backup put back into an empty folder: every byte held against its sum before anything is called a library.

Where an object store is set, originals and tables go on from there into a place that is nobody else's.

Public: `restore`.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from passband.service.store.archives import BackupError, KeptFile, Manifest, Reader, copy_hashed, open_reader
from passband.service.store.faults import LibraryDamaged
from passband.service.store.files import sync_folder
from passband.service.store.folder import FOR_US_ONLY, hold_folder
from passband.service.store.kept_files import MARK, open_files
from passband.service.store.packing import PACKED, unpack_file
from passband.service.store.released_forms import NEWEST
from passband.service.store.schema import check_database

RESTORING = "restoring"
"""Folder in the library's for what is not yet checked."""
INTO_PLACE = ("originals", "runs", "uploads", "cars", "items", "library.state", "library.sqlite")
"""In this order, the rows last: without them it is no library."""
SHOWN = 5
"""So many damaged files are named; the rest are counted."""


def restore(target: Path, data: Path, *, store: str = "") -> Manifest:
    """Put a backup into a folder.

    Parameters
    ----------
    target : Path
        A folder or ``.tar`` file that `back_up` made.
    data : Path
        Absent or empty, but for what an earlier restore that was cut off left there.
    store : str
        Address of an object store for originals and tables; empty for the folder.

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
                _put_back(reader, manifest, data, store, fresh=fresh)
            finally:
                lock.release()
        except OSError as error:
            raise BackupError(f"Nothing was restored: {error.strerror or error}.") from error
    return manifest


def _put_back(reader: Reader, manifest: Manifest, data: Path, store: str, *, fresh: bool) -> None:
    _check_empty(data)
    _clear(data)
    whole = False
    try:
        _bring_in(reader, manifest, data / RESTORING)
        _into_store(data, store)
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


def _into_place(data: Path) -> None:
    for name in INTO_PLACE:
        if (data / RESTORING / name).exists():
            os.rename(data / RESTORING / name, data / name)
            sync_folder(data)
    (data / RESTORING).rmdir()
    sync_folder(data)
