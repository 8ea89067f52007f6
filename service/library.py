"""The library: a run in, a review out. Files first, rows last, so that a crash leaves a whole run or nothing.

Public: `Library`, `TakenIn`, `LibraryInUse`.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from passband.analysis.results.plain_values import JsonObject
from passband.service.given.details import RunChanges, UploadDetails
from passband.service.given.facts import read_car
from passband.service.given.told_meanwhile import check_run_untold
from passband.service.kept.bringing_back import bring_back
from passband.service.kept.cars import Cars
from passband.service.kept.deleting import Deleting
from passband.service.kept.run_files import RunFiles
from passband.service.kept.same_logs import told_twice
from passband.service.kept.what_changed import Unreviewed, inputs_of
from passband.service.kept.whole_writes import WholeWrites, incoming
from passband.service.reviewing.progress import Progress, unheard
from passband.service.reviewing.review_files import ReviewedRun
from passband.service.reviewing.sorting import SortedFile, SortTask
from passband.service.reviewing.upload_review import UploadReviewer, at_of, of_position, reviewed_of, slips_in_order
from passband.service.reviewing.workers import Workers
from passband.service.settings import Settings
from passband.service.store.claiming import note_number
from passband.service.store.faults import LibraryInUse, QuotaUsedUp
from passband.service.store.files import preparing
from passband.service.store.folder import LibraryFolder
from passband.service.store.jobs import Job, JobEnd, NewJob
from passband.service.store.opening import open_records
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.records import CarRecord, Details, NewUpload, RunRecord
from passband.service.store.room import told_if_full
from passband.service.store.trash import Trash
from passband.service.store.turns import Turns
from passband.service.uploads.received import ReceivedFile
from passband.service.uploads.sent_files import SentFiles, check_given, each_once, sent_once

__all__ = ["Library", "LibraryInUse", "TakenIn"]


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
    OSError
        If the folder takes no files, as on a full disk.
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
        with told_if_full(settings.data), ExitStack() as undone:
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
        self._turns = Turns()
        self.writes = WholeWrites(self._folder, self.records, self.condition, shared=self._shared)
        """Whoever changes its files and rows."""
        self.cars = Cars(self.records, self.writes.alone)
        """Its cars, to add and to change."""
        self.files = RunFiles(self.records, self._folder)
        """What lies of its runs."""
        self.deleting = Deleting(self._folder, self.records, self._reviewer, self.writes)
        """How its runs go and come back."""

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
        with incoming(self._folder) as folder:
            yield folder

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
            progress = progress or unheard()
            hashed = () if job else [(path, log.sha256) for path, log in zip(sent.paths, sent.logs, strict=True)]
            # a job's logs are kept already; reading wants all cores, what comes behind it one
            with preparing(self._originals, hashed, after=progress.past_reading) as prepared:
                reviewed = self._reviewer.review(
                    named, car, details, details.slips, out, inputs=inputs, progress=progress
                )
            progress.tell("keeping")
            if not_before is not None:
                not_before.wait()
            sent = replace(sent, prepared=tuple(prepared.result()))
            twice = (*(job.task["findings"] if job else sent.twice), *told_twice(self.records, sent.logs))
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
            with self.writes.whole() as written:
                written.put_all([(self._originals, path) for path in sent.paths])
                new = NewJob(secrets.token_hex(16), "upload", sent.key, task, sent.logs)
                return self.records.jobs.put(new)

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
        ToldMeanwhile
            If what is to be changed is no longer what the sender saw.
        """
        run = self.records.run(run_id)
        if run is None:
            return None
        with self._turns.of(run.upload_id), self.records.turn(run.upload_id), self.incoming() as folder:
            run = self.records.run(run_id)
            if run is None:
                return None
            said = changes.told
            check_run_untold(run, said, changes.was)
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
            with self.writes.whole() as written, self.incoming() as folder:
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
        said = [
            Details(**{**details.model_dump(), "slip": slips.get(position), "at": at_of(run, details.at)})
            for position, run in enumerate(reviewed)
        ]
        with self.writes.whole() as written:
            originals = [(self._originals, original) for original in sent.prepared or sent.paths]
            keys = written.put_all([*originals, *((self._tables, run.table) for run in reviewed)])[len(originals) :]
            reviews = [
                reviewed_of(position, run, car, said[position], table_key)
                for position, (run, table_key) in enumerate(zip(reviewed, keys, strict=True))
            ]
            ids = [secrets.token_hex(16) for _ in reviews]
            new = NewUpload(sent.key, sent.logs, tuple(reviews))
            kept = self.records.add_upload(secrets.token_hex(16), new, ids, ends=ends)
            note_number(self._folder, self.records)
            left = [review.table_key for review, run_id in zip(reviews, ids, strict=True) if run_id not in kept]
            if left:  # of runs that were here already, with tables of their own
                self.writes.let_go_of(self._tables, left)

    def _exchange(
        self, run: RunRecord, reviewed: ReviewedRun, car: CarRecord | None, details: Details
    ) -> RunRecord | None:
        with self.writes.whole() as written:
            table_key = written.put(self._tables, reviewed.table)
            self._folder.kept.remove(run.id)  # before the row: what is kept must never be of another review
            kept = self.records.replace_review(run.id, reviewed_of(run.position, reviewed, car, details, table_key))
            self.writes.let_go_of(self._tables, [run.table_key, table_key])
            self._folder.kept.put(run.id, reviewed.kept if kept else None)
            return self.records.run(run.id) if kept else None
