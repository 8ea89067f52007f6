"""The database: its tables as the code uses them, opened in their newest form and safe against a power cut.

Public: the tables, `open_database`, `check_database`, `SchemaError`.
"""

from __future__ import annotations

import sqlite3
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any, TypeAlias

from sqlalchemy import (
    BigInteger,
    Column,
    Connection,
    Engine,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    create_engine,
    event,
    text,
)

from passband.service.store.faults import LibraryDamaged, LibraryInUse, damaged
from passband.service.store.released_forms import NEWEST, lacking_part, version_fault

metadata = MetaData()
RowValues: TypeAlias = dict[str, Any]
"""What goes into a row, or is asked for, by column."""
LONG = Integer().with_variant(BigInteger(), "postgresql")
"""A whole number of up to 64 bits; SQLite's are so of themselves."""
# Nullable is what the released tables do not forbid in so many words, primary keys among it.

cars = Table(
    "cars",
    metadata,
    Column("id", Text, primary_key=True, nullable=True),
    Column("version", Integer, nullable=False),
)

car_versions = Table(
    "car_versions",
    metadata,
    Column("car_id", Text, ForeignKey("cars.id"), primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("made_at", Text, nullable=False),
    Column("given", LargeBinary, nullable=False),
)

uploads = Table(
    "uploads",
    metadata,
    Column("id", Text, primary_key=True, nullable=True),
    Column("key", Text, nullable=False, unique=True),
    Column("runs_found", Integer, nullable=False),
)

logs = Table(
    "logs",
    metadata,
    Column("upload_id", Text, ForeignKey("uploads.id", ondelete="CASCADE"), primary_key=True),
    Column("n", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("sha256", Text, nullable=False, index=True),
    Column("bytes", LONG, nullable=False),
)

runs = Table(
    "runs",
    metadata,
    Column("number", LONG, primary_key=True, nullable=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("upload_id", Text, ForeignKey("uploads.id"), nullable=False, index=True),
    Column("position", Integer, nullable=False),
    Column("car_id", Text, index=True),
    Column("car_version", Integer),
    Column("label", Text, nullable=False),
    Column("event", Text, nullable=False, index=True),
    Column("round", Text, nullable=False),
    Column("notes", Text, nullable=False),
    Column("slip", LargeBinary),
    Column("air", LargeBinary),
    Column("finish_ft", Integer, nullable=False),
    Column("added_at", Text, nullable=False),
    Column("reviewed_at", Text, nullable=False),
    Column("summary", LargeBinary, nullable=False),
    Column("review", LargeBinary, nullable=False),
    Column("table_key", Text, nullable=False, index=True),
    UniqueConstraint("upload_id", "position"),
    ForeignKeyConstraint(["car_id", "car_version"], ["car_versions.car_id", "car_versions.version"]),
    sqlite_autoincrement=True,
)

progress = Table("progress", metadata, Column("generation", Integer, nullable=False))
"""One row: how many changes were committed since the library was made."""

digests = Table(
    "digests",
    metadata,
    Column("run_id", Text, ForeignKey("runs.id", ondelete="CASCADE"), primary_key=True, nullable=True),
    Column("reviewed_at", Text, nullable=False),
    Column("form", Integer, nullable=False),
    Column("comparable", Integer, nullable=False),
    Column("figures", LargeBinary, nullable=False),
    Column("arrays", LargeBinary, nullable=False),
    Column("held_by", Text),
    Column("as_before", Integer),
    Column("held", LargeBinary),
)
"""Runs in few numbers: made of their reviews and tables, and made anew where one is missing or of another form."""

dates = Table(
    "dates",
    metadata,
    Column("run_id", Text, ForeignKey("runs.id", ondelete="CASCADE"), primary_key=True, nullable=True),
    Column("at", Text, nullable=False),
)
"""When runs were made, of those of which it was given."""

items = Table(
    "items",
    metadata,
    Column("id", Text, primary_key=True, nullable=True),
    Column("kind", Text, nullable=False),
    Column("car_id", Text),
    Column("made_at", Text, nullable=False),
    Column("gone", Integer, nullable=False),
    Column("given", LargeBinary, nullable=False),
)
"""What a user tells beside cars and runs: parts of a car, groups of runs."""

jobs = Table(
    "jobs",
    metadata,
    Column("number", LONG, primary_key=True, nullable=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("kind", Text, nullable=False),
    Column("rank", Integer, nullable=False),
    Column("key", Text, nullable=False),
    Column("parent", Text, ForeignKey("jobs.id", ondelete="CASCADE"), index=True),
    Column("state", Text, nullable=False),
    Column("stage", Text, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("lost", Integer, nullable=False),
    Column("holder", Text, nullable=False),
    Column("heard_at", Text, nullable=False),
    Column("due_at", Text, nullable=False),
    Column("put_at", Text, nullable=False),
    Column("ended_at", Text, nullable=False),
    Column("task", LargeBinary, nullable=False),
    Column("result", LargeBinary),
    sqlite_autoincrement=True,
)
"""Work that is kept until it is done, see `jobs`."""
_OPEN = text("state IN ('waiting', 'working')")
Index("ix_jobs_open", jobs.c.key, unique=True, sqlite_where=_OPEN, postgresql_where=_OPEN)
Index("ix_jobs_order", jobs.c.state, jobs.c.rank, jobs.c.number)

job_logs = Table(
    "job_logs",
    metadata,
    Column("job_id", Text, ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    Column("n", Integer, primary_key=True),
    Column("name", Text, nullable=False),
    Column("sha256", Text, nullable=False, index=True),
    Column("bytes", LONG, nullable=False),
)
"""Originals that a job has yet to review."""

new_reviews = Table(
    "new_reviews",
    metadata,
    Column("job_id", Text, ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    Column("run_id", Text, primary_key=True),
    Column("was", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("made_at", Text, nullable=False),
    Column("car_id", Text),
    Column("car_version", Integer),
    Column("summary", LargeBinary),
    Column("review", LargeBinary),
    Column("table_key", Text, nullable=False, index=True),
    Column("comparable", Integer),
    Column("figures", LargeBinary),
    Column("arrays", LargeBinary),
)
"""Reviews of a pass that is under way, beside those that stand."""

schema_version = Table("schema_version", metadata, Column("version", Integer, nullable=False))
"""One row a version, see `released_forms`."""

BUSY_MS = 10_000
"""How long a writer waits for another before it gives up. [ms]"""
PRAGMAS = (
    "journal_mode = WAL",
    "synchronous = FULL",
    f"busy_timeout = {BUSY_MS}",
    "temp_store = MEMORY",  # nothing is written anywhere but in the library's folder
    f"journal_size_limit = {4 * 1024 * 1024}",  # what one big change made of the log is given back at the next
)


class SchemaError(RuntimeError):
    """A database that this program cannot use; its text says why."""


def check_database(path: Path) -> None:
    """Look a database through without changing a byte of it.

    Parameters
    ----------
    path : Path
        The file; one that is missing or empty has nothing to look through.

    Raises
    ------
    SchemaError
        If the file was written by a newer program.
    LibraryDamaged
        If it cannot be read, its pages, indexes or references do not agree, or its tables are not of our form.
    """
    if not path.exists() or path.stat().st_size == 0:
        return
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_MS / 1000)) as found:
            fault = _fault(found)
    except sqlite3.DatabaseError as error:
        if "locked" in str(error):
            raise LibraryInUse("Another program holds the library's database; end it and start again.") from None
        fault = str(error)
    if fault:
        raise LibraryDamaged(damaged(fault))


def _fault(found: sqlite3.Connection) -> str:
    said = [row[0] for row in found.execute("PRAGMA integrity_check(3)")]
    if said != ["ok"]:
        return str(said[0]).replace("\n", ", ")
    if found.execute("PRAGMA foreign_key_check").fetchone():
        return "a row refers to one that is not there"
    there = _form(found)
    if not there:
        return ""
    versions, revisions = (
        [row[0] for row in found.execute(f"SELECT * FROM {name}")] if name in there else []
        for name in ("schema_version", "alembic_version")
    )
    if version_fault(versions, revisions):
        return "its version cannot be read"
    _check_version(len(versions))
    lacking = lacking_part(there, len(versions))
    return f"its part {lacking} is not of our form" if lacking else ""


def _form(database: sqlite3.Connection) -> dict[str, str]:
    rows = database.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")
    return {str(name): str(sql) for name, sql in rows}


def _check_version(version: int) -> None:
    if version > NEWEST:
        raise SchemaError(
            f"The database is of version {version}; this program knows versions up to {NEWEST}. Use a newer one."
        )


def open_database(path: Path) -> Engine:
    """Open the database, bring it to the newest form, and make it safe against a power cut.

    Parameters
    ----------
    path : Path
        The file; made if it is not there.

    Returns
    -------
    Engine
        Write-ahead log, each commit synced, foreign keys held. A connection begins its transaction at once as a
        writer where it is asked for with ``execution_options(writes=True)``.

    Raises
    ------
    SchemaError
        If the file was written by a newer program, or cannot be brought to the newest form.
    """
    engine = _engine(path, "foreign_keys = ON")
    with ExitStack() as undone:
        undone.callback(engine.dispose)
        with engine.begin() as connection:
            stands = _version(connection)
        _check_version(stands)
        if stands < NEWEST:
            _bring_up_to_date(path)
        undone.pop_all()
    return engine


def _engine(path: Path, references: str) -> Engine:
    def set_up(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we begin transactions ourselves, see _begin
        for pragma in (*PRAGMAS, references):
            connection.execute(f"PRAGMA {pragma}").close()

    engine = create_engine(f"sqlite:///{path}", connect_args={"check_same_thread": False})
    event.listen(engine, "connect", set_up)
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _version(connection: Connection) -> int:
    if not connection.exec_driver_sql("SELECT 1 FROM sqlite_master WHERE name = 'schema_version'").scalar():
        return 0
    return int(connection.exec_driver_sql("SELECT max(version) FROM schema_version").scalar() or 0)


def _bring_up_to_date(path: Path) -> None:
    """All steps that are due, in one transaction that ends in the newest form or is taken back."""
    from passband.service.store.migrating import migrate

    engine = _engine(path, "foreign_keys = OFF")  # a table made anew would drag along the rows that refer to it
    try:
        with engine.execution_options(writes=True).begin() as connection:
            migrate(connection, stands=_version(connection))
            _check_outcome(connection)
    finally:
        engine.dispose()


def _check_outcome(connection: Connection) -> None:
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master")
    lacking = lacking_part({str(name): str(sql) for name, sql in rows}, NEWEST)
    if lacking:
        fault = f"its part {lacking} would not be of our form"
    elif connection.exec_driver_sql("PRAGMA foreign_key_check").first():
        fault = "a row would refer to one that is not there"
    else:
        return
    raise SchemaError(f"The database cannot be brought to version {NEWEST}: {fault}. It stays as it was.")
