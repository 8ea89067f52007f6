"""The database's form: its tables as they stand, and the steps by which an older file gets there.

Public: the tables, `open_database`, `check_database`, `STEPS`.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    Engine,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    UniqueConstraint,
    create_engine,
    event,
)

from passband.service.store.faults import LibraryDamaged, LibraryInUse, damaged

metadata = MetaData()

cars = Table(
    "cars",
    metadata,
    Column("id", String, primary_key=True),
    Column("version", Integer, nullable=False),
)

car_versions = Table(
    "car_versions",
    metadata,
    Column("car_id", String, ForeignKey("cars.id"), primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("made_at", String, nullable=False),
    Column("told", LargeBinary, nullable=False),
)

uploads = Table(
    "uploads",
    metadata,
    Column("id", String, primary_key=True),
    Column("key", String, nullable=False, unique=True),
    Column("runs_found", Integer, nullable=False),
)

logs = Table(
    "logs",
    metadata,
    Column("upload_id", String, ForeignKey("uploads.id", ondelete="CASCADE"), primary_key=True),
    Column("n", Integer, primary_key=True),
    Column("name", String, nullable=False),
    Column("sha256", String, nullable=False, index=True),
    Column("bytes", Integer, nullable=False),
)

runs = Table(
    "runs",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("id", String, nullable=False, unique=True),
    Column("upload_id", String, ForeignKey("uploads.id"), nullable=False, index=True),
    Column("position", Integer, nullable=False),
    Column("car_id", String, index=True),
    Column("car_version", Integer),
    Column("label", String, nullable=False),
    Column("event", String, nullable=False, index=True),
    Column("round", String, nullable=False),
    Column("notes", String, nullable=False),
    Column("slip", LargeBinary),
    Column("air", LargeBinary),
    Column("finish_ft", Integer, nullable=False),
    Column("added_at", String, nullable=False),
    Column("reviewed_at", String, nullable=False),
    Column("summary", LargeBinary, nullable=False),
    Column("review", LargeBinary, nullable=False),
    Column("table_key", String, nullable=False, index=True),
    UniqueConstraint("upload_id", "position"),
    ForeignKeyConstraint(["car_id", "car_version"], ["car_versions.car_id", "car_versions.version"]),
    sqlite_autoincrement=True,
)

progress = Table("progress", metadata, Column("generation", Integer, nullable=False))
"""One row: how many changes were committed since the library was made."""

STEPS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE cars (id TEXT PRIMARY KEY, version INTEGER NOT NULL)",
        "CREATE TABLE car_versions (car_id TEXT NOT NULL REFERENCES cars (id), version INTEGER NOT NULL,"
        " made_at TEXT NOT NULL, told BLOB NOT NULL, PRIMARY KEY (car_id, version))",
        "CREATE TABLE uploads (id TEXT PRIMARY KEY, key TEXT NOT NULL UNIQUE, runs_found INTEGER NOT NULL)",
        "CREATE TABLE logs (upload_id TEXT NOT NULL REFERENCES uploads (id) ON DELETE CASCADE, n INTEGER NOT NULL,"
        " name TEXT NOT NULL, sha256 TEXT NOT NULL, bytes INTEGER NOT NULL, PRIMARY KEY (upload_id, n))",
        "CREATE INDEX ix_logs_sha256 ON logs (sha256)",
        "CREATE TABLE runs (number INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE,"
        " upload_id TEXT NOT NULL REFERENCES uploads (id), position INTEGER NOT NULL, car_id TEXT, car_version INTEGER,"
        " label TEXT NOT NULL, event TEXT NOT NULL, round TEXT NOT NULL, notes TEXT NOT NULL, slip BLOB, air BLOB,"
        " finish_ft INTEGER NOT NULL, added_at TEXT NOT NULL, reviewed_at TEXT NOT NULL, summary BLOB NOT NULL,"
        " review BLOB NOT NULL, table_key TEXT NOT NULL, UNIQUE (upload_id, position),"
        " FOREIGN KEY (car_id, car_version) REFERENCES car_versions (car_id, version))",
        "CREATE INDEX ix_runs_upload_id ON runs (upload_id)",
        "CREATE INDEX ix_runs_event ON runs (event)",
        "CREATE INDEX ix_runs_car_id ON runs (car_id)",
        "CREATE INDEX ix_runs_table_key ON runs (table_key)",
    ),
    (
        "CREATE TABLE progress (generation INTEGER NOT NULL)",
        "INSERT INTO progress VALUES (0)",
    ),
)
"""Each step takes the database from one version to the next; a step that was ever released is never changed."""

VERSION_TABLE = "CREATE TABLE schema_version (version INTEGER NOT NULL)"

BUSY_MS = 10_000
"""How long a writer waits for another before it gives up. [ms]"""
PRAGMAS = (
    "journal_mode = WAL",
    "synchronous = FULL",
    "foreign_keys = ON",
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
    versions = sorted(found.execute("SELECT version FROM schema_version")) if "schema_version" in there else []
    if [row[0] for row in versions] != list(range(1, len(versions) + 1)):
        return "its version cannot be read"
    _check_version(len(versions))
    with closing(sqlite3.connect(":memory:")) as wanted:
        wanted.execute(VERSION_TABLE)
        for statement in (one for step in STEPS[: len(versions)] for one in step):
            wanted.execute(statement)
        lacking = [name for name, sql in _form(wanted).items() if there.get(name) != sql]
    return f"its part {lacking[0]} is not of our form" if lacking else ""


def _form(database: sqlite3.Connection) -> dict[str, str]:
    rows = database.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")
    return {str(name): str(sql) for name, sql in rows}


def _check_version(version: int) -> None:
    if version > len(STEPS):
        raise SchemaError(
            f"The database is of version {version}; this program knows versions up to {len(STEPS)}. Use a newer one."
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
        If the file was written by a newer program.
    """
    engine = create_engine(f"sqlite:///{path}", connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    with engine.execution_options(writes=True).begin() as connection:
        _bring_up_to_date(connection)
    return engine


def _set_up(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # we begin transactions ourselves, see _begin
    for pragma in PRAGMAS:
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _bring_up_to_date(connection: Connection) -> None:
    if not connection.exec_driver_sql("SELECT 1 FROM sqlite_master WHERE name = 'schema_version'").scalar():
        connection.exec_driver_sql(VERSION_TABLE)
    stands = connection.exec_driver_sql("SELECT max(version) FROM schema_version").scalar() or 0
    _check_version(stands)
    for version, statements in enumerate(STEPS[stands:], start=stands + 1):
        for statement in statements:
            connection.exec_driver_sql(statement)
        connection.exec_driver_sql("INSERT INTO schema_version VALUES (?)", (version,))
