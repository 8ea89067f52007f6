"""Digests of runs in the database: in few numbers what lists, sheets and the engine's line need of many runs.

They are made of reviews and tables and tell nothing that those do not, so nothing is recorded of them beside the
database: one that is missing, or of another form or review, is made anew.

Public: `DigestRow`, `DatedRun`, `EngineLink`, `DigestRows`, `write_digest`, `write_digests`, `its_car`, `in_turns`.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import orjson
from sqlalchemy import ColumnElement, Connection, Engine, and_, bindparam, insert, select, update
from sqlalchemy.exc import OperationalError

from passband.analysis.results.plain_values import JsonObject, Stored
from passband.analysis.runs.kept_digest import FORM, KeptDigest
from passband.service.store.run_order import made_order
from passband.service.store.schema import dates, digests, runs

log = logging.getLogger("passband")

IDS_AT_ONCE = 500
"""Ids in one question; older builds of SQLite take 999 values."""
_DATED = runs.outerjoin(dates, dates.c.run_id == runs.c.id)
_OLDEST_FIRST = (made_order(), runs.c.number)
_STANDS = and_(digests.c.run_id == runs.c.id, digests.c.reviewed_at == runs.c.reviewed_at, digests.c.form == FORM)


@dataclass(frozen=True, slots=True)
class DigestRow:
    """One digest as it is kept."""

    figures: Stored
    arrays: bytes


@dataclass(frozen=True, slots=True)
class DatedRun:
    """One run and when it was made."""

    id: str
    reviewed_at: str
    at: str
    """Date, or date and time, as given; else when its logs came in. ISO 8601."""
    given: bool
    """Whether it was given."""

    @property
    def day(self) -> str:
        """Its date, with the time where that was given."""
        return self.at if self.given else self.at[:10]


@dataclass(frozen=True, slots=True)
class EngineLink:
    """One run in the order of its car's, and how its engine stood to those before it."""

    run_id: str
    reviewed_at: str
    comparable: bool | None
    """None where the run has no digest."""
    held_by: str
    """Which review of which runs it was held against, when it was; empty where it was not."""
    as_before: bool | None
    """What came of it; None where it shares nothing with them."""


class DigestRows:
    """Digests in the library's database.

    Parameters
    ----------
    reader, writer : Engine
        Of the database, for reading and for changing.
    """

    def __init__(self, reader: Engine, writer: Engine) -> None:
        self._reader, self._writer = reader, writer

    def of(self, run_ids: Sequence[str]) -> dict[str, DigestRow]:
        """Digests of runs, of those that have one of their present review."""
        query = select(digests.c.run_id, digests.c.figures, digests.c.arrays).select_from(digests).join(runs, _STANDS)
        with self._reader.begin() as connection:
            return {
                row.run_id: DigestRow(orjson.loads(row.figures), row.arrays)
                for some in in_turns(run_ids)
                for row in connection.execute(query.where(digests.c.run_id.in_(some)))
            }

    def keys(self, *, event: str, car: str) -> list[tuple[str, str]]:
        """Id and time of review of a car's runs of an event, oldest first."""
        query = select(runs.c.id, runs.c.reviewed_at).select_from(_DATED)
        query = query.where(runs.c.event == event, its_car(car, event=event))
        with self._reader.begin() as connection:
            return [(row.id, row.reviewed_at) for row in connection.execute(query.order_by(*_OLDEST_FIRST))]

    def dated(self, car: str) -> list[DatedRun]:
        """All runs of a car with their dates, oldest first."""
        query = select(runs.c.id, runs.c.reviewed_at, runs.c.added_at, dates.c.at).select_from(_DATED)
        with self._reader.begin() as connection:
            rows = connection.execute(query.where(runs.c.car_id == car).order_by(*_OLDEST_FIRST)).all()
        return [DatedRun(row.id, row.reviewed_at, row.at or row.added_at, bool(row.at)) for row in rows]

    def engine_links(self, car: str) -> list[EngineLink]:
        """All runs of a car, oldest first."""
        kept = (digests.c.comparable, digests.c.held_by, digests.c.as_before)
        query = select(runs.c.id, runs.c.reviewed_at, *kept).select_from(_DATED.outerjoin(digests, _STANDS))
        with self._reader.begin() as connection:
            rows = connection.execute(query.where(runs.c.car_id == car).order_by(*_OLDEST_FIRST)).all()
        return [
            EngineLink(id, at, _truth(comparable), held_by or "", _truth(as_before))
            for id, at, comparable, held_by, as_before in rows
        ]

    def held(self, run_ids: Sequence[str]) -> dict[str, JsonObject]:
        """What was found of runs' engines, as JSON says it; of those that could be held against others."""
        query = select(digests.c.run_id, digests.c.held).where(digests.c.held.is_not(None))
        with self._reader.begin() as connection:
            return {
                row.run_id: orjson.loads(row.held)
                for some in in_turns(run_ids)
                for row in connection.execute(query.where(digests.c.run_id.in_(some)))
            }

    def keep(self, run_id: str, reviewed_at: str, digest: KeptDigest) -> None:
        """Keep a digest that was made anew, if the run still stands as it was reviewed then."""
        there = select(runs.c.id).where(runs.c.id == run_id, runs.c.reviewed_at == reviewed_at).with_for_update()

        def write(connection: Connection) -> None:
            if connection.execute(there).first():
                write_digest(connection, run_id, reviewed_at, digest)

        self._try(write)

    def keep_held(self, found: Iterable[tuple[str, str, JsonObject | None]]) -> None:
        """Keep what was found of engines: run, what it was held against, and what came of it."""

        def write(connection: Connection) -> None:
            for run_id, held_by, said in sorted(found, key=lambda one: one[0]):  # two at once lock rows in one order
                values = {
                    "held_by": held_by,
                    "as_before": int(said["as_before"]) if said is not None else None,
                    "held": orjson.dumps(said) if said is not None else None,
                }
                connection.execute(update(digests).where(digests.c.run_id == run_id).values(**values))

        self._try(write)

    def _try(self, write: Any) -> None:
        """What cannot be written now is made again when it is asked for again: that is no reason not to show it."""
        try:
            with self._writer.begin() as connection:
                write(connection)
        except OperationalError as error:
            log.warning("digests could not be kept: %s", error.orig)


