"""What the service says of itself: every route of the contract, bodies and errors described."""

from __future__ import annotations

import time
from functools import cache
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker

from passband.analysis.given.car import Car
from passband.service.app import create_app
from passband.service.given.facts import GivenError, read_car
from passband.service.settings import read_settings
from tests.service.conftest import small_settings

ROUTES = {
    "/api/understand": {"post"},
    "/api/cars": {"get", "post"},
    "/api/cars/{car_id}": {"get", "put"},
    "/api/cars/{car_id}/facts": {"get"},
    "/api/cars/{car_id}/versions/{version}/facts": {"put"},
    "/api/cars/{car_id}/sheets": {"get", "post"},
    "/api/sheets/{sheet_id}": {"delete"},
    "/api/cars/{car_id}/foretold": {"get"},
    "/api/cars/{car_id}/parts": {"get", "post"},
    "/api/parts/{part_id}": {"put", "delete"},
    "/api/cars/{car_id}/usuals": {"get"},
    "/api/runs/{run_id}/usual": {"put", "delete"},
    "/api/put-right": {"get", "post"},
    "/api/put-right/{put_right_id}/undo": {"post"},
    "/api/groups": {"get", "post"},
    "/api/groups/{groups_id}": {"get", "put", "delete"},
    "/api/runs": {"get", "post"},
    "/api/runs/sort": {"post"},
    "/api/runs/{run_id}": {"get", "patch", "delete"},
    "/api/runs/{run_id}/review": {"get"},
    "/api/runs/{run_id}/traces": {"get"},
    "/api/runs/{run_id}/logs/{n}": {"get"},
    "/api/runs/{run_id}/export": {"get"},
    "/api/runs/{run_id}/bench": {"post"},
    "/api/runs/{run_id}/columns": {"post"},
    "/api/runs/{run_id}/whatif": {"post"},
    "/api/jobs/{job_id}": {"get"},
    "/api/review-again": {"post"},
    "/api/trash": {"get", "delete"},
    "/api/trash/{entry_id}": {"delete"},
    "/api/trash/{entry_id}/restore": {"post"},
    "/api/compare": {"get"},
    "/api/change": {"get"},
    "/api/overlay": {"get"},
    "/api/events": {"get"},
    "/api/events/{name}/sheet": {"get"},
    "/health": {"get"},
    "/ready": {"get"},
    "/metrics": {"get"},
}


@pytest.fixture(scope="module")
def described(tmp_path_factory):
    """As told under the settings that all tests here serve by."""
    with TestClient(create_app(small_settings(tmp_path_factory.mktemp("described")))) as client:
        return client.get("/openapi.json").json()


def test_every_route_is_described_and_no_page(described):
    assert {path: set(operations) for path, operations in described["paths"].items()} == ROUTES


def test_every_error_is_a_problem(described):
    for operations in described["paths"].values():
        for operation in operations.values():
            problems = {status: told for status, told in operation["responses"].items() if status[0] in "45d"}
            assert {"400", "421", "500", "503", "default"} <= set(problems)
            for told in problems.values():
                assert list(told["content"]) == ["application/problem+json"]


def test_whatever_takes_a_body_says_what_may_be_wrong_with_it(described):
    bodies = [op for ops in described["paths"].values() for op in ops.values() if "requestBody" in op]
    assert len(bodies) == 18
    for operation in bodies:
        assert operation["requestBody"]["required"]
        assert {"403", "408", "413", "415", "422", "507"} <= set(operation["responses"])


def test_every_reference_leads_somewhere(described):
    def references(node):
        if isinstance(node, dict):
            yield from ([node["$ref"]] if "$ref" in node else [])
            for value in node.values():
                yield from references(value)
        if isinstance(node, list):
            for value in node:
                yield from references(value)

    for reference in references(described):
        node = described
        for key in reference.removeprefix("#/").split("/"):
            node = node[key]


def test_a_quantity_may_be_a_number_within_bounds_or_a_text(described):
    mass = described["components"]["schemas"]["Car"]["properties"]["mass"]
    assert {"type": "number", "minimum": 80, "maximum": 20000} in mass["anyOf"]
    assert [choice["type"] for choice in mass["anyOf"]] == ["number", "string", "null"]


