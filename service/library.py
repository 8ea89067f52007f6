"""The library: a run in, a review out. Files first, rows last, so that a crash leaves a whole run or nothing.

Public: `Library`, `TakenIn`, `LibraryInUse`.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, BinaryIO

from passband.service.bringing_back import bring_back, bring_back_deleted
from passband.service.details import RunChanges, UploadDetails
from passband.service.given import read_car
from passband.service.progress import Progress
from passband.service.reviewing import ReviewedRun
from passband.service.sent_files import SentFiles, check_given, each_once, sent_once
from passband.service.settings import Settings
from passband.service.sorting import SortedFile, SortTask
from passband.service.store.away import is_away
from passband.service.store.claiming import note_number
from passband.service.store.faults import LibraryInUse, NotWhole, QuotaUsedUp
from passband.service.store.files import Blobs
from passband.service.store.folder import LibraryFolder
from passband.service.store.jobs import Job, JobEnd, NewJob
from passband.service.store.opening import open_records
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.records import CarRecord, Details, LogRecord, NewUpload, RunRecord
from passband.service.store.trash import Reason, Trash, TrashedFile
from passband.service.turns import Turns, Writing
from passband.service.upload_review import UploadReviewer, now, of_position, passing_folder, reviewed_of, slips_in_order
from passband.service.uploads import ReceivedFile
from passband.service.what_changed import Unreviewed, inputs_of
from passband.service.workers import Workers

__all__ = ["Library", "LibraryInUse", "TakenIn"]

JsonObject = dict[str, Any]

ALREADY_HERE: JsonObject = {
    "code": "logs-already-here",
    "level": "note",
    "text": "These logs are here already, and nothing was changed; what is said of a run is changed at the run itself.",
    "where": "",
}
JOBS_DAYS = 30
"""What came of a job can be asked for so long after its end. [days]"""


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What became of an upload."""

    runs: tuple[RunRecord, ...]
    findings: tuple[JsonObject, ...]
    """Of the upload as a whole, then of each review, told once."""
    new: bool
    """False where the same logs were here already."""


