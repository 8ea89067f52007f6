"""A library backed up while it is served: the rows as they stand at one moment, then every file that they name.

Public: `back_up`.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select

from passband.service.store.archives import BackupError, KeptFile, Manifest, Writer, open_writer
from passband.service.store.files import Blobs, sync_file
from passband.service.store.folder import MARK, clear_left_behind, hold_folder
from passband.service.store.job_rows import logs_of_jobs
from passband.service.store.kept_files import KeptFiles, files_of
from passband.service.store.ledger import Ledger, State
from passband.service.store.new_review_rows import tables_of_passes
from passband.service.store.packing import PACKED, kept_hash
from passband.service.store.record_files import written_record
from passband.service.store.records import CarRecord, ItemRecord
from passband.service.store.released_forms import NEWEST
from passband.service.store.rows import all_items_of, upload_of, versions_of
from passband.service.store.schema import cars, check_database, open_database, uploads
from passband.service.store.upload_records import UploadRecord, cars_json, item_json, upload_json
from passband.service.version import version

BUSY_S = 60.0
"""How long the copy of the rows waits for a writer. [s]"""
PASSING = ".passband-backup-"
"""How folders for what passes through are named, beside the target."""

Named = dict[tuple[str, str], str]
"""Folder and key of files, and what to call each."""


@dataclass(frozen=True, slots=True)
class _Snapshot:
    """The rows at one moment."""

    database: Path
    made_at: str
    state: State
    uploads: tuple[UploadRecord, ...]
    cars: tuple[tuple[CarRecord, ...], ...]
    items: tuple[ItemRecord, ...]
    of_jobs: Named
    """Files that jobs need."""


@dataclass(frozen=True, slots=True)
class _Source:
    """Where files are taken from."""

    data: Path
    files: KeptFiles
    passing: Path
    """For what is fetched; beside the target."""

    def blobs(self, folder: str) -> Blobs:
        return self.files.originals if folder == "originals" else self.files.tables


def back_up(data: Path, target: Path, *, store: str = "") -> Manifest:
    """Back up a library, whether it is being served or not.

    Parameters
    ----------
    data : Path
        The library's folder; nothing in it is changed.
    target : Path
        A folder that is absent or empty, or a ``.tar`` file that is not there.
    store : str
        Address of the object store that holds its originals and tables, if one does; they are fetched from it.

    Returns
    -------
    Manifest
        What the backup holds; `faults` names what should be in it and is not, or is damaged.

    Raises
    ------
    BackupError
        If there is no library, the target cannot be used, or the disk failed; what is left of it has no manifest.
    LibraryDamaged
        If the copied rows are not sound.
    FilesElsewhere, FilesAway
        If `store` is not where its files lie, or does not answer.
    """
    data = data.resolve()
    if (data / MARK).exists():
        raise BackupError(
            f"The rows of the library in {data} are on a database server. Back that up first, as with pg_dump, then "
            "copy the folder with its trash: what the rows name by then is in it."
        )
    if not (data / "library.sqlite").is_file():
        logs = " Its logs are there: run `passband recheck` on it first." if (data / "originals").is_dir() else ""
        raise BackupError(f"{data} holds no library: there is no library.sqlite in it.{logs}")
    if target.resolve().is_relative_to(data):
        raise BackupError(f"{target} lies in the library itself; name a place outside, best on another disk.")
    try:
        with (
            closing(open_writer(target)) as writer,
            _passing_folder(target.resolve().parent) as scratch,
        ):
            source = _Source(data, files_of(data, store, scratch=scratch), scratch)
            return _write(source, _take_snapshot(data, scratch), writer)
    except OSError as error:
        raise BackupError(
            f"The backup could not be finished ({error.strerror or error}). What was written at {target} is no backup."
        ) from error


@contextmanager
def _passing_folder(beside: Path) -> Iterator[Path]:
    """For what passes through, held meanwhile; what backups that were killed left behind long ago goes."""
    clear_left_behind(beside.glob(f"{PASSING}*"))
    with tempfile.TemporaryDirectory(prefix=PASSING, dir=beside) as name:
        held = hold_folder(Path(name))
        try:
            yield Path(name)
        finally:
            held.release()


def _take_snapshot(data: Path, passing: Path) -> _Snapshot:
    copy = passing / "library.sqlite"
    try:
        with (
            closing(sqlite3.connect(f"{_rows_of(data, passing).as_uri()}?mode=rw", uri=True, timeout=BUSY_S)) as source,
            closing(sqlite3.connect(copy)) as target,
        ):
            made_at = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
            source.backup(target)
    except sqlite3.DatabaseError as error:
        raise BackupError(f"The library's database cannot be copied ({error}).") from None
    check_database(copy)
    kept_uploads, kept_cars, kept_items, state, of_jobs = _rows(copy)
    with closing(sqlite3.connect(copy)) as target:
        target.execute("PRAGMA journal_mode = DELETE")  # one file with nothing beside it
    sync_file(copy)
    beside = Ledger(data, scratch=passing).state()
    if beside is not None:
        generation = max(state.generation, beside.generation) if beside.doubt else state.generation
        state = replace(state, generation=generation, doubt=beside.doubt, unclaimed=beside.unclaimed)
    return _Snapshot(copy, made_at, state, kept_uploads, kept_cars, kept_items, of_jobs)


def _rows_of(data: Path, passing: Path) -> Path:
    """The database; a copy where its folder takes no files, as on a disk that failed: SQLite opens it only there."""
    if os.access(data, os.W_OK):
        return data / "library.sqlite"
    aside = passing / "as-it-lies"
    aside.mkdir()
    for name in ("library.sqlite", "library.sqlite-wal"):
        with suppress(FileNotFoundError):
            shutil.copyfile(data / name, aside / name)
    return aside / "library.sqlite"


def _rows(
    copy: Path,
) -> tuple[tuple[UploadRecord, ...], tuple[tuple[CarRecord, ...], ...], tuple[ItemRecord, ...], State, Named]:
    engine = open_database(copy)
    try:
        with engine.begin() as connection:
            ids = connection.execute(select(uploads.c.id)).scalars().all()
            kept = tuple(upload for id in ids if (upload := upload_of(connection, id)) is not None)
            versions = tuple(
                versions_of(connection, id) for id in connection.execute(select(cars.c.id)).scalars().all()
            )
            kept_items = tuple(all_items_of(connection).values())
            of_jobs = {("originals", log.sha256): f"The log {log.name}" for log in logs_of_jobs(connection)}
            for key in tables_of_passes(connection):
                of_jobs["runs", key] = "The table of a new review that does not stand yet"
            generation = connection.exec_driver_sql("SELECT generation FROM progress").scalar() or 0
    finally:
        engine.dispose()
    runs = sum(len(upload.runs) for upload in kept)
    return kept, versions, kept_items, State(generation, runs=runs, uploads=len(kept), cars=len(versions)), of_jobs


def _write(source: _Source, snapshot: _Snapshot, writer: Writer) -> Manifest:
    files = [writer.add("library.sqlite", snapshot.database)]
    faults = []
    for (folder, key), what in _named(source, snapshot).items():
        kept, whole = _found(source, folder, key, writer)
        if kept is None:
            faults.append(f"{what} is missing ({folder}/{key[:2]}/{key}).")
            continue
        files.append(kept)
        if not whole:
            faults.append(f"{what} is damaged: its bytes are not those that were kept ({kept.path}).")
    files += [writer.add_bytes(name, body) for name, body in _records(source.data, snapshot).items()]
    state = snapshot.state
    if state.doubt:
        faults.append("The library itself is not whole, so its records and all its logs were taken as they lie there.")
    files.append(writer.add_bytes("library.state", written_record(asdict(state))))
    manifest = Manifest(
        program=version(),
        schema=NEWEST,
        made_at=snapshot.made_at,
        cars=state.cars,
        uploads=state.uploads,
        runs=state.runs,
        faults=tuple(faults),
        files=tuple(files),
    )
    writer.finish(manifest)
    return manifest


def _named(source: _Source, snapshot: _Snapshot) -> Named:
    """Folder and key of all originals and tables to be kept, and what to call each."""
    named = dict(snapshot.of_jobs)
    for upload in snapshot.uploads:
        named |= {("originals", log.sha256): f"The log {log.name}" for log in upload.logs}
    for upload in snapshot.uploads:
        for run in upload.runs:
            said = " ".join(part for part in (run.details.event, run.details.round, run.details.label) if part)
            named["runs", run.table_key] = f"The table of the run {said or run.id}"
    others = {("originals", key) for key in snapshot.state.unclaimed}
    if snapshot.state.doubt:
        others |= {("originals", key) for key in source.files.originals.keys()}
    return named | {one: "A log that has no row" for one in others - set(named)}


def _records(data: Path, snapshot: _Snapshot) -> dict[str, bytes]:
    """Records as the copied rows have them, so that they agree; where rows are in doubt, what lies there goes first."""
    generation = snapshot.state.generation
    records = {}
    if snapshot.state.doubt:
        lying = [path for folder in ("uploads", "cars", "items") for path in (data / folder).glob("*.json")]
        records = {path.relative_to(data).as_posix(): path.read_bytes() for path in lying}
    for upload in snapshot.uploads:
        records.setdefault(f"uploads/{upload.key}.json", written_record(upload_json(upload, generation)))
    for versions in snapshot.cars:
        records.setdefault(f"cars/{versions[0].id}.json", written_record(cars_json(versions, generation)))
    for item in snapshot.items:
        records.setdefault(f"items/{item.id}.json", written_record(item_json(item, generation)))
    return records


def _found(source: _Source, folder: str, key: str, writer: Writer) -> tuple[KeptFile | None, bool]:
    """Keep a file as it lies, and say whether it is what its key says.

    One that is gone because its run was deleted meanwhile lies in the trash, or is back already.
    """
    for place in _places(source, folder, key):
        try:
            whole = place.suffix != PACKED or kept_hash(place) == key
            kept = writer.add(f"{folder}/{key[:2]}/{place.name}", place)
            return kept, whole and (place.suffix == PACKED or kept.sha256 == key)
        except FileNotFoundError:
            continue
        finally:
            if place.is_relative_to(source.passing):
                place.unlink(missing_ok=True)
    return None, False


def _places(source: _Source, folder: str, key: str) -> Iterator[Path]:
    with suppress(KeyError):
        yield source.blobs(folder).stored(key, source.passing)
    yield from (source.data / "trash").glob(f"*/{key}*")
    aside = source.files.aside
    laid = aside.find(key, source.passing) if aside is not None else None
    if laid is not None:
        yield laid
    with suppress(KeyError):
        yield source.blobs(folder).stored(key, source.passing)
