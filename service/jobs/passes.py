"""Runs reviewed again as jobs: a pass over all, or those of an event or a car, in chunks.

The new reviews are kept beside those that stand, one a run, however often a chunk is broken off and taken up again.
When all are there they are put in the places of the old in one transaction; then the old tables are let go.

Public: `put_pass`, `runs_meant`, `work_chunk`, `work_pass`, `work_sweep`, `leave_chunk`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from secrets import token_hex

from passband.analysis.channels.log import LogError
from passband.analysis.results.plain_values import Stored
from passband.service.answers.engines_held import hold_engines
from passband.service.given.facts import GivenError
from passband.service.http.errors import problem_of
from passband.service.kept.what_changed import inputs_of
from passband.service.library import Library
from passband.service.reviewing.progress import Progress
from passband.service.reviewing.review_files import ReviewedRun
from passband.service.reviewing.upload_review import UploadReviewer, of_position, reviewed_of, slips_in_order
from passband.service.reviewing.workers import ProcessDied, ServiceEnding, TaskFailed, TaskTooLong
from passband.service.store.faults import NotWhole
from passband.service.store.jobs import Job, NewJob
from passband.service.store.new_review_rows import GONE_MEANWHILE, Beside
from passband.service.store.records import CarRecord, Details, RunRecord

CHUNK_RUNS = 10
"""Most runs in a chunk: some 4 s of work, of which a process that is killed loses only the review it is at."""
SHARE_LEFT = 16
"""A chunk is no more than such a share of what is left to part: the last ones are of one run each, so that all who
review end together. 40 runs in four chunks kept the second of two processes idle for a fifth of the time."""
ALL_RUNS = 1_000_000
MOST_TRIES = 5
"""A review over which the process died so often is given up: it is the logs, and not whoever ends processes."""
MOST_LOST = 25
"""So often the service itself may be ended over one review. Kept high: it is hardly ever the logs; but logs that end
the service each time must not keep it down for ever."""


def runs_meant(library: Library, *, event: str | None, car: str | None) -> list[RunRecord]:
    """Runs of an event and a car, by its name or id, oldest first; all where neither is named."""
    runs = library.records.find_runs(event=event, car=None, limit=ALL_RUNS, after=None)[::-1]
    return [run for run in runs if car is None or (run.car and car in (run.car[0], run.summary["car_name"]))]


def put_pass(library: Library, *, event: str | None, car: str | None, beside: Stored) -> Job | None:
    """Put a pass over runs, each with the newest version of its car as it is now.

    Parameters
    ----------
    library : Library
        Where they are.
    event : str or None
        Only runs of this event.
    car : str or None
        Only runs of the car of this name or id.
    beside : mapping
        Kept with the job's task.

    Returns
    -------
    Job or None
        The one that is open already where the same was asked; None if no run is meant.
    """
    key = f"pass {json.dumps([event, car])}"
    with library.records.turn(key):
        return library.records.jobs.open_of(key) or _put_pass(library, key, event, car, beside)


def _put_pass(library: Library, key: str, event: str | None, car: str | None, beside: Stored) -> Job | None:
    runs = runs_meant(library, event=event, car=car)
    if not runs:
        return None
    versions = {one.id: one.version for one in library.records.all_cars()}
    task = {"event": event, "car": car, "runs": len(runs), "cars": versions, **beside}
    id = token_hex(16)
    parts = [
        NewJob(token_hex(16), "chunk", f"{id} {n}", {"uploads": uploads}) for n, uploads in enumerate(_parted(runs))
    ]
    return library.records.jobs.put(NewJob(id, "pass", key, task), parts)


def _parted(runs: Sequence[RunRecord]) -> Iterator[list[tuple[str, list[str]]]]:
    """Uploads with the ids of their runs, a chunk at a time: runs of the same logs are reviewed together."""
    of_upload: dict[str, list[str]] = {}
    left = len(runs)
    for run in runs:
        of_upload.setdefault(run.upload_id, []).append(run.id)
    chunk: list[tuple[str, list[str]]] = []
    for upload_id, ids in of_upload.items():
        chunk.append((upload_id, ids))
        count = sum(len(some) for _, some in chunk)
        if count >= min(CHUNK_RUNS, left / SHARE_LEFT):
            yield chunk
            chunk, left = [], left - count
    if chunk:
        yield chunk


def work_chunk(library: Library, job: Job, progress: Progress) -> None:
    """Review what a chunk's runs lack; each upload's new reviews are kept as soon as they are made."""
    top = _top(library, job)
    worn_out = job.lost >= MOST_LOST
    for upload_id, run_ids in _lacking(library, job):
        progress.check()
        if worn_out:
            _leave(library, job, run_ids, f"The service ended {MOST_LOST} times over this review, and it was given up.")
            worn_out = False
            continue
        with library.incoming() as folder:
            made = [*_Upload(library, upload_id, top.task["cars"], folder, progress).made(run_ids)]
            _keep(library, job, made)
    library.records.jobs.finish(job, {})


def leave_chunk(library: Library, job: Job, why: str) -> None:
    """Let the reviews of a chunk that cannot be done stand as they are."""
    for _, run_ids in _lacking(library, job):
        _leave(library, job, run_ids, why)
    library.records.jobs.finish(job, {})


def work_pass(library: Library, job: Job, progress: Progress) -> None:
    """All chunks have ended: let the new reviews stand, all at once."""
    with library.writes.whole():
        for run_id in library.records.new_reviews.run_ids(job.id):
            library.folder.kept.remove(run_id)  # before the rows: what is kept must never be of another review
        swept = library.records.let_stand(job)
        for run_id in library.records.new_reviews.run_ids(job.id):
            library.folder.kept.let_stand(job.id, run_id)
    work_sweep(library, swept, progress)


def work_sweep(library: Library, job: Job, _progress: Progress) -> None:
    """Let go of the tables that nobody reads any more; the job is done."""
    new = library.records.new_reviews
    library.writes.let_go_of(library.folder.tables, new.tables(job.id), but_by=job.id)
    library.folder.kept.forget_beside(job.id)
    run_ids = new.run_ids(job.id)
    library.records.jobs.finish(job, job.result or {})
    hold_engines(library, [run for id in run_ids if (run := library.records.run(id)) is not None])


@dataclass(frozen=True, slots=True)
class _Made:
    """A run's new review with its table still on its way, or why there is none."""

    run_id: str
    was: str
    run: RunRecord | None
    reviewed: ReviewedRun | None = None
    car: CarRecord | None = None
    why: str = ""


