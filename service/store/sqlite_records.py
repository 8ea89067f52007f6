"""Records in one SQLite file, each change also told to the ledger beside it before it is committed.

Public: `SqliteRecords`.
"""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

from sqlalchemy import Connection, Table, func, select, update

from passband.service.store.ledger import Ledger, State, Turn
from passband.service.store.row_records import Change, RowRecords
from passband.service.store.rows import all_uploads_of, item_of, upload_of, versions_of
from passband.service.store.schema import cars, items, open_database, progress, runs, uploads
from passband.service.store.upload_records import cars_json, item_json, upload_json

TOLD_AT_ONCE = 200
"""Records that are made and held in memory together."""


class _RecordedChange(Change):
    """A change that is told to the ledger."""

    def __init__(self, connection: Connection, generation: int, ledger: Ledger, turn: Turn) -> None:
        super().__init__(connection)
        self._generation, self._ledger, self._turn = generation, ledger, turn

    def tell_upload(self, upload_id: str, key: str) -> None:
        upload = upload_of(self.connection, upload_id)
        self._turn.write(self._ledger.uploads, key, upload_json(upload, self._generation) if upload else None)

    def tell_uploads(self, upload_ids: Sequence[str]) -> None:
        for start in range(0, len(upload_ids), TOLD_AT_ONCE):
            some = all_uploads_of(self.connection, hashed=True, of=upload_ids[start : start + TOLD_AT_ONCE])
            bodies = {upload.key: upload_json(upload, self._generation) for upload in some}
            self._turn.write_all(self._ledger.uploads, bodies)

    def tell_car(self, car_id: str) -> None:
        self._turn.write(self._ledger.cars, car_id, cars_json(versions_of(self.connection, car_id), self._generation))

    def tell_item(self, item_id: str) -> None:
        row = self.connection.execute(select(items).where(items.c.id == item_id)).first()
        body = item_json(item_of(row), self._generation) if row else None
        self._turn.write(self._ledger.items, item_id, body)


class SqliteRecords(RowRecords):
    """Records in one SQLite file.

    Parameters
    ----------
    path : Path
        The file; made or brought up to date on opening.
    ledger : Ledger
        What stands beside it.
    """

    def __init__(self, path: Path, ledger: Ledger) -> None:
        self._ledger = ledger
        self._one_at_a_time = threading.RLock()
        self._counted: State | None = None
        engine = open_database(path)
        super().__init__(engine, engine.execution_options(writes=True), self._one_at_a_time)

    def probe(self) -> None:
        """Begin to write and take it back; SQLAlchemy's error if the file cannot be read or written."""
        with self._writer.connect() as connection:
            connection.execute(update(progress).values(generation=progress.c.generation))
            connection.rollback()

    def give_back_room(self) -> None:
        """Write what is only in the write-ahead log into the file itself, and cut the log off."""
        with closing(self._engine.raw_connection()) as connection:
            connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def state(self) -> State:
        """How far the database has come."""
        with self._engine.begin() as connection:
            return _state(connection)

    def tell_again(
        self, upload_ids: Collection[str], car_ids: Collection[str], item_ids: Collection[str] = (), *, least: int = 0
    ) -> None:
        """Write records of what stands here anew, and count on from a generation."""
        with self._change(least=least) as change:
            change.tell_uploads(list(upload_ids))
            for car_id in car_ids:
                change.tell_car(car_id)
            for item_id in item_ids:
                change.tell_item(item_id)

    def number_on_from(self, number: int) -> None:
        """Give runs that come in now numbers behind one, so that those that come back find their own free."""
        with self._writer.begin() as connection:
            stands = connection.exec_driver_sql("SELECT seq FROM sqlite_sequence WHERE name = 'runs'").scalar()
            if stands is None:
                connection.exec_driver_sql("INSERT INTO sqlite_sequence VALUES ('runs', ?)", (number,))
            elif stands < number:
                connection.exec_driver_sql("UPDATE sqlite_sequence SET seq = ? WHERE name = 'runs'", (number,))

    @contextmanager
    def _change(self, *, least: int = 0) -> Iterator[Change]:
        """One transaction; what it tells the ledger is undone if it is not committed."""
        with self._one_at_a_time:
            turn, whole = self._ledger.turn(), False
            try:
                with self._writer.begin() as connection:
                    stands = connection.execute(select(progress.c.generation)).scalar() or 0
                    generation = max(stands, least) + 1
                    connection.execute(update(progress).values(generation=generation))
                    change = _RecordedChange(connection, generation, self._ledger, turn)
                    yield change
                    stood, more = self._counted, change.more
                    if stood is None or more is None:
                        state = _state(connection)
                    else:
                        runs_now, uploads_now = stood.runs + more.runs, stood.uploads + more.uploads
                        state = replace(stood, generation=generation, runs=runs_now, uploads=uploads_now)
                self._counted, whole = state, True  # nobody else writes: one program has the folder
            finally:
                if not whole:
                    turn.undo()
            turn.done(state)

    def _places(self, _connection: Connection, count: int) -> list[dict[str, int]]:
        return [{}] * count  # the file numbers them itself, and a writer is alone

    def _leave_place(self, _connection: Connection, _number: int) -> None:
        """The file does it itself."""

    def _unbounded(self) -> int:
        return -1


def _state(connection: Connection) -> State:
    def count(table: Table) -> int:
        return connection.execute(select(func.count()).select_from(table)).scalar() or 0

    generation = connection.execute(select(progress.c.generation)).scalar() or 0
    return State(generation, runs=count(runs), uploads=count(uploads), cars=count(cars))
