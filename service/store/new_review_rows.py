"""Reviews of a pass that is under way: beside those that stand until all are there, then in their places at once.

A run has one row a pass: its new review, or why it has none. Once they stand, the row names the old table, which nobody
reads any more, until that is let go.

Public: `NewReviews`, `Beside`, `Counts`, `stand_instead`, `tables_of_passes`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import orjson
from sqlalchemy import Connection, Engine, bindparam, case, func, insert, select, update

from passband.analysis.results.plain_values import JsonObject
from passband.analysis.runs.kept_digest import KeptDigest
from passband.service.store.digest_rows import in_turns, write_digests
from passband.service.store.job_rows import TableJobs, came_further
from passband.service.store.jobs import Job
from passband.service.store.kept_review import review_row
from passband.service.store.records import NewReview
from passband.service.store.schema import RowValues, new_reviews, runs, uploads

CHANGED_MEANWHILE = "It was changed and reviewed meanwhile; that review stands."
GONE_MEANWHILE = "It was deleted meanwhile."


@dataclass(frozen=True, slots=True)
class Beside:
    """What a pass has of one run."""

    run_id: str
    was: str
    """When the review was made that stands."""
    new: NewReview | None
    """None where it could have none."""
    why: str = ""
    """Why not."""


@dataclass(frozen=True, slots=True)
class Counts:
    """How far a pass is."""

    reviewed: int
    left: int
    """Runs that could not be reviewed again."""


class NewReviews:
    """Reviews beside those that stand, in the library's own database.

    Parameters
    ----------
    reader : Engine
        Of the database.
    jobs : TableJobs
        Their jobs.
    """

    def __init__(self, reader: Engine, jobs: TableJobs) -> None:
        self._engine, self._jobs = reader, jobs

    def there(self, pass_id: str, run_ids: Sequence[str]) -> set[str]:
        """Those of some runs of which the pass has what it needs."""
        found: set[str] = set()
        query = select(new_reviews.c.run_id).where(new_reviews.c.job_id == pass_id)
        with self._engine.begin() as connection:
            for some in in_turns(run_ids):
                found.update(connection.execute(query.where(new_reviews.c.run_id.in_(some))).scalars())
        return found

    def keep(self, chunk: Job, made: Iterable[Beside]) -> None:
        """Keep what a part of a pass has made; `NotHeld` if somebody else has it by now."""
        with self._jobs.writing() as connection:
            came_further(connection, chunk)
            connection.execute(insert(new_reviews), [_values(str(chunk.parent), one) for one in made])

    def counts(self, pass_id: str) -> Counts:
        """How far a pass is."""
        left = func.coalesce(func.sum(case((new_reviews.c.why != "", 1), else_=0)), 0)
        query = select(func.count(), left).where(new_reviews.c.job_id == pass_id)
        with self._engine.begin() as connection:
            count, without = connection.execute(query).one()
        return Counts(int(count) - int(without), int(without))

    def run_ids(self, pass_id: str) -> list[str]:
        """Runs of which the pass has what it needs."""
        query = select(new_reviews.c.run_id).where(new_reviews.c.job_id == pass_id)
        with self._engine.begin() as connection:
            return list(connection.execute(query).scalars())

    def tables(self, pass_id: str) -> list[str]:
        """Keys of the new tables; once the new reviews stand, of the old ones, which nobody reads any more."""
        query = select(new_reviews.c.table_key).where(new_reviews.c.job_id == pass_id, new_reviews.c.table_key != "")
        with self._engine.begin() as connection:
            return list(connection.execute(query).scalars())


def stand_instead(connection: Connection, job: Job) -> tuple[list[str], JsonObject]:
    """Put a pass's new reviews in the places of the old, within the caller's transaction.

    Parameters
    ----------
    connection : Connection
        Of a write transaction.
    job : Job
        The pass.

    Returns
    -------
    list of str
        Ids of the uploads whose runs have another review now.
    dict
        What came of the pass: how many runs were meant and reviewed, and which were left with the reason.
    """
    changed: dict[str, None] = {}
    left: list[JsonObject] = []
    ids = connection.execute(_OF_PASS.where(new_reviews.c.job_id == job.id).order_by(runs.c.number)).scalars().all()
    for some in in_turns(ids):
        of_these = select(new_reviews).where(new_reviews.c.job_id == job.id, new_reviews.c.run_id.in_(some))
        new = {row.run_id: row for row in connection.execute(of_these)}
        old = {row.id: row for row in connection.execute(_OLD.where(runs.c.id.in_(some)).order_by(runs.c.number))}
        why = {run_id: _why_not(new[run_id], old.get(run_id)) for run_id in some}
        left += [{"run": run_id, "why": said} for run_id, said in why.items() if said]
        stand = [run_id for run_id in some if not why[run_id]]
        changed |= {old[run_id].upload_id: None for run_id in stand}
        _let_stand(connection, job.id, [(new[run_id], old[run_id]) for run_id in stand])
    meant = int(job.task["runs"])
    return list(changed), {"runs": meant, "reviewed": len(ids) - len(left), "left": left}


def _why_not(new: Any, old: Any) -> str:
    if old is None:
        return GONE_MEANWHILE
    return new.why or ("" if old.reviewed_at == new.was else CHANGED_MEANWHILE)


def _let_stand(connection: Connection, pass_id: str, pairs: Sequence[tuple[Any, Any]]) -> None:
    """Each statement once for many rows: nobody reviews meanwhile, and putting them together took most of the time."""
    if not pairs:
        return
    connection.execute(_STAND, [{"its": new.run_id, **_standing(new)} for new, _ in pairs])
    kept = {
        new.run_id: (new.made_at, KeptDigest(new.figures, new.arrays, bool(new.comparable)))
        for new, _ in pairs
        if new.figures is not None
    }
    write_digests(connection, kept)
    connection.execute(_SPEND, [{"its": new.run_id, "of": pass_id, "old_key": old.table_key} for new, old in pairs])


def tables_of_passes(connection: Connection) -> list[str]:
    """Keys of tables whose reviews do not stand yet."""
    return list(connection.execute(select(new_reviews.c.table_key).where(new_reviews.c.review.is_not(None))).scalars())


_OF_PASS = select(new_reviews.c.run_id).outerjoin(runs, runs.c.id == new_reviews.c.run_id)
_OLD = (
    select(runs.c.id, runs.c.upload_id, runs.c.reviewed_at, runs.c.table_key)
    .join(uploads, uploads.c.id == runs.c.upload_id)
    .with_for_update()
)
_STANDS = ("car_id", "car_version", "summary", "review", "table_key")
_STAND = (
    update(runs)
    .where(runs.c.id == bindparam("its"))
    .values({name: bindparam(name) for name in (*_STANDS, "reviewed_at")})
)
_SPEND = (
    update(new_reviews)
    .where(new_reviews.c.job_id == bindparam("of"), new_reviews.c.run_id == bindparam("its"))
    .values(table_key=bindparam("old_key"), summary=None, review=None, figures=None, arrays=None)
)


def _standing(new: Any) -> JsonObject:
    return {**{name: getattr(new, name) for name in _STANDS}, "reviewed_at": new.made_at}


def _values(pass_id: str, made: Beside) -> RowValues:
    new = made.new
    digest = new.digest if new else None
    return {
        "job_id": pass_id, "run_id": made.run_id, "was": made.was, "why": made.why,
        "made_at": new.made_at if new else "",
        "car_id": new.car[0] if new and new.car else None,
        "car_version": new.car[1] if new and new.car else None,
        "summary": orjson.dumps(new.summary) if new else None,
        "review": review_row(new.review) if new else None,
        "table_key": new.table_key if new else "",
        "comparable": int(digest.comparable) if digest else None,
        "figures": digest.figures if digest else None,
        "arrays": digest.arrays if digest else None,
    }  # fmt: skip
