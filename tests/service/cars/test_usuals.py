"""The usual of an engine begins anew at a run that was told, on page and API, and can be taken back."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.runs.digest import digest_run
from passband.analysis.runs.kept_digest import keep_digest
from passband.service.answers import digests
from passband.service.cars.usuals import begun_at, usuals_of_car
from passband.service.reviewing.remembered import Remembered
from tests.analysis.runs.planted_engine import engine_run


@pytest.fixture
def car(client):
    return client.post("/api/cars", json={"name": "Heron"}).json()["id"]


@pytest.fixture
def runs(client, upload, car, monkeypatch):
    """Four runs of one planted engine."""
    sent = [upload(f"runs=1\n{n}\n".encode(), car=car, event="Harvest Meet", round=f"Q{n}") for n in range(4)]
    made = [one.json()["runs"][0] for one in sent]
    rng, kept = np.random.default_rng(3), client.app.state.library.records.digests
    for run in made:
        engine = digest_run(engine_run(run["id"], rng, noise=0.0018, wind=0.0))
        kept.keep(run["id"], run["reviewed_at"], keep_digest(engine))
    monkeypatch.setattr(digests, "_DIGESTS", Remembered(10))
    return [run["id"] for run in made]


def held_against(client):
    """How many runs each run of the event was held against."""
    found = client.get("/api/events/Harvest Meet/sheet").json()
    return [len(one["against"]) if one else 0 for one in found["same_engine"]], found


def test_each_run_goes_by_the_last_usual_told_before_it():
    # Hand
    assert begun_at(["a", "b", "c", "d"], {"b": "", "d": ""}) == ["", "b", "b", "d"]
    assert begun_at(["a", "b"], {"gone": ""}) == ["", ""]


def test_reference_runs_start_anew_and_taking_it_back_brings_them_back(client, car, runs):
    before, _ = held_against(client)
    assert before[0] == 0 and before[3] > 1
    told = client.put(f"/api/runs/{runs[2]}/usual", json={"notes": "new springs"})
    assert told.status_code == 200 and told.json()["run"] == runs[2]
    after, sheet = held_against(client)
    assert after[2] == 0 and after[3] == 1 and after[:2] == before[:2]
    assert sheet["new_usual"] == [None, None, "new springs", None]
    assert sheet["rows"][2]["changed"] == "new baseline: new springs"
    assert client.delete(f"/api/runs/{runs[2]}/usual").status_code == 204
    assert held_against(client)[0] == before


def test_told_twice_it_is_one_and_the_list_has_it(client, car, runs):
    for notes in ("springs", "springs and head"):
        client.put(f"/api/runs/{runs[1]}/usual", json={"notes": notes})
    (kept,) = client.get(f"/api/cars/{car}/usuals").json()["usuals"]
    assert (kept["run"], kept["notes"]) == (runs[1], "springs and head")
    assert client.put(f"/api/runs/{runs[1]}/usual", json=kept).json() == kept


def test_the_page_says_it_and_offers_to_take_it_back(client, car, runs):
    assert "Start a new baseline here" in client.get(f"/runs/{runs[1]}").text
    client.put(f"/api/runs/{runs[1]}/usual", json={"notes": "<head>"})
    page = client.get(f"/runs/{runs[1]}").text
    assert "New engine baseline from this run on: &lt;head&gt;" in page and "data-take-back" in page
    assert "Compared with runs from" in client.get(f"/runs/{runs[2]}").text


def test_what_cannot_be_is_said(client, upload, runs, assert_problem):
    lone = upload(b"runs=1\n77\n").json()["runs"][0]["id"]
    assert "names no car" in assert_problem(client.put(f"/api/runs/{lone}/usual", json={}), 422)["detail"]
    assert_problem(client.put("/api/runs/nobody/usual", json={}), 404)
    assert_problem(client.delete(f"/api/runs/{runs[0]}/usual"), 404)


def test_a_run_in_the_trash_is_no_new_usual_until_it_is_back(client, car, runs):
    client.put(f"/api/runs/{runs[2]}/usual", json={})
    client.delete(f"/api/runs/{runs[2]}")
    assert held_against(client)[0][-1] == 2
    (entry,) = client.get("/api/trash").json()["entries"]
    client.post(f"/api/trash/{entry['id']}")
    assert usuals_of_car(client.app.state.library, car) == {runs[2]: ""}
