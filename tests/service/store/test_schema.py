"""The database's form: safe settings, steps from version to version, nothing newer opened."""

from __future__ import annotations

import sqlite3

import pytest
from sqlalchemy import inspect
from sqlalchemy.exc import IntegrityError

from passband.service.store import schema
from passband.service.store.schema import STEPS, SchemaError, metadata, open_database


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


def test_the_steps_lead_to_the_tables_that_the_code_uses(path):
    engine = open_database(path)
    made = inspect(engine)
    for table in metadata.sorted_tables:
        there = {column["name"]: column["nullable"] for column in made.get_columns(table.name)}
        wanted = {column.name: column.nullable for column in table.columns if not column.primary_key}
        assert {name: there[name] for name in wanted} == wanted
        assert set(there) == {column.name for column in table.columns}
    engine.dispose()


def test_opening_again_changes_nothing(path):
    for _ in range(2):
        open_database(path).dispose()
    assert sqlite3.connect(path).execute("SELECT * FROM schema_version").fetchall() == [
        (n + 1,) for n in range(len(STEPS))
    ]


def test_a_further_step_is_taken_once_and_keeps_the_rows(path, monkeypatch):
    engine = open_database(path)
    with engine.begin() as connection:
        connection.exec_driver_sql("INSERT INTO cars VALUES ('a', 1)")
    engine.dispose()
    monkeypatch.setattr(schema, "STEPS", (*STEPS, ("ALTER TABLE cars ADD COLUMN colour TEXT",)))
    engine = open_database(path)
    with engine.begin() as connection:
        assert connection.exec_driver_sql("SELECT * FROM cars").all() == [("a", 1, None)]
    engine.dispose()


def test_a_step_that_fails_half_way_leaves_the_old_form(path, monkeypatch):
    open_database(path).dispose()
    monkeypatch.setattr(schema, "STEPS", (*STEPS, ("ALTER TABLE cars ADD COLUMN colour TEXT", "NO SUCH THING")))
    with pytest.raises(Exception, match="syntax error"):
        open_database(path)
    columns = [row[1] for row in sqlite3.connect(path).execute("PRAGMA table_info(cars)")]
    assert columns == ["id", "version"]


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
