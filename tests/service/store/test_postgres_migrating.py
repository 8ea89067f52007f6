"""A database on a server brought up from each released version with a thousand runs, also where it is killed midway.

Planted: the rows are put by SQL alone, and read by it before and after.
"""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from contextlib import closing

import psycopg
import pytest

from passband.service.store import postgres_form
from passband.service.store.postgres import PostgresDatabase

RELEASED = {"0001": ("FIRST",), "0002": ("FIRST", "SECOND")}
NOW = "0003"
FILL = """
INSERT INTO libraries (mark, number) VALUES ('m', 1000);
INSERT INTO cars (id, version) VALUES ('car', 1);
INSERT INTO car_versions (car_id, version, made_at, given) VALUES ('car', 1, '2026-01-01', '\\x7b7d');
INSERT INTO uploads (id, key, runs_found) SELECT 'upload' || n, 'key' || n, 1 FROM generate_series(1, 500) n;
INSERT INTO logs (upload_id, n, name, sha256, bytes) SELECT 'upload' || n, 0, 'ecu.csv', md5(n::text), n
    FROM generate_series(1, 500) n;
INSERT INTO runs (number, id, upload_id, position, car_id, car_version, label, event, round, notes, finish_ft, added_at,
                  reviewed_at, summary, review, table_key)
    SELECT n, 'run' || n, 'upload' || n, 0, 'car', 1, 'label ' || n, 'Home', 'Q1', '', 1320, '2026', '2026',
           '\\x7b7d', decode(md5(n::text), 'hex'), md5(n::text) FROM generate_series(1, 500) n;
"""
"""500 runs, once for each of two teams."""
KILLED = """
import sys
from passband.service.store import postgres_form
from passband.service.store.postgres import PostgresDatabase
postgres_form.THIRD = (*postgres_form.THIRD, "SELECT pg_sleep(2) AS midway")
PostgresDatabase(sys.argv[1]).close()
"""


@pytest.fixture(params=sorted(RELEASED))
def released(request, postgres_server):
    address = postgres_server.new_database()
    with psycopg.connect(address) as rows:
        for name in RELEASED[request.param]:
            for statement in getattr(postgres_form, name):
                rows.execute(statement)
        rows.execute("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)")
        rows.execute("INSERT INTO alembic_version VALUES (%s)", [request.param])
        for team in ("red", "blue"):
            rows.execute("SELECT set_config('passband.team', %s, true)", [team])
            for statement in FILL.split(";\n"):
                rows.execute(statement) if statement.strip() else None
    return request.param, address


def kept(address: str) -> dict[str, list[tuple]]:
    """Every row of either team."""
    found = {}
    with psycopg.connect(address) as rows:
        for team in ("red", "blue"):
            rows.execute("SELECT set_config('passband.team', %s, true)", [team])
            for table in ("libraries", "cars", "car_versions", "uploads", "logs", "runs"):
                found[f"{team} {table}"] = rows.execute(f"SELECT * FROM {table} ORDER BY 2, 3").fetchall()
    return found


def version(address: str) -> str:
    with psycopg.connect(address) as rows:
        return rows.execute("SELECT version_num FROM alembic_version").fetchone()[0]


def test_every_row_of_a_released_version_is_there_in_the_newest(released):
    _, address = released
    before = kept(address)
    assert len(before["red runs"]) + len(before["blue runs"]) == 1000
    with closing(PostgresDatabase(address)):
        pass
    assert version(address) == NOW and kept(address) == before


def test_one_that_is_killed_midway_stays_as_it_was_and_the_next_start_brings_it_up(released):
    was, address = released
    before = kept(address)
    with subprocess.Popen([sys.executable, "-c", KILLED, address]) as starting:
        asked = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND query LIKE '%midway%'" \
                " AND pid <> pg_backend_pid()"  # fmt: skip
        until = time.monotonic() + 60
        with psycopg.connect(address, autocommit=True) as rows:
            while not rows.execute(asked).fetchone()[0] and time.monotonic() < until:
                time.sleep(0.02)
        starting.send_signal(signal.SIGKILL)
        assert starting.wait(10) == -signal.SIGKILL
    assert version(address) == was and kept(address) == before
    with closing(PostgresDatabase(address)):
        pass
    assert version(address) == NOW and kept(address) == before
