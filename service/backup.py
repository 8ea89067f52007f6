"""A library backed up while it is served: the rows as they stand at one moment, then every file that they name.

Public: `back_up`.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select

from passband.service.store.archives import BackupError, KeptFile, Manifest, Writer, open_writer
from passband.service.store.files import sync_file
from passband.service.store.folder import MARK
from passband.service.store.job_rows import logs_of_jobs
from passband.service.store.ledger import Ledger, State
from passband.service.store.new_review_rows import tables_of_passes
from passband.service.store.record_files import written_record
from passband.service.store.records import CarRecord, ItemRecord
from passband.service.store.released_forms import NEWEST
from passband.service.store.rows import all_items_of, upload_of, versions_of
from passband.service.store.schema import cars, check_database, open_database, uploads
from passband.service.store.upload_records import UploadRecord, cars_json, item_json, upload_json
from passband.service.version import version

BUSY_S = 60.0
"""How long the copy of the rows waits for a writer. [s]"""


@dataclass(frozen=True, slots=True)
class _Snapshot:
    """The rows at one moment."""

    database: Path
    made_at: str
    state: State
    uploads: tuple[UploadRecord, ...]
    cars: tuple[tuple[CarRecord, ...], ...]
    items: tuple[ItemRecord, ...]
    of_jobs: dict[str, str]
    """Places of files that jobs need, and what to call each."""


def back_up(data: Path, target: Path) -> Manifest:
    """Back up a library, whether it is being served or not.

    Parameters
    ----------
    data : Path
        The library's folder; nothing in it is changed.
    target : Path
        A folder that is absent or empty, or a ``.tar`` file that is not there.

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
    """
    data = data.resolve()
    if (data / MARK).exists():
        raise BackupError(
            f"The rows of the library in {data} are on a database server. Back that up first, as with pg_dump, then "
            "copy the folder with its trash: what the rows name by then is in it."
        )
    if not (data / "library.sqlite").is_file():
        raise BackupError(f"{data} holds no library: there is no library.sqlite in it.")
    if target.resolve().is_relative_to(data):
        raise BackupError(f"{target} lies in the library itself; name a place outside, best on another disk.")
    try:
        with (
            closing(open_writer(target)) as writer,
            tempfile.TemporaryDirectory(prefix=".passband-backup-", dir=target.resolve().parent) as passing,
        ):
            return _write(data, _take_snapshot(data, Path(passing)), writer)
    except OSError as error:
        raise BackupError(
            f"The backup could not be finished ({error.strerror or error}). What was written at {target} is no backup."
        ) from error


def _take_snapshot(data: Path, passing: Path) -> _Snapshot:
    copy = passing / "library.sqlite"
    try:
        with (
            closing(sqlite3.connect(f"{(data / copy.name).as_uri()}?mode=rw", uri=True, timeout=BUSY_S)) as source,
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


def _rows(
    copy: Path,
) -> tuple[tuple[UploadRecord, ...], tuple[tuple[CarRecord, ...], ...], tuple[ItemRecord, ...], State, dict[str, str]]:
    engine = open_database(copy)
    try:
        with engine.begin() as connection:
            ids = connection.execute(select(uploads.c.id)).scalars().all()
            kept = tuple(upload for id in ids if (upload := upload_of(connection, id)) is not None)
            versions = tuple(
                versions_of(connection, id) for id in connection.execute(select(cars.c.id)).scalars().all()
            )
            kept_items = tuple(all_items_of(connection).values())
            of_jobs = {_place("originals", log.sha256): f"The log {log.name}" for log in logs_of_jobs(connection)}
            for key in tables_of_passes(connection):
                of_jobs[_place("runs", key, ".parquet")] = "The table of a new review that does not stand yet"
            generation = connection.exec_driver_sql("SELECT generation FROM progress").scalar() or 0
    finally:
        engine.dispose()
    runs = sum(len(upload.runs) for upload in kept)
    return kept, versions, kept_items, State(generation, runs=runs, uploads=len(kept), cars=len(versions)), of_jobs


def _write(data: Path, snapshot: _Snapshot, writer: Writer) -> Manifest:
    files = [writer.add("library.sqlite", snapshot.database)]
    faults = []
    for name, what in _named(data, snapshot).items():
        kept = _found(data, name, writer)
        if kept is None:
            faults.append(f"{what} is missing ({name}).")
            continue
        files.append(kept)
        if kept.sha256 != _key(name):
            faults.append(f"{what} is damaged: its bytes are not those that were kept ({name}).")
    files += [writer.add_bytes(name, body) for name, body in _records(data, snapshot).items()]
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


def _named(data: Path, snapshot: _Snapshot) -> dict[str, str]:
    """Places of all originals and tables to be kept, and what to call each."""
    named = dict(snapshot.of_jobs)
    for upload in snapshot.uploads:
        named |= {_place("originals", log.sha256): f"The log {log.name}" for log in upload.logs}
    for upload in snapshot.uploads:
        for run in upload.runs:
            said = " ".join(part for part in (run.details.event, run.details.round, run.details.label) if part)
            named[_place("runs", run.table_key, ".parquet")] = f"The table of the run {said or run.id}"
    others = {_place("originals", key) for key in snapshot.state.unclaimed}
    if snapshot.state.doubt:
        others |= {path.relative_to(data).as_posix() for path in (data / "originals").glob("??/" + "?" * 64)}
    return named | {name: "A log that has no row" for name in others - set(named)}


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


def _found(data: Path, name: str, writer: Writer) -> KeptFile | None:
    """Keep a file; one that is gone because its run was deleted meanwhile lies in the trash, or is back already."""
    for place in _places(data, name):
        try:
            return writer.add(name, place)
        except FileNotFoundError:
            continue
    return None


def _places(data: Path, name: str) -> Iterator[Path]:
    yield data / name
    yield from (data / "trash").glob(f"*/{Path(name).name}")
    yield data / name


def _place(folder: str, key: str, suffix: str = "") -> str:
    return f"{folder}/{key[:2]}/{key}{suffix}"


def _key(name: str) -> str:
    return Path(name).name.partition(".")[0]
