"""What is known about cars, uploads and runs: rows that come and go whole.

Public: `CarRecord`, `LogRecord`, `Details`, `RunRecord`, `NewUpload`, `NewReview`, `Records`, `SqliteRecords`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import orjson
from sqlalchemy import Connection, Row, and_, delete, func, insert, select, update

from passband.service.store.schema import car_versions, cars, logs, open_database, runs, uploads

Plainly = dict[str, Any]
"""A JSON object."""
KEYS_AT_ONCE = 500
"""Keys in one question; SQLite takes 32,766 values, older builds 999."""


@dataclass(frozen=True, slots=True)
class CarRecord:
    """One version of a car, as the user told it."""

    id: str
    version: int
    """From 1, one more with each change."""
    made_at: str
    """ISO 8601, UTC."""
    told: Plainly
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
    slip: Plainly | None = None
    """As told."""
    air: Plainly | None = None
    """As told."""
    finish_ft: int = 1320
    """Where the finish line is. [ft]"""


@dataclass(frozen=True, slots=True)
class NewReview:
    """A review to be kept."""

    position: int
    """Which run of the upload, from 0."""
    details: Details
    car: tuple[str, int] | None
    """Id and version of the car it was made with."""
    summary: Plainly
    review: bytes
    """JSON."""
    table_key: str
    """Key of the Parquet file."""
    made_at: str
    """ISO 8601, UTC."""


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
    summary: Plainly
    table_key: str
    logs: tuple[LogRecord, ...] = ()
    """Empty in a list of many."""


class Records(Protocol):
    """What the library needs of a keeper of records. Every method is one transaction."""

    def add_car(self, id: str, told: Plainly, made_at: str) -> CarRecord:
        """Keep a new car as version 1."""

    def change_car(self, id: str, told: Plainly, made_at: str) -> CarRecord | None:
        """Keep a next version; None if there is no such car."""

    def car(self, id: str, version: int | None = None) -> CarRecord | None:
        """A car, in its newest version unless one is named."""

    def all_cars(self) -> list[CarRecord]:
        """Newest version of each, by name."""

    def add_upload(self, upload_id: str, upload: NewUpload, run_ids: Sequence[str]) -> None:
        """Keep an upload with its runs, or add the runs that an upload of that key no longer has."""

    def upload(self, key: str) -> tuple[list[RunRecord], int] | None:
        """Runs that an upload of that key still has, and how many were found in it; None if there is none."""

    def siblings(self, upload_id: str) -> list[RunRecord]:
        """Runs of one upload, in its order."""

    def replace_review(self, run_id: str, review: NewReview) -> bool:
        """Put a new review in the place of the old; False if the run is gone."""

    def run(self, id: str) -> RunRecord | None:
        """One run with its logs."""

    def review(self, id: str) -> bytes | None:
        """A run's review, JSON."""

    def find_runs(self, *, event: str | None, car: str | None, limit: int, after: str | None) -> list[RunRecord]:
        """Runs, newest first, from the one behind `after`."""

    def events(self) -> list[str]:
        """Names of all events, that of the newest run first."""

    def remove_run(self, id: str) -> bool:
        """Forget a run, and its upload if that has no other; False if there is none."""

    def keys_in_use(self, keys: Collection[str]) -> set[str]:
        """Those of the keys that an upload has as an original or a run as its table."""

    def ping(self) -> bool:
        """Whether an answer comes back."""

    def close(self) -> None:
        """Let go of the database."""


