"""Questions about columns answered over HTTP: kept with the car for a layout, used at once, taken back.

Evidence: end to end, on logs whose columns were planted.
"""

from __future__ import annotations

import re

import pytest


def log_with_doubt(seconds: float = 12.0, *, shift: float = 0.0) -> bytes:
    """A run down the strip at 50 Hz, constant pull; its speed names neither wheel nor unit (planted: mph)."""
    lines = ["Time [s],RPM,TPS,Speed"]
    for row in range(int((seconds + 8) * 50)):
        t = row / 50
        pull = max(0.0, t - 4)
        rpm = 3000 + (pull * 900 % 4000) + shift
        lines.append(f"{t:.2f},{rpm:.0f},{100 if pull else 20},{min(pull * 14, 160):.2f}")
    return "\n".join(lines).encode()


@pytest.fixture
def real_service(open_service):
    """A service that reads what it is sent."""
    with open_service() as client:
        yield client


@pytest.fixture
def asked(real_service):
    """A client, a car and a run of it whose logs leave a column open."""
    car = real_service.post("/api/cars", json={"name": "Kestrel"}).json()["id"]
    sent = real_service.post("/api/runs", files=[("log", ("a.csv", log_with_doubt(), "text/csv"))], data={"car": car})
    assert sent.status_code == 201, sent.text
    run = sent.json()["runs"][0]["id"]
    return real_service, car, run, real_service.get(f"/api/runs/{run}/review").json()["doubts"]


def answer(doubt, channel, unit=""):
    return {"layout": doubt["layout"], "column": doubt["column"], "channel": channel, "unit": unit}


def test_an_answer_is_kept_with_the_car_and_the_run_reviewed_with_it(asked):
    client, car, run, doubts = asked
    speed = next(one for one in doubts if one["column"] == "Speed")
    done = client.post(f"/api/runs/{run}/columns", json={"answers": [answer(speed, "ground_speed", "mph")]})
    assert done.status_code == 200, done.text
    assert done.json()["car"] == {"id": car, "version": 2} and done.json()["others"] == []
    assert client.get(f"/api/cars/{car}").json()["layouts"] == {speed["layout"]: {"Speed": "ground_speed [mph]"}}
    left = client.get(f"/api/runs/{run}/review").json()
    assert "Speed" not in [one["column"] for one in left.get("doubts", [])]
    assert left["layouts"] == [speed["layout"]]


def test_a_refusal_for_want_of_engine_speed_says_which_columns_it_may_be(real_service):
    log = log_with_doubt().replace(b",RPM,", b",Kvk 7,", 1)
    refused = real_service.post("/api/runs", files=[("log", ("a.csv", log, "text/csv"))])
    assert refused.status_code == 422 and "No engine speed was found" in refused.json()["detail"]
    (column,) = [one for one in refused.json()["columns"] if one["column"] == "Kvk 7"]
    assert (column["log"], len(column["layout"])) == ("a.csv", 16)


def test_the_next_log_of_the_layout_is_not_asked_and_older_runs_are_offered(asked):
    client, car, run, doubts = asked
    old = client.post(
        "/api/runs", files=[("log", ("b.csv", log_with_doubt(shift=7), "text/csv"))], data={"car": car}
    ).json()["runs"][0]["id"]
    done = client.post(f"/api/runs/{run}/columns", json={"answers": [answer(doubts[0], "ignore")]})
    assert [one["id"] for one in done.json()["others"]] == [old]
    new = client.post("/api/runs", files=[("log", ("c.csv", log_with_doubt(shift=9), "text/csv"))], data={"car": car})
    review = client.get(f"/api/runs/{new.json()['runs'][0]['id']}/review").json()
    assert doubts[0]["column"] not in [one["column"] for one in review.get("doubts", [])]
    again = client.post(f"/api/runs/{old}/columns", json={})
    assert again.status_code == 200 and again.json()["others"] == []


