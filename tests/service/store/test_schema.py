"""The database's form: safe settings, looked through without a change, nothing newer opened."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from sqlalchemy.exc import IntegrityError

from passband.service.store.faults import LibraryDamaged
from passband.service.store.released_forms import NEWEST
from passband.service.store.schema import SchemaError, check_database, open_database


@pytest.fixture
def path(tmp_path):
    return tmp_path / "library.sqlite"


def test_every_connection_is_safe_against_a_power_cut(path):
    engine = open_database(path)
    with engine.begin() as one, engine.begin() as other:
        for connection in (one, other):
            got = [connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                   for name in ("journal_mode", "synchronous", "foreign_keys")]  # fmt: skip
            assert got == ["wal", 2, 1]  # 2 is FULL
    engine.dispose()


def test_opening_again_changes_nothing(path):
    for _ in range(2):
        open_database(path).dispose()
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT * FROM schema_version").fetchall() == [(n + 1,) for n in range(NEWEST)]


def test_a_newer_database_is_not_touched(path):
    open_database(path).dispose()
    with sqlite3.connect(path) as connection:
        connection.execute("INSERT INTO schema_version VALUES (99)")
    with pytest.raises(SchemaError, match="version 99"):
        open_database(path)


def test_a_run_without_its_upload_is_refused(path):
    engine = open_database(path)
    with pytest.raises(IntegrityError, match="FOREIGN KEY"), engine.begin() as connection:
        connection.exec_driver_sql("INSERT INTO logs VALUES ('nowhere', 0, 'x', 'y', 1)")
    engine.dispose()


def test_a_database_is_looked_through_without_a_change(path):
    check_database(path)  # none there
    open_database(path).dispose()
    before = path.read_bytes()
    check_database(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("statement", "why"),
    [
        ("DROP INDEX ix_runs_event", "ix_runs_event is not of our form"),
        ("DELETE FROM schema_version WHERE version = 1", "its version cannot be read"),
        ("UPDATE schema_version SET version = 'two' WHERE version = 2", "its version cannot be read"),
        ("UPDATE alembic_version SET version_num = '0001'", "its version cannot be read"),
        ("INSERT INTO logs VALUES ('nowhere', 0, 'x', 'y', 1)", "refers to one that is not there"),
    ],
)
def test_a_database_of_another_form_is_damaged(path, statement, why):
    open_database(path).dispose()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(statement)
    with pytest.raises(LibraryDamaged, match=why):
        check_database(path)


def test_a_newer_database_is_not_called_damaged(path):
    open_database(path).dispose()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("INSERT INTO schema_version VALUES (?)", (NEWEST + 1,))
        connection.execute("UPDATE alembic_version SET version_num = ?", (f"{NEWEST + 1:04d}",))
    with pytest.raises(SchemaError, match="Use a newer one"):
        check_database(path)


def test_what_is_no_database_is_damaged(path):
    path.write_bytes(b"no database" * 100)
    with pytest.raises(LibraryDamaged, match="not a database"):
        check_database(path)