class SqliteRecords:
    """Records in one SQLite file.

    Parameters
    ----------
    path : Path
        The file; made or brought up to date on opening.
    """

    def __init__(self, path: Path) -> None:
        self._engine = open_database(path)
        self._writer = self._engine.execution_options(writes=True)

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def ping(self) -> bool:
        """Whether the file answers."""
        with self._engine.begin() as connection:
            return connection.execute(select(1)).scalar() == 1

    def add_car(self, id: str, told: Plainly, made_at: str) -> CarRecord:
        """Keep a new car as version 1."""
        with self._writer.begin() as connection:
            connection.execute(insert(cars).values(id=id, version=1))
            return _keep_version(connection, CarRecord(id, 1, made_at, told))

    def change_car(self, id: str, told: Plainly, made_at: str) -> CarRecord | None:
        """Keep a next version; None if there is no such car."""
        with self._writer.begin() as connection:
            stands = connection.execute(select(cars.c.version).where(cars.c.id == id)).scalar()
            if stands is None:
                return None
            connection.execute(update(cars).where(cars.c.id == id).values(version=stands + 1))
            return _keep_version(connection, CarRecord(id, stands + 1, made_at, told))

    def car(self, id: str, version: int | None = None) -> CarRecord | None:
        """A car, in its newest version unless one is named."""
        wanted = cars.c.version if version is None else version
        query = _CARS.where(and_(cars.c.id == id, car_versions.c.version == wanted))
        with self._engine.begin() as connection:
            row = connection.execute(query).first()
        return _car(row) if row else None

    def all_cars(self) -> list[CarRecord]:
        """Newest version of each, by name."""
        with self._engine.begin() as connection:
            rows = connection.execute(_CARS.where(car_versions.c.version == cars.c.version)).all()
        return sorted((_car(row) for row in rows), key=lambda car: (str(car.told.get("name", "")).casefold(), car.id))

    def add_upload(self, upload_id: str, upload: NewUpload, run_ids: Sequence[str]) -> None:
        """Keep an upload with its runs, or add the runs that an upload of that key no longer has."""
        with self._writer.begin() as connection:
            kept = connection.execute(select(uploads.c.id).where(uploads.c.key == upload.key)).scalar()
            if kept is None:
                found = len(upload.reviews)
                connection.execute(insert(uploads).values(id=upload_id, key=upload.key, runs_found=found))
                connection.execute(
                    insert(logs),
                    [
                        {"upload_id": upload_id, "n": log.n, "name": log.name, "sha256": log.sha256, "bytes": log.bytes}
                        for log in upload.logs
                    ],
                )
            there = connection.execute(select(runs.c.position).where(runs.c.upload_id == (kept or upload_id)))
            positions = set(there.scalars())
            for run_id, review in zip(run_ids, upload.reviews, strict=True):
                if review.position not in positions:
                    values = {"id": run_id, "upload_id": kept or upload_id, "added_at": review.made_at}
                    connection.execute(insert(runs).values(**values, **_review_values(review)))

    def upload(self, key: str) -> tuple[list[RunRecord], int] | None:
        """Runs that an upload of that key still has, and how many were found in it; None if there is none."""
        with self._engine.begin() as connection:
            kept = connection.execute(select(uploads).where(uploads.c.key == key)).first()
            if kept is None:
                return None
            return _siblings(connection, kept.id), int(kept.runs_found)

    def siblings(self, upload_id: str) -> list[RunRecord]:
        """Runs of one upload, in its order."""
        with self._engine.begin() as connection:
            return _siblings(connection, upload_id)

    def replace_review(self, run_id: str, review: NewReview) -> bool:
        """Put a new review in the place of the old; False if the run is gone."""
        with self._writer.begin() as connection:
            changed = connection.execute(update(runs).where(runs.c.id == run_id).values(**_review_values(review)))
            return bool(changed.rowcount)

    def run(self, id: str) -> RunRecord | None:
        """One run with its logs."""
        with self._engine.begin() as connection:
            row = connection.execute(_RUNS.where(runs.c.id == id)).first()
            return _run(row, _logs_of(connection, row.upload_id)) if row else None

    def review(self, id: str) -> bytes | None:
        """A run's review, JSON."""
        with self._engine.begin() as connection:
            return connection.execute(select(runs.c.review).where(runs.c.id == id)).scalar()

    def find_runs(self, *, event: str | None, car: str | None, limit: int, after: str | None) -> list[RunRecord]:
        """Runs, newest first, from the one behind `after`."""
        query = _RUNS.order_by(runs.c.number.desc()).limit(limit)
        if event is not None:
            query = query.where(runs.c.event == event)
        if car is not None:
            query = query.where(runs.c.car_id == car)
        if after is not None:
            query = query.where(runs.c.number < select(runs.c.number).where(runs.c.id == after).scalar_subquery())
        with self._engine.begin() as connection:
            return [_run(row, ()) for row in connection.execute(query).all()]

    def events(self) -> list[str]:
        """Names of all events, that of the newest run first."""
        newest = func.max(runs.c.number)
        query = select(runs.c.event).where(runs.c.event != "").group_by(runs.c.event).order_by(newest.desc())
        with self._engine.begin() as connection:
            return list(connection.execute(query).scalars())

    def remove_run(self, id: str) -> bool:
        """Forget a run, and its upload if that has no other; False if there is none."""
        with self._writer.begin() as connection:
            upload_id = connection.execute(select(runs.c.upload_id).where(runs.c.id == id)).scalar()
            if upload_id is None:
                return False
            connection.execute(delete(runs).where(runs.c.id == id))
            left = connection.execute(select(func.count()).select_from(runs).where(runs.c.upload_id == upload_id))
            if left.scalar() == 0:
                connection.execute(delete(uploads).where(uploads.c.id == upload_id))
            return True

    def keys_in_use(self, keys: Collection[str]) -> set[str]:
        """Those of the keys that an upload has as an original or a run as its table."""
        wanted = list(keys)
        used: set[str] = set()
        with self._engine.begin() as connection:
            for start in range(0, len(wanted), KEYS_AT_ONCE):
                some = wanted[start : start + KEYS_AT_ONCE]
                used.update(connection.execute(select(logs.c.sha256).where(logs.c.sha256.in_(some))).scalars())
                used.update(connection.execute(select(runs.c.table_key).where(runs.c.table_key.in_(some))).scalars())
        return used


