"""Jobs taken and done beside the questions, one after another in a few threads that ask the processes for reviews.

Public: `JobRunner`, `do_job`, `WorkedJob`, `BEYOND_WORKERS`.
"""

from __future__ import annotations

import itertools
import logging
import secrets
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Literal

import orjson
from sqlalchemy.exc import SQLAlchemyError

from passband.service.http.errors import our_mistake, problem_json, problem_of
from passband.service.http.request_ids import request_id
from passband.service.jobs.passes import MOST_TRIES, leave_chunk, work_chunk, work_pass, work_sweep
from passband.service.jobs.upload_jobs import refuse_upload, work_upload
from passband.service.library import Library
from passband.service.reviewing.progress import Cancelled, Progress, Stage
from passband.service.reviewing.workers import ProcessDied, ServiceEnding
from passband.service.store.away import is_away
from passband.service.store.faults import FilesAway
from passband.service.store.jobs import BEAT_S, Job, Kind, NotHeld
from passband.service.store.room import no_room

AGAIN_S = 30.0
"""How soon a job is tried again that the disk, or an error of ours, stood in the way of. [s]"""
LOOK_S = 2.0
"""How often it is looked whether a job has come due that nobody woke us for. [s]"""
BEYOND_WORKERS = 2
"""So many more jobs are under way than there are processes for reviews: while one's logs are fetched and another's
review is kept, none of the processes waits."""
TELL_S = 1.0
"""How often a stage that has changed is told. [s]"""

log = logging.getLogger("passband")

WORK: dict[Kind, Callable[[Library, Job, Progress], None]] = {
    "upload": work_upload, "chunk": work_chunk, "pass": work_pass, "sweep": work_sweep,
}  # fmt: skip


Outcome = Literal["done", "refused", "failed", "given_back", "lost"]
"""What came of a turn at a job: it was done, its sender must mend something, or we must; or another turn comes, or
another has it."""


@dataclass(frozen=True, slots=True)
class WorkedJob:
    """One turn at a job."""

    kind: Kind
    outcome: Outcome
    seconds: float
    """How long it was worked on. [s]"""


def do_job(library: Library, job: Job, progress: Progress) -> Outcome:
    """Do a job that was taken; whatever comes of it, it is ended or given back.

    Parameters
    ----------
    library : Library
        Whose it is.
    job : Job
        Just taken.
    progress : Progress
        Hears its stages, and may end it by `Cancelled`: then it is given back.

    Returns
    -------
    str
        What came of it.
    """
    ending = _Ending(library, job)
    with ExitStack() as ended:
        ended.push(ending)
        WORK[job.kind](library, job, progress)
    return ending.outcome


@dataclass(slots=True)
class _Ending:
    """What is done about a job that comes to no end, and what came of it."""

    library: Library
    job: Job
    outcome: Outcome = "done"

    def __call__(self, _kind: object, error: BaseException | None, _trace: object) -> bool:
        if not isinstance(error, Exception):
            return False
        self.outcome = _came_to_no_end(self.library, self.job, error)
        return True


def _came_to_no_end(library: Library, job: Job, error: Exception) -> Outcome:
    jobs, of_disk = library.records.jobs, isinstance(error, (OSError, SQLAlchemyError))
    if isinstance(error, NotHeld):
        log.warning("the job %s went to another meanwhile", job.id)
        return "lost"
    elif isinstance(error, (Cancelled, ServiceEnding)):
        jobs.give_back(job, counted=False)
    elif isinstance(error, FilesAway):
        log.error("files were away from the job %s: %s", job.id, error)
        jobs.give_back(job, after_s=AGAIN_S, counted=False)
    elif of_disk and no_room(error, library.folder.root):
        log.error("no room on the disk for the job %s: %s", job.id, error)
        jobs.give_back(job, after_s=AGAIN_S, counted=False)
    elif (isinstance(error, ProcessDied) or problem_of(error) is None) and job.tries + 1 < MOST_TRIES:
        log.error("the job %s was broken off: %s", job.id, error, exc_info=error if of_disk else None)
        jobs.give_back(job, after_s=0.0 if isinstance(error, ProcessDied) else AGAIN_S)
    else:
        _refuse(library, job, error)
        return "failed" if problem_of(error) is None or isinstance(error, ProcessDied) else "refused"
    return "given_back"


def _refuse(library: Library, job: Job, error: Exception) -> None:
    problem = problem_of(error) or our_mistake(error, f"a job ({job.kind})")
    answer = orjson.loads(problem_json(problem, instance=job.task.get("asked", "")))
    if job.kind == "upload":
        refuse_upload(library, job, answer)
    elif job.kind == "chunk":
        leave_chunk(library, job, problem.detail)
    else:
        library.records.jobs.fail(job, {"problem": answer})


