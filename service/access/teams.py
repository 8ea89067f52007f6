"""Access and the teams' libraries opened together, where access is set up.

Public: `Teams`, `open_teams`, `is_set_up`, `access_records`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

from filelock import FileLock

from passband.service.access.identity import Access, access_file
from passband.service.access.libraries import TeamLibraries
from passband.service.access.records import AccessRecords
from passband.service.access.teams_told import check_not_lost, tell_teams
from passband.service.bytes_kept import Kept, kept_by
from passband.service.settings import Settings
from passband.service.store.faults import RowsElsewhere
from passband.service.store.folder import hold_folder
from passband.service.store.postgres import PostgresDatabase

SERVED = "served.lock"
"""Held while the teams of a folder are served; each library has a lock of its own, taken when its team comes."""


@dataclass(frozen=True, slots=True)
class Teams:
    """Who may, and what they may it with."""

    access: Access
    libraries: TeamLibraries
    database: PostgresDatabase | None = None
    """Where the rows of all are, if on a server."""
    held: FileLock | None = None
    """The folder of all, held against other servers where its rows are in files."""

    def kept(self) -> list[Kept]:
        """How much each team keeps and may keep; what one keeps is known while its library is open."""
        there = self.libraries.open_ones()
        return [kept_by(team.name, there.get(team.id), team.quota_bytes) for team in self.access.records.all_teams()]

    def open_with_work(self) -> None:
        """Open the libraries in which jobs wait, before anybody of their teams comes."""
        self.libraries.open_with_work(self.access.records.all_teams())

    def close(self) -> None:
        """Close the libraries, then the records."""
        self.libraries.close()
        self.access.records.close()
        if self.database is not None:
            self.database.close()
        if self.held is not None:
            self.held.release()


def open_teams(settings: Settings) -> Teams | None:
    """The teams of a data folder, or of a database on a server.

    Parameters
    ----------
    settings : Settings
        In force.

    Returns
    -------
    Teams or None
        None where access was never set up: then whoever reaches the service may do everything.

    Raises
    ------
    SchemaError
        If the database on a server cannot be used.
    RowsElsewhere
        If the teams are in a file in the folder, though the settings name a server.
    AccessLost
        If there were teams, and their people are gone: then nobody is let in.
    LibraryDamaged
        If that file is damaged.
    LibraryInUse
        If another server holds the folder, and the rows are in files.
    """
    if not is_set_up(settings):
        return None
    if not settings.database:
        with ExitStack() as unless_open:
            held = hold_folder(settings.data, name=SERVED)
            unless_open.callback(held.release)
            records = AccessRecords(access_file(settings.data))
            tell_teams(settings.data, records.folders())
            unless_open.pop_all()
        return Teams(Access(records), TeamLibraries(settings), held=held)
    database = PostgresDatabase(settings.database.get_secret_value())
    records = AccessRecords(database.engine)
    tell_teams(settings.data, records.folders())
    return Teams(Access(records), TeamLibraries(settings, database=database), database)


def is_set_up(settings: Settings) -> bool:
    """Whether there are teams; raises as `open_teams`."""
    if settings.database:
        with access_records(settings) as records:
            there = bool(records.all_teams())
    else:
        there = access_file(settings.data).exists()
    if not there:
        check_not_lost(settings.data)
    return there


@contextmanager
def access_records(settings: Settings) -> Iterator[AccessRecords]:
    """The records of people and teams, open for a while; made where there are none. Raises as `open_teams`."""
    path = access_file(settings.data)
    with ExitStack() as closing:
        if settings.database and path.exists():
            raise RowsElsewhere(
                f"People and teams are kept in {path}, and PASSBAND_DATABASE names a server, where none are. Take the "
                "setting away, or give the library on the server a data folder of its own."
            )
        if settings.database:
            database = PostgresDatabase(settings.database.get_secret_value())
            closing.callback(database.close)
            yield AccessRecords(database.engine)
        else:
            records = AccessRecords(path)
            closing.callback(records.close)
            yield records
