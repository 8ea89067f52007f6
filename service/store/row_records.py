"""Records as rows, whichever database holds them: what is asked and changed is said once, in SQLAlchemy's words.

What differs stands in the two keepers made of it, `SqliteRecords` and `PostgresRecords`: how a transaction begins, what
is told beside it, where numbers of runs come from. Rows that two change at once are locked (``FOR UPDATE``); SQLite,
where a writer is alone anyway, is asked the same without it.

Public: `RowRecords`, `Change`, `RowsMore`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Collection, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import asdict, dataclass, replace
from typing import Any

import orjson
from sqlalchemy import Connection, Engine, Select, and_, delete, func, insert, select, text, tuple_, update

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.digest_rows import DigestRows, its_car
from passband.service.store.job_rows import Lock, TableJobs, came_further, end_job, keys_of_jobs, logs_of_jobs
from passband.service.store.jobs import Job, JobEnd
from passband.service.store.kept_review import read_review
from passband.service.store.new_review_rows import NewReviews, stand_instead
from passband.service.store.records import (
    EVER,
    CarRecord,
    Days,
    ItemRecord,
    LogRecord,
    NewReview,
    NewUpload,
    RunRecord,
)
from passband.service.store.rows import (
    CARS,
    LISTED,
    RUNS,
    all_items_of,
    all_uploads_of,
    all_versions_of,
    car_of,
    item_of,
    keep_beside,
    keep_logs,
    keep_version,
    logs_of,
    review_values,
    run_of,
    siblings_of,
    upload_of,
    versions_of,
)
from passband.service.store.run_order import DAY_MADE, PLACE, made_day, made_order, within
from passband.service.store.schema import RowValues, car_versions, cars, items, logs, runs, uploads
from passband.service.store.upload_records import UploadRecord

RUNS_AN_EVENT = 30
"""Three cars in eight rounds, and some more: of each event asked for so many of the newest runs are walked first."""
KEYS_AT_ONCE = 500
"""Keys in one question; SQLite takes 32,766 values, older builds 999."""


@dataclass(frozen=True, slots=True)
class RowsMore:
    """How many rows more there are after a change, and no car more or less."""

    runs: int = 0
    uploads: int = 0


class Change:
    """A write transaction; what is told of it beside the database, if anything is.

    Parameters
    ----------
    connection : Connection
        In the transaction.
    """

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self.more: RowsMore | None = None
        """Set where it is known how many runs, uploads and cars there are more: then none need be counted."""

    def tell_upload(self, upload_id: str, key: str) -> None:
        """An upload was changed."""

    def tell_uploads(self, upload_ids: Sequence[str]) -> None:
        """Uploads were changed; one that is gone is passed over."""

    def tell_car(self, car_id: str) -> None:
        """A car was changed."""

    def tell_item(self, item_id: str) -> None:
        """An item was changed."""


class RowRecords(ABC):
    """Records in tables.

    Parameters
    ----------
    reader, writer : Engine
        Of the same database, for reading and for changing.
    one_at_a_time : context manager, optional
        Held while something is written, where the database takes one writer.
    """

    def __init__(self, reader: Engine, writer: Engine, one_at_a_time: Lock | None = None) -> None:
        self._engine, self._writer = reader, writer
        self.digests = DigestRows(reader, writer)
        self.jobs = TableJobs(reader, writer, one_at_a_time)
        self.new_reviews = NewReviews(reader, self.jobs)

    @abstractmethod
    def _change(self) -> AbstractContextManager[Change]:
        """Begin a change; it is committed at the end of the block."""

    @abstractmethod
    def _places(self, connection: Connection, count: int) -> list[dict[str, int]]:
        """What new runs are given of their place among all runs: each stands behind all that were committed before."""

    @abstractmethod
    def _leave_place(self, connection: Connection, number: int) -> None:
        """A run was put back at its old place: new ones come behind it."""

    @abstractmethod
    def _unbounded(self) -> int | None:
        """What the database takes for no limit."""

    @abstractmethod
    def probe(self) -> None:
        """Begin to write and take it back; SQLAlchemy's error if the database cannot be read or written."""

    @abstractmethod
    def give_back_room(self) -> None:
        """Let the database give back room that it no longer needs."""

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def turn(self, _of: str) -> AbstractContextManager[None]:
        """Hold something against other processes that share the records; where there can be none nothing is held."""
        return nullcontext()

    def ping(self) -> bool:
        """Whether the database answers."""
        with self._engine.begin() as connection:
            return connection.execute(select(1)).scalar() == 1

    def add_car(self, id: str, given: JsonObject, made_at: str) -> CarRecord:
        """Keep a new car as version 1."""
        with self._change() as change:
            change.connection.execute(insert(cars).values(id=id, version=1))
            car = keep_version(change.connection, CarRecord(id, 1, made_at, given))
            change.tell_car(id)
        return car

    def change_car(
        self, id: str, given: JsonObject, made_at: str, *, instead_of: int | None = None
    ) -> CarRecord | None:
        """Keep a next version; None if there is no such car, or its newest version is not the one it is made of."""
        with self._change() as change:
            newest = select(cars.c.version).where(cars.c.id == id).with_for_update()
            stands = change.connection.execute(newest).scalar()
            if stands is None or instead_of not in (None, stands):
                return None
            change.connection.execute(update(cars).where(cars.c.id == id).values(version=stands + 1))
            car = keep_version(change.connection, CarRecord(id, stands + 1, made_at, given))
            change.tell_car(id)
        return car

    def car(self, id: str, version: int | None = None) -> CarRecord | None:
        """A car, in its newest version unless one is named."""
        wanted = cars.c.version if version is None else version
        query = CARS.where(and_(cars.c.id == id, car_versions.c.version == wanted))
        with self._engine.begin() as connection:
            row = connection.execute(query).first()
        return car_of(row) if row else None

    def all_cars(self) -> list[CarRecord]:
        """Newest version of each, by name."""
        with self._engine.begin() as connection:
            rows = connection.execute(CARS.where(car_versions.c.version == cars.c.version)).all()
        return sorted(
            (car_of(row) for row in rows), key=lambda car: (str(car.given.get("name", "")).casefold(), car.id)
        )

    def add_upload(
        self, upload_id: str, upload: NewUpload, run_ids: Sequence[str], *, ends: JobEnd | None = None
    ) -> tuple[str, ...]:
        """Keep an upload with its runs, or add the runs that an upload of that key no longer has: ids of those kept.

        A job that `ends` by it is done with it or not at all.
        """
        with self._change() as change:
            connection = change.connection
            places = self._places(connection, len(run_ids))
            here = select(uploads.c.id).where(uploads.c.key == upload.key).with_for_update()
            kept = connection.execute(here).scalar()
            if kept is None:
                found = len(upload.reviews)
                connection.execute(insert(uploads).values(id=upload_id, key=upload.key, runs_found=found))
                keep_logs(connection, upload_id, upload.logs)
            there = connection.execute(select(runs.c.position).where(runs.c.upload_id == (kept or upload_id)))
            positions, new = set(there.scalars()), []
            for run_id, place, review in zip(run_ids, places, upload.reviews, strict=True):
                if review.position not in positions:
                    values = {"id": run_id, "upload_id": kept or upload_id, "added_at": review.made_at}
                    connection.execute(insert(runs).values(**place, **values, **review_values(review)))
                    keep_beside(connection, run_id, review)
                    new.append(run_id)
            change.more = RowsMore(runs=len(new), uploads=int(kept is None))
            change.tell_upload(kept or upload_id, upload.key)
            if ends is not None:
                its_runs = [run.id for run in siblings_of(connection, kept or upload_id)]
                end_job(connection, ends.job, "done", {"runs": its_runs, "findings": ends.findings, "new": True})
        return tuple(new)

    def bring_back(self, upload: UploadRecord, reviews: Sequence[NewReview], *, anew: bool = False) -> None:
        """Keep runs of an upload again as they were, ids and all; a run whose place is taken is left out.

        With `anew`, what stands of the upload is forgotten first.
        """
        with self._change() as change:
            if anew:
                _forget_upload(change.connection, upload)
            kept = self._bring_back(change.connection, upload, reviews)
            change.tell_upload(kept, upload.key)

    def _bring_back(self, connection: Connection, upload: UploadRecord, reviews: Sequence[NewReview]) -> str:
        self._places(connection, 0)  # nobody else gives out places meanwhile
        here = select(uploads.c.id).where(uploads.c.key == upload.key).with_for_update()
        kept: str | None = connection.execute(here).scalar()
        if kept is None:
            kept = upload.id
            connection.execute(insert(uploads).values(id=kept, key=upload.key, runs_found=upload.runs_found))
            keep_logs(connection, kept, upload.logs)
        of_position = {review.position: review for review in reviews}
        for run in upload.runs:
            review = of_position.get(run.position)
            taken = (runs.c.upload_id == kept) & (runs.c.position == run.position) | (runs.c.id == run.id)
            if review is None or connection.execute(select(runs.c.id).where(taken)).first():
                continue
            values = {"id": run.id, "upload_id": kept, "added_at": run.added_at, **review_values(review)}
            if connection.execute(select(runs.c.id).where(runs.c.number == run.number)).first():
                values.update(self._places(connection, 1)[0])
            else:
                values["number"] = run.number
                self._leave_place(connection, run.number)
            connection.execute(insert(runs).values(**values))
            keep_beside(connection, run.id, review)
        return kept

    def bring_back_car(self, versions: Sequence[CarRecord]) -> None:
        """Keep a car's versions again as they were, in the place of what stands of them."""
        with self._change() as change:
            newest = versions[-1]
            stands = select(cars.c.version).where(cars.c.id == newest.id).with_for_update()
            there = change.connection.execute(stands).scalar()
            if there is None:
                change.connection.execute(insert(cars).values(id=newest.id, version=newest.version))
            change.connection.execute(update(cars).where(cars.c.id == newest.id).values(version=newest.version))
            kept = {car.version: car for car in versions_of(change.connection, newest.id)}
            for car in versions:
                keep_version(change.connection, car, anew=car.version in kept)
            change.tell_car(newest.id)

    def upload_record(self, upload_id: str) -> UploadRecord | None:
        """All that is recorded of an upload; None if there is none."""
        with self._engine.begin() as connection:
            return upload_of(connection, upload_id)

    def all_uploads(self, *, hashed: bool = False) -> list[UploadRecord]:
        """All that is recorded of each upload, in the order of their ids; with `hashed`, hashes of reviews too."""
        with self._engine.begin() as connection:
            return all_uploads_of(connection, hashed=hashed)

    def all_versions(self) -> dict[str, tuple[CarRecord, ...]]:
        """All versions of all cars."""
        with self._engine.begin() as connection:
            return all_versions_of(connection)

    def items(self, kind: str, *, car: str | None = None) -> list[ItemRecord]:
        """Items of a kind, of one car if it is named, oldest first; those that were let go too."""
        return [one for one in self.all_items().values() if one.kind == kind and car in (None, one.car_id)]

    def item(self, id: str) -> ItemRecord | None:
        """One item; None if there is none."""
        with self._engine.begin() as connection:
            row = connection.execute(select(items).where(items.c.id == id)).first()
        return item_of(row) if row else None

    def all_items(self) -> dict[str, ItemRecord]:
        """All items by their ids, oldest first."""
        with self._engine.begin() as connection:
            return all_items_of(connection)

    def keep_item(self, item: ItemRecord) -> None:
        """Keep an item, in the place of the one that stands."""
        values = {**asdict(item), "given": orjson.dumps(item.given), "gone": int(item.gone)}
        with self._change() as change:
            stood = change.connection.execute(update(items).where(items.c.id == item.id).values(**values))
            if not stood.rowcount:
                change.connection.execute(insert(items).values(**values))
            change.tell_item(item.id)

    def upload(self, key: str) -> tuple[list[RunRecord], int] | None:
        """Runs that an upload of that key still has, and how many were found in it; None if there is none."""
        with self._engine.begin() as connection:
            kept = connection.execute(select(uploads).where(uploads.c.key == key)).first()
            if kept is None:
                return None
            return siblings_of(connection, kept.id), int(kept.runs_found)

    def siblings(self, upload_id: str) -> list[RunRecord]:
        """Runs of one upload, in its order."""
        with self._engine.begin() as connection:
            return siblings_of(connection, upload_id)

    def runs_with_logs(self, sha256s: Collection[str]) -> list[RunRecord]:
        """Runs whose upload has one of these logs, oldest first, with all of their logs."""
        having = select(logs.c.upload_id).where(logs.c.sha256.in_(list(sha256s)))
        with self._engine.begin() as connection:
            rows = connection.execute(RUNS.where(runs.c.upload_id.in_(having)).order_by(runs.c.number)).all()
            return [run_of(row, logs_of(connection, row.upload_id)) for row in rows]

    def replace_review(self, run_id: str, review: NewReview) -> bool:
        """Put a new review in the place of the old; False if the run is gone."""
        with self._change() as change:
            upload = change.connection.execute(_UPLOAD_OF_RUN.where(runs.c.id == run_id)).first()
            if upload is None:
                return False
            change.connection.execute(update(runs).where(runs.c.id == run_id).values(**review_values(review)))
            keep_beside(change.connection, run_id, review)
            change.more = RowsMore()
            change.tell_upload(upload.id, upload.key)
        return True

    def let_stand(self, job: Job) -> Job:
        """Put all new reviews of a pass in the places of the old; what is left of the job then."""
        with self._change() as change:
            changed, result = stand_instead(change.connection, job)
            change.tell_uploads(changed)
            came_further(change.connection, job, kind="sweep", result=orjson.dumps(result))
        return replace(job, kind="sweep", result=result)

    def run(self, id: str) -> RunRecord | None:
        """One run with its logs."""
        with self._engine.begin() as connection:
            row = connection.execute(RUNS.where(runs.c.id == id)).first()
            return run_of(row, logs_of(connection, row.upload_id)) if row else None

    def review(self, id: str) -> bytes | None:
        """A run's review, JSON; `NotWhole` if it is damaged."""
        with self._engine.begin() as connection:
            kept = connection.execute(select(runs.c.review).where(runs.c.id == id)).scalar()
        return read_review(kept, id) if kept is not None else None

    def find_runs(
        self, *, event: str | None, car: str | None, limit: int, after: str | None, days: Days = EVER
    ) -> list[RunRecord]:
        """Runs, newest first, from the one behind `after`; of an event or a car by when they were made."""
        query = LISTED
        if event is not None:
            query = query.where(runs.c.event == event)
        if car is not None:
            query = query.where(its_car(car, event=event))
        if event is not None or car is not None:
            return self._find_by_when_made(query, limit=limit, after=after, days=days)
        query = query.where(*within(days, made_day())).order_by(runs.c.number.desc()).limit(limit)
        if after is not None:
            query = query.where(runs.c.number < select(runs.c.number).where(runs.c.id == after).scalar_subquery())
        with self._engine.begin() as connection:
            return [run_of(row, ()) for row in connection.execute(query).all()]

    def _find_by_when_made(self, query: Select[Any], *, limit: int, after: str | None, days: Days) -> list[RunRecord]:
        placed = query.add_columns(made_order(), made_day()).cte("placed")
        place = (placed.c[PLACE], placed.c.number)
        found = select(placed).where(*within(days, placed.c[DAY_MADE]))
        found = found.order_by(*(one.desc() for one in place)).limit(limit)
        if after is not None:
            found = found.where(tuple_(*place) < select(*place).where(placed.c.id == after).scalar_subquery())
        with self._engine.begin() as connection:
            return [run_of(row, ()) for row in connection.execute(found).all()]

    def events(self, *, limit: int | None = None, after: str | None = None) -> list[str]:
        """Names of events, that of the newest run first, from the one behind `after`; none behind an unknown one."""
        bounds: RowValues = {"limit": self._unbounded() if limit is None else limit}
        near, every = (_NEAR, _EVENTS) if after is None else (_NEAR_BEHIND, _EVENTS_BEHIND)
        which = {} if after is None else {"after": after}
        with self._engine.begin() as connection:
            if limit is not None:
                walk = {**which, "limit": limit, "walk": limit * RUNS_AN_EVENT}
                found = list(connection.execute(near, walk).scalars())
                if len(found) == limit:
                    return found
            return list(connection.execute(every, {**bounds, **which}).scalars())

    def remove_run(self, id: str, *, place_to: str = "") -> bool:
        """Forget a run, and its upload if that has no other; False if there is none. Another may take its place."""
        with self._change() as change:
            upload = change.connection.execute(_UPLOAD_OF_RUN.where(runs.c.id == id)).first()
            if upload is None:
                return False
            place = change.connection.execute(select(runs.c.number, runs.c.added_at).where(runs.c.id == id)).one()
            change.connection.execute(delete(runs).where(runs.c.id == id))
            heir = change.connection.execute(_UPLOAD_OF_RUN.where(runs.c.id == place_to)).first()
            if heir is not None:
                stands = {"number": place.number, "added_at": place.added_at}
                change.connection.execute(update(runs).where(runs.c.id == place_to).values(**stands))
                change.tell_upload(heir.id, heir.key)
            left = select(func.count()).select_from(runs).where(runs.c.upload_id == upload.id)
            if change.connection.execute(left).scalar() == 0:
                change.connection.execute(delete(uploads).where(uploads.c.id == upload.id))
            change.tell_upload(upload.id, upload.key)
        return True

    def bytes_of_logs(self) -> int:
        """Bytes of all logs of all uploads."""
        with self._engine.begin() as connection:
            return int(connection.execute(select(func.coalesce(func.sum(logs.c.bytes), 0))).scalar_one())

    def logs_of_jobs(self) -> list[LogRecord]:
        """Logs that wait for their review."""
        with self._engine.begin() as connection:
            return logs_of_jobs(connection)

    def keys_in_use(self, keys: Collection[str], *, but_by: str = "") -> set[str]:
        """Those of the keys that an upload has as an original, a run as its table, or a job other than one."""
        wanted = list(keys)
        used: set[str] = set()
        with self._engine.begin() as connection:
            for start in range(0, len(wanted), KEYS_AT_ONCE):
                some = wanted[start : start + KEYS_AT_ONCE]
                used.update(connection.execute(select(logs.c.sha256).where(logs.c.sha256.in_(some))).scalars())
                used.update(connection.execute(select(runs.c.table_key).where(runs.c.table_key.in_(some))).scalars())
                used.update(keys_of_jobs(connection, some, but_by=but_by))
        return used


