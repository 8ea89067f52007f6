"""Rows of the database, read into records and written from them.

Public: `CARS`, `RUNS`, `LISTED` and a function for each kind of row.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from typing import Any

import orjson
from sqlalchemy import ColumnElement, Connection, CursorResult, Row, Select, delete, insert, select, update

from passband.service.store.digest_rows import write_digest
from passband.service.store.kept_review import review_row, review_sum
from passband.service.store.records import CarRecord, Details, ItemRecord, LogRecord, NewReview, RunRecord
from passband.service.store.schema import RowValues, car_versions, cars, dates, items, logs, runs, uploads
from passband.service.store.upload_records import KeptRun, UploadRecord

CARS = select(car_versions).join(cars, cars.c.id == car_versions.c.car_id)
_DATED = runs.outerjoin(dates, dates.c.run_id == runs.c.id)
WHOLE: Select[Any] = select(*runs.c, dates.c.at).select_from(_DATED)
RUNS: Select[Any] = select(*(column for column in runs.c if column.name != "review"), dates.c.at).select_from(_DATED)
LISTED: Select[Any] = select(
    *(column for column in runs.c if column.name not in ("review", "table_key")), dates.c.at
).select_from(_DATED)
"""For lists: what lies in a row behind the review costs a way through all of its pages."""


def keep_version(connection: Connection, car: CarRecord, *, anew: bool = False) -> CarRecord:
    """Write a version of a car; with `anew` in the place of the one that stands."""
    values = {"made_at": car.made_at, "given": orjson.dumps(car.given)}
    if anew:
        this = (car_versions.c.car_id == car.id) & (car_versions.c.version == car.version)
        connection.execute(update(car_versions).where(this).values(**values))
    else:
        connection.execute(insert(car_versions).values(car_id=car.id, version=car.version, **values))
    return car


def versions_of(connection: Connection, car_id: str) -> tuple[CarRecord, ...]:
    """All versions of a car, oldest first."""
    rows = connection.execute(CARS.where(cars.c.id == car_id).order_by(car_versions.c.version)).all()
    return tuple(car_of(row) for row in rows)


def car_of(row: Row[Any]) -> CarRecord:
    """A car from its row."""
    return CarRecord(row.car_id, row.version, row.made_at, orjson.loads(row.given))


def keep_logs(connection: Connection, upload_id: str, its_logs: Sequence[LogRecord]) -> None:
    """Write the files of an upload."""
    rows = [
        {"upload_id": upload_id, "n": log.n, "name": log.name, "sha256": log.sha256, "bytes": log.bytes}
        for log in its_logs
    ]
    connection.execute(insert(logs), rows)


def logs_of(connection: Connection, upload_id: str) -> tuple[LogRecord, ...]:
    """Files of an upload, in its order."""
    rows = connection.execute(select(logs).where(logs.c.upload_id == upload_id).order_by(logs.c.n))
    return tuple(LogRecord(row.n, row.name, row.sha256, row.bytes) for row in rows)


def siblings_of(connection: Connection, upload_id: str) -> list[RunRecord]:
    """Runs of an upload, in its order."""
    its_logs = logs_of(connection, upload_id)
    rows = connection.execute(RUNS.where(runs.c.upload_id == upload_id).order_by(runs.c.position)).all()
    return [run_of(row, its_logs) for row in rows]


def review_values(review: NewReview) -> RowValues:
    """What a review puts into the columns of its run."""
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
        "review": review_row(review.review),
        "table_key": review.table_key,
    }


def run_of(row: Row[Any], its_logs: tuple[LogRecord, ...]) -> RunRecord:
    """A run from its row."""
    return RunRecord(
        id=row.id,
        upload_id=row.upload_id,
        position=row.position,
        details=_details(row),
        car=_car_and_version(row),
        added_at=row.added_at,
        reviewed_at=row.reviewed_at,
        summary=orjson.loads(row.summary),
        table_key=getattr(row, "table_key", ""),
        logs=its_logs,
    )


def upload_of(connection: Connection, upload_id: str) -> UploadRecord | None:
    """All that is recorded of an upload.

    A row that does not hold what its column should is a `ValueError`.
    """
    upload = connection.execute(select(uploads).where(uploads.c.id == upload_id)).first()
    if upload is None:
        return None
    query = WHOLE.where(runs.c.upload_id == upload_id).order_by(runs.c.position)
    kept = tuple(_kept_run(row, hashed=True) for row in connection.execute(query))
    return UploadRecord(upload.key, upload.id, upload.runs_found, logs_of(connection, upload_id), kept)


def all_uploads_of(connection: Connection, *, hashed: bool, of: Collection[str] | None = None) -> list[UploadRecord]:
    """All that is recorded of every upload, or of some by their ids, in three questions."""

    def asked(query: Select[Any], id: ColumnElement[str]) -> CursorResult[Any]:
        return connection.execute(query if of is None else query.where(id.in_(of)))

    its_logs: dict[str, list[LogRecord]] = defaultdict(list)
    for row in asked(select(logs).order_by(logs.c.upload_id, logs.c.n), logs.c.upload_id):
        its_logs[row.upload_id].append(LogRecord(row.n, row.name, row.sha256, row.bytes))
    its_runs: dict[str, list[KeptRun]] = defaultdict(list)
    query = WHOLE if hashed else RUNS
    for row in asked(query.order_by(runs.c.upload_id, runs.c.position), runs.c.upload_id):
        its_runs[row.upload_id].append(_kept_run(row, hashed=hashed))
    return [
        UploadRecord(row.key, row.id, row.runs_found, tuple(its_logs[row.id]), tuple(its_runs[row.id]))
        for row in asked(select(uploads).order_by(uploads.c.id), uploads.c.id)
    ]


def all_versions_of(connection: Connection) -> dict[str, tuple[CarRecord, ...]]:
    """All versions of all cars, oldest first."""
    found: dict[str, list[CarRecord]] = defaultdict(list)
    for row in connection.execute(CARS.order_by(car_versions.c.car_id, car_versions.c.version)):
        found[row.car_id].append(car_of(row))
    return {car_id: tuple(versions) for car_id, versions in found.items()}


def _kept_run(row: Row[Any], *, hashed: bool) -> KeptRun:
    orjson.loads(row.summary)
    return KeptRun(
        id=row.id,
        number=row.number,
        position=row.position,
        details=_details(row),
        car=_car_and_version(row),
        added_at=row.added_at,
        reviewed_at=row.reviewed_at,
        table_key=row.table_key,
        review_sha256=review_sum(row.review) if hashed else "",
    )


def _details(row: Row[Any]) -> Details:
    return Details(
        label=row.label,
        event=row.event,
        round=row.round,
        notes=row.notes,
        slip=orjson.loads(row.slip) if row.slip is not None else None,
        air=orjson.loads(row.air) if row.air is not None else None,
        finish_ft=row.finish_ft,
        at=row.at or "",
    )


def keep_beside(connection: Connection, run_id: str, review: NewReview) -> None:
    """Write what stands in tables of its own: when a run was made, and the run in few numbers."""
    connection.execute(delete(dates).where(dates.c.run_id == run_id))
    if review.details.at:
        connection.execute(insert(dates).values(run_id=run_id, at=review.details.at))
    if review.digest is not None:
        write_digest(connection, run_id, review.made_at, review.digest)


def item_of(row: Row[Any]) -> ItemRecord:
    """An item from its row."""
    return ItemRecord(row.id, row.kind, row.car_id, row.made_at, bool(row.gone), orjson.loads(row.given))


def all_items_of(connection: Connection) -> dict[str, ItemRecord]:
    """All items by their ids, oldest first."""
    rows = connection.execute(select(items).order_by(items.c.made_at, items.c.id))
    return {row.id: item_of(row) for row in rows}


def _car_and_version(row: Row[Any]) -> tuple[str, int] | None:
    return (row.car_id, row.car_version) if row.car_id is not None else None