def test_bounds_are_those_of_the_settings_in_force(tmp_path):
    few = read_settings({}, data=tmp_path, page_runs=7, points=300, side_by_side=3, channels=5, files=2)
    paths = create_app(few).openapi()["paths"]
    of = {
        (path, parameter["name"]): parameter["schema"]
        for path in paths
        for operation in paths[path].values()
        for parameter in operation.get("parameters", ())
    }
    assert of["/api/runs", "limit"]["maximum"] == of["/api/runs", "limit"]["default"] == 7
    points = of["/api/runs/{run_id}/traces", "points"]
    assert (points["minimum"], points["maximum"], points["default"]) == (4, 300, 300)
    assert of["/api/runs/{run_id}/traces", "channels"]["maxItems"] == 5
    assert (of["/api/compare", "runs"]["minItems"], of["/api/compare", "runs"]["maxItems"]) == (2, 3)
    upload = paths["/api/runs"]["post"]["requestBody"]["content"]["multipart/form-data"]["schema"]
    assert upload["properties"]["log"]["maxItems"] == 2


def test_asking_twice_gives_the_same(client, described):
    assert client.get("/openapi.json").json() == client.get("/openapi.json").json() == described


@pytest.fixture
def held(described):
    """Hold an answer against what is said of its operation: status named, media type named, JSON of that form."""

    def check(path: str, method: str, response: Any) -> None:
        operation = described["paths"][path][method]
        assert str(response.status_code) in operation["responses"], (path, method, response.status_code)
        told = operation["responses"][str(response.status_code)].get("content", {})
        kind = response.headers.get("content-type", "").partition(";")[0]
        assert kind in told or (kind == "" and not told)
        if kind.endswith("json"):
            form = {**told[kind]["schema"], "components": described["components"]}
            Draft202012Validator(form, format_checker=FormatChecker()).validate(response.json())

    return check


CURVE = {"against": "engine_speed", "side": "at_least", "points": [[3000, "35 psi"], ["9000 rpm", "65 psi"]]}
CAR = {
    "name": "Heron", "mass": "2450 lb", "rpm_band": ["6400 rpm", 8600], "gear_ratios": [2.5, "1.8"], "cylinders": 4,
    "limits": [
        {"name": "rpm", "channel": "engine_speed", "at_most": 9100, "when": [{"channel": "boost", "at_least": 0}]},
        {"name": "oil", "channel": "oil_pressure", "longer_than": "0.1 s", "curve": CURVE},
    ],
}  # fmt: skip
SAID = {"label": "Q1", "event": "Meet", "slip": {"t60_s": "1.5 s", "v1320": "139 mph"}, "air": {"wind": -2}}
ARROW = {"Accept": "application/vnd.apache.arrow.stream"}


