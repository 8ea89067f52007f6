"""What is known about cars, uploads and runs: rows that come and go whole.

Public: `CarRecord`, `LogRecord`, `Details`, `Days`, `EVER`, `RunRecord`, `ItemRecord`, `NewUpload`, `NewReview`,
`Records`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from passband.analysis.results.plain_values import JsonObject

if TYPE_CHECKING:
    from passband.analysis.runs.kept_digest import KeptDigest
    from passband.service.store.jobs import Job, JobEnd
    from passband.service.store.upload_records import UploadRecord


@dataclass(frozen=True, slots=True)
class CarRecord:
    """One version of a car, as the user gave it."""

    id: str
    version: int
    """From 1, one more with each change."""
    made_at: str
    """ISO 8601, UTC."""
    given: JsonObject
    """Keys and values as the user wrote them, units and all."""


@dataclass(frozen=True, slots=True)
class LogRecord:
    """One uploaded file."""

    n: int
    """Place in the upload, from 0."""
    name: str
    """As the user named it, made harmless."""
    sha256: str
    """Its key among the originals."""
    bytes: int
    """Its size."""


@dataclass(frozen=True, slots=True)
class Details:
    """What the user says of one run."""

    label: str = ""
    event: str = ""
    round: str = ""
    notes: str = ""
    slip: JsonObject | None = None
    """As given."""
    air: JsonObject | None = None
    """As given."""
    finish_ft: int = 1320
    """Where the finish line is. [ft]"""
    at: str = ""
    """When it was made, ISO 8601; empty where not given."""


@dataclass(frozen=True, slots=True)
class Days:
    """Days that runs are asked for of; each ISO 8601, empty for no bound."""

    first: str = ""
    last: str = ""


EVER = Days()
"""All days."""


@dataclass(frozen=True, slots=True)
class ItemRecord:
    """What a user tells beside cars and runs: a part of a car, groups of runs, what was put right of many."""

    id: str
    kind: str
    """``part``, ``groups``, ``put-right``, ..."""
    car_id: str | None
    """Whose part it is."""
    made_at: str
    """ISO 8601, UTC."""
    gone: bool
    """Whether it was let go; it stays here, and can be brought back."""
    given: JsonObject
    """As the user wrote it."""


@dataclass(frozen=True, slots=True)
class NewReview:
    """A review to be kept."""

    position: int
    """Which run of the upload, from 0."""
    details: Details
    car: tuple[str, int] | None
    """Id and version of the car it was made with."""
    summary: JsonObject
    review: bytes
    """JSON."""
    table_key: str
    """Key of the Parquet file."""
    made_at: str
    """ISO 8601, UTC."""
    digest: KeptDigest | None = None
    """The run in few numbers; made anew where it is asked for if there is none."""


@dataclass(frozen=True, slots=True)
class NewUpload:
    """An upload to be kept, with all its runs."""

    key: str
    """Made of the hashes of its files: the same files have the same key."""
    logs: tuple[LogRecord, ...]
    reviews: tuple[NewReview, ...]


@dataclass(frozen=True, slots=True)
class RunRecord:
    """One run as it is kept; the review itself is asked for by `Records.review`."""

    id: str
    upload_id: str
    position: int
    details: Details
    car: tuple[str, int] | None
    added_at: str
    reviewed_at: str
    summary: JsonObject
    table_key: str
    """Empty in a list of many."""
    logs: tuple[LogRecord, ...] = ()
    """Empty in a list of many."""


class Records(Protocol):
    """What the library needs of a keeper of records. Every method is one transaction."""

    def add_car(self, id: str, given: JsonObject, made_at: str) -> CarRecord:
        """Keep a new car as version 1."""

    def change_car(
        self, id: str, given: JsonObject, made_at: str, *, instead_of: int | None = None
    ) -> CarRecord | None:
        """Keep a next version; None if there is no such car, or its newest version is not the one it is made of."""

    def car(self, id: str, version: int | None = None) -> CarRecord | None:
        """A car, in its newest version unless one is named."""

    def all_cars(self) -> list[CarRecord]:
        """Newest version of each, by name."""

    def add_upload(
        self, upload_id: str, upload: NewUpload, run_ids: Sequence[str], *, ends: JobEnd | None = None
    ) -> tuple[str, ...]:
        """Keep an upload with its runs, or add the runs that an upload of that key no longer has: ids of those kept.

        A job that `ends` by it is done with it or not at all.
        """

    def upload(self, key: str) -> tuple[list[RunRecord], int] | None:
        """Runs that an upload of that key still has, and how many were found in it; None if there is none."""

    def upload_record(self, upload_id: str) -> UploadRecord | None:
        """All that is recorded of an upload; None if there is none."""

    def bring_back(self, upload: UploadRecord, reviews: Sequence[NewReview]) -> None:
        """Keep runs of an upload again as they were, ids and all; a run whose place is taken is left out."""

    def siblings(self, upload_id: str) -> list[RunRecord]:
        """Runs of one upload, in its order."""

    def runs_with_logs(self, sha256s: Collection[str]) -> list[RunRecord]:
        """Runs whose upload has one of these logs, oldest first, with all of their logs."""

    def replace_review(self, run_id: str, review: NewReview) -> bool:
        """Put a new review in the place of the old; False if the run is gone."""

    def let_stand(self, job: Job) -> Job:
        """Put all new reviews of a pass in the places of the old; what is left of the job then."""

    def run(self, id: str) -> RunRecord | None:
        """One run with its logs."""

    def review(self, id: str) -> bytes | None:
        """A run's review, JSON."""

    def find_runs(
        self, *, event: str | None, car: str | None, limit: int, after: str | None, days: Days = EVER
    ) -> list[RunRecord]:
        """Runs, newest first, from the one behind `after`; of an event or a car by when they were made."""

    def events(self, *, limit: int | None = None, after: str | None = None) -> list[str]:
        """Names of events, that of the newest run first, from the one behind `after`; none behind an unknown one."""

    def remove_run(self, id: str, *, place_to: str = "") -> bool:
        """Forget a run, and its upload if that has no other; False if there is none."""

    def bytes_of_logs(self) -> int:
        """Bytes of all logs of all uploads."""

    def keys_in_use(self, keys: Collection[str], *, but_by: str = "") -> set[str]:
        """Those of the keys that an upload has as an original, a run as its table, or a job other than one."""

    def items(self, kind: str, *, car: str | None = None) -> list[ItemRecord]:
        """Items of a kind, of one car if it is named, oldest first; those that were let go too."""

    def item(self, id: str) -> ItemRecord | None:
        """One item; None if there is none."""

    def keep_item(self, item: ItemRecord) -> None:
        """Keep an item, in the place of the one that stands."""

    def turn(self, of: str) -> AbstractContextManager[None]:
        """Hold something against other processes that share the records."""

    def ping(self) -> bool:
        """Whether an answer comes back."""

    def probe(self) -> None:
        """Begin to write and take it back; SQLAlchemy's error if the database cannot be read or written."""

    def close(self) -> None:
        """Let go of the database."""
