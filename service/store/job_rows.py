"""Jobs as rows of the library's database, beside what they are about: any database that SQLAlchemy speaks to.

Takers pass over rows that another is just taking (``FOR UPDATE SKIP LOCKED``) where the database knows that; SQLite has
one writer at a time and needs it not.

Public: `TableJobs`, `end_job`, `came_further`, `has_open_jobs`, `logs_of_jobs`, `keys_of_jobs`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, closing, contextmanager, nullcontext
from pathlib import Path
from typing import Any

import orjson
from sqlalchemy import Connection, Engine, Row, Select, and_, delete, func, insert, or_, select, update

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.jobs import (
    LONGEST_PAUSE_S,
    OPEN,
    RANKS,
    STALL_S,
    Job,
    NewJob,
    NotHeld,
    State,
    Waits,
    moment,
)
from passband.service.store.records import LogRecord
from passband.service.store.schema import RowValues, job_logs, jobs, new_reviews

Lock = AbstractContextManager[Any]
_PART = jobs.alias("part")
_HAS_OPEN_PARTS = (
    select(_PART.c.id).where(_PART.c.parent == jobs.c.id, _PART.c.state.in_(OPEN)).correlate(jobs).exists()
)


class TableJobs:
    """Jobs in the library's own database.

    Parameters
    ----------
    reader, writer : Engine
        Of the database, for reading and for changing.
    one_at_a_time : context manager, optional
        Held while something is written: a lock of this program's own, where the database takes one writer.
    """

    def __init__(self, reader: Engine, writer: Engine, one_at_a_time: Lock | None = None) -> None:
        self._engine, self._writer = reader, writer
        self._one_at_a_time: Lock = one_at_a_time or nullcontext()

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A write transaction."""
        with self._one_at_a_time, self._writer.begin() as connection:
            yield connection

    def put(self, job: NewJob, parts: Sequence[NewJob] = ()) -> Job:
        """Keep a job with its parts; where one of its key is open, that one stands and nothing is added."""
        with self.writing() as connection:
            there = connection.execute(_OF_KEY.where(jobs.c.key == job.key)).first()
            if there is None:
                at = moment()
                connection.execute(insert(jobs).values(**_values(job, at, parent=None)))
                if job.logs:
                    connection.execute(insert(job_logs), [{"job_id": job.id, **_log(log)} for log in job.logs])
                if parts:
                    connection.execute(insert(jobs), [_values(part, at, parent=job.id) for part in parts])
            row = there or connection.execute(select(jobs).where(jobs.c.id == job.id)).one()
            return _job(connection, row)

    def open_of(self, key: str) -> Job | None:
        """The open job of a key."""
        with self._engine.begin() as connection:
            row = connection.execute(_OF_KEY.where(jobs.c.key == key)).first()
            return _job(connection, row) if row else None

    def job(self, id: str) -> Job | None:
        """A job; None if there is none."""
        with self._engine.begin() as connection:
            row = connection.execute(select(jobs).where(jobs.c.id == id)).first()
            return _job(connection, row) if row else None

    def take(self, holder: str) -> Job | None:
        """The next job that is due, or whose holder is lost, now this holder's; None if there is none."""
        with self._engine.begin() as connection:
            if connection.execute(_due(select(jobs.c.number))).first() is None:
                return None  # nothing is written where nothing is to be done
        with self.writing() as connection:
            found = connection.execute(_due(select(jobs)).with_for_update(of=jobs, skip_locked=True)).first()
            if found is None:
                return None
            values: RowValues = {"state": "working", "stage": "", "holder": holder, "heard_at": moment()}
            if found.state == "working":
                values["lost"] = found.lost + 1
            connection.execute(update(jobs).where(jobs.c.number == found.number).values(**values))
            return _job(connection, connection.execute(select(jobs).where(jobs.c.number == found.number)).one())

    def heard(self, holder: str, stages: Mapping[str, str]) -> None:
        """A holder works on these jobs, by their ids, and has come to these stages of them."""
        its = and_(jobs.c.holder == holder, jobs.c.state == "working")
        with self.writing() as connection:
            for id, stage in stages.items():
                connection.execute(update(jobs).where(its, jobs.c.id == id).values(stage=stage, heard_at=moment()))

    def finish(self, job: Job, result: JsonObject) -> None:
        """A job is done, and its parts with it; `NotHeld` if it is somebody else's by now."""
        with self.writing() as connection:
            end_job(connection, job, "done", result)
            connection.execute(delete(jobs).where(jobs.c.parent == job.id))
            connection.execute(delete(new_reviews).where(new_reviews.c.job_id == job.id))

    def fail(self, job: Job, result: JsonObject) -> None:
        """A job cannot be done; `NotHeld` if it is somebody else's by now."""
        with self.writing() as connection:
            end_job(connection, job, "failed", result)

    def give_back(self, job: Job, *, after_s: float = 0.0, counted: bool = True) -> None:
        """Let another take it, after a while; not counted as a try where nothing is the matter with the job."""
        values: RowValues = {"state": "waiting", "stage": "", "holder": "", "due_at": moment(after_s)}
        if counted:
            values["tries"] = jobs.c.tries + 1
        with self.writing() as connection:
            connection.execute(update(jobs).where(_held_by(job)).values(**values))

    def take_over(self) -> None:
        """Give back what anybody holds: for one who knows that nobody else works on this library."""
        with self._engine.begin() as connection:
            if connection.execute(select(jobs.c.id).where(jobs.c.state == "working").limit(1)).first() is None:
                return
        with self.writing() as connection:
            values: RowValues = {"state": "waiting", "stage": "", "holder": "", "lost": jobs.c.lost + 1}
            connection.execute(update(jobs).where(jobs.c.state == "working").values(**values))

    def forget(self, *, days: float) -> None:
        """Forget jobs that ended so long ago."""
        old = and_(jobs.c.state.not_in(OPEN), jobs.c.parent.is_(None), jobs.c.ended_at < moment(-86_400 * days))
        with self._engine.begin() as connection:
            if connection.execute(select(jobs.c.id).where(old).limit(1)).first() is None:
                return
        with self.writing() as connection:
            connection.execute(delete(jobs).where(old))

    def waits(self) -> Waits:
        """How much is yet to be done."""
        query = select(jobs.c.state, func.count()).where(jobs.c.state.in_(OPEN)).group_by(jobs.c.state)
        with self._engine.begin() as connection:
            counts = {state: count for state, count in connection.execute(query)}
        return Waits(counts.get("waiting", 0), counts.get("working", 0))

    def bytes_waiting(self) -> int:
        """Bytes of all logs that wait for their review."""
        with self._engine.begin() as connection:
            return int(connection.execute(select(func.coalesce(func.sum(job_logs.c.bytes), 0))).scalar_one())