def test_every_answer_has_the_form_that_is_told(client, upload, held):
    made = client.post("/api/cars", json=CAR)
    car, address = made.json()["id"], f"/api/cars/{made.json()['id']}"
    new, again = (upload(b"runs=2\n", b"runs=1\n", car=car, **SAID) for _ in range(2))
    one, two = (run["id"] for run in new.json()["runs"])
    run = f"/api/runs/{one}"
    held("/api/cars", "post", made)
    held("/api/cars", "get", client.get("/api/cars"))
    held("/api/cars/{car_id}", "get", client.get(address))
    held("/api/cars/{car_id}", "put", client.put(address, json=made.json()))
    held("/api/runs", "post", new)
    held("/api/runs", "post", again)
    held("/api/runs", "get", client.get("/api/runs?limit=1"))
    held("/api/runs/sort", "post", client.post("/api/runs/sort", files=[("log", ("a.csv", b"runs=1"))]))
    held("/api/runs/{run_id}", "get", client.get(run))
    held("/api/runs/{run_id}", "patch", client.patch(run, json={}))
    held("/api/runs/{run_id}/review", "get", client.get(f"{run}/review"))
    held("/api/runs/{run_id}/traces", "get", client.get(f"{run}/traces"))
    held("/api/runs/{run_id}/traces", "get", client.get(f"{run}/traces", headers=ARROW))
    held("/api/runs/{run_id}/logs/{n}", "get", client.get(f"{run}/logs/1"))
    for form in ("parquet", "csv"):
        held("/api/runs/{run_id}/export", "get", client.get(f"{run}/export?format={form}"))
    held("/api/compare", "get", client.get(f"/api/compare?runs={one},{two}"))
    held("/api/change", "get", client.get(f"/api/change?before={one}&after={two}"))
    held("/api/overlay", "get", client.get(f"/api/overlay?runs={one},{two}"))
    held("/api/events", "get", client.get("/api/events?limit=1"))
    held("/api/events/{name}/sheet", "get", client.get("/api/events/Meet/sheet"))
    held("/health", "get", client.get("/health"))
    held("/ready", "get", client.get("/ready"))
    held("/metrics", "get", client.get("/metrics"))
    here = TestClient(client.app, client=("127.0.0.1", 5000))
    held("/metrics", "get", here.get("/metrics"))
    for log in (b"runs=2\n3", b"\x89PNG"):
        put = client.post("/api/runs", files={"log": ("a.csv", log)}, headers={"Prefer": "respond-async"})
        held("/api/runs", "post", put)
        held("/api/jobs/{job_id}", "get", client.get(put.headers["location"]))
        _follow(client, put)
        held("/api/jobs/{job_id}", "get", client.get(put.headers["location"]))
    again = client.post("/api/review-again", json={})
    held("/api/review-again", "post", again)
    _follow(client, again)
    held("/api/jobs/{job_id}", "get", client.get(again.headers["location"]))
    held("/api/runs/{run_id}", "delete", client.delete(run))


def _follow(client: TestClient, put: Any) -> None:
    until = time.monotonic() + 20.0
    while client.get(put.headers["location"]).json()["state"] in ("waiting", "working"):
        assert time.monotonic() < until
        time.sleep(0.02)


@pytest.mark.parametrize(
    ("path", "method", "question"),
    [
        ("/api/cars", "post", {"content": b"{"}),
        ("/api/cars", "post", {"content": b""}),
        ("/api/cars", "post", {"json": {"name": "x" * 30_000}}),
        ("/api/cars", "post", {"data": {"name": "Heron"}}),
        ("/api/cars", "post", {"json": CAR, "headers": {"Origin": "null"}}),
        ("/api/cars", "get", {"headers": {"Host": "elsewhere.example"}}),
        ("/api/cars/{car_id}", "put", {"json": CAR}),
        ("/api/runs", "get", {"params": {"limit": "many"}}),
        ("/api/runs", "post", {"content": b"", "headers": {"Content-Type": "multipart/form-data; boundary=x"}}),
        ("/api/runs", "post", {"files": {"log": ("a.csv", b"\x89PNG")}}),
        ("/api/runs", "post", {"files": {"log": ("a.csv", b"runs=0")}}),
        ("/api/jobs/{job_id}", "get", {}),
        ("/api/review-again", "post", {"json": {}}),
        ("/api/runs/{run_id}", "patch", {"content": b""}),
        ("/api/runs/{run_id}", "patch", {"json": {"air": {"wind": "much"}}}),
        ("/api/runs/{run_id}/traces", "get", {"params": {"points": 1}}),
        ("/api/runs/{run_id}/logs/{n}", "get", {}),
        ("/api/compare", "get", {"params": {"runs": "a"}}),
        ("/api/change", "get", {"params": {"before": "a", "after": "a"}}),
    ],
)
def test_every_problem_has_the_form_that_is_told(client, held, path, method, question):
    response = client.request(
        method, path.replace("{n}", "first").format(run_id="0" * 32, car_id="0" * 32, job_id="0" * 32), **question
    )
    assert response.status_code >= 400
    held(path, method, response)


ODD = ["", "\0", "a,b", ",", " ", "\u202e\ufffd", "'; --", "-1", "0", str(10**40), "1e309", "NaN", "%", "x" * 5000]


