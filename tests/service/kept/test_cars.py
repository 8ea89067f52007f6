"""Cars over HTTP: kept as given, in versions."""

from __future__ import annotations

import pytest

HERON = {"name": "Heron", "mass": "2450 lb", "limits": [{"name": "rpm", "channel": "engine_speed", "at_most": 9100}]}


def test_a_car_comes_back_as_it_was_told(client):
    made = client.post("/api/cars", json=HERON)
    assert made.status_code == 201 and made.headers["location"] == f"/api/cars/{made.json()['id']}"
    got = client.get(made.headers["location"]).json()
    assert got == made.json() and got["version"] == 1
    assert {key: got[key] for key in HERON} == HERON


def test_a_change_makes_a_version_and_the_old_one_can_be_had(client):
    car = client.post("/api/cars", json=HERON).json()
    changed = client.put(f"/api/cars/{car['id']}", json={**car, "mass": "2500 lb"}).json()
    assert (changed["version"], changed["mass"]) == (2, "2500 lb")
    assert client.get(f"/api/cars/{car['id']}").json() == changed
    assert client.get(f"/api/cars/{car['id']}?version=1").json() == car
    assert client.get(f"/api/cars/{car['id']}?version=3").status_code == 404


def test_a_version_is_made_of_the_newest_where_it_says_of_which(client, assert_problem):
    place = f"/api/cars/{client.post('/api/cars', json={'name': 'Heron'}).json()['id']}"
    assert client.put(f"{place}?made_of=1", json={"name": "Heron", "mass": "2450 lb"}).json()["version"] == 2
    refused = client.put(f"{place}?made_of=1", json={"name": "Heron", "final_drive": 4.1})
    assert "as version 2 of" in assert_problem(refused, 409)["detail"] and refused.json()["now"] == {"version": 2}
    assert client.get(place).json()["mass"] == "2450 lb"
    assert client.put(f"{place}?made_of=2", json={"name": "Heron", "final_drive": 4.1}).json()["version"] == 3
    assert_problem(client.put(f"/api/cars/{'0' * 32}?made_of=1", json={"name": "Heron"}), 404)


def test_cars_are_listed_by_name(client):
    for name in ("wren", "Heron", "avocet"):
        client.post("/api/cars", json={"name": name})
    assert [car["name"] for car in client.get("/api/cars").json()["cars"]] == ["avocet", "Heron", "wren"]


@pytest.mark.parametrize(
    ("told", "where"),
    [
        ({}, "name"),
        ({"name": ""}, "name"),
        ({"name": "Heron", "owner_id": 1}, "owner_id"),
        ({"name": "Heron", "mass": "heavy"}, "mass"),
        ({"name": "Heron", "rpm_band": [8600, 6400]}, ""),
        ({"name": "Heron", "limits": [{"name": "x", "channel": "boost"}]}, "limits.0"),
        ({"name": "Heron", "limits": [{"name": "x", "channel": "boost", "at_most": "3 kg"}]}, "limits.0.at_most"),
    ],
)
def test_a_car_that_cannot_be_used_is_refused_with_the_key(client, assert_problem, told, where):
    body = assert_problem(client.post("/api/cars", json=told), 422)
    assert [error["where"] for error in body["errors"]] == [where]
    assert client.get("/api/cars").json() == {"cars": []}


@pytest.mark.parametrize("sent", [b"{", b"[]", b"\xff", b"3", b'{"name": NaN}'])
def test_a_body_that_is_no_object_is_422(client, assert_problem, sent):
    assert_problem(client.post("/api/cars", content=sent), 422)
