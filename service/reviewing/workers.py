"""Reviews computed beside the server: a few processes that each take one task at a time.

Started afresh, never forked: a process forked after polars has run hangs. One that takes too long or dies is replaced,
and only the task it had is lost. Each is held to a limit of memory; an error that nobody foresaw is an answer like
any other.

Public: `Workers`, `TaskLost`, `TaskFailed`, `ProcessDied`, `TaskTooLong`, `ServiceEnding`, `Load`, `Worked`.
"""

from __future__ import annotations

import logging
import multiprocessing
import queue
import secrets
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING, cast

from passband.service.reviewing.holding_again import HeldRun, HoldTask, NotKept
from passband.service.reviewing.memory import can_limit_memory
from passband.service.reviewing.progress import Cancelled, Progress, Stage, unheard
from passband.service.reviewing.review_files import THERE, Broken, ReviewedRun, ReviewTask, Task, answer, serve_reviews
from passband.service.reviewing.sorting import SortedFile, SortTask
from passband.service.reviewing.threads import started_for_reviews
from passband.service.reviewing.workload import Kind, Load, Worked, Workload

if TYPE_CHECKING:
    from passband.service.reviewing.review_files import Answer, Done

LISTEN_S = 0.1
"""How long a worker is listened to before it is asked whether anybody still wants its answer. [s]"""
LEAVE_S = 5.0
"""How long a process is given to end by itself. [s]"""
_KINDS: dict[type[Task], Kind] = {ReviewTask: "review", SortTask: "sort", HoldTask: "hold"}
"""What tasks are counted as."""

__all__ = ["Load", "ProcessDied", "ServiceEnding", "TaskFailed", "TaskLost", "TaskTooLong", "Worked", "Workers"]

log = logging.getLogger("passband")


class TaskLost(RuntimeError):
    """A review that came to no end; its text is for the server's log.

    Parameters
    ----------
    text : str
        What happened.
    task : ReviewTask, SortTask or HoldTask
        Over which logs.
    """

    def __init__(self, text: str, task: Task) -> None:
        super().__init__(text)
        self.files = tuple(name for _, name in task.logs)
        """Names of the logs, as their sender calls them."""
        self.reference = secrets.token_hex(4)
        """Under which the server's log has it."""


class TaskFailed(TaskLost):
    """An error broke the review off, or its process died over it (of memory, most likely)."""


class ProcessDied(TaskFailed):
    """The process that computed it is gone, by its own fault or another's: asked again, it may come to an end."""


class _NeverBegun(ProcessDied):
    """It was gone before it said that it had begun: what it was asked for had no part in that."""


class ServiceEnding(TaskFailed):
    """The service is ending; the logs are not to blame."""


class TaskTooLong(TaskLost):
    """The review took longer than it may."""


class _Worker:
    """One process and the line to it; started when first asked, and again after it has ended."""

    def __init__(self, memory_bytes: int) -> None:
        self._process: BaseProcess | None = None
        self._memory_bytes = memory_bytes
        self._asked = False
        self.start()

    def start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._asked = False
        sent = (theirs, self._memory_bytes)
        self._process = context.Process(target=serve_reviews, args=sent, daemon=True, name="review")
        with started_for_reviews():
            self._process.start()
        theirs.close()

    def run(self, task: Task, seconds: float, progress: Progress) -> Answer:
        until, begun = time.monotonic() + seconds, False
        try:
            self._line.send(task)
            while True:
                left = until - time.monotonic()
                if left <= 0:
                    raise TaskTooLong(f"the review took longer than {seconds:g} s", task)
                progress.check()
                if not self._line.poll(min(left, LISTEN_S)):
                    continue
                got: Answer | Stage | str = self._line.recv()
                if isinstance(got, str):  # of one who asked whether it is there, and did not wait for it
                    self._asked = False
                elif isinstance(got, Stage):
                    begun = True
                    progress.tell(got.key, got.what)
                else:
                    return got
        except (EOFError, OSError) as error:
            if begun:
                raise ProcessDied("the process that computes reviews died over this one", task) from error
            raise _NeverBegun("the process that computes reviews died before it began", task) from error

    def answers(self, within_s: float) -> bool:
        """Whether it takes tasks: it loads for a second or two first."""
        try:
            if not self._asked:
                self._line.send(THERE)
                self._asked = True
            if not self._line.poll(within_s):
                return False
            self._line.recv()
        except (EOFError, OSError):
            return False
        self._asked = False
        return True

    @property
    def alive(self) -> bool:
        process = self._process
        with suppress(ValueError):  # closed this moment, to be started anew
            return process is not None and process.is_alive()
        return False

    def kill(self) -> None:
        if self._process is not None:
            self._process.kill()

    def end(self) -> None:
        if self._process is None:
            return
        self._line.close()
        self._process.join(LEAVE_S)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()
        self._process.close()
        self._process = None