@dataclass(slots=True)
class _UnderWay:
    """A job that is worked on."""

    library: Library
    job: Job
    progress: Progress
    stage: str = ""
    written: str = ""
    """The stage that was written down last."""


@dataclass(slots=True)
class JobRunner:
    """Takes jobs of libraries and does them, until it is closed.

    Parameters
    ----------
    libraries : callable
        Those that are open now.
    at_once : int
        Jobs at once; see `BEYOND_WORKERS`.
    first : callable, optional
        Called before the first job is taken, beside all else.
    hear : callable, optional
        Told of each turn at a job.
    """

    libraries: Callable[[], Sequence[Library]]
    at_once: int
    first: Callable[[], None] | None = None
    hear: Callable[[WorkedJob], None] | None = None
    _holder: str = field(default_factory=lambda: secrets.token_hex(8))
    _woken: threading.Condition = field(default_factory=threading.Condition)
    _closed: threading.Event = field(default_factory=threading.Event)
    _under_way: dict[str, _UnderWay] = field(default_factory=dict)
    _threads: list[threading.Thread] = field(default_factory=list)
    _calls: int = 0
    _turn: itertools.count[int] = field(default_factory=itertools.count)

    def start(self) -> None:
        """Begin."""
        works = [threading.Thread(target=self._work, name=f"jobs-{n}", daemon=True) for n in range(1, self.at_once)]
        works.append(threading.Thread(target=self._begin, name="jobs-0", daemon=True))
        self._threads = [*works, threading.Thread(target=self._beat, name="jobs-beat", daemon=True)]
        for thread in self._threads:
            thread.start()

    def wake(self) -> None:
        """A job was put."""
        with self._woken:
            self._calls += 1
            self._woken.notify_all()

    def close(self) -> None:
        """Take no more jobs, give back what is under way, and come to an end."""
        self._closed.set()
        for one in list(self._under_way.values()):
            one.progress.cancel()
        self.wake()
        for thread in self._threads:
            thread.join()

    def _begin(self) -> None:
        with ExitStack() as ended:
            ended.push(self._go_on)
            if self.first is not None:
                self.first()
        self.wake()
        self._work()

    def _work(self) -> None:
        while not self._closed.is_set():
            calls = self._calls
            with ExitStack() as ended:
                ended.push(self._go_on)
                if self._take_one():
                    continue
            self._rest(calls)

    def _rest(self, calls: int) -> None:
        with self._woken:
            self._woken.wait_for(lambda: self._calls != calls or self._closed.is_set(), LOOK_S)

    def _go_on(self, _kind: object, error: BaseException | None, _trace: object) -> bool:
        """A job whose state could not be written is nobody's until its holder counts as lost: the next goes on."""
        if is_away(error):  # said at each look while it lasts: in a line
            log.error("a job could not be ended or taken: the database does not answer")
        elif isinstance(error, Exception):
            log.error("a job could not be ended or taken", exc_info=error)
        return isinstance(error, Exception)

    def _take_one(self) -> bool:
        libraries = list(self.libraries())
        turn = next(self._turn)
        for n in range(len(libraries)):
            library = libraries[(turn + n) % len(libraries)]
            job = library.records.jobs.take(self._holder)
            if job is not None:
                self._do(library, job)
                return True
        return False

    def _do(self, library: Library, job: Job) -> None:
        def hear(stage: Stage) -> None:
            one.stage = f"{stage.key}\t{stage.what}"

        one = _UnderWay(library, job, Progress(hear))
        self._under_way[job.id] = one
        if self._closed.is_set():
            one.progress.cancel()
        before, began_s = request_id.set(str(job.task.get("request_id", ""))), time.monotonic()
        try:
            outcome = do_job(library, job, one.progress)
            if self.hear is not None:
                self.hear(WorkedJob(job.kind, outcome, time.monotonic() - began_s))
        finally:
            request_id.reset(before)
            del self._under_way[job.id]

    def _beat(self) -> None:
        last = time.monotonic()
        while not self._closed.wait(TELL_S):
            all_of_them = time.monotonic() - last >= BEAT_S
            last = time.monotonic() if all_of_them else last
            with ExitStack() as ended:
                ended.push(self._go_on)
                self._tell([one for one in self._under_way.copy().values() if all_of_them or one.stage != one.written])

    def _tell(self, some: Sequence[_UnderWay]) -> None:
        for one in some:
            stage = one.stage
            one.library.records.jobs.heard(self._holder, {one.job.id: stage})
            one.written = stage
