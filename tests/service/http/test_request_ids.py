"""Each question has an id: in its answer, in its problem, in each line of the log; and the log lets nothing out."""

from __future__ import annotations

import json
import logging
import re

import pytest
from starlette.testclient import TestClient

from passband.service import cli
from passband.service.app import create_app
from passband.service.http import log_lines
from passband.service.http.log_lines import JsonFormatter, LineFormatter
from passband.service.settings import SettingsError, read_settings
from tests.service.conftest import small_settings

MADE = re.compile(r"[0-9a-f]{16}")
TAKEN = {"X-Request-Id": "proxy-7.a_1"}


@pytest.mark.parametrize("path", ["/health", "/", "/static/passband.css", "/api/runs", "/nowhere", "/static/none"])
def test_an_id_that_was_brought_comes_back(client, path):
    assert client.get(path, headers=TAKEN).headers["x-request-id"] == "proxy-7.a_1"


@pytest.mark.parametrize("brought", ["", "x" * 65, "a b", "é".encode(), "-a", "a\tb", 'a"b', "<b>"])
def test_what_can_be_no_id_is_replaced_by_one_of_ours(client, brought):
    first, second = (client.get("/health", headers={"X-Request-Id": brought}).headers["x-request-id"] for _ in "12")
    assert MADE.fullmatch(first) and MADE.fullmatch(second) and first != second


def test_every_problem_names_its_question(client, assert_problem):
    for path, status in (("/nowhere", 404), ("/api/runs/none", 404), ("/api/runs?limit=0", 422)):
        answer = client.get(path, headers=TAKEN)
        assert assert_problem(answer, status)["request_id"] == answer.headers["x-request-id"] == "proxy-7.a_1"
    answer = client.get("/health", headers={"Host": "elsewhere.example", **TAKEN})
    assert assert_problem(answer, 421)["request_id"] == "proxy-7.a_1"


@pytest.fixture
def lines(planted, tmp_path, monkeypatch):
    """A service that logs JSON, and what it logged so far, each line read by itself."""

    class Kept(logging.Handler):
        def __init__(self):
            super().__init__()
            self.said = []

        def emit(self, record):
            self.said.append(self.format(record))

    kept = Kept()
    kept.setFormatter(JsonFormatter())
    kept.addFilter(lambda record: record.name.startswith("passband"))
    root = logging.getLogger()
    monkeypatch.setattr(root, "level", logging.INFO)
    logging.getLogger("passband").setLevel(logging.INFO)
    root.addHandler(kept)
    settings = small_settings(tmp_path).model_copy(update={"log_form": "json"})
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        kept.said.clear()
        yield client, kept.said
    root.removeHandler(kept)
    logging.getLogger("passband").setLevel(logging.NOTSET)


def test_a_question_is_a_line_with_its_route_and_no_more_of_it(lines):
    client, said = lines
    client.get("/api/runs/secretrun?units=secretquery", headers={**TAKEN, "Authorization": "Bearer secrettoken"})
    client.request("BREW", "/join/secretkey")
    client.head("/health")
    first, second, third = (json.loads(line) for line in said)
    told = {"text": "answered", "request": "proxy-7.a_1", "route": "/api/runs/{run_id}", "status": 404}
    assert told.items() <= first.items()
    assert (second["method"], second["route"], third["method"], third["route"]) == ("other", "none", "HEAD", "/health")
    assert first["seconds"] >= 0 and "secret" not in "".join(said)


def test_an_error_of_ours_is_one_line_under_the_same_id_as_its_answer(lines, monkeypatch):
    client, said = lines
    library = client.app.state.library
    monkeypatch.setattr(library.records, "find_runs", lambda **_: 1 / 0)
    answer = client.get("/api/runs", headers=TAKEN)
    assert answer.status_code == 500 and answer.headers["x-request-id"] == answer.json()["request_id"] == "proxy-7.a_1"
    events = [json.loads(line) for line in said]
    assert [event["request"] for event in events] == ["proxy-7.a_1"] * 2
    error = next(event for event in events if event["level"] == "ERROR")
    assert "ZeroDivisionError" in error["trace"] and answer.json()["reference"] in error["text"]


def test_an_upload_leaves_no_name_of_its_own_and_nothing_of_its_content_in_the_log(lines):
    client, said = lines
    for body in (b"runs=1\nsecretrow", b"secretrow"):
        client.post(
            "/api/runs", files=[("log", ("x.csv", body, "text/csv"))], data={"details": '{"notes": "secretnote"}'}
        )
    assert len(said) == 2 and "secret" not in "".join(said)


def test_a_line_of_json_is_ascii_and_one_line_whatever_stands_in_it():
    told = "ecu\r\nERROR x\u2028y\x85\x1b[2J é"
    line = JsonFormatter().format(logging.LogRecord("passband", logging.ERROR, "", 0, "%s", (told,), None))
    assert line.isascii() and len(line.splitlines()) == 1 and json.loads(line)["text"] == told


def test_plain_lines_name_the_question_too(monkeypatch):
    record = logging.LogRecord("passband", logging.INFO, "", 0, "hello", (), None)
    assert LineFormatter().format(record) == "INFO passband: hello"
    token = log_lines.request_id.set("a1")
    try:
        assert LineFormatter().format(record) == "INFO passband: hello (request a1)"
    finally:
        log_lines.request_id.reset(token)


def test_the_form_of_the_log_is_one_of_two(monkeypatch, capsys):
    with pytest.raises(SettingsError, match="PASSBAND_LOG_FORM must be 'text' or 'json', got 'xml'"):
        read_settings({"PASSBAND_LOG_FORM": "xml"})
    monkeypatch.setenv("PASSBAND_LOG_FORM", "xml")
    assert cli.main(["serve", "--port", "0"]) == 2
    assert "PASSBAND_LOG_FORM" in capsys.readouterr().err
