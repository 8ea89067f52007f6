"""A database server that is away: said in one form everywhere, with no word of where it is, and over when it is back.

Planted: a server of the test's own, ended and started again under a service that runs on.
"""

from __future__ import annotations

import logging
import time

import pytest
from starlette.testclient import TestClient

from passband.service.access.identity import Access
from passband.service.access.records import Role
from passband.service.access.teams import access_records, open_teams
from passband.service.app import create_app
from passband.service.cli import main
from passband.service.http.log_lines import LineFormatter
from passband.service.serving import serve
from tests.service.access.conftest import BROWSER, PASSWORD, cheap_hashes  # noqa: F401
from tests.service.conftest import small_settings
from tests.service.postgres_server import PASSWORD as HUSH
from tests.service.postgres_server import ROLE, started_server, why_none

READS = ("/api/runs", "/api/cars", "/api/events", "/health", "/ready", "/metrics")


@pytest.fixture
def server():
    if why_none():
        pytest.skip(why_none())
    with started_server() as started:
        yield started


@pytest.fixture
def settings(tmp_path, server):
    return small_settings(tmp_path, server.new_database())


def secrets_of(server) -> tuple[str, ...]:
    return (HUSH, str(server.folder), "of_test_", f'"{ROLE}"', "socket", "Traceback")


def assert_silent(server, caplog) -> None:
    """No line of the log, as it would be written, and no traceback of one, tells where the database is."""
    lines = [LineFormatter().format(record) for record in caplog.records if record.name == "passband"]
    assert [line for line in lines if "database" in line]
    assert not [line for line in lines for word in secrets_of(server) if word in line]


def send(client):
    return client.post("/api/runs", files=[("log", ("a.csv", b"runs=1", "text/csv"))], data={"details": "{}"})


def test_every_answer_says_so_and_the_service_goes_on_once_it_is_back(
    planted, server, settings, caplog, assert_problem, monkeypatch
):
    caplog.set_level(logging.INFO)
    monkeypatch.setattr("passband.service.readiness.HOLD_S", 0.0)
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        run = send(client).json()["runs"][0]["id"]
        assert [client.get(path).status_code for path in READS[:-1]] == [200] * 5
        server.control("stop", "-m", "immediate")
        for path in (*READS[:-1], f"/api/runs/{run}"):
            answer = client.get(path)
            body = assert_problem(answer, 503)
            assert not [word for word in secrets_of(server) if word in answer.text], body
        for answer in (send(client), client.delete(f"/api/runs/{run}"), client.post("/api/cars", json={"name": "A"})):
            assert assert_problem(answer, 503)["title"] == "Not ready" and "retry-after" in answer.headers
        page = client.get("/", headers=BROWSER)
        assert page.status_code == 503 and "database does not answer" in page.text
        assert int(client.get("/ready").headers["retry-after"]) == 5
        assert_silent(server, caplog)
        server.control("start")
        assert [client.get(path).status_code for path in READS[:-1]] == [200] * 5
        assert send(client).json()["runs"][0]["id"] == run
        assert client.delete(f"/api/runs/{run}").status_code in (200, 204)


def test_with_teams_the_door_says_so(planted, cheap_hashes, server, settings, caplog, assert_problem):  # noqa: F811
    assert open_teams(settings) is None
    with access_records(settings) as records:
        team = records.add_team("red", folder="", quota_bytes=None, now=0)
        person = Access(records).add_person("red owner", PASSWORD)
        records.set_role(team.id, person.id, Role.OWNER)
    with TestClient(create_app(settings), base_url="https://testserver", raise_server_exceptions=False) as client:
        signed = client.post(
            "/sign-in", data={"name": "red owner", "password": PASSWORD}, headers=BROWSER, follow_redirects=False
        )
        assert signed.status_code == 303 and client.get("/api/runs").status_code == 200
        server.control("stop", "-m", "immediate")
        for path in ("/api/runs", "/health", "/ready"):
            assert_problem(client.get(path), 503)
        assert client.get("/", headers=BROWSER).status_code == 503
        assert_silent(server, caplog)
        server.control("start")
        assert client.get("/api/runs").status_code == 200


def test_a_start_without_it_ends_with_a_sentence(server, settings, monkeypatch, capsys):
    server.control("stop", "-m", "immediate")
    monkeypatch.setenv("PASSBAND_DATABASE", settings.database.get_secret_value())
    assert serve(host="127.0.0.1", port=0, data=settings.data) == 2
    assert main(["access", "--data", str(settings.data), "list"]) == 2
    said = capsys.readouterr()
    assert said.err.count("database cannot be reached") == 2
    assert not [word for word in secrets_of(server) if word in said.err + said.out]
    server.control("start")


def test_jobs_that_look_while_it_is_away_say_so_in_a_line(planted, server, settings, caplog, monkeypatch):
    # Regression: each look, every two seconds, left a traceback of two hundred lines
    monkeypatch.setattr("passband.service.jobs.job_work.LOOK_S", 0.05)
    with TestClient(create_app(settings), raise_server_exceptions=False):
        server.control("stop", "-m", "immediate")
        while "a job could not be ended or taken" not in caplog.text:
            time.sleep(0.05)
        server.control("start")
    assert_silent(server, caplog)
