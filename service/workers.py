"""Reviews computed beside the server: a few processes that each take one task at a time.

Started afresh, never forked: a process forked after polars has run hangs. One that takes too long or dies is replaced,
and only the task it had is lost.

Public: `Workers`, `TaskFailed`, `TaskTooLong`.
"""

from __future__ import annotations

import multiprocessing
import queue
import threading
from multiprocessing.process import BaseProcess
from typing import TYPE_CHECKING

from passband.service.reviewing import ReviewedRun, ReviewTask, review_files, serve_reviews

if TYPE_CHECKING:
    from passband.service.reviewing import Answer

LEAVE_S = 5.0
"""How long a process is given to end by itself. [s]"""


class TaskFailed(RuntimeError):
    """The process died over a task; what it died of is in its own error output."""


class TaskTooLong(RuntimeError):
    """The task took longer than it may."""


class _Worker:
    """One process and the line to it; started when first asked, and again after it has ended."""

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self.start()

    def start(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(target=serve_reviews, args=(theirs,), daemon=True, name="review")
        self._process.start()
        theirs.close()

    def run(self, task: ReviewTask, seconds: float) -> Answer:
        try:
            self._line.send(task)
            if not self._line.poll(seconds):
                raise TaskTooLong(f"the review took longer than {seconds:g} s")
            answer: Answer = self._line.recv()
        except (EOFError, OSError) as error:
            raise TaskFailed("the process that computes reviews died over this one") from error
        return answer

    @property
    def alive(self) -> bool:
        return self._process is not None and self._process.is_alive()

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
    """

    def __init__(self, count: int, *, seconds: float) -> None:
        self._count = count
        self._seconds = seconds
        self._closed = threading.Event()
        self._idle: queue.LifoQueue[_Worker] = queue.LifoQueue()
        self._all = [_Worker() for _ in range(count)]
        for worker in self._all:
            self._idle.put(worker)

    def run(self, task: ReviewTask) -> tuple[ReviewedRun, ...]:
        """Review in the next process that is free; blocks until it is done.

        Parameters
        ----------
        task : ReviewTask
            What is to be reviewed.

        Returns
        -------
        tuple of ReviewedRun
            As `review_files` gives them.

        Raises
        ------
        LogError, ToldError
            As `review_files` raises them.
        TaskTooLong, TaskFailed
            If the process took too long or died.
        """
        if self._count == 0:
            return review_files(task)
        worker = self._idle.get()
        try:
            if self._closed.is_set():
                raise TaskFailed("the service is ending")
            if not worker.alive:
                worker.end()
                worker.start()
            answer = worker.run(task, self._seconds)
        except (TaskTooLong, TaskFailed):
            worker.kill()
            worker.end()
            raise
        finally:
            self._idle.put(worker)
        if isinstance(answer, Exception):
            raise answer
        return answer

    def close(self) -> None:
        """End all processes at once; a task under way is lost, and nothing of it is kept."""
        self._closed.set()
        for worker in self._all:
            worker.kill()
        for _ in self._all:
            self._idle.get().end()