class _Upload:
    """One upload's runs reviewed again from its logs, once for all that are given alike."""

    def __init__(
        self, library: Library, upload_id: str, versions: Mapping[str, int], folder: Path, progress: Progress
    ) -> None:
        self._library, self._versions, self._folder, self._progress = library, versions, folder, progress
        self._reviewer = UploadReviewer(library.workers, library.folder.originals)
        self._siblings = library.records.siblings(upload_id)
        self._logs: list[tuple[Path, str]] = []
        self._done: list[tuple[Details, CarRecord | None, tuple[ReviewedRun, ...]]] = []

    def made(self, run_ids: Sequence[str]) -> Iterator[_Made]:
        """Of each of some runs its new review, or why it has none."""
        there = {run.id: run for run in self._siblings}
        for run_id in run_ids:
            run = there.get(run_id)
            yield self._one(run) if run is not None else _Made(run_id, "", None, why=GONE_MEANWHILE)

    def _one(self, run: RunRecord) -> _Made:
        car = self._library.records.car(run.car[0], self._versions.get(run.car[0])) if run.car else None
        try:
            reviewed = of_position(self._reviewed(run, car), run.position)
        except ServiceEnding:
            raise
        except (LogError, GivenError, NotWhole, TaskFailed, TaskTooLong) as error:
            problem = problem_of(error)
            return _Made(run.id, run.reviewed_at, run, why=problem.detail if problem else str(error))
        return _Made(run.id, run.reviewed_at, run, reviewed, car)

    def _reviewed(self, run: RunRecord, car: CarRecord | None) -> tuple[ReviewedRun, ...]:
        alike = replace(run.details, notes="", slip=None, at="")  # slips are given all together
        found = next((runs for details, of, runs in self._done if (details, of) == (alike, car)), None)
        if found is None:
            if not self._logs:
                self._logs = self._reviewer.copy_out(run.logs, self._folder, run_id=run.id)
            out = self._folder / str(len(self._done))
            out.mkdir(exist_ok=True)
            found = self._patiently(run, car, out)
            self._done.append((alike, car, found))
        return found

    def _patiently(self, run: RunRecord, car: CarRecord | None, out: Path) -> tuple[ReviewedRun, ...]:
        """Ask again where the process died: whoever ends processes need not mean these logs."""
        slips = slips_in_order({one.position: one.details.slip for one in self._siblings})
        inputs = inputs_of(run.logs, car, run.details, slips)
        tries = 0
        while True:
            try:
                return self._reviewer.review(
                    self._logs, car, run.details, slips, out, inputs=inputs, progress=self._progress
                )
            except ProcessDied:
                tries += 1
                if tries == MOST_TRIES:
                    raise


def _keep(library: Library, job: Job, made: Sequence[_Made]) -> None:
    tables = library.folder.tables
    with library.writes.whole() as written:
        beside = []
        for one in made:
            new = None
            if one.reviewed is not None and one.run is not None:
                key = written.put(tables, one.reviewed.table)
                new = reviewed_of(one.run.position, one.reviewed, one.car, one.run.details, key)
                library.folder.kept.put_beside(str(job.parent), one.run_id, one.reviewed.kept)
            beside.append(Beside(one.run_id, one.was, new, one.why))
        library.records.new_reviews.keep(job, beside)


def _leave(library: Library, job: Job, run_ids: Sequence[str], why: str) -> None:
    library.records.new_reviews.keep(job, [Beside(run_id, "", None, why) for run_id in run_ids])


def _lacking(library: Library, job: Job) -> Iterator[tuple[str, list[str]]]:
    """Uploads of a chunk with the ids of those runs of which the pass has nothing yet."""
    uploads: list[tuple[str, list[str]]] = job.task["uploads"]
    there = library.records.new_reviews.there(str(job.parent), [id for _, run_ids in uploads for id in run_ids])
    for upload_id, run_ids in uploads:
        lacking = [id for id in run_ids if id not in there]
        if lacking:
            yield upload_id, lacking


def _top(library: Library, job: Job) -> Job:
    top = library.records.jobs.job(str(job.parent))
    if top is None:
        raise LookupError(f"the pass {job.parent} of a chunk is gone")
    return top
