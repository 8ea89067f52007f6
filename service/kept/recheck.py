"""A library looked through file by file and mended: what is lost is made anew from the logs and the records beside it.

Public: `recheck`, `Report`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from hashlib import sha256

from passband.analysis.channels.log import LogError
from passband.service.given.facts import GivenError
from passband.service.kept.bringing_back import Room, bring_back, kept_review
from passband.service.reviewing.upload_review import UploadReviewer, passing_folder
from passband.service.reviewing.workers import TaskFailed, TaskTooLong, Workers
from passband.service.settings import Settings
from passband.service.store.claiming import trust
from passband.service.store.faults import LibraryDamaged, NotWhole
from passband.service.store.files import Written
from passband.service.store.folder import LibraryFolder
from passband.service.store.ledger import State
from passband.service.store.opening import open_on_server
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.record_files import DamagedRecord
from passband.service.store.records import NewReview
from passband.service.store.row_records import RowRecords
from passband.service.store.schema import check_database
from passband.service.store.settling import settle
from passband.service.store.soundness import Doubt, Found, look_at
from passband.service.store.sqlite_records import SqliteRecords
from passband.service.store.trash import Reason, TrashedFile
from passband.service.store.turns import FILES
from passband.service.store.upload_records import KeptRun, UploadRecord, read_cars, read_item, read_upload

SHOWN = 20
"""So many logs that nobody knows of are named; the rest are counted."""


@dataclass(slots=True)
class Report:
    """What was found and done, in sentences."""

    done: list[str] = field(default_factory=list)
    """What was in order, or is again."""
    left: list[str] = field(default_factory=list)
    """What could not be mended, and what to do."""


def recheck(settings: Settings) -> Report:
    """Check every file of a library and mend what can be mended.

    The service must not run on it meanwhile, unless the rows are on a server.

    Parameters
    ----------
    settings : Settings
        `data` is the folder; `workers` review again what has to be.

    Returns
    -------
    Report
        Nothing is ever deleted: what stands in the way goes to the trash.

    Raises
    ------
    LibraryInUse
        If another program has the folder open.
    SchemaError
        If the database was written by a newer program, or is on a server and cannot be used.
    """
    with ExitStack() as closing:
        folder = LibraryFolder(settings.data, shared=bool(settings.database), store=settings.object_store)
        closing.callback(folder.close)
        workers = Workers(settings.workers, seconds=settings.review_seconds, memory_bytes=settings.review_bytes)
        closing.callback(workers.close)
        report = Report()
        if settings.database:
            shared, _ = open_on_server(folder, settings)
            closing.callback(shared.close)
            return _SharedRecheck(folder, shared, UploadReviewer(workers, folder.originals)).run()
        records, found = _open_database(folder, report)
        closing.callback(records.close)
        return _Recheck(folder, records, UploadReviewer(workers, folder.originals), report).run(found)


def _open_database(folder: LibraryFolder, report: Report) -> tuple[SqliteRecords, Found]:
    """The database, or a new one in its place where it cannot be trusted."""
    records: SqliteRecords | None = None
    try:
        check_database(folder.database)
        records = SqliteRecords(folder.database, folder.ledger)
        return records, look_at(folder, records)
    except LibraryDamaged as error:
        if records is not None:
            records.close()
        paths = [folder.database.with_name(folder.database.name + end) for end in ("", "-wal", "-shm")]
        last = folder.ledger.state() or State(0, 0, 0, 0)
        folder.ledger.write_state(replace(last, doubt=Doubt.LOST.name))
        entry = folder.trash.move_in(Reason.DATABASE, str(error), [path for path in paths if path.exists()])
        report.done.append(f"The database was damaged; it went to the trash as {entry}, and a new one was made.")
    records = SqliteRecords(folder.database, folder.ledger)
    return records, look_at(folder, records)


class _Mending:
    """What is looked at and mended alike, wherever the rows are."""

    def __init__(self, folder: LibraryFolder, records: RowRecords, reviewer: UploadReviewer, report: Report) -> None:
        self._folder = folder
        self._records = records
        self._reviewer = reviewer
        self._report = report
        self._waiting: set[str] = set()

    def _check_originals(self) -> set[str]:
        keys = list(self._folder.originals.keys())
        damaged = {key for key in keys if not self._folder.originals.is_whole(key)}
        self._report.done.append(f"{len(keys)} logs were held against their hashes; {len(damaged)} are damaged.")
        return damaged

    def _mend_upload(self, upload: UploadRecord) -> bool:
        """Whether something had to be mended, and was."""
        kept = {run.position: review for run in upload.runs if (review := self._sound_review(run))}
        row = self._records.upload_record(upload.id)
        if row == upload and len(kept) == len(upload.runs):
            return False
        with passing_folder(self._folder.incoming) as folder:
            try:
                room: Room = (folder, Written())
                bring_back(self._folder, self._records, self._reviewer, upload, room, kept=kept, anew=True)
            except (LogError, GivenError, NotWhole, TaskFailed, TaskTooLong) as error:
                self._leave(upload, row, error)
                return False
        again = len(upload.runs) - len(kept)
        self._report.done.append(f"{_names(upload)}: brought back, {again} of its reviews made again from the logs.")
        return True

    def _sound_review(self, run: KeptRun) -> NewReview | None:
        """The review that stands, if it is the one recorded, its table whole and its line in lists as it should be."""
        try:
            row, review = self._records.run(run.id), self._records.review(run.id)
        except NotWhole:
            return None
        if row is None or review is None or not self._folder.tables.is_whole(run.table_key):
            return None
        if sha256(review).hexdigest() != run.review_sha256:
            return None
        kept = kept_review(run, review)
        return kept if kept.summary == row.summary else None

    def _leave(self, upload: UploadRecord, row: UploadRecord | None, error: Exception) -> None:
        """What cannot be made again stays as it is."""
        self._report.left.append(f"{_names(upload)} could not be made again: {error}")

    def _tell_damaged(self, damaged: set[str]) -> None:
        missing = set()
        here = set(self._folder.originals.keys())
        for upload in self._records.all_uploads():
            for log in upload.logs:
                if log.sha256 in damaged or log.sha256 not in here:
                    missing.add(log.sha256)
                    said = "damaged" if log.sha256 in here else "missing"
                    self._report.left.append(f"The log {log.name} is {said}; send it again. It is of {_names(upload)}.")
        for key in sorted(damaged - missing):
            self._report.left.append(f"The log {key} is damaged, and no run is of it.")

    def _tell_unclaimed(self) -> set[str]:
        used = {key for upload in self._records.all_uploads() for key in upload.originals}
        used |= {log.sha256 for log in self._records.logs_of_jobs()}
        unknown = sorted(set(self._folder.originals.keys()) - used - self._waiting)
        for key in unknown[:SHOWN]:
            place = f"originals/{key[:2]}/{key}"
            self._report.left.append(f"Nothing is recorded of the log {place}; send that file again to have its runs.")
        if len(unknown) > SHOWN:
            self._report.left.append(f"Likewise of {len(unknown) - SHOWN} more in originals/.")
        return {*unknown, *self._waiting}


class _SharedRecheck(_Mending):
    """One pass over a library whose rows are on a server, also while it is served; no record stands beside them."""

    def __init__(self, folder: LibraryFolder, records: PostgresRecords, reviewer: UploadReviewer) -> None:
        super().__init__(folder, records, reviewer, Report())
        self._server = records

    def run(self) -> Report:
        damaged = self._check_originals()
        uploads = self._records.all_uploads(hashed=True)
        mended = 0
        for upload in sorted(uploads, key=lambda upload: min((run.number for run in upload.runs), default=0)):
            with self._server.turn(upload.id), self._server.turn(FILES):
                now = self._records.upload_record(upload.id)
                mended += now is not None and self._mend_upload(now)
        self._report.done.append(f"{len(uploads)} uploads were checked, {mended} of them were mended.")
        self._tell_damaged(damaged)
        with self._server.turn(FILES):
            if not self._tell_unclaimed():
                trust(self._folder, self._server)
        return self._report


class _Recheck(_Mending):
    """One pass over a library."""

    def __init__(self, folder: LibraryFolder, records: SqliteRecords, reviewer: UploadReviewer, report: Report) -> None:
        super().__init__(folder, records, reviewer, report)
        self._file = records

    def run(self, found: Found) -> Report:
        last = self._folder.ledger.state() or State(0, 0, 0, 0)
        damaged = self._check_originals()
        self._mend_records()
        if found.condition.doubt is None:
            settle(self._folder, self._file, look_at(self._folder, self._file), trash_days=0)
        else:
            self._report.done.append(f"Something was lost: {found.condition.doubt.value}.")
        generations = [last.generation, *self._mend_cars(), *self._mend_items()]
        recorded = dict(self._recorded())
        generations += [generation for _, generation in recorded.values()]
        self._take_back_deletions()
        mended = [self._mend_upload(upload) for upload in self._wanted(recorded)]
        self._report.done.append(f"{len(mended)} uploads were checked, {sum(mended)} of them were mended.")
        self._tell_damaged(damaged)
        unclaimed = self._tell_unclaimed()
        self._file.tell_again((), (), least=max(generations))
        self._folder.ledger.write_state(replace(self._file.state(), unclaimed=tuple(sorted(unclaimed))))
        return self._report

    def _mend_records(self) -> None:
        """Damaged records go to the trash; those of uploads and cars that have rows are written anew."""
        bad: list[str] = []
        for files, reader in (
            (self._folder.ledger.uploads, read_upload),
            (self._folder.ledger.cars, read_cars),
            (self._folder.ledger.items, read_item),
        ):
            for key in list(files.keys()):
                try:
                    reader(files.read(key) or {})
                except DamagedRecord as error:
                    texts = {f"{key}.json": files.bytes_of(key) or b""}
                    entry = self._folder.trash.put(Reason.RECORD, f"It cannot be read: {error}.", texts=texts)
                    files.remove(key)
                    bad.append(key)
                    self._report.done.append(f"The record {key[:12]} was damaged; it went to the trash as {entry}.")
        rows = {upload.key: upload.id for upload in self._records.all_uploads()}
        cars = [key for key in bad if key in self._records.all_versions()]
        items = [key for key in bad if key in self._records.all_items()]
        self._file.tell_again([rows[key] for key in bad if key in rows], cars, items)
        self._report.left += [
            f"Of the upload or car {key[:12]} neither its record nor its row can be read; if logs of it are given "
            "below, send them again."
            for key in bad
            if key not in rows and key not in cars and key not in items
        ]

    def _mend_cars(self) -> Iterator[int]:
        for car_id in list(self._folder.ledger.cars.keys()):
            versions, generation = read_cars(self._folder.ledger.cars.read(car_id) or {})
            yield generation
            if self._records.all_versions().get(car_id) != versions:
                self._folder.ledger.contested.discard(car_id)
                self._records.bring_back_car(versions)
                name = versions[-1].given.get("name", car_id)
                self._report.done.append(f"The car {name} was brought back with {len(versions)} versions.")

    def _mend_items(self) -> Iterator[int]:
        for item_id in list(self._folder.ledger.items.keys()):
            item, generation = read_item(self._folder.ledger.items.read(item_id) or {})
            yield generation
            if self._records.item(item_id) != item:
                self._folder.ledger.contested.discard(item_id)
                self._records.keep_item(item)
                self._report.done.append(f"The {item.kind} {item.given.get('name', item_id)} was brought back.")

    def _recorded(self) -> Iterator[tuple[str, tuple[UploadRecord, int]]]:
        for upload, generation in self._folder.recorded_uploads():
            yield upload.key, (upload, generation)

    def _take_back_deletions(self) -> None:
        """Runs that an older database still has, though they were deleted since: they lie in the trash."""
        for entry in list(self._folder.trash.entries()):
            upload = entry.upload if entry.reason is Reason.DELETED else None
            if upload is None or self._folder.recorded_upload(upload.key) is not None:
                continue  # what has a record is made what its record says
            for run in upload.runs:
                if self._records.remove_run(run.id):
                    self._report.done.append(f"{_name(run)} was deleted since; it lies in the trash as {entry.id}.")

    def _wanted(self, recorded: dict[str, tuple[UploadRecord, int]]) -> list[UploadRecord]:
        """Uploads as they should stand, in the order of their coming in: by their records, else by their rows."""
        rows = {upload.key: upload for upload in self._records.all_uploads(hashed=True)}
        ids = {upload.id for upload, _ in recorded.values()}
        wanted = [upload for key, upload in rows.items() if key not in recorded and upload.id not in ids]
        wanted += [upload for upload, _ in recorded.values()]
        return sorted(wanted, key=lambda upload: min((run.number for run in upload.runs), default=0))

    def _leave(self, upload: UploadRecord, row: UploadRecord | None, error: Exception) -> None:
        """Where rows and record differ, the record goes to the trash."""
        super()._leave(upload, row, error)
        if row is None:
            self._waiting |= {upload.key, *upload.originals}
        elif row != upload:
            files = [TrashedFile(key, self._folder.originals) for key in sorted(upload.originals)]
            entry = self._folder.trash.put(Reason.RECORD, "Its logs could not be reviewed.", files=files, upload=upload)
            self._folder.ledger.contested.discard(upload.key)
            self._file.tell_again([row.id], ())
            self._report.left.append(f"What was recorded of it lies in the trash as {entry}.")


def _name(run: KeptRun) -> str:
    said = " ".join(part for part in (run.details.event, run.details.round, run.details.label) if part)
    return f"The run {said or run.id[:8]}"


def _names(upload: UploadRecord) -> str:
    return ", ".join(_name(run) for run in upload.runs) or f"The upload {upload.key[:12]}"
