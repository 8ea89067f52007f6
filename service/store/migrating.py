"""An older database brought to the newest form by Alembic, whole or not at all.

Imported only where a step is due: a start without one does not pay for it.

Public: `migrate`, `migrate_server`.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext, MigrationInfo
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text

from passband.service.store.released_forms import VERSION_TABLE, revision_of

logging.getLogger("alembic").setLevel(logging.WARNING)  # it tells of transactions as if it held them; we do

FOLDERS = (Path(__file__).parent / "migrations",)
SERVER_FOLDER = Path(__file__).parent / "postgres_migrations"


def migrate(connection: Connection, *, stands: int) -> None:
    """Take every step that a database has not taken yet.

    Parameters
    ----------
    connection : Connection
        In a transaction that the caller commits, or takes back where a step fails; references are not held in it,
        so that a step may make a table anew.
    stands : int
        The database's version; 0 for a new one.
    """
    scripts = ScriptDirectory(str(FOLDERS[0]), version_locations=[str(folder) for folder in FOLDERS])

    def due(heads: Any, _context: MigrationContext) -> Any:
        return scripts._upgrade_revs("head", heads)

    environment = EnvironmentContext(Config(), scripts, fn=due)
    environment.configure(connection=connection, on_version_apply=_tell_older_programs)
    if stands:
        environment.get_context().stamp(scripts, revision_of(stands))
    else:
        connection.exec_driver_sql(VERSION_TABLE.replace("TABLE", "TABLE IF NOT EXISTS", 1))
    environment.run_migrations()


def migrate_server(connection: Connection) -> None:
    """Take every step that a PostgreSQL database has not taken yet; Alembic's own table says which it has.

    Parameters
    ----------
    connection : Connection
        In a transaction that the caller commits.
    """
    scripts = ScriptDirectory(str(SERVER_FOLDER), version_locations=[str(SERVER_FOLDER)])
    environment = EnvironmentContext(Config(), scripts, fn=lambda heads, _: scripts._upgrade_revs("head", heads))
    environment.configure(connection=connection)
    environment.run_migrations()


def _tell_older_programs(
    ctx: MigrationContext, step: MigrationInfo, heads: Collection[Any], run_args: Mapping[str, Any]
) -> None:
    ctx.impl.execute(
        text("INSERT INTO schema_version VALUES (:version)").bindparams(version=int(step.up_revision_ids[0]))
    )
