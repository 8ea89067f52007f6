"""People and teams of a backup put into a database on a server.

Public: `send_people`.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine, create_engine, select

from passband.service.access.records import metadata, teams
from passband.service.store.archives import BackupError
from passband.service.store.sending_rows import copy_tables


def send_people(file: Path, engine: Engine) -> None:
    """Put the people and teams of a file into a database on a server.

    Parameters
    ----------
    file : Path
        Of a backup; only read.
    engine : Engine
        Of the server; its tables are there.

    Raises
    ------
    BackupError
        If other teams are there already; then nothing is changed.
    """
    source = create_engine(f"sqlite:///file:{file.absolute()}?immutable=1&uri=true")
    try:
        with source.begin() as read, engine.begin() as written:
            there = set(written.execute(select(teams.c.id)).scalars())
            if there and there != set(read.execute(select(teams.c.id)).scalars()):
                raise BackupError(
                    "The database on the server has teams already. The people and teams were not restored; name a "
                    "database that is empty in PASSBAND_DATABASE."
                )
            if not there:
                copy_tables(read, written, metadata.sorted_tables)
    finally:
        source.dispose()