class Library:
    """Everything the service keeps, in one folder.

    Parameters
    ----------
    settings : Settings
        `data` is the folder, made if it is not there.
    workers : Workers, optional
        Processes that compute reviews, shared with other libraries; by default its own.
    quota_bytes : int, optional
        Most bytes of logs that it takes; None for no bound.
    database : PostgresDatabase, optional
        Open and shared with other libraries, where the rows are on a server.
    team : str
        Whose library, where the rows are on a server; empty for whoever has the data folder itself.

    Raises
    ------
    LibraryInUse
        If another program has the folder open, or the folder is not the one that the rows are of.
    LibraryDamaged, SchemaError
        If the database cannot be trusted or reached; nothing was touched.
    """

    def __init__(
        self,
        settings: Settings,
        *,
        workers: Workers | None = None,
        quota_bytes: int | None = None,
        database: PostgresDatabase | None = None,
        team: str = "",
    ) -> None:
        self._shared = bool(settings.database)
        with ExitStack() as undone:
            self._folder = LibraryFolder(
                settings.data,
                reserve_bytes=settings.reserve_bytes,
                shared=self._shared,
                store=settings.object_store,
            )
            undone.callback(self._folder.close)
            self.records, self.condition = open_records(self._folder, settings, database=database, team=team)
            undone.callback(self.records.close)
            if not self._shared:
                self.records.jobs.take_over()
            self.records.jobs.forget(days=JOBS_DAYS)
            self._folder.reserve.fill()
            undone.pop_all()
        self._originals, self._tables = self._folder.originals, self._folder.tables
        self.quota_bytes, self._shares_workers = quota_bytes, workers is not None
        self._workers = workers or Workers(
            settings.workers, seconds=settings.review_seconds, memory_bytes=settings.review_bytes
        )
        self._reviewer = UploadReviewer(self._workers, self._originals)
        self._unreviewed = Unreviewed(self._workers, self.records, self._folder.kept)
        self._writing = Writing(self.records.turn)
        self._turns = Turns()

    @property
    def trash(self) -> Trash:
        """What was deleted."""
        return self._folder.trash

    @property
    def folder(self) -> LibraryFolder:
        """Where all of it lies."""
        return self._folder

    @property
    def workers(self) -> Workers:
        """What computes its reviews."""
        return self._workers

    def close(self) -> None:
        """End the workers and let go of the folder."""
        if not self._shares_workers:
            self._workers.close()
        self.records.close()
        self._folder.close()

    @contextmanager
    def incoming(self) -> Iterator[Path]:
        """An empty folder for an upload's files, gone with all that is left in it at the end."""
        try:
            with passing_folder(self._folder.incoming) as folder:
                yield folder
        finally:
            self._folder.reserve.fill()

    def take_in(
        self,
        files: Sequence[ReceivedFile],
        *,
        car: CarRecord | None,
        details: UploadDetails,
        not_before: threading.Event | None = None,
        progress: Progress | None = None,
        job: Job | None = None,
    ) -> TakenIn:
        """Review an upload's files and keep them with every run found in them.

        Parameters
        ----------
        files : sequence of ReceivedFile
            In a folder of `incoming`; taken over if they hold a run, untouched if not.
        car : CarRecord or None
            The car, in the version to be used.
        details : UploadDetails
            What the user said.
        not_before : Event, optional
            Keep nothing until it is set: so do uploads that are reviewed side by side still come in order.
        progress : Progress, optional
            Hears each stage, and may end it by `Cancelled`; then nothing is kept.
        job : Job, optional
            That these files waited in; it ends as they are kept, in the same transaction.

        Returns
        -------
        TakenIn
            The runs. The same files again give the runs that are here, whatever else was said.

        Raises
        ------
        LogError, GivenError
            If the files hold no run, or slip or air cannot be used; nothing is kept.
        QuotaUsedUp
            If the library may not hold so much.
        """
        check_given(details.slips, details.air)
        sent = sent_once(files)
        with self._turns.of(sent.key), self.records.turn(sent.key):
            here = self._here(sent.key, sent.paths)
            if here:
                return TakenIn(here, (*sent.twice, ALREADY_HERE), new=False)
            if job is None:
                self._check_quota(sum(log.bytes for log in sent.logs))
            named = [(path, log.name) for path, log in zip(sent.paths, sent.logs, strict=True)]
            out, inputs = sent.paths[0].parent, inputs_of(sent.logs, car, details, details.slips)
            reviewed = self._reviewer.review(named, car, details, details.slips, out, inputs=inputs, progress=progress)
            if progress is not None:
                progress.tell("keeping")
            if not_before is not None:
                not_before.wait()
            twice = job.task["findings"] if job else sent.twice
            findings = each_once([*twice, *(one for run in reviewed for one in run.review["findings"])])
            self._keep(sent, reviewed, car, details, JobEnd(job, findings) if job else None)
            runs = self.records.upload(sent.key)
            for run in runs[0] if runs else ():
                self._folder.kept.put(run.id, reviewed[run.position].kept)
        return TakenIn(tuple(runs[0]) if runs else (), findings, new=True)

    def put_off(
        self, files: Sequence[ReceivedFile], *, car: CarRecord | None, details: UploadDetails, beside: JsonObject
    ) -> TakenIn | Job:
        """Keep an upload's files and a job over them, which reviews them later.

        Parameters
        ----------
        files, car, details
            As `take_in` takes them.
        beside : dict
            Kept with the job's task.

        Returns
        -------
        TakenIn or Job
            The runs where the same files are here already, the open job where they wait already.

        Raises
        ------
        GivenError, QuotaUsedUp
            As `take_in` raises them; nothing is kept.
        """
        check_given(details.slips, details.air)
        sent = sent_once(files)
        waiting = self.records.jobs.open_of(sent.key)
        if waiting is not None:
            return waiting
        with self._turns.of(sent.key), self.records.turn(sent.key):
            here = self._here(sent.key, sent.paths)
            if here:
                return TakenIn(here, (*sent.twice, ALREADY_HERE), new=False)
            self._check_quota(sum(log.bytes for log in sent.logs))
            of_car = [car.id, car.version] if car else None
            task = {"car": of_car, "details": details.model_dump(), "findings": sent.twice, **beside}
            with self.keeping() as written:
                for path in sent.paths:
                    self._originals.put(path, noted=_into(written, self._originals))
                new = NewJob(secrets.token_hex(16), "upload", sent.key, task, sent.logs)
                return self.records.jobs.put(new)

    @contextmanager
    def keeping(self) -> Iterator[list[tuple[Blobs, str]]]:
        """While files are put and rows written: nobody else writes, and what is told of is let go if it goes wrong."""
        with self._writing, self._all_or_nothing() as written:
            yield written

    def let_go_of(self, blobs: Blobs, keys: Sequence[str], *, but_by: str) -> None:
        """Remove those of some files that nothing needs but perhaps one job."""
        with self._writing:
            self._remove_unused(blobs, keys, but_by=but_by)

    def sort(self, task: SortTask) -> tuple[SortedFile, ...]:
        """Which of some files are of one run; nothing is kept."""
        return self._workers.sort(task)

    def _check_quota(self, more_bytes: int) -> None:
        here_bytes = self.records.bytes_of_logs() + self.records.jobs.bytes_waiting()
        if self.quota_bytes is not None and here_bytes + more_bytes > self.quota_bytes:
            raise QuotaUsedUp(self.quota_bytes)

    def review_again(self, run_id: str, changes: RunChanges) -> RunRecord | None:
        """Change what is said of a run and review it again, with the newest version of its car.

        Its logs are read again only where what its figures are made of has changed: see `what_changed`.

        Parameters
        ----------
        run_id : str
            Which run.
        changes : RunChanges
            What is new; may be empty, which only reviews again.

        Returns
        -------
        RunRecord or None
            The run as it is now; None if there is none. Until the new review is whole the old one stands.

        Raises
        ------
        LogError, GivenError
            If the logs hold no such run any more (as when the car now says a channel is another), or a key cannot be
            used; the old review stands.
        """
        run = self.records.run(run_id)
        if run is None:
            return None
        with self._turns.of(run.upload_id), self.records.turn(run.upload_id), self.incoming() as folder:
            run = self.records.run(run_id)
            if run is None:
                return None
            said = changes.model_dump(exclude_unset=True)
            car_id = said.pop("car", run.car[0] if run.car else None)
            car = self.records.car(car_id) if car_id else None
            details = replace(run.details, **said)
            slips = {sibling.position: sibling.details.slip for sibling in self.records.siblings(run.upload_id)}
            slips[run.position] = details.slip
            check_given([slip for slip in slips.values() if slip], details.air)
            in_order, were = slips_in_order(slips), slips_in_order({**slips, run.position: run.details.slip})
            inputs = inputs_of(run.logs, car, details, in_order)
            held = self._unreviewed.review_of(run, car, details, inputs=inputs, slips_were=were)
            if held is not None:
                return self.records.run(run_id) if self.records.replace_review(run_id, held) else None
            logs = self._reviewer.copy_out(run.logs, folder, run_id=run_id)
            reviewed = self._reviewer.review(logs, car, details, in_order, folder, inputs=inputs)
            return self._exchange(run, of_position(reviewed, run.position), car, details)

    def try_car(self, run_id: str, given: JsonObject) -> JsonObject | None:
        """A run's review as it would be with its car described otherwise; nothing is kept.

        Parameters
        ----------
        run_id : str
            Which run.
        given : dict
            The car as it would be given.

        Returns
        -------
        dict or None
            The review as JSON says it; None if there is no such run.

        Raises
        ------
        GivenError
            If the car cannot be used.
        """
        read_car(given)
        run = self.records.run(run_id)
        if run is None:
            return None
        slips = slips_in_order({one.position: one.details.slip for one in self.records.siblings(run.upload_id)})
        with self.incoming() as folder:
            logs = self._reviewer.copy_out(run.logs, folder, run_id=run_id)
            reviewed = self._reviewer.review(logs, CarRecord("", 0, "", given), run.details, slips, folder)
            return of_position(reviewed, run.position).review

    def remove(self, run_id: str) -> str | None:
        """Put a run into the trash, with its logs; they stay here too if another run is of them.

        Parameters
        ----------
        run_id : str
            Which run.

        Returns
        -------
        str or None
            Its entry in the trash, by which it can be restored; None if there is no such run.
        """
        return self._folder.reserve.spend(lambda: self._remove(run_id))

    def restore(self, entry_id: str) -> tuple[RunRecord, ...] | None:
        """Bring back what lies in the trash, as it was, ids and all.

        Parameters
        ----------
        entry_id : str
            Which entry.

        Returns
        -------
        tuple of RunRecord
            The runs, here again; None if there is no such entry.

        Raises
        ------
        CannotRestore
            If it holds no runs that can be brought back, or others have their place; it stays in the trash.
        """
        with self._writing, self.incoming() as folder:
            entry = self.trash.entry(entry_id)
            if entry is None:
                return None
            with self._all_or_nothing() as written:
                upload = bring_back_deleted(self._folder, self.records, self._reviewer, entry, (folder, written))
            self.trash.discard(entry_id)
            return tuple(run for one in upload.runs if (run := self.records.run(one.id)))

    def let_go(self, entry_id: str) -> bool:
        """Let go of an entry of the trash for good; False if there is none."""
        return self._folder.reserve.spend(lambda: self._let_go(entry_id))

    def open_table(self, run_id: str) -> tuple[RunRecord, BinaryIO] | None:
        """A run and its table, open for reading; None if there is no such run, `NotWhole` if its table is gone."""
        run = self.records.run(run_id)
        while run is not None:
            try:
                return run, self._tables.open(run.table_key)
            except KeyError:
                run = self._changed(run, "The table of channels")
        return None

    def log(self, run_id: str, n: int) -> LogRecord | None:
        """A log of a run; None if there is no such log."""
        run = self.records.run(run_id)
        return run.logs[n] if run is not None and 0 <= n < len(run.logs) else None

    def address(
        self, run_id: str, key: str, *, seconds: int, headers: Mapping[str, str], encodings: Collection[str]
    ) -> str | None:
        """An address elsewhere at which a file of a run can be had for a while, as it was given.

        Parameters
        ----------
        run_id : str
            Which run.
        key : str
            Of one of its logs or its table.
        seconds : int
            How long.
        headers : mapping of str to str
            What is to stand above it.
        encodings : collection of str
            What who asks can unpack.

        Returns
        -------
        str or None
            None where it can only be had here.

        Raises
        ------
        NotWhole
            If it is not there.
        """
        run = self.records.run(run_id)
        blobs = self._tables if run is not None and run.table_key == key else self._originals
        try:
            return blobs.address(key, seconds=seconds, headers=headers, encodings=encodings)
        except KeyError:
            raise NotWhole(run_id, "A file") from None

    def open_log(self, run_id: str, n: int) -> tuple[LogRecord, BinaryIO] | None:
        """A log of a run as it came, open for reading; None if there is no such log, `NotWhole` if it is gone."""
        run = self.records.run(run_id)
        while run is not None and 0 <= n < len(run.logs):
            try:
                return run.logs[n], self._originals.open(run.logs[n].sha256)
            except KeyError:
                run = self._changed(run, f"The log {run.logs[n].name}")
        return None

    def _changed(self, run: RunRecord, what: str) -> RunRecord | None:
        """A run whose file was not there, as somebody has made it meanwhile; `NotWhole` if nobody has."""
        now = self.records.run(run.id)
        if now == run:
            raise NotWhole(run.id, what)
        return now

    def add_car(self, given: JsonObject) -> CarRecord:
        """Keep a new car; `GivenError` if it cannot be used."""
        read_car(given)
        return self.records.add_car(secrets.token_hex(16), given, now())

    def change_car(self, car_id: str, given: JsonObject) -> CarRecord | None:
        """Keep a car's next version; None if there is no such car, `GivenError` if it cannot be used."""
        read_car(given)
        return self.records.change_car(car_id, given, now())

    def amend_car(self, car_id: str, amend: Callable[[JsonObject], JsonObject]) -> CarRecord | None:
        """Keep a car's next version, made of its newest while nobody else changes it; the same if it is no other."""
        with self._writing.here:
            while (car := self.records.car(car_id)) is not None:
                given = amend(car.given)
                if given == car.given:
                    return car
                read_car(given)
                changed = self.records.change_car(car_id, given, now(), instead_of=car.version)
                if changed is not None:
                    return changed  # else another process was first, and its version is amended
        return None

    def _remove(self, run_id: str) -> str | None:
        with self._writing:
            run, review = self.records.run(run_id), self._review_as_it_lies(run_id)
            upload = self.records.upload_record(run.upload_id) if run else None
            if run is None or review is None or upload is None:
                return None
            this = replace(upload, runs=tuple(one for one in upload.runs if one.id == run_id))
            files = [TrashedFile(log.sha256, self._originals) for log in run.logs]
            files.append(TrashedFile(run.table_key, self._tables))
            why = "It was deleted by a person."
            texts = {f"review-{run_id}.json": review}
            entry, whole = self.trash.put(Reason.DELETED, why, files=files, upload=this, texts=texts), False
            try:
                whole = self.records.remove_run(run_id)
            finally:
                if not whole:
                    self.trash.discard(entry)
            self._remove_unused(self._tables, [run.table_key])
            self._remove_unused(self._originals, [log.sha256 for log in run.logs])
            self._folder.kept.remove(run_id)
            return entry

    def _review_as_it_lies(self, run_id: str) -> bytes | None:
        """A run's review; empty where it is damaged: a run can be deleted all the same, and is reviewed again then."""
        try:
            return self.records.review(run_id)
        except NotWhole:
            return b""

    def _let_go(self, entry_id: str) -> bool:
        with self._writing:
            if self.trash.entry(entry_id) is None:
                return False
            self.trash.discard(entry_id)
            self.records.give_back_room()
            return True

    def _here(self, key: str, paths: Sequence[Path]) -> tuple[RunRecord, ...]:
        """Runs of an upload that is here already, whole; logs of it that were missing or damaged are mended."""
        here = self.records.upload(key)
        recorded = None if here else self._folder.recorded_upload(key)
        whole = here is not None and len(here[0]) == here[1]
        if not (whole or recorded):
            return ()
        for path in paths:
            self._originals.put(path)
        if recorded:
            with self._writing, self.incoming() as folder, self._all_or_nothing() as written:
                bring_back(self._folder, self.records, self._reviewer, recorded[0], (folder, written))
            here = self.records.upload(key)
        return tuple(here[0]) if here else ()

    def _keep(
        self,
        sent: SentFiles,
        reviewed: Sequence[ReviewedRun],
        car: CarRecord | None,
        details: UploadDetails,
        ends: JobEnd | None,
    ) -> None:
        slips = dict(enumerate(details.slips))
        said = Details(**{**details.model_dump(), "slip": None})
        with self._writing, self._all_or_nothing() as written:
            for path in sent.paths:
                self._originals.put(path, noted=_into(written, self._originals))
            reviews = []
            for position, run in enumerate(reviewed):
                table_key = self._tables.put(run.table, noted=_into(written, self._tables))
                reviews.append(reviewed_of(position, run, car, replace(said, slip=slips.get(position)), table_key))
            ids = [secrets.token_hex(16) for _ in reviews]
            new = NewUpload(sent.key, sent.logs, tuple(reviews))
            self.records.add_upload(secrets.token_hex(16), new, ids, ends=ends)
            note_number(self._folder, self.records)
            self._remove_unused(self._tables, [review.table_key for review in reviews])

    def _exchange(
        self, run: RunRecord, reviewed: ReviewedRun, car: CarRecord | None, details: Details
    ) -> RunRecord | None:
        with self._writing, self._all_or_nothing() as written:
            table_key = self._tables.put(reviewed.table, noted=_into(written, self._tables))
            self._folder.kept.remove(run.id)  # before the row: what is kept must never be of another review
            kept = self.records.replace_review(run.id, reviewed_of(run.position, reviewed, car, details, table_key))
            self._remove_unused(self._tables, [run.table_key, table_key])
            self._folder.kept.put(run.id, reviewed.kept if kept else None)
            return self.records.run(run.id) if kept else None

    @contextmanager
    def _all_or_nothing(self) -> Iterator[list[tuple[Blobs, str]]]:
        written: list[tuple[Blobs, str]] = []
        with ExitStack() as left:
            left.push(lambda _kind, error, _trace: self._take_back(written, error))
            yield written

    def _take_back(self, written: Sequence[tuple[Blobs, str]], error: BaseException | None) -> None:
        if error is not None and not is_away(error):  # else the rows may have been committed all the same
            for blobs, key in written:
                self._remove_unused(blobs, [key])

    def _remove_unused(self, blobs: Blobs, keys: Sequence[str], *, but_by: str = "") -> None:
        if self._shared and self.condition.doubt is not None:
            return
        used = self.records.keys_in_use(keys, but_by=but_by)
        if self.condition.doubt is not None:  # what only a record knows of is in use too
            used |= {key for upload, _ in self._folder.recorded_uploads() for key in upload.originals | upload.tables}
        for key in set(keys) - used:
            blobs.remove(key)


def _into(written: list[tuple[Blobs, str]], blobs: Blobs) -> Callable[[str], None]:
    return lambda key: written.append((blobs, key))