class Workers:
    """A fixed number of processes for reviews.

    Parameters
    ----------
    count : int
        Processes; 0 computes within the caller's thread.
    seconds : float
        Longest time for one task; not held when `count` is 0.
    memory_bytes : int
        Most memory for one process beyond what the program itself takes; not held when `count` is 0, nor where the
        system cannot.
    """

    def __init__(self, count: int, *, seconds: float, memory_bytes: int) -> None:
        self._count = count
        self._seconds = seconds
        self._closed = threading.Event()
        self._load = Workload(count)
        self._idle: queue.LifoQueue[_Worker] = queue.LifoQueue()
        if count and not can_limit_memory():
            log.warning("this system cannot limit the memory of a review; its time is limited still")
        self._all = [_Worker(memory_bytes) for _ in range(count)]
        for worker in self._all:
            self._idle.put(worker)

    def run(self, task: ReviewTask, progress: Progress | None = None) -> tuple[ReviewedRun, ...]:
        """Review in the next process that is free; blocks until it is done.

        Parameters
        ----------
        task : ReviewTask
            What is to be reviewed.
        progress : Progress, optional
            Hears each stage, and may end it by `Cancelled`.

        Returns
        -------
        tuple of ReviewedRun
            As `review_files` gives them.

        Raises
        ------
        LogError, GivenError
            As `review_files` raises them.
        OSError
            If the tables found no room on the disk.
        TaskTooLong, TaskFailed
            If it took too long, an error broke it off, or the process died; the server's log has it.
        ServiceEnding
            If the service was closed before or meanwhile.
        Cancelled
            If `progress` was told to stop.
        """
        return cast("tuple[ReviewedRun, ...]", self._done(task, progress or unheard()))

    def sort(self, task: SortTask) -> tuple[SortedFile, ...]:
        """Sort an upload's files into runs, in the next process that is free; raises as `run` does.

        Parameters
        ----------
        task : SortTask
            The files.

        Returns
        -------
        tuple of SortedFile
            One for each file.
        """
        return cast("tuple[SortedFile, ...]", self._done(task, unheard()))

    def hold(self, task: HoldTask) -> HeldRun | NotKept:
        """Hold a stored run against other bounds, in the next process that is free; raises as `run` does.

        Parameters
        ----------
        task : HoldTask
            The run.

        Returns
        -------
        HeldRun or NotKept
            NotKept where it takes a review of the logs.
        """
        return cast("HeldRun | NotKept", self._done(task, unheard()))

    def _done(self, task: Task, progress: Progress) -> Done:
        with self._load.counted(_KINDS[type(task)], lost=TaskLost) as begin:
            try:
                got = self._ask(task, progress, begin) if self._count else self._answer_here(task, progress, begin)
                if isinstance(got, Broken):
                    raise TaskFailed(f"an error broke the review off:\n{got.trace}", task)
            except ServiceEnding:
                raise
            except TaskLost as lost:
                log.error("review %s of %s: %s", lost.reference, ", ".join(map(repr, lost.files)), lost)
                raise
            if isinstance(got, Exception):
                raise got
            return got

    def _answer_here(self, task: Task, progress: Progress, begin: Callable[[], None]) -> Answer:
        begin()
        return answer(task, progress)

    def _ask(self, task: Task, progress: Progress, begin: Callable[[], None]) -> Answer:
        """The answer of the next process that is free; one that hangs or dies is ended."""
        worker = self._idle.get()
        begin()
        try:
            if self._closed.is_set():
                raise ServiceEnding("the service is ending", task)
            if not worker.alive:
                worker.end()
                worker.start()
            return self._tried(worker, task, progress)
        except (TaskLost, Cancelled) as lost:
            worker.kill()
            worker.end()
            if self._closed.is_set():
                raise ServiceEnding("the service is ending", task) from lost
            raise
        finally:
            self._idle.put(worker)

    def _tried(self, worker: _Worker, task: Task, progress: Progress) -> Answer:
        """A process's answer; one that was killed while it had nothing to do is replaced first, once."""
        try:
            return worker.run(task, self._seconds, progress)
        except _NeverBegun:
            if self._closed.is_set():
                raise
            worker.kill()
            worker.end()
            worker.start()
            return worker.run(task, self._seconds, progress)

    @property
    def load(self) -> Workload:
        """How busy they are, and what becomes of tasks."""
        return self._load

    def answers(self, *, within_s: float) -> bool:
        """Whether a task would be worked on.

        Parameters
        ----------
        within_s : float
            How long a process that has nothing to do may take to say so. [s]

        Returns
        -------
        bool
            True too where all are at work: each is held to its time.
        """
        if self._closed.is_set():
            return False
        try:
            worker = self._idle.get_nowait()
        except queue.Empty:
            return not self._count or any(one.alive for one in self._all)
        try:
            if not worker.alive:
                worker.end()
                worker.start()
            return worker.answers(within_s)
        finally:
            self._idle.put(worker)

    def close(self) -> None:
        """End all processes at once; a task under way is lost, and nothing of it is kept."""
        self._closed.set()
        for worker in self._all:
            worker.kill()
        for _ in self._all:
            self._idle.get().end()
