"""Records of one team in a PostgreSQL database that several services share.

No ledger stands beside these rows, as it does beside a SQLite file: there it makes a lost file good, which a server's
own backups and copies do here, to the moment and for all teams at once; several processes, on machines whose only
common ground may be an object store, would have to write it in turn, and it would be a second truth that no
transaction holds together with the first. What a folder still keeps is a mark (`store.claiming`): which library it is
of, and how far its rows had come, so that another or an older database is seen before a file is touched.

Runs are numbered by a count in the team's own row, locked from the moment it is read to the commit. So numbers are
committed in their order: who reads newest first, page by page, never meets a number that comes in behind the page.

Public: `PostgresRecords`, `LibraryMark`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import BigInteger, Column, Connection, MetaData, Table, Text, func, insert, select, update

from passband.service.store.postgres import PostgresDatabase
from passband.service.store.row_records import Change, RowRecords

libraries = Table(
    "libraries",
    MetaData(),
    Column("mark", Text, nullable=False),
    Column("number", BigInteger, nullable=False),
)
"""One row a team; the database shows a transaction its own only."""


@dataclass(frozen=True, slots=True)
class LibraryMark:
    """Which library rows or a folder are of, and how far it had come."""

    mark: str
    number: int
    """Places given to runs so far."""


class PostgresRecords(RowRecords):
    """Records of one team.

    Parameters
    ----------
    database : PostgresDatabase
        Open.
    team : str
        Names the team's library; not empty.
    owned : bool
        Whether closing these records lets go of the database.
    """

    def __init__(self, database: PostgresDatabase, team: str, *, owned: bool = False) -> None:
        super().__init__(database.reader(team), database.writer(team))
        self._database, self.team, self._owned = database, team, owned

    def close(self) -> None:
        """Let go of the database where it is of these records alone."""
        if self._owned:
            self._database.close()

    def probe(self) -> None:
        """Begin to write and take it back; SQLAlchemy's error if the database cannot be read or written."""
        with self._writer.connect() as connection:
            connection.execute(update(libraries).values(number=libraries.c.number))
            connection.rollback()

    def give_back_room(self) -> None:
        """The server does it itself."""

    @contextmanager
    def turn(self, of: str) -> Iterator[None]:
        """Hold something of the team's against every other process, until the block ends."""
        let_go = self._database.hold(f"{self.team} {of}")
        try:
            yield
        finally:
            let_go()

    def mark(self) -> LibraryMark | None:
        """Which library these rows are; None before anything was."""
        with self._engine.begin() as connection:
            row = connection.execute(select(libraries)).first()
        return LibraryMark(row.mark, row.number) if row else None

    def begin_library(self, mark: str) -> None:
        """Make the team's row, under a mark that its folder will hold too."""
        with self._writer.begin() as connection:
            connection.execute(insert(libraries).values(mark=mark, number=0))

    @contextmanager
    def filling(self) -> Iterator[Connection]:
        """One transaction that brings in many rows at once."""
        with self._writer.begin() as connection:
            yield connection

    def begin_within(self, connection: Connection, mark: str, *, number: int) -> None:
        """`begin_library` within a transaction of `filling`, with runs numbered on behind a number."""
        connection.execute(insert(libraries).values(mark=mark, number=number))

    @contextmanager
    def _change(self) -> Iterator[Change]:
        with self._writer.begin() as connection:
            yield Change(connection)

    def _places(self, connection: Connection, count: int) -> list[dict[str, int]]:
        behind = update(libraries).values(number=libraries.c.number + count).returning(libraries.c.number)
        last = connection.execute(behind).scalar_one()
        return [{"number": number} for number in range(last - count + 1, last + 1)]

    def _leave_place(self, connection: Connection, number: int) -> None:
        connection.execute(update(libraries).values(number=func.greatest(libraries.c.number, number)))

    def _unbounded(self) -> None:
        return None
