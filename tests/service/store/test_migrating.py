"""Databases of every released version come up to the newest with all that they hold, or stay as they were."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, create_engine

from passband.service.store import migrating, released_forms, schema
from passband.service.store.released_forms import FORMS, NEWEST, VERSION_TABLE
from passband.service.store.schema import check_database, metadata, open_database

RUNS = 1000
FILL = (
    "INSERT INTO cars VALUES ('car', 1)",
    "INSERT INTO car_versions VALUES ('car', 1, 'then', x'7b7d')",
    "INSERT INTO uploads VALUES ('up', 'key', 1000)",
    "INSERT INTO logs VALUES ('up', 0, 'run.csv', 'abc', 12)",
    "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 1000)"
    " INSERT INTO runs SELECT i, 'run' || i, 'up', i, 'car', 1, 'label', 'event', '', '', NULL, x'00', 1320, 'then',"
    " 'then', x'7b7d', x'7b7d', 'table' || i FROM n",
)
TABLES = ("cars", "car_versions", "uploads", "logs", "runs")


def released(path: Path, version: int, *statements: str) -> Path:
    """A database as a program of that version, which knew no Alembic, left it."""
    with closing(sqlite3.connect(path)) as made, made:
        for statement in (VERSION_TABLE, *FORMS[version - 1].values(), *statements):
            made.execute(statement)
        made.executemany("INSERT INTO schema_version VALUES (?)", [(n + 1,) for n in range(version)])
        if version > 1:
            made.execute("INSERT INTO progress VALUES (7)")
    return path


def rows(path: Path, *tables: str) -> dict[str, list[tuple]]:
    with closing(sqlite3.connect(path)) as found:
        return {table: found.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall() for table in tables}


def form(path: Path) -> dict[str, str]:
    with closing(sqlite3.connect(path)) as found:
        return dict(found.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'"))


@pytest.fixture
def further(tmp_path, monkeypatch):
    """A step after the newest, written by a test; `wanted` is what the database should look like then."""

    def add(body: str, **wanted: str) -> None:
        folder = tmp_path / "further"
        folder.mkdir()
        text = (
            f"from alembic import op\nrevision = 'next'\ndown_revision = '{NEWEST:04d}'\ndef upgrade():\n    {body}\n"
        )
        (folder / "next.py").write_text(text.replace("'next'", f"'{NEWEST + 1:04d}'"))
        monkeypatch.setattr(migrating, "FOLDERS", (*migrating.FOLDERS, folder))
        monkeypatch.setattr(released_forms, "FORMS", (*FORMS, {**FORMS[-1], **wanted}))
        monkeypatch.setattr(schema, "NEWEST", NEWEST + 1)

    return add


@pytest.mark.parametrize("version", range(1, NEWEST + 1))
def test_each_released_version_comes_up_with_all_its_rows(tmp_path, version):
    path = released(tmp_path / "library.sqlite", version, *FILL)
    before = rows(path, *TABLES)
    check_database(path)
    open_database(path).dispose()
    check_database(path)
    assert rows(path, *TABLES) == before and len(before["runs"]) == RUNS
    assert rows(path, "progress")["progress"] == [(7,) if version > 1 else (0,)]
    assert FORMS[-1].items() <= form(path).items()
    with closing(sqlite3.connect(path)) as found:
        assert found.execute("SELECT given FROM car_versions").fetchall() == [(b"{}",)]


def test_a_new_database_looks_as_the_newest_released_form_and_no_more(tmp_path):
    open_database(tmp_path / "new").dispose()
    there = form(tmp_path / "new")
    assert there.pop("alembic_version")
    assert there == {"schema_version": VERSION_TABLE, **FORMS[-1]}


def references(connection: Connection, table: str) -> set[tuple]:
    return {tuple(row[2:]) for row in connection.exec_driver_sql(f"PRAGMA foreign_key_list({table})")}


def test_the_tables_as_the_code_says_are_those_that_the_steps_make(tmp_path):
    def is_seen(_thing: object, _name: str | None, kind: str, _reflected: bool, _other: object) -> bool:
        return kind != "foreign_key_constraint"  # ON DELETE behind a column is not read back; compared below

    by_steps, by_code = open_database(tmp_path / "steps"), create_engine(f"sqlite:///{tmp_path / 'code'}")
    metadata.create_all(by_code)
    with by_steps.begin() as one, by_code.begin() as other:
        context = MigrationContext.configure(one, opts={"include_object": is_seen, "compare_server_default": True})
        assert compare_metadata(context, metadata) == []
        for table in metadata.tables:
            assert references(one, table) == references(other, table)
        assert references(one, "logs") == {("uploads", "upload_id", "id", "NO ACTION", "CASCADE", "NONE")}
    by_steps.dispose()
    by_code.dispose()


def test_the_steps_are_numbered_without_a_gap_up_to_the_newest():
    scripts = ScriptDirectory(str(migrating.FOLDERS[0]), version_locations=[str(migrating.FOLDERS[0])])
    assert [step.revision for step in scripts.walk_revisions()] == [f"{n:04d}" for n in range(NEWEST, 0, -1)]


def test_a_start_without_a_step_imports_no_alembic(tmp_path):
    path = tmp_path / "library.sqlite"
    open_database(path).dispose()
    told = f"import sys, pathlib; from passband.service.store import schema as s; p = pathlib.Path({str(path)!r})"
    after = "s.check_database(p); s.open_database(p).dispose(); print('alembic' in sys.modules)"
    got = subprocess.run([sys.executable, "-c", f"{told}; {after}"], capture_output=True, text=True, check=True)
    assert got.stdout.strip() == "False"


def test_a_further_step_is_taken_once_and_keeps_the_rows(tmp_path, further):
    path = released(tmp_path / "library.sqlite", NEWEST, "INSERT INTO cars VALUES ('a', 1)")
    made = "CREATE TABLE cars (id TEXT PRIMARY KEY, version INTEGER NOT NULL, colour TEXT)"
    further('op.execute("ALTER TABLE cars ADD COLUMN colour TEXT")', cars=made)
    for _ in range(2):
        open_database(path).dispose()
        assert rows(path, "cars", "alembic_version") == {
            "cars": [("a", 1, None)], "alembic_version": [(f"{NEWEST + 1:04d}",)],
        }  # fmt: skip
    assert rows(path, "schema_version")["schema_version"][-1] == (NEWEST + 1,)
    check_database(path)


def test_a_table_made_anew_does_not_drag_along_what_refers_to_it(tmp_path, further):
    # Logs go with their upload where references are held: dropping the old table would empty them
    path = released(tmp_path / "library.sqlite", NEWEST, *FILL)
    columns = "(id TEXT PRIMARY KEY, key TEXT NOT NULL UNIQUE, runs_found INTEGER NOT NULL, note TEXT)"
    steps = (f"CREATE TABLE anew {columns}", "INSERT INTO anew SELECT *, NULL FROM uploads", "DROP TABLE uploads",
             "ALTER TABLE anew RENAME TO uploads")  # fmt: skip
    further("; ".join(f"op.execute('{step}')" for step in steps), uploads=f'CREATE TABLE "uploads" {columns}')
    open_database(path).dispose()
    check_database(path)
    assert (len(rows(path, "logs")["logs"]), len(rows(path, "runs")["runs"])) == (1, RUNS)


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ('op.execute("ALTER TABLE cars ADD COLUMN colour TEXT"); op.execute("NO SUCH THING")', "syntax error"),
        ('op.execute("ALTER TABLE cars ADD COLUMN colour TEXT")', "its part cars would not be of our form"),
        ('op.execute("DELETE FROM uploads")', "a row would refer to one that is not there"),
    ],
)
def test_a_step_that_fails_leaves_the_old_database_as_it_was(tmp_path, further, body, why):
    path = released(tmp_path / "library.sqlite", NEWEST, *FILL)
    before = (form(path), rows(path, *TABLES, "schema_version"))
    further(body)
    with pytest.raises(Exception, match=why):
        open_database(path)
    assert (form(path), rows(path, *TABLES, "schema_version")) == before


KILLED = """
import os, pathlib, signal, sys
from sqlalchemy import Engine, event
from passband.service.store.schema import open_database
left = [int(sys.argv[2])]
def count(*_):
    left[0] -= 1
    if left[0] < 0:
        os.kill(os.getpid(), signal.SIGKILL)
event.listen(Engine, "before_cursor_execute", count)
event.listen(Engine, "commit", count)
open_database(pathlib.Path(sys.argv[1])).dispose()
"""


@pytest.mark.parametrize("version", range(1, NEWEST))
def test_a_start_killed_at_any_statement_of_a_step_leaves_the_old_version_or_the_new(tmp_path, version):
    # Planted: 1,000 runs; the kill is one that no program can catch, and the next start is whole.
    seen, statements = set(), 0
    while "done" not in seen:
        path = released(tmp_path / f"library{statements}.sqlite", version, *FILL)
        before = rows(path, *TABLES)
        killed = subprocess.run([sys.executable, "-c", KILLED, str(path), str(statements)], check=False).returncode
        check_database(path)
        seen.add({-signal.SIGKILL: "killed", 0: "done"}[killed])
        seen.add(len(rows(path, "schema_version")["schema_version"]))
        open_database(path).dispose()
        check_database(path)
        assert rows(path, *TABLES) == before and len(before["runs"]) == RUNS
        statements += 3  # every third: each costs a process
    assert seen == {"killed", "done", version, NEWEST}
