"""Runs held against each other: compare, overlay, the sheet of an event."""

from __future__ import annotations

import pytest

PAGES = ["/", "/cars", "/cars/new", "/overlay"]


@pytest.fixture
def runs(upload):
    return [upload(b"runs=1\n%d" % n, event="Harvest Meet", round=f"Q{n}").json()["runs"][0]["id"] for n in range(2)]


def test_a_run_against_its_equal_loses_nothing(client, runs):
    told = client.get(f"/api/compare?runs={','.join(runs)}").json()
    other = told["others"][0]
    assert (told["first"], other["run"]) == tuple(runs)
    against = other["against_first"]
    assert against["total_s"]["value"] == 0.0 and len(against["stretches"]) == 5
    assert max(abs(value) for value in against["difference_s"]) < 1e-9
    assert against["distance_m"][-1] == pytest.approx(402.0, abs=1.0)


def test_a_run_that_is_gone_refuses_the_whole(client, runs, assert_problem):
    for route in ("compare", "overlay"):
        assert_problem(client.get(f"/api/{route}?runs={runs[0]},{'0' * 32}"), 404)


def test_the_overlay_is_a_drawing_with_a_schema(client, runs):
    drawing = client.get(f"/api/overlay?runs={','.join(runs)}&channels=engine_speed").json()
    assert "vega-lite" in drawing["$schema"]


def test_the_sheet_tells_an_event_oldest_first(client, runs):
    sheet = client.get("/api/events/Harvest%20Meet/sheet").json()
    assert sheet["event"] == "Harvest Meet"
    assert [run["round"] for run in sheet["runs"]] == ["Q0", "Q1"]


def test_every_page_opens_and_loads_nothing_foreign(client, runs):
    car = client.post("/api/cars", json={"name": "Heron"}).json()["id"]
    more = [f"/runs/{runs[0]}", f"/overlay?runs={','.join(runs)}", f"/cars/{car}", "/events/Harvest%20Meet"]
    for path in (*PAGES, *more):
        response = client.get(path, headers={"Accept": "text/html"})
        assert response.status_code == 200, path
        assert response.headers["content-type"].startswith("text/html")
        assert 'src="http' not in response.text and 'rel="stylesheet" href="http' not in response.text


def test_the_choice_of_runs_works_without_a_script(client, runs):
    ticked = client.get(f"/overlay?run={runs[0]}&run={runs[1]}").text
    assert ticked == client.get(f"/overlay?runs={runs[0]},{runs[1]}").text


def test_an_event_may_have_any_name(client, upload):
    upload(b"runs=1\n", event="1/8 & 1/4 mile?")
    name = "1%2F8%20%26%201%2F4%20mile%3F"
    assert client.get(f"/api/events/{name}/sheet").json()["event"] == "1/8 & 1/4 mile?"
    assert client.get(f"/events/{name}").status_code == 200
    assert len(client.get(f"/api/runs?event={name}").json()["runs"]) == 1


def test_a_comparison_says_what_each_part_cost(client, runs):
    other = client.get(f"/api/compare?runs={','.join(runs)}").json()["others"][0]
    assert other["difference_s"]["value"] == 0.0 and other["parts"][0]["kind"] == "launch"
    for column in ("elapsed_s", "cost_s"):
        assert sum(part[column]["value"] for part in other["parts"]) == pytest.approx(0.0, abs=1e-9)
    assert all("with" in part for part in other["parts"])


def test_a_change_holds_two_selections_against_each_other(client, runs, assert_problem):
    told = client.get(f"/api/change?before={runs[0]}&after={runs[1]}").json()
    assert [len(told[side]["runs"]) for side in ("before", "after")] == [1, 1]
    assert told["elapsed_time_s"]["raw"]["value"] == pytest.approx(0.0, abs=1e-9)
    assert_problem(client.get(f"/api/change?before={runs[0]}&after={runs[0]}"), 422)
    assert_problem(client.get(f"/api/change?before={runs[0]}&after={'0' * 32}"), 404)


def test_a_bench_without_sheets_or_with_a_wrong_one_is_refused_in_words(client, runs, assert_problem):
    address = f"/api/runs/{runs[0]}/bench"
    assert "as text" in assert_problem(client.post(address, json={}), 422)["detail"]
    told = assert_problem(client.post(address, json={"dynamometer": "rpm,power\n1,2\n3,4\n5,6\n"}), 422)
    assert "says no unit" in told["detail"]
    assert_problem(client.post(address, json={"charge_loss": "1 psi", "surge": 1}), 422)
    assert_problem(client.post(f"/api/runs/{'0' * 32}/bench", json={"dynamometer": "x"}), 404)


def test_a_dynamometers_curve_is_laid_beside_a_run(client, runs):
    answer = client.post(f"/api/runs/{runs[0]}/bench", json={"dynamometer": "rpm,kW\n5000,300\n6000,350\n7000,340\n"})
    assert answer.status_code == 200, answer.text
    beside = answer.json()["dynamometer"]
    assert beside["figures"]["bench_peak_rpm"] == 6000.0
    assert beside["picture"].startswith("<svg")
    assert answer.json()["head"] is None


def test_what_was_told_otherwise_of_the_car_stands_beside_the_run_before_and_on_the_sheet(client, upload):
    # Hand: another tire on the second run, the first one's back on the third; the fourth's is only better measured.
    told = {"name": "Plover", "tire_circumference": "77.8 in", "final_drive": 4.1}
    car = client.post("/api/cars", json=told).json()["id"]
    runs = []
    for number, tire in enumerate(("77.8 in", "79.5 in", "77.8 in", "77.9 in")):
        client.put(f"/api/cars/{car}", json={**told, "tire_circumference": tire}) if number else None
        sent = upload(f"runs=1\n{number}\n".encode(), car=car, event="Tires", round=f"Q{number}")
        runs.append(sent.json()["runs"][0]["id"])
    said = client.put(f"/api/cars/{car}/versions/4/facts", json={"tire_circumference": "corrected"})
    assert said.status_code == 200, said.text
    rows = client.get("/api/events/Tires/sheet").json()["rows"]
    changed = "tire circumference 79.5 in, 77.8 in before"
    assert [row["changed"] for row in rows] == ["", changed, "tire circumference 77.8 in, 79.5 in before", ""]
    pages = [client.get(f"/runs/{run}", headers={"Accept": "text/html"}).text for run in runs]
    assert [changed in page for page in pages] == [False, True, False, False]
    assert "Car described otherwise than at Tires, Q0: " in pages[1]
