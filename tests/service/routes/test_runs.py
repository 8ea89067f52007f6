"""Runs over HTTP: in once, found again, changed, taken away."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor

import pytest

ONE_RUN, TWO_RUNS, OTHER_RUN = b"runs=1\n", b"runs=2\n", b"runs=1\nother"


def ids(response):
    return [run["id"] for run in response.json()["runs"]]


def test_a_run_comes_in_with_its_figures_and_findings(upload):
    response = upload(ONE_RUN, b"runs=1 dash", label="left lane", event="Harvest Meet", round="Q1")
    assert response.status_code == 201
    run = response.json()["runs"][0]
    assert len(run["id"]) == 32 and int(run["id"], 16) >= 0
    assert (run["label"], run["event"], run["round"]) == ("left lane", "Harvest Meet", "Q1")
    assert run["elapsed_time_s"]["value"] == pytest.approx(10.0292, abs=1e-4)  # hand: sqrt(2 * 402.336 / 8)
    assert run["limits"] == {"inside": 0, "outside": 0, "no_data": 1}
    assert [finding["code"] for finding in response.json()["findings"]] == ["no-mass"]


def test_two_runs_in_one_log_become_two(upload, client):
    response = upload(TWO_RUNS, slip=[{"t60_s": 1.1}, {"t60_s": 1.2}])
    assert len(set(ids(response))) == 2
    assert [client.get(f"/api/runs/{run}").json()["slip"] for run in ids(response)] == [{"t60_s": 1.1}, {"t60_s": 1.2}]


def test_the_same_logs_again_give_the_same_runs(upload, stored):
    first = upload(ONE_RUN, b"runs=1 dash", label="one")
    before = stored()
    again = upload(b"runs=1 dash", ONE_RUN, label="two", names=["x.csv", "y.csv"])
    assert (first.status_code, again.status_code) == (201, 200)
    assert ids(again) == ids(first) and stored() == before
    assert again.json()["runs"][0]["label"] == "one"
    assert again.json()["findings"][0]["code"] == "logs-already-here"


def test_a_dashs_log_that_came_later_tells_of_the_run_that_stands_twice(upload, client):
    (first,) = ids(upload(ONE_RUN, event="Meet", round="Q2"))
    both = upload(ONE_RUN, b"runs=1 dash", event="Meet", round="Q2")
    told = [one for one in both.json()["findings"] if one["code"] == "run-stands-twice"]
    assert [one["where"] for one in told] == [first] and "counts twice in sheets" in told[0]["text"]
    (second,) = ids(both)
    for run, other in ((first, second), (second, first)):
        page = client.get(f"/runs/{run}").text
        assert "Here twice" in page and f'href="/runs/{other}"' in page
    client.delete(f"/api/runs/{first}")
    assert "Here twice" not in client.get(f"/runs/{second}").text


def test_the_run_of_more_logs_stands_where_the_one_of_fewer_stood(upload, client):
    (first,), (between,) = ids(upload(ONE_RUN)), ids(upload(OTHER_RUN))
    (second,) = ids(upload(ONE_RUN, b"runs=1 dash"))
    refused = client.delete(f"/api/runs/{first}?place_to={first}")
    assert (refused.status_code, client.get(f"/api/runs/{first}").status_code) == (422, 200)
    assert client.delete(f"/api/runs/{first}?place_to={second}").status_code == 204
    assert [run["id"] for run in client.get("/api/runs").json()["runs"]] == [between, second]


def test_a_dashs_log_of_two_runs_makes_them_no_twins(upload):
    upload(ONE_RUN, b"runs=1 dash")
    assert "run-stands-twice" not in [one["code"] for one in upload(OTHER_RUN, b"runs=1 dash").json()["findings"]]


def test_twenty_at_once_are_one(upload, stored):
    with ThreadPoolExecutor(20) as pool:
        responses = list(pool.map(lambda _: upload(ONE_RUN), range(20)))
    assert len({tuple(ids(response)) for response in responses}) == 1
    assert sorted(response.status_code for response in responses) == [200] * 19 + [201]
    assert len(stored()) == 2


def test_two_different_uploads_at_once_are_two(upload, client):
    with ThreadPoolExecutor(2) as pool:
        responses = list(pool.map(upload, [ONE_RUN, OTHER_RUN]))
    assert [response.status_code for response in responses] == [201, 201]
    assert len(client.get("/api/runs").json()["runs"]) == 2


def test_a_file_sent_twice_in_one_upload_is_used_once(upload, client):
    response = upload(ONE_RUN, OTHER_RUN, ONE_RUN)
    assert "file-sent-twice" in [finding["code"] for finding in response.json()["findings"]]
    logs = client.get(f"/api/runs/{ids(response)[0]}").json()["logs"]
    assert [log["name"] for log in logs] == ["log0.csv", "log1.csv"]


def test_the_list_is_newest_first_and_turns_pages(upload, client):
    made = [ids(upload(b"runs=1\n%d" % n, event="A" if n % 2 else "B"))[0] for n in range(5)]
    first = client.get("/api/runs?limit=2").json()
    assert [run["id"] for run in first["runs"]] == made[:2:-1] and first["next"] == made[3]
    rest = client.get(f"/api/runs?limit=3&after={first['next']}").json()
    assert [run["id"] for run in rest["runs"]] == made[2::-1] and rest["next"] is None
    assert len(client.get("/api/runs?event=A").json()["runs"]) == 2
    assert client.get("/api/runs?event=nowhere").json() == {"runs": [], "next": None}


def test_saturdays_run_uploaded_on_sunday_stands_first(upload, client):
    # Planted: names tell when each log was begun; the third is told by hand, later.
    car = client.post("/api/cars", json={"name": "Heron"}).json()["id"]

    def sent(name: str, **details: str) -> str:
        body = f"runs=1\n{name}\n".encode()
        return upload(body, names=[name], car=car, event="Meet", **details).json()["runs"][0]["id"]

    sunday = sent("2026-05-04_1010 ecu.csv", label="Sunday")
    saturday = sent("2026-05-03_1610 ecu.csv", label="Saturday")
    friday = sent("ecu.csv", label="Friday", at="")

    def on_sheet() -> list[str]:
        return [run["id"] for run in client.get("/api/events/Meet/sheet").json()["runs"]]

    assert on_sheet() == [saturday, sunday, friday]
    assert client.patch(f"/api/runs/{friday}", json={"at": "2026-05-02T18:00"}).status_code == 200
    assert on_sheet() == [friday, saturday, sunday]
    assert [run["id"] for run in client.get("/api/runs?event=Meet").json()["runs"]] == [sunday, saturday, friday]
    listed = client.get("/", headers={"Accept": "text/html"}).text
    assert listed.index(f'value="{sunday}"') < listed.index(f'value="{saturday}"') < listed.index(f'value="{friday}"')
    page = client.get(f"/runs/{sunday}", headers={"Accept": "text/html"}).text
    assert re.search("Saturday, [^<]*the run before", page) and "2026-05-04 10:10" in page
    assert 'value="2026-05-04"' in page and 'value="10:10"' in page


def test_when_a_run_was_made_is_as_given_else_as_its_logs_tell(upload):
    # Hand: the second run of a log begins 50 s into it; a clock ahead of ours tells nothing.
    def at(body: bytes, name: str, **details: str) -> list[str | None]:
        return [run["at"] for run in upload(body, names=[name], **details).json()["runs"]]

    assert at(b"runs=2\n1\n", "2026-05-03_1610.csv") == ["2026-05-03T16:10:00", "2026-05-03T16:10:50"]
    assert at(b"runs=1\n2\n", "2026-05-03_1610.csv", at="2026-05-02") == ["2026-05-02"]
    assert at(b"runs=1\n3\n", "2026-05-03_1610.csv", at="") == at(b"runs=1\n4\n", "2098-05-03_1610.csv") == [None]


def test_the_list_is_found_by_car(upload, client):
    car = client.post("/api/cars", json={"name": "Heron"}).json()["id"]
    run = ids(upload(ONE_RUN, car=car))
    upload(OTHER_RUN)
    assert [run["id"] for run in client.get(f"/api/runs?car={car}").json()["runs"]] == run


def test_a_run_tells_its_logs_and_what_was_understood_of_them(upload, client):
    run = client.get(f"/api/runs/{ids(upload(ONE_RUN, b'runs=1 dash', notes='gusty'))[0]}").json()
    assert run["notes"] == "gusty" and [log["n"] for log in run["logs"]] == [0, 1]
    named = {channel["name"]: channel for channel in run["channels"]}
    assert named["engine_speed"]["header"] == "Engine Speed" and named["engine_speed"]["confidence"] == 0.98
    assert named["engine_speed.1"]["log"] == 1


def test_a_change_reviews_again_and_names_the_newest_car(upload, client):
    car = client.post("/api/cars", json={"name": "Heron"}).json()["id"]
    run = ids(upload(ONE_RUN, car=car, label="one", notes="kept"))[0]
    client.put(f"/api/cars/{car}", json={"name": "Heron II"})
    assert client.get(f"/api/runs/{run}/review").json()["car"] == {"name": "Heron", "id": car, "version": 1}
    changed = client.patch(f"/api/runs/{run}", json={"label": "two", "air": {"temperature": "31 degC"}})
    assert changed.status_code == 200 and changed.json()["label"] == "two"
    review = client.get(f"/api/runs/{run}/review").json()
    assert review["car"] == {"name": "Heron II", "id": car, "version": 2} and review["run"]["label"] == "two"
    whole = client.get(f"/api/runs/{run}").json()
    assert whole["air"] == {"temperature": "31 degC"} and whole["notes"] == "kept"


def test_a_change_may_give_another_car_or_none(upload, client, assert_problem):
    car = client.post("/api/cars", json={"name": "Heron"}).json()["id"]
    run = ids(upload(ONE_RUN))[0]
    assert client.patch(f"/api/runs/{run}", json={"car": car}).json()["car"]["id"] == car
    assert client.patch(f"/api/runs/{run}", json={"car": None}).json()["car"] is None
    assert_problem(client.patch(f"/api/runs/{run}", json={"car": "0" * 32}), 404)


def test_a_change_does_not_write_over_words_that_its_sender_never_saw(upload, client, assert_problem):
    place = f"/api/runs/{ids(upload(ONE_RUN, notes='good'))[0]}"
    saw = {"notes": "good", "label": "", "slip": None, "car": None}
    assert client.patch(place, json={"notes": "soft launch", "was": saw}).status_code == 200
    assert client.patch(place, json={"label": "Q1", "was": saw}).status_code == 200  # of another thing
    assert client.patch(place, json={"notes": "soft launch", "was": saw}).status_code == 200  # the same told twice
    refused = client.patch(place, json={"label": "Q1", "notes": "wind", "was": saw})
    problem = assert_problem(refused, 409)
    assert "the notes, now “soft launch”" in problem["detail"] and problem["now"] == {"notes": "soft launch"}
    assert client.get(place).json()["notes"] == "soft launch"
    assert client.patch(place, json={"notes": "wind", "was": {**saw, **problem["now"]}}).status_code == 200
    assert client.patch(place, json={"notes": "", "was": saw}).json()["detail"].count("wind") == 1


@pytest.mark.parametrize("change", [{"id": "x"}, {"label": None}, {"label": 3}, {"slip": {"t60": 1}}, {"finish_ft": 1}])
def test_a_change_that_cannot_be_used_changes_nothing(upload, client, assert_problem, change):
    run = ids(upload(ONE_RUN, label="one"))[0]
    before = client.get(f"/api/runs/{run}").json()
    assert_problem(client.patch(f"/api/runs/{run}", json=change), 422)
    assert client.get(f"/api/runs/{run}").json() == before


def test_a_run_is_taken_away_with_its_files(upload, client, stored, assert_problem):
    run = ids(upload(ONE_RUN))[0]
    assert client.delete(f"/api/runs/{run}").status_code == 204
    assert stored() == []
    for path in ("", "/review", "/traces", "/logs/0", "/export"):
        assert_problem(client.get(f"/api/runs/{run}{path}"), 404)
    assert_problem(client.delete(f"/api/runs/{run}"), 404)
    assert upload(ONE_RUN).status_code == 201


def test_a_log_stays_while_another_run_is_of_it_and_the_gone_one_can_come_back(upload, client, stored):
    kept, gone = ids(upload(TWO_RUNS))
    client.delete(f"/api/runs/{gone}")
    assert client.get(f"/api/runs/{kept}/logs/0").content == TWO_RUNS and len(stored()) == 2
    again = upload(TWO_RUNS)
    assert again.status_code == 201 and ids(again)[0] == kept and ids(again)[1] != gone
    assert len(stored()) == 3


def test_one_log_in_two_uploads_is_kept_once_and_until_both_are_gone(upload, client, stored):
    runs = [*ids(upload(ONE_RUN, b"runs=1 a")), *ids(upload(ONE_RUN, b"runs=1 b"))]
    originals = [name for name in stored() if not name.endswith(".parquet")]
    assert len(originals) == 3
    client.delete(f"/api/runs/{runs[0]}")
    assert client.get(f"/api/runs/{runs[1]}/logs/0").content == ONE_RUN
    client.delete(f"/api/runs/{runs[1]}")
    assert stored() == []


def test_everything_is_there_after_a_new_start(planted, open_service):
    with open_service() as client:
        run = ids(client.post("/api/runs", files=[("log", ("ecu.csv", ONE_RUN))]))[0]
        before = client.get(f"/api/runs/{run}/review").content
    with open_service() as client:
        assert client.get(f"/api/runs/{run}/review").content == before
        assert client.get(f"/api/runs/{run}/logs/0").content == ONE_RUN


def test_runs_are_asked_for_by_days(upload, client, assert_problem):
    # Hand: made on the 3rd, on the 4th at night, on the 5th; one of no known day counts from the day that it came in.
    for n, at in enumerate(("2031-05-03", "2031-05-04T23:50", "2031-05-05", "")):
        upload(f"runs=1\n{n}\n".encode(), event="Meet", label=str(n), at=at)
    for beside in ("", "&event=Meet"):

        def asked(days, more=beside):
            found = client.get(f"/api/runs?{days}{more}").json()
            return sorted(run["label"] for run in found["runs"])

        assert asked("from=2031-05-04") == ["1", "2"] and asked("to=2031-05-04") == ["0", "1", "3"]
        assert asked("from=2031-05-04&to=2031-05-04") == ["1"] and asked("from=2031-05-06") == []
    first = client.get("/api/runs?from=2031-05-01&event=Meet&limit=2").json()
    rest = client.get(f"/api/runs?from=2031-05-01&event=Meet&limit=2&after={first['next']}").json()
    assert [run["label"] for run in (*first["runs"], *rest["runs"])] == ["2", "1", "0"] and rest["next"] is None
    for wrong in ("from=yesterday", "from=2031-05-05&to=2031-05-04", "from=2031-13-01"):
        assert_problem(client.get(f"/api/runs?{wrong}"), 422)
