"""A library of 10,000 runs is as quick to look through as a small one, and its events come by the page."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing

import pytest
from fastapi.testclient import TestClient

from passband.service.app import create_app
from tests.service.conftest import fake_read_log, fake_review, small_settings
from tests.service.many_rows import CARS, RUNS_AN_EVENT, fill_with_runs

RUNS = 10_000
REVIEW_BYTES = 5_000
"""More than a page of the database, as every real review is: what lies behind it costs a way through its pages."""
MOST_S = 0.05
LAST = (RUNS - 1) // RUNS_AN_EVENT
MIDDLE, THIRD_CAR = f"{RUNS // 2:032x}", f"{3:032x}"
LISTS = (
    "/", "/?event=Meet 200", f"/?car={THIRD_CAR}", f"/?after={MIDDLE}", "/?events_after=Meet 200", "/cars",
    "/api/runs", "/api/runs?limit=200", "/api/runs?event=Meet 200", f"/api/runs?after={MIDDLE}",
    f"/api/runs?event=Meet 200&car={THIRD_CAR}", "/api/events?limit=200", "/api/events?after=Meet 200",
)  # fmt: skip


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """A service on so many runs; the settings are those of all tests."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("passband.analysis.reading.read_log", fake_read_log, raising=False)
        patched.setattr("passband.analysis.review.review", fake_review)
        settings = small_settings(tmp_path_factory.mktemp("many"))
        with TestClient(create_app(settings)) as client:
            sent = client.post("/api/runs", files=[("log", ("a.csv", b"runs=1\n", "text/csv"))])
            assert sent.status_code == 201
        fill_with_runs(settings.data / "library.sqlite", RUNS, review_bytes=REVIEW_BYTES)
        with TestClient(create_app(settings)) as client:
            yield client


def processor_s(client: TestClient, path: str) -> float:
    """Of the whole process: the client's own work is in it."""
    begun_s = time.process_time()
    assert client.get(path).status_code == 200
    return time.process_time() - begun_s


@pytest.mark.parametrize("path", LISTS)
def test_a_list_among_many_runs_takes_little_of_the_processor(many, path):
    # Of five looks the quickest: others share the machine. A first look also loads the pages' templates.
    assert min(processor_s(many, path) for _ in range(5)) < MOST_S


def test_no_list_walks_all_runs(many, tmp_path):
    # Slow twin: what SQLite itself says of its way; SCAN is a walk over every row or every entry of an index.
    from passband.service.store import row_records

    questions = [str(row_records._EVENTS), str(row_records._EVENTS_BEHIND)]
    with closing(sqlite3.connect(many.app.state.settings.data / "library.sqlite")) as found:
        for question in questions:
            steps = found.execute(f"EXPLAIN QUERY PLAN {question}", {"limit": 1, "after": "x"}).fetchall()
            assert not [step for *_, step in steps if "SCAN runs" in step]


def test_events_come_by_the_page_in_the_order_of_their_newest_runs(many):
    # Planted: the events' names are numbered in the order in which they came.
    names: list[str] = []
    address = "/api/events?limit=150"
    while address:
        told = many.get(address).json()
        names += [event["name"] for event in told["events"]]
        address = f"/api/events?limit=150&after={told['next']}" if told["next"] else ""
    assert names == [f"Meet {n}" for n in range(LAST, -1, -1)]


def test_the_start_page_offers_events_by_the_hundred_and_the_chosen_one(many):
    first = many.get("/").text
    assert first.count("<option>Meet ") == 100 and f'href="/?events_after=Meet%20{LAST - 99}#h-runs"' in first
    older = many.get(f"/?events_after=Meet {LAST - 99}").text
    assert f"<option>Meet {LAST - 100}</option>" in older and f"<option>Meet {LAST - 99}</option>" not in older
    assert "<option selected>Meet 3</option>" in many.get("/?event=Meet 3").text
    assert "Older events" not in many.get("/?events_after=Meet 50").text


def test_what_is_asked_of_events_wrongly_is_refused(client, assert_problem):
    assert client.get("/api/events").json() == {"events": [], "next": None}
    assert_problem(client.get("/api/events?after=Nowhere"), 404)
    assert_problem(client.get("/api/events?limit=0"), 422)
    assert "ask for 200 at most" in assert_problem(client.get("/api/events?limit=201"), 422)["detail"]


def test_an_event_is_placed_by_its_newest_run_and_one_without_a_name_is_none(client, upload):
    for number, event in enumerate(("A", "B", "", "A")):
        assert upload(f"runs=1\n{number}".encode(), event=event).status_code == 201
    assert client.get("/api/events").json()["events"] == [{"name": "A"}, {"name": "B"}]
    assert client.get("/api/events?limit=1").json() == {"events": [{"name": "A"}], "next": "A"}
    assert client.get("/api/events?limit=1&after=A").json() == {"events": [{"name": "B"}], "next": None}


def test_the_rows_are_what_they_say(many):
    runs = many.get(f"/api/runs?car={THIRD_CAR}&limit=200").json()
    assert len(runs["runs"]) == 200 and {run["car"]["id"] for run in runs["runs"]} == {THIRD_CAR}
    assert int(runs["runs"][0]["id"], 16) == RUNS - CARS + 3
