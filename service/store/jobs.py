"""Work that is kept until it is done: an upload that was taken in, a season to be reviewed again.

A job is a row of the library's own database, put in the transaction that makes what it is about safe. Whoever takes one
holds it by a name of its own and is heard of while it works; one that is not heard of any more has lost it, and the
job goes to the next. So a job is done at least once, and what it leaves is the same however often that is.

Public: `Jobs`, `Job`, `NewJob`, `JobEnd`, `NotHeld`, `Waits`, `moment`, the kinds and states.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal, Protocol

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.records import LogRecord

Kind = Literal["upload", "pass", "chunk", "sweep"]
"""An upload's review; runs reviewed again: as a whole, a part of them, and the old tables let go at last."""
State = Literal["waiting", "working", "done", "failed"]
OPEN = ("waiting", "working")
"""States of jobs that are yet to be done."""
RANKS: Mapping[Kind, int] = {"upload": 0, "sweep": 1, "pass": 1, "chunk": 2}
"""What is taken first: somebody waits for an upload."""
STALL_S = 30.0
"""One who is not heard of for so long has lost the job. Three beats missed. [s]"""
LONGEST_PAUSE_S = 120.0
"""No job is given back for longer, with what clocks of machines are apart: one that is due later came before the clock
was set back, and is due. [s]"""
BEAT_S = 10.0
"""How often one who works is heard of. [s]"""


class NotHeld(RuntimeError):
    """Somebody else has the job by now; what was about to be kept for it must not be."""


@dataclass(frozen=True, slots=True)
class NewJob:
    """A job to be put."""

    id: str
    kind: Kind
    key: str
    """What it is about: of one key there is one job at a time."""
    task: JsonObject
    logs: tuple[LogRecord, ...] = ()
    """Originals that it needs, kept already."""


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it stands."""

    id: str
    kind: Kind
    key: str
    parent: str | None
    """The job whose part it is."""
    state: State
    stage: str
    """What its holder said last of how far it is."""
    tries: int
    """How often it broke off since it last came further."""
    lost: int
    """How often its holder was lost since then: killed, most likely, and not by this job."""
    holder: str
    put_at: str
    """ISO 8601, UTC."""
    ended_at: str
    """Empty until then."""
    task: JsonObject
    result: JsonObject | None
    """None until it has ended."""
    logs: tuple[LogRecord, ...] = ()


@dataclass(frozen=True, slots=True)
class JobEnd:
    """Told beside what is kept: the job that ends by it, in the same transaction."""

    job: Job
    findings: tuple[JsonObject, ...]


@dataclass(frozen=True, slots=True)
class Waits:
    """How much is yet to be done."""

    waiting: int
    working: int


class Jobs(Protocol):
    """What the library needs of a keeper of jobs. Every method is one transaction."""

    def put(self, job: NewJob, parts: Sequence[NewJob] = ()) -> Job:
        """Keep a job with its parts; where one of its key is open, that one stands and nothing is added."""

    def open_of(self, key: str) -> Job | None:
        """The open job of a key."""

    def job(self, id: str) -> Job | None:
        """A job; None if there is none."""

    def take(self, holder: str) -> Job | None:
        """The next job that is due, or whose holder is lost, now this holder's; None if there is none.

        A job that has parts is due when all of them have ended.
        """

    def heard(self, holder: str, stages: Mapping[str, str]) -> None:
        """A holder works on these jobs, by their ids, and has come to these stages of them."""

    def finish(self, job: Job, result: JsonObject) -> None:
        """A job is done, and its parts with it; `NotHeld` if it is somebody else's by now."""

    def fail(self, job: Job, result: JsonObject) -> None:
        """A job cannot be done; `NotHeld` if it is somebody else's by now."""

    def give_back(self, job: Job, *, after_s: float = 0.0, counted: bool = True) -> None:
        """Let another take it, after a while; not counted as a try where nothing is the matter with the job."""

    def take_over(self) -> None:
        """Give back what anybody holds: for one who knows that nobody else works on this library."""

    def forget(self, *, days: float) -> None:
        """Forget jobs that ended so long ago."""

    def waits(self) -> Waits:
        """How much is yet to be done."""

    def bytes_waiting(self) -> int:
        """Bytes of all logs that wait for their review."""


def moment(ahead_s: float = 0.0) -> str:
    """The present moment, or one so far ahead, ISO 8601, UTC: later ones sort behind earlier ones."""
    at = datetime.now(UTC) + timedelta(seconds=ahead_s)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