def test_an_answer_is_taken_back_and_asked_again(asked):
    client, car, run, doubts = asked
    client.post(f"/api/runs/{run}/columns", json={"answers": [answer(doubts[0], "ignore")]})
    back = client.post(f"/api/runs/{run}/columns", json={"answers": [answer(doubts[0], None)]})
    assert back.status_code == 200 and back.json()["car"]["version"] == 3
    assert "layouts" not in client.get(f"/api/cars/{car}").json()
    assert doubts[0]["column"] in [one["column"] for one in client.get(f"/api/runs/{run}/review").json()["doubts"]]


def test_what_cannot_be_is_refused_and_nothing_is_kept(asked, assert_problem):
    client, car, run, doubts = asked
    address = f"/api/runs/{run}/columns"
    for wrong, words in (
        (answer(doubts[0], "warp_speed"), "is no channel"),
        (answer(doubts[0], "ground_speed", "psi"), "is no unit of ground_speed"),
        ({**answer(doubts[0], "ignore"), "column": "Nowhere"}, "nothing is asked about"),
        ({**answer(doubts[0], "ignore"), "layout": "0" * 16}, "nothing is asked about"),
    ):
        assert words in assert_problem(client.post(address, json={"answers": [wrong]}), 422)["detail"]
    assert client.get(f"/api/cars/{car}").json()["version"] == 1
    assert_problem(client.post(f"/api/runs/{'f' * 32}/columns", json={}), 404)


def test_a_run_without_a_car_names_the_one_that_keeps_the_answers(real_service, assert_problem):
    sent = real_service.post("/api/runs", files=[("log", ("a.csv", log_with_doubt(), "text/csv"))])
    run = sent.json()["runs"][0]["id"]
    doubt = real_service.get(f"/api/runs/{run}/review").json()["doubts"][0]
    address, said = f"/api/runs/{run}/columns", {"answers": [answer(doubt, "ignore")]}
    assert "names no car" in assert_problem(real_service.post(address, json=said), 422)["detail"]
    assert_problem(real_service.post(address, json={**said, "car": "e" * 32}), 404)
    car = real_service.post("/api/cars", json={"name": "Kestrel"}).json()["id"]
    done = real_service.post(address, json={**said, "car": car})
    assert done.status_code == 200 and done.json()["run"]["car"]["id"] == car


def test_a_run_without_a_car_is_given_a_new_one_by_name(real_service, assert_problem):
    sent = real_service.post("/api/runs", files=[("log", ("a.csv", log_with_doubt(), "text/csv"))])
    run = sent.json()["runs"][0]["id"]
    doubt = real_service.get(f"/api/runs/{run}/review").json()["doubts"][0]
    wrong = {"answers": [answer(doubt, "warp_speed")], "new_car": "Heron"}
    assert_problem(real_service.post(f"/api/runs/{run}/columns", json=wrong), 422)
    assert real_service.get("/api/cars").json()["cars"] == []  # nothing is made of what cannot be used
    page = real_service.get(f"/runs/{run}").text
    assert 'name="new_car"' in page and 'value="Car of a.csv"' in page
    form = {**answer(doubt, "ignore"), "new_car": "Heron"}
    sent = real_service.post(f"/runs/{run}/columns", data=form, follow_redirects=False)
    assert sent.status_code == 303
    (car,) = real_service.get("/api/cars").json()["cars"]
    assert car["name"] == "Heron" and car["layouts"] == {doubt["layout"]: {doubt["column"]: "ignore"}}
    assert real_service.get(f"/api/runs/{run}").json()["car"]["id"] == car["id"]


def two_runs() -> bytes:
    """One log with two runs of the kind above, 30 s apart."""
    first, second = (log_with_doubt(), log_with_doubt(shift=3))
    rows = [line.split(b",", 1) for line in second.splitlines()[1:]]
    later = [b"%.2f,%b" % (float(time) + 30.0, rest) for time, rest in rows]
    return b"\n".join([first, *later])