_CARS = select(car_versions).join(cars, cars.c.id == car_versions.c.car_id)
_RUNS = select(*(column for column in runs.c if column.name != "review"))


def _keep_version(connection: Connection, car: CarRecord) -> CarRecord:
    told = orjson.dumps(car.told)
    connection.execute(insert(car_versions).values(car_id=car.id, version=car.version, made_at=car.made_at, told=told))
    return car


def _car(row: Row[Any]) -> CarRecord:
    return CarRecord(row.car_id, row.version, row.made_at, orjson.loads(row.told))


def _logs_of(connection: Connection, upload_id: str) -> tuple[LogRecord, ...]:
    rows = connection.execute(select(logs).where(logs.c.upload_id == upload_id).order_by(logs.c.n))
    return tuple(LogRecord(row.n, row.name, row.sha256, row.bytes) for row in rows)


def _siblings(connection: Connection, upload_id: str) -> list[RunRecord]:
    its_logs = _logs_of(connection, upload_id)
    rows = connection.execute(_RUNS.where(runs.c.upload_id == upload_id).order_by(runs.c.position)).all()
    return [_run(row, its_logs) for row in rows]


def _review_values(review: NewReview) -> Mapping[str, Any]:
    details = review.details
    return {
        "position": review.position,
        "car_id": review.car[0] if review.car else None,
        "car_version": review.car[1] if review.car else None,
        "label": details.label,
        "event": details.event,
        "round": details.round,
        "notes": details.notes,
        "slip": orjson.dumps(details.slip) if details.slip is not None else None,
        "air": orjson.dumps(details.air) if details.air is not None else None,
        "finish_ft": details.finish_ft,
        "reviewed_at": review.made_at,
        "summary": orjson.dumps(review.summary),
        "review": review.review,
        "table_key": review.table_key,
    }


def _run(row: Row[Any], its_logs: tuple[LogRecord, ...]) -> RunRecord:
    details = Details(
        label=row.label,
        event=row.event,
        round=row.round,
        notes=row.notes,
        slip=orjson.loads(row.slip) if row.slip is not None else None,
        air=orjson.loads(row.air) if row.air is not None else None,
        finish_ft=row.finish_ft,
    )
    car = (row.car_id, row.car_version) if row.car_id is not None else None
    return RunRecord(
        id=row.id,
        upload_id=row.upload_id,
        position=row.position,
        details=details,
        car=car,
        added_at=row.added_at,
        reviewed_at=row.reviewed_at,
        summary=orjson.loads(row.summary),
        table_key=row.table_key,
        logs=its_logs,
    )
