"""What is throttled: counted here where one service has the teams, in the database where several have them.

Hand: how many are let through and how long the next one waits follows from the times that are planted.
"""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import psycopg
import pytest

from passband.service.access.identity import Access
from passband.service.access.records import Role
from passband.service.access.teams import access_records
from passband.service.access.tries import Allowed, SharedTries, TooManyTries, TriesHere
from passband.service.settings import read_settings
from tests.service.access.conftest import PASSWORD

THREE = Allowed("knock", 3, 60)


@pytest.fixture
def clock():
    return [1_000_000.0]


@pytest.fixture
def settings(settings):
    return settings.model_copy(update={"uploads_a_minute": 2})


@pytest.fixture
def address(postgres_server):
    return postgres_server.new_database()


@pytest.fixture
def on_a_server(tmp_path, address):
    with access_records(read_settings({}, data=tmp_path, database=address)) as records:
        yield records


def test_the_fourth_waits_until_the_first_is_a_minute_old(on_a_server, clock):
    tries = SharedTries(on_a_server, lambda: clock[0])
    for _ in range(3):
        assert tries.hit(THREE, "Robin", "here") == 0
        clock[0] += 10
    assert tries.hit(THREE, "Robin", "here") == 30
    assert tries.hit(THREE, "Robin", "there") == tries.hit(Allowed("ring", 3, 60), "Robin", "here") == 0
    clock[0] += 29.9
    assert tries.hit(THREE, "Robin", "here") == 1
    clock[0] += 0.2
    assert tries.hit(THREE, "Robin", "here") == 0  # those that were turned away do not count
    assert tries.hit(THREE, "Robin", "here") == 10


def test_who_tried_before_the_clock_was_set_back_waits_no_longer_for_it(on_a_server, clock):
    # Hand: set back by half a minute the tries still count, and never for more than the minute; by two hours not at all
    tries = SharedTries(on_a_server, lambda: clock[0])
    for _ in range(3):
        tries.hit(THREE, "Robin")
    clock[0] -= 30
    assert tries.hit(THREE, "Robin") == 60
    clock[0] -= 7200
    assert tries.hit(THREE, "Robin") == 0


def test_counted_here_a_clock_set_back_locks_nobody_out(monkeypatch):
    tries, real = TriesHere(), time.time
    for _ in range(3):
        tries.hit(THREE, "Robin")
    assert tries.hit(THREE, "Robin") > 0
    monkeypatch.setattr(time, "time", lambda: real() - 7200)
    assert tries.hit(THREE, "Robin") == 0


def test_counted_here_the_fourth_waits_too():
    tries = TriesHere()
    assert [tries.hit(THREE, "Robin") for _ in range(3)] == [0, 0, 0]
    assert 1 <= tries.hit(THREE, "Robin") <= 60
    tries.forget(THREE, "Robin")
    assert tries.hit(THREE, "Robin") == 0


def test_who_is_turned_away_by_one_service_is_by_another(on_a_server, clock, cheap_hashes):
    one, other = (Access(on_a_server, clock=lambda: clock[0]) for _ in range(2))
    team = on_a_server.add_team("red", folder="", quota_bytes=None, now=0)
    on_a_server.set_role(team.id, one.add_person("Robin", PASSWORD).id, Role.OWNER)
    for number in range(10):
        assert (one, other)[number % 2].sign_in("Robin", "wrong", address="there") is None
    for service in (one, other):
        with pytest.raises(TooManyTries, match="wait 300 s"):
            service.sign_in("Robin", PASSWORD, address="there")
    clock[0] += 300
    assert other.sign_in("Robin", PASSWORD, address="there") is not None


def test_many_at_once_are_let_through_as_often_as_one_after_the_other(on_a_server, clock):
    tries = SharedTries(on_a_server, lambda: clock[0])
    with ThreadPoolExecutor(12) as many:
        waits = list(many.map(lambda _: tries.hit(THREE, "Robin"), range(12)))
    assert sorted(waits) == [0] * 3 + [60] * 9


def test_neither_name_nor_address_is_kept_and_old_tries_go(on_a_server, address, clock):
    tries = SharedTries(on_a_server, lambda: clock[0])
    tries.hit(THREE, "Robin", "192.0.2.7")
    with psycopg.connect(address) as rows:
        kept = rows.execute("SELECT * FROM tries").fetchall()
        assert len(kept) == 1 and "Robin" not in str(kept) and "192.0.2.7" not in str(kept)
    on_a_server.forget_ended(made_before=0, seen_before=0, now=int(clock[0]) + 3601)
    with psycopg.connect(address) as rows:
        assert rows.execute("SELECT count(*) FROM tries").fetchone() == (0,)


def test_a_team_that_uploads_too_often_is_told_when_to_come_again(house):
    def send(number, who):
        files = [("log", ("a.csv", b"runs=1\n%d" % number, "text/csv"))]
        return house.client.post("/api/runs", files=files, headers=house.cookie(who))

    assert [send(number, "red crew").status_code for number in range(2)] == [201, 201]
    turned_away = send(2, "red owner")
    assert turned_away.status_code == 429 and 1 <= int(turned_away.headers["retry-after"]) <= 60
    assert turned_away.headers["content-type"] == "application/problem+json"
    assert send(2, "blue crew").status_code == 201