_OF_KEY = select(jobs).where(jobs.c.state.in_(OPEN))


def _due(query: Select[Any]) -> Select[Any]:
    is_due = or_(jobs.c.due_at <= moment(), jobs.c.due_at > moment(LONGEST_PAUSE_S))
    waits = and_(jobs.c.state == "waiting", is_due)
    lost = and_(jobs.c.state == "working", jobs.c.heard_at < moment(-STALL_S))
    return query.where(or_(waits, lost), ~_HAS_OPEN_PARTS).order_by(jobs.c.rank, jobs.c.number).limit(1)


def _held_by(job: Job) -> Any:
    return and_(jobs.c.id == job.id, jobs.c.holder == job.holder, jobs.c.state == "working")


def end_job(connection: Connection, job: Job, state: State, result: JsonObject) -> None:
    """End a job within a transaction that keeps what came of it; `NotHeld` if it is somebody else's by now."""
    values = {"state": state, "stage": "", "ended_at": moment(), "result": orjson.dumps(result)}
    if connection.execute(update(jobs).where(_held_by(job)).values(**values)).rowcount != 1:
        raise NotHeld(job.id)
    connection.execute(delete(job_logs).where(job_logs.c.job_id == job.id))


def came_further(connection: Connection, job: Job, **values: Any) -> None:
    """Note that a job came further, within the transaction that keeps how far; `NotHeld` as `end_job`."""
    new = {"tries": 0, "lost": 0, "heard_at": moment(), **values}
    if connection.execute(update(jobs).where(_held_by(job)).values(**new)).rowcount != 1:
        raise NotHeld(job.id)


def has_open_jobs(path: Path) -> bool:
    """Whether a library that is not open has jobs to be done; no for one that cannot be read: its opening tells why."""
    if not path.is_file():
        return False
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as found:
            return (
                found.execute("SELECT 1 FROM jobs WHERE state IN ('waiting', 'working') LIMIT 1").fetchone() is not None
            )
    except sqlite3.DatabaseError:
        return False


def logs_of_jobs(connection: Connection) -> list[LogRecord]:
    """Originals that jobs have yet to review."""
    rows = connection.execute(select(job_logs).order_by(job_logs.c.job_id, job_logs.c.n))
    return [LogRecord(row.n, row.name, row.sha256, row.bytes) for row in rows]


def keys_of_jobs(connection: Connection, some: Sequence[str], *, but_by: str) -> set[str]:
    """Those of some keys that a job other than one has as an original, or as a table of a pass under way."""
    logs = select(job_logs.c.sha256).where(job_logs.c.sha256.in_(some), job_logs.c.job_id != but_by)
    tables = select(new_reviews.c.table_key).where(new_reviews.c.table_key.in_(some), new_reviews.c.job_id != but_by)
    return {*connection.execute(logs).scalars(), *connection.execute(tables).scalars()}


def _values(job: NewJob, at: str, *, parent: str | None) -> RowValues:
    return {
        "id": job.id, "kind": job.kind, "rank": RANKS[job.kind], "key": job.key, "parent": parent, "state": "waiting",
        "stage": "", "tries": 0, "lost": 0, "holder": "", "heard_at": "", "due_at": at, "put_at": at, "ended_at": "",
        "task": orjson.dumps(job.task), "result": None,
    }  # fmt: skip


def _log(log: LogRecord) -> JsonObject:
    return {"n": log.n, "name": log.name, "sha256": log.sha256, "bytes": log.bytes}


def _job(connection: Connection, row: Row[Any]) -> Job:
    logs = connection.execute(select(job_logs).where(job_logs.c.job_id == row.id).order_by(job_logs.c.n))
    return Job(
        id=row.id,
        kind=row.kind,
        key=row.key,
        parent=row.parent,
        state=row.state,
        stage=row.stage,
        tries=row.tries,
        lost=row.lost,
        holder=row.holder,
        put_at=row.put_at,
        ended_at=row.ended_at,
        task=orjson.loads(row.task),
        result=orjson.loads(row.result) if row.result is not None else None,
        logs=tuple(LogRecord(log.n, log.name, log.sha256, log.bytes) for log in logs),
    )