def test_no_odd_question_is_a_mistake_of_ours(client, upload, described):
    # Each parameter of each question with every odd value, alone and twice, of a run that is there.
    run = upload(b"runs=1\n", event="Meet").json()["runs"][0]["id"]
    there = {"run_id": run, "name": "Meet", "car_id": "0" * 32, "n": "0"}
    asked = 0
    for path, operations in described["paths"].items():
        for parameter in operations.get("get", {}).get("parameters", ()):
            name = parameter["name"]
            for value in ODD:
                rest = [("runs", run)] if "overlay" in path else [("runs", f"{run},{run}")] if "compare" in path else []
                in_path = {**there, name: quote(value, safe="")} if parameter["in"] == "path" else there
                query = [] if parameter["in"] == "path" else [*rest, (name, value), (name, value)]
                response = client.get(path.format(**in_path), params=query)
                asked += 1
                assert response.status_code < 500, (path, name, value, response.text)
    assert asked > 300


JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**6), 10**6), st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(["2450 lb", "8600", "91 %", "1,5 bar", "0.1 s", "much", "", "at_least", "run", "front", "clutch"]),
    st.text(max_size=5),
)  # fmt: skip
JUNK = st.recursive(JUNK, lambda one: st.one_of(st.lists(one, max_size=3), st.lists(one, min_size=2, max_size=2)))
LIMIT_KEYS = ["at_least", "at_most", "curve", "during", "when", "longer_than", "owner"]
CURVES = st.fixed_dictionaries(
    {"against": st.just("engine_speed"), "side": st.just("at_most")},
    optional={"points": st.lists(st.tuples(JUNK, JUNK).map(list), max_size=3)},
)
LIMITS = st.fixed_dictionaries({"name": st.text(max_size=2), "channel": st.sampled_from(["boost", "lambda"])}).flatmap(
    lambda limit: st.dictionaries(st.sampled_from(LIMIT_KEYS), JUNK | CURVES, max_size=3).map(lambda more: limit | more)
)


@cache
def car_form() -> Draft202012Validator:
    described = create_app(read_settings({})).openapi()
    return Draft202012Validator({"$ref": "#/components/schemas/Car", "components": described["components"]})


@settings(max_examples=600, deadline=None)
@given(
    car=st.dictionaries(st.sampled_from(sorted(Car.model_fields)), JUNK, max_size=3),
    limits=st.lists(LIMITS, max_size=2),
    name=st.one_of(st.just("Heron"), JUNK),
)
def test_what_is_taken_of_a_car_is_of_the_form_that_is_told(car, limits, name):
    # Planted junk in every key: whatever the service takes, the description must have allowed.
    told = {**car, "name": name, **({"limits": limits} if limits else {})}
    try:
        read_car(told)
    except GivenError:
        return
    car_form().validate(told)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([[3000, 1]], "at least 2"),
        ([[3000, 1], [2000, 2]], "must rise along 'engine_speed': 2000.0 comes after 3000.0"),
        ([[3000, 1], ["3000 rpm", 2]], "must rise"),
        ([[3000, 1], ["50 Hz", 2]], "must rise"),
        ([[3000, 1], [4000]], "points.1.1"),
        ([[3000, 1], [4000, 1, 2]], "points.1"),
        ([[3000, True], [4000, 1]], "got True"),
        ([[3000, None], [4000, 1]], "points.0.1"),
        ([[3000, "1 kg"], [4000, 1]], "curve.points.0.1"),
        ([["3000 psi", 1], [4000, 1]], "curve.points.0.0"),
        ([], "at least 2"),
        ("3000", "points"),
    ],
)
def test_wrong_points_of_a_curve_are_refused_in_words(client, assert_problem, points, said):
    curve = {"against": "engine_speed", "points": points, "side": "at_least"}
    car = {"name": "Heron", "limits": [{"name": "oil", "channel": "oil_pressure", "curve": curve}]}
    assert said in assert_problem(client.post("/api/cars", json=car), 422)["detail"]
