"""Two services on one database and one folder, one of them killed amid uploads: nothing that was acknowledged is lost.

Planted: the kill is one that no program can catch; what was acknowledged is read back from the other, byte for byte.
"""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import psycopg
import pytest

from tests.service.real_server import Server, short_log

FIRST = 2
"""Logs that the one that is killed acknowledges before."""
AMID_S = 0.4
"""So long after another log was sent to it it is killed: its review takes longer. [s]"""


@pytest.fixture
def two(tmp_path, postgres_server):
    address = postgres_server.new_database()
    data, ways = tmp_path / "data", {"PASSBAND_DATABASE": address}
    one, other = (Server(data, environment={**ways, "TEST_SERVER_LOG": str(tmp_path / name)}) for name in ("1", "2"))
    one.start()
    other.start()
    yield one, other, address
    one.stop()
    other.stop()


def ids(server: Server) -> set[str]:
    return {run["id"] for run in server.ask("GET", "/api/runs").told["runs"]}


def test_what_one_acknowledged_before_it_was_killed_the_other_shows_whole(two):
    one, other, address = two
    sent = {}
    for n in range(FIRST):
        answer = one.send(short_log(n))
        assert answer.status == 201
        sent[answer.told["runs"][0]["id"]] = short_log(n)
    with ThreadPoolExecutor(2) as pool:
        cut_off, beside = pool.submit(one.send, short_log(FIRST)), pool.submit(other.send, short_log(FIRST + 1))
        time.sleep(AMID_S)
        one.kill()
        assert beside.result().status == 201
        sent[beside.result().told["runs"][0]["id"]] = short_log(FIRST + 1)
        if cut_off.exception() is None:
            sent[cut_off.result().told["runs"][0]["id"]] = short_log(FIRST)
    assert set(sent) <= ids(other) and len(ids(other)) <= len(sent) + 1
    for run, log in sent.items():
        assert other.ask("GET", f"/api/runs/{run}/logs/0").body == log
        assert other.ask("GET", f"/api/runs/{run}/traces").status == 200
    assert other.send(short_log(FIRST)).status in (200, 201)  # what the killed one held is free
    one.start()
    assert ids(one) == ids(other) and len(ids(one)) == FIRST + 2
    with psycopg.connect(address) as connection:
        assert connection.execute("SELECT count(*) FROM pg_locks WHERE locktype = 'advisory'").fetchone() == (0,)
