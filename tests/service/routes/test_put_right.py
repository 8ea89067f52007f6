"""Many runs put right at once over HTTP, and that taken back: nothing is lost on the way."""

from __future__ import annotations

import pytest

HTML = {"Accept": "text/html"}


@pytest.fixture
def cars(client):
    return [client.post("/api/cars", json={"name": name}).json()["id"] for name in ("Heron", "Otter")]


@pytest.fixture
def runs(upload, cars):
    sent = [upload(f"runs=1\n{n}\n".encode(), car=cars[0], event="Harvest Meet", round=f"Q{n}") for n in range(3)]
    return [one.json()["runs"][0]["id"] for one in sent]


def put_right(client, runs, **change):
    return client.post("/api/put-right", json={"runs": runs, "change": change})


def said(client, runs, key="car"):
    found = [client.get(f"/api/runs/{run}").json()[key] for run in runs]
    return [one["id"] for one in found] if key == "car" else found


def test_a_wrong_car_is_put_right_of_all_runs_and_taken_back(client, cars, runs):
    put = put_right(client, runs, car=cars[1], finish_ft=660)
    assert put.status_code == 200 and [one["changed"] for one in put.json()["turned"]] == [True] * 3
    assert (said(client, runs), said(client, runs, "finish_ft")) == ([cars[1]] * 3, [660] * 3)
    assert said(client, runs, "round") == ["Q0", "Q1", "Q2"]
    assert [one["id"] for one in client.get("/api/put-right").json()["put_right"]] == [put.json()["id"]]
    back = client.post(f"/api/put-right/{put.json()['id']}/undo")
    assert [one["changed"] for one in back.json()["turned"]] == [True] * 3
    assert (said(client, runs), said(client, runs, "finish_ft")) == ([cars[0]] * 3, [1320] * 3)
    assert client.get("/api/put-right").json() == {"put_right": []}
    assert client.post(f"/api/put-right/{put.json()['id']}/undo").status_code == 409


def test_slips_taken_away_come_back_each_to_its_own_run(client, runs):
    slips = [{"t60_s": 1.2 + place / 10} for place in range(3)]
    for run, slip in zip(runs, slips, strict=True):
        client.patch(f"/api/runs/{run}", json={"slip": slip})
    id = put_right(client, runs, slip=None).json()["id"]
    assert said(client, runs, "slip") == [None] * 3
    client.post(f"/api/put-right/{id}/undo")
    assert said(client, runs, "slip") == slips


def test_a_run_of_which_something_was_said_since_stays_as_it_is(client, cars, runs):
    id = put_right(client, runs, event="Spring Meet").json()["id"]
    client.patch(f"/api/runs/{runs[1]}", json={"event": "Test day"})
    client.delete(f"/api/runs/{runs[2]}")
    turned = client.post(f"/api/put-right/{id}/undo").json()["turned"]
    assert [one["changed"] for one in turned] == [True, False, False]
    assert "said otherwise" in turned[1]["why"] and "deleted" in turned[2]["why"]
    assert said(client, runs[:2], "event") == ["Harvest Meet", "Test day"]


def test_what_stood_is_kept_before_the_first_run_is_changed(client, cars, runs, monkeypatch):
    # Planted: the service ends over the second of three reviews.
    library, seen = client.app.state.library, []
    review = library.review_again

    def ends(run_id, changes):
        seen.append(run_id)
        if len(seen) == 2:
            raise RuntimeError("the power went")
        return review(run_id, changes)

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(library, "review_again", ends)
        assert put_right(client, runs, car=cars[1]).status_code == 500
    assert said(client, runs) == [cars[1], cars[0], cars[0]]
    page = client.get("/put-right", headers=HTML).text
    assert "car Otter" in page and "1 of 3 runs says so now" in page
    (kept,) = client.get("/api/put-right").json()["put_right"]
    client.post(f"/api/put-right/{kept['id']}/undo")
    assert said(client, runs) == [cars[0]] * 3


@pytest.mark.parametrize(
    ("body", "status"),
    [({"runs": [], "change": {"event": "x"}}, 422), ({"change": {"event": "x"}}, 422), ({"change": {}}, 422),
     ({"change": {"label": "all alike"}}, 422), ({"change": {"car": "nobody"}}, 404),
     ({"runs": ["nobody"], "change": {"event": "x"}}, 404), ({"runs": ["r"] * 201, "change": {"event": "x"}}, 422)],
)  # fmt: skip
def test_what_cannot_be_said_of_many_runs_is_refused_and_keeps_nothing(client, runs, assert_problem, body, status):
    sent = {**({"runs": runs} if body.get("change") != {"event": "x"} else {}), **body}
    assert_problem(client.post("/api/put-right", json=sent), status)
    assert (
        client.get("/api/put-right").json() == {"put_right": []} and said(client, runs, "event") == ["Harvest Meet"] * 3
    )


def test_the_page_names_the_runs_and_lists_and_sheets_lead_to_it(client, cars, runs):
    page = client.get(f"/put-right?runs={','.join(runs)}", headers=HTML)
    assert page.status_code == 200 and page.text.count('<a href="/runs/') == 3 and "Put 3 runs right" in page.text
    assert client.get(f"/put-right?run={runs[0]}&run={runs[1]}", headers=HTML).text.count('<a href="/runs/') == 2
    assert client.get("/put-right?runs=nobody", headers=HTML).status_code == 404
    for path in ("/", "/events/Harvest%20Meet"):
        assert 'formaction="/put-right"' in client.get(path, headers=HTML).text
