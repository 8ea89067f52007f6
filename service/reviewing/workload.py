"""How busy the processes for reviews are, and what became of each task.

Public: `Load`, `Worked`, `Workload`.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Literal

from passband.service.reviewing.progress import Cancelled

Kind = Literal["review", "sort", "hold"]
Outcome = Literal["done", "refused", "cancelled", "lost"]


@dataclass(frozen=True, slots=True)
class Load:
    """How busy they are at one moment."""

    workers: int
    """Processes; 0 where the server reviews by itself."""
    busy: int
    """Tasks that are worked on."""
    waiting: int
    """Tasks that wait for a process."""


@dataclass(frozen=True, slots=True)
class Worked:
    """One task that came to its end."""

    kind: Kind
    outcome: Outcome
    """``refused`` where the logs or what was given of them cannot be used, ``lost`` where it broke off."""
    waited_s: float
    """For a process. [s]"""
    seconds: float
    """In it. [s]"""


class Workload:
    """Counts tasks as they wait, are worked on and end.

    Parameters
    ----------
    workers : int
        Processes.
    """

    def __init__(self, workers: int) -> None:
        self._workers, self._busy, self._waiting = workers, 0, 0
        self._lock = threading.Lock()
        self.hear: Callable[[Worked], None] = lambda worked: None
        """Called with each task that ends, in the thread that asked for it."""

    def now(self) -> Load:
        """How busy they are."""
        with self._lock:
            return Load(self._workers, self._busy, self._waiting)

    @contextmanager
    def counted(self, kind: Kind, *, lost: type[Exception]) -> Iterator[Callable[[], None]]:
        """Count a task while it is within; gives what is to be called when its wait is over.

        Parameters
        ----------
        kind : {"review", "sort", "hold"}
            Of the task.
        lost : type
            Errors that mean it broke off; others, but for the system's, mean that it was refused.
        """
        asked_s = time.monotonic()
        begun_s: list[float] = []

        def begin() -> None:
            begun_s.append(time.monotonic())
            self._move(waiting=-1, busy=1)

        def end(_kind: object, error: BaseException | None, _trace: object) -> None:
            self._move(**({"busy": -1} if begun_s else {"waiting": -1}))
            ended_s = time.monotonic()
            from_s = begun_s[0] if begun_s else ended_s
            self.hear(Worked(kind, _outcome(error, lost), from_s - asked_s, ended_s - from_s))

        self._move(waiting=1)
        with ExitStack() as ended:
            ended.push(end)
            yield begin

    def _move(self, *, waiting: int = 0, busy: int = 0) -> None:
        with self._lock:
            self._waiting += waiting
            self._busy += busy


def _outcome(error: BaseException | None, lost: type[Exception]) -> Outcome:
    if error is None:
        return "done"
    if isinstance(error, Cancelled):
        return "cancelled"
    return "lost" if isinstance(error, (lost, OSError)) or not isinstance(error, Exception) else "refused"
