"""A library's rows opened where the settings say, and held against its folder before anything is done with either.

Public: `open_records`, `open_on_server`.
"""

from __future__ import annotations

from contextlib import ExitStack

from passband.service.settings import Settings
from passband.service.store.claiming import claim, team_of
from passband.service.store.faults import MEND
from passband.service.store.folder import LibraryFolder
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.row_records import RowRecords
from passband.service.store.schema import check_database
from passband.service.store.settling import note_doubt, settle
from passband.service.store.soundness import Condition, Doubt, look_at
from passband.service.store.sqlite_records import SqliteRecords
from passband.service.store.sweeping import log_older, sweep

HOME = "home"
"""Names, among the teams, whoever has the data folder itself: a service without teams, and the first team."""
BROUGHT_BACK = f"bring a newer backup of the server back, or send again the logs that `{MEND}` then names."


def open_records(
    folder: LibraryFolder, settings: Settings, *, database: PostgresDatabase | None = None, team: str = ""
) -> tuple[RowRecords, Condition]:
    """The rows of a library, and whether they are all that is kept.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    settings : Settings
        In force; `database` says where the rows are.
    database : PostgresDatabase, optional
        Open, where it is shared with other libraries.
    team : str
        Whose rows, where teams share a database; empty for the team that the folder is marked as, or else for whoever
        has the data folder itself.

    Returns
    -------
    tuple of RowRecords and Condition
        Closing the records lets go of a database that was opened here.

    Raises
    ------
    LibraryDamaged, SchemaError
        If the database cannot be used; nothing was touched.
    RowsElsewhere
        If the database on the server is not the one of this folder.
    """
    if not settings.database:
        return _in_file(folder, settings)
    return open_on_server(folder, settings, database=database, team=team)


def open_on_server(
    folder: LibraryFolder, settings: Settings, *, database: PostgresDatabase | None = None, team: str = ""
) -> tuple[PostgresRecords, Condition]:
    """The rows of a library that the settings' address leads to; parameters, what is returned and raised as above."""
    shared = database or PostgresDatabase(settings.database.get_secret_value())
    with ExitStack() as undone:
        if database is None:
            undone.callback(shared.close)
        records = PostgresRecords(shared, team or team_of(folder) or HOME, owned=database is None)
        condition = _claimed(folder, records, settings)
        undone.pop_all()
    return records, condition


def _in_file(folder: LibraryFolder, settings: Settings) -> tuple[SqliteRecords, Condition]:
    check_database(folder.database)
    with ExitStack() as undone:
        records = SqliteRecords(folder.database, folder.ledger)
        undone.callback(records.close)
        found = look_at(folder, records)
        if found.condition.doubt is None:
            settle(folder, records, found, trash_days=settings.trash_days)
        note_doubt(folder, records, found)
        undone.pop_all()
    return records, found.condition


def _claimed(folder: LibraryFolder, records: PostgresRecords, settings: Settings) -> Condition:
    if claim(folder, records):
        sweep(folder, records, trash_days=settings.trash_days)
        return Condition(None, 0, 0)
    keys = list(folder.originals.keys())
    condition = Condition(Doubt.OLDER, 0, len(set(keys) - records.keys_in_use(keys)), BROUGHT_BACK)
    log_older(condition.text)
    return condition
