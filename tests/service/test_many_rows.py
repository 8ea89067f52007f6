"""A library of 10,000 runs is as quick to look through as a small one, and its events come by the page."""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from passband.service.app import create_app
from passband.service.store.records import NewReview
from tests.service.conftest import fake_read_log, fake_review, small_settings
from tests.service.many_rows import CARS, RUNS_AN_EVENT, fill_with_runs

RUNS = 10_000
REVIEW_BYTES = 5_000
"""More than a page of the database, as every real review is: what lies behind it costs a way through its pages."""
MOST_S = 0.08
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


def ways(many, question, **bound):
    """What SQLite itself says of its way through runs; SCAN is a walk over every row or every entry of an index."""
    with closing(sqlite3.connect(many.app.state.settings.data / "library.sqlite")) as found:
        steps = [step for *_, step in found.execute(f"EXPLAIN QUERY PLAN {question}", bound)]
    return [step for step in steps if " runs" in step]


def test_no_list_walks_all_runs(many):
    # Slow twin: the database's own plan.
    from passband.service.store import row_records

    bound = {"limit": 1, "after": "x", "walk": 9}
    for question in (row_records._EVENTS, row_records._EVENTS_BEHIND, row_records._NEAR, row_records._NEAR_BEHIND):
        assert not [step for step in ways(many, str(question), **bound) if "SCAN runs" in step]
    assert any("USING INTEGER PRIMARY KEY" in step for step in ways(many, str(row_records._NEAR), **bound))


@pytest.mark.parametrize(
    ("event", "car", "index"),
    [("Meet 7", None, "ix_runs_event"), (None, "c", "ix_runs_car_id"), ("Meet 7", "c", "ix_runs_event"),
     ("", "c", "ix_runs_")],
)  # fmt: skip
def test_runs_are_found_by_the_narrowest_index(many, event, car, index):
    # Slow twin: the database's own plan, of the very question that is asked.
    from sqlalchemy import event as listening

    asked = []
    records = many.app.state.library.records
    listening.listen(records._engine, "before_cursor_execute", lambda *told: asked.append(told[2:4]))
    records.find_runs(event=event, car=car, limit=9, after=None)
    if event and car:
        records.digests.keys(event=event, car=car)
    for question, values in [one for one in asked if one[0].startswith("SELECT")]:
        with closing(sqlite3.connect(many.app.state.settings.data / "library.sqlite")) as found:
            steps = [step for *_, step in found.execute(f"EXPLAIN QUERY PLAN {question}", values)]
        assert [step for step in steps if f"SEARCH runs USING INDEX {index}" in step], steps


def test_a_review_replaced_counts_no_rows(many):
    # Slow twin: every question that the change asks.
    from sqlalchemy import event as listening

    asked = []
    library = many.app.state.library
    run = library.records.find_runs(event="Meet 7", car=None, limit=1, after=None)[0]
    whole = library.records.run(run.id)
    again = NewReview(0, whole.details, whole.car, whole.summary, b"{}", whole.table_key, whole.reviewed_at)
    library.records.replace_review(run.id, again)  # the first change after a start counts
    listening.listen(library.records._engine, "before_cursor_execute", lambda *told: asked.append(told[2]))
    library.records.replace_review(run.id, again)
    assert asked and not [question for question in asked if "count(" in question]
    assert library.records.state() == replace(library.folder.ledger.state(), doubt="")  # rows put there by hand are one


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


def test_events_are_in_order_however_their_runs_lie_among_each_other(client, upload):
    # Hand: A came back last; C lies between; more runs of one event than are walked first for one page of one.
    for number, event in enumerate(("A", "B", "C", *["B"] * 33, "A")):
        assert upload(f"runs=1\n{number}".encode(), event=event).status_code == 201
    names, after = [], ""
    while len(names) < 9:
        told = client.get(f"/api/events?limit=1{after}").json()
        names += [one["name"] for one in told["events"]]
        if not told["next"]:
            break
        after = f"&after={told['next']}"
    assert names == ["A", "B", "C"]
