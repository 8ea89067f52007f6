"""Bench sheets kept with a car: one of each kind, replaced ones not lost, laid beside a run unasked. Planted tables."""

from __future__ import annotations

import pytest

FLOW = "Depression,28 inH2O\nValve diameter,33 mm\n\nLift (mm),Intake flow (cfm)\n2,60\n4,120\n6,170\n"
CURVE = "rpm,power (hp)\n5000,400\n6000,480\n7000,500\n"


@pytest.fixture
def car(client):
    return client.post("/api/cars", json={"name": "Heron"}).json()["id"]


def keep(client, car, **told):
    return client.post(f"/api/cars/{car}/sheets", json={"what": "flow_sheet", "name": "head.csv", "text": FLOW} | told)


def kept(client, car):
    return client.get(f"/api/cars/{car}/sheets").json()["sheets"]


def test_a_sheet_of_a_kind_takes_the_place_of_the_one_before(client, car):
    first = keep(client, car).json()
    assert keep(client, car).json()["id"] == first["id"]  # the same again is not kept twice
    second = keep(client, car, text=FLOW.replace("170", "175")).json()
    assert [one["id"] for one in kept(client, car)] == [second["id"]]
    assert client.delete(f"/api/sheets/{second['id']}").status_code == 204
    assert kept(client, car) == []


def test_what_is_no_such_sheet_is_refused_in_words(client, car, assert_problem):
    wrong = keep(client, car, what="dynamometer")
    assert wrong.status_code == 422 and "needs a column 'rpm'" in wrong.json()["detail"]
    assert keep(client, "f" * 32).status_code == 404
    assert client.delete(f"/api/sheets/{'f' * 32}").status_code == 404


def test_a_run_takes_the_sheets_of_its_car(client, car, upload):
    run = upload(b"runs=1\n1", car=car).json()["runs"][0]["id"]
    assert client.post(f"/api/runs/{run}/bench", json={}).status_code == 422
    keep(client, car)
    keep(client, car, what="flow_sheet_before", text=FLOW.replace("170", "160"))
    laid = client.post(f"/api/runs/{run}/bench", json={}).json()
    # By hand: 170 over 160 at the highest lift, nothing else; 6.25 % over three lifts is 2.1 %
    assert laid["head_change"]["figures"]["rows"][-1]["intake"] == pytest.approx(170.0 / 160.0)
    assert "+2.1 %" in laid["head_change"]["print"]
    sent = client.post(f"/api/runs/{run}/bench", json={"flow_sheet": FLOW}).json()
    assert sent["head_change"] is None  # what is sent stands alone


def test_the_parts_page_names_them(client, car):
    keep(client, car, what="dynamometer", text=CURVE, name="pull 3.csv")
    page = client.get(f"/cars/{car}/parts", headers={"Accept": "text/html"}).text
    assert "Dynamometer" in page and "pull 3.csv" in page