def its_car(car: str, *, event: str | None) -> ColumnElement[bool]:
    """That a run is of a car; beside a named event not by the index of cars.

    An event has some hundred runs and a car may have thousands: where SQLite, which counts neither, may choose, it
    takes the car's. Joined with nothing the column is no index's.

    Parameters
    ----------
    car : str
        Its id.
    event : str or None
        The event that is asked for too; empty or None where none is.

    Returns
    -------
    ColumnElement
        For a question of `runs`.
    """
    return (runs.c.car_id if not event else runs.c.car_id.concat("")) == car


def write_digest(connection: Connection, run_id: str, reviewed_at: str, digest: KeptDigest) -> None:
    """Write a run's digest in the place of the one that stands."""
    write_digests(connection, {run_id: (reviewed_at, digest)})


def write_digests(connection: Connection, kept: Mapping[str, tuple[str, KeptDigest]]) -> None:
    """Write digests in the places of those that stand.

    Parameters
    ----------
    connection : Connection
        Of a write transaction that holds the runs' rows: nobody else can put one meanwhile.
    kept : mapping of str to (str, KeptDigest)
        By run: when its review was made, and the digest.
    """
    there: set[str] = set()
    for some in in_turns(list(kept)):
        there.update(connection.execute(select(digests.c.run_id).where(digests.c.run_id.in_(some))).scalars())
    rows = [
        {
            "its": run_id, "reviewed_at": reviewed_at, "comparable": int(digest.comparable), "figures": digest.figures,
            "arrays": digest.arrays,
        }
        for run_id, (reviewed_at, digest) in kept.items()
    ]  # fmt: skip
    stood, fresh = ([row for row in rows if (row["its"] in there) is wanted] for wanted in (True, False))
    if stood:
        connection.execute(_AGAIN, stood)
    if fresh:
        connection.execute(_FIRST, fresh)


_FORM = {
    "reviewed_at": bindparam("reviewed_at"), "form": FORM, "comparable": bindparam("comparable"),
    "figures": bindparam("figures"), "arrays": bindparam("arrays"), "held_by": None, "as_before": None, "held": None,
}  # fmt: skip
_AGAIN = update(digests).where(digests.c.run_id == bindparam("its")).values(_FORM)
_FIRST = insert(digests).values({"run_id": bindparam("its"), **_FORM})


def _truth(value: int | None) -> bool | None:
    return None if value is None else bool(value)


def in_turns(run_ids: Sequence[str]) -> Iterable[Sequence[str]]:
    """Ids of runs, as many at a time as one question takes."""
    return (run_ids[start : start + IDS_AT_ONCE] for start in range(0, len(run_ids), IDS_AT_ONCE))