_NEWEST = """
    SELECT event FROM (
        SELECT event, (SELECT max(number) FROM runs WHERE event = near.event) AS number
        FROM (SELECT DISTINCT event FROM (
            SELECT event FROM runs WHERE number > 0 {behind} ORDER BY number DESC LIMIT :walk
        ) AS walked WHERE event <> '') AS near
    ) AS named WHERE number > 0 {behind} ORDER BY number DESC LIMIT :limit
"""
"""Events of the newest runs alone: it costs by the runs walked, whatever else there is. An event whose newest run lies
among them is found; where that gives fewer than asked, `_NAMED` looks through all names."""
_BEHIND = "number < (SELECT max(number) FROM runs WHERE event = :after)"
_NEAR, _NEAR_BEHIND = text(_NEWEST.format(behind="")), text(_NEWEST.format(behind=f"AND {_BEHIND}"))
_NAMED = """
    WITH RECURSIVE named (event) AS (
        SELECT min(event) FROM runs WHERE event > ''
        UNION ALL
        SELECT (SELECT min(event) FROM runs WHERE event > named.event) FROM named WHERE named.event IS NOT NULL
    ), newest (event, number) AS (
        SELECT event, (SELECT max(number) FROM runs WHERE event = named.event) FROM named WHERE event IS NOT NULL
    )
    SELECT event FROM newest {behind} ORDER BY number DESC LIMIT :limit
"""
"""From each name to the next by the index of names: it costs by the events and not by the runs."""
_EVENTS = text(_NAMED.format(behind=""))
_EVENTS_BEHIND = text(_NAMED.format(behind=f"WHERE {_BEHIND}"))
_UPLOAD_OF_RUN = select(uploads.c.id, uploads.c.key).join(runs, runs.c.upload_id == uploads.c.id).with_for_update()
"""Both rows are locked: whoever changes a run or its upload comes after whoever does already."""


def _forget_upload(connection: Connection, upload: UploadRecord) -> None:
    ids = select(uploads.c.id).where((uploads.c.id == upload.id) | (uploads.c.key == upload.key))
    theirs = connection.execute(ids).scalars().all()
    connection.execute(delete(runs).where(runs.c.upload_id.in_(theirs)))
    connection.execute(delete(runs).where(runs.c.id.in_([run.id for run in upload.runs])))
    connection.execute(delete(logs).where(logs.c.upload_id.in_(theirs)))
    connection.execute(delete(uploads).where(uploads.c.id.in_(theirs)))