def test_another_run_of_the_upload_is_offered_the_answers(real_service):
    sent = real_service.post("/api/runs", files=[("log", ("two.csv", two_runs(), "text/csv"))])
    runs = [one["id"] for one in sent.json()["runs"]]
    assert len(runs) == 2
    doubt = real_service.get(f"/api/runs/{runs[0]}/review").json()["doubts"][0]
    said = {"answers": [answer(doubt, "ignore")], "new_car": "Heron"}
    done = real_service.post(f"/api/runs/{runs[0]}/columns", json=said).json()
    assert [one["id"] for one in done["others"]] == runs[1:]
    again = real_service.post(f"/api/runs/{runs[1]}/columns", json={"car": done["car"]["id"]}).json()
    assert again["others"] == [] and again["run"]["car"]["id"] == done["car"]["id"]
    assert doubt["column"] not in str(real_service.get(f"/api/runs/{runs[1]}/review").json().get("doubts"))


def test_the_pages_form_needs_no_script(asked, assert_problem):
    client, car, run, doubts = asked
    page = client.get(f"/runs/{run}").text
    assert 'href="#asked"' in page and 'action="/runs/' + run + '/columns"' in page
    fields = {"layout": [], "column": [], "channel": [], "unit": []}
    for doubt in doubts:
        for name, value in answer(doubt, "ignore" if doubt is doubts[0] else "").items():
            fields[name].append(value)
    sent = client.post(f"/runs/{run}/columns", data=fields, follow_redirects=False)
    assert sent.status_code == 303 and sent.headers["location"] == f"/runs/{run}?answered=1#asked"
    after = client.get(sent.headers["location"]).text
    assert "The answers are saved to the car" in after and re.search(r"<b>\w+</b> is left out", after)
    back = {**{name: [value] for name, value in answer(doubts[0], "").items()}, "takes_back": "1"}
    assert client.post(f"/runs/{run}/columns", data=back, follow_redirects=False).status_code == 303
    assert "layouts" not in client.get(f"/api/cars/{car}").json()
    assert_problem(client.post(f"/runs/{run}/columns", json={}), 415)
    assert_problem(client.post(f"/runs/{run}/columns", data={"layout": "x"}), 422)


def test_the_start_page_carries_on_from_a_run_that_nobody_named(asked):
    client, _, _, _ = asked
    page = client.get("/")
    assert page.status_code == 200 and "a.csv" in page.text


def sent_form(client, run, doubts, **said):
    """The page's form with some fields of all questions set, sent as it is where no script runs."""
    fields = {
        "layout": [one["layout"] for one in doubts],
        "column": [one["column"] for one in doubts],
        "channel": [""] * len(doubts),
        "unit": [one["units"][0] if one["units"] else "" for one in doubts],
        "read": [one["units"][0] if one["units"] else "" for one in doubts],
        "taken": [one["taken_for"] for one in doubts],
    }
    return client.post(f"/runs/{run}/columns", data={**fields, **said}, follow_redirects=False)


def test_a_unit_chosen_alone_answers_that_the_channel_is_as_taken(asked):
    client, car, run, doubts = asked
    speed = next(one for one in doubts if one["column"] == "Speed")
    at = doubts.index(speed)
    units = ["mph" if place == at else (one["units"] or [""])[0] for place, one in enumerate(doubts)]
    assert units[at] != speed["units"][0]
    done = sent_form(client, run, doubts, unit=units)
    assert done.status_code == 303 and "answered=1" in done.headers["location"]
    assert client.get(f"/api/cars/{car}").json()["layouts"][speed["layout"]]["Speed"] == f"{speed['taken_for']} [mph]"


def test_a_form_with_all_left_open_saves_nothing_and_says_nothing_of_saving(asked, assert_problem):
    client, car, run, doubts = asked
    done = sent_form(client, run, doubts)
    assert done.status_code == 303 and done.headers["location"] == f"/runs/{run}#asked"
    assert client.get(f"/api/cars/{car}").json()["version"] == 1
    assert_problem(sent_form(client, "nosuchrun", doubts), 404)
