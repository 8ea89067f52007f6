"""A fact of a car that was corrected is no change of the car. Planted versions; what they mean is by hand."""

from passband.service.cars.corrections import VersionFact, given_as_known, unsaid_between
from passband.service.store.records import CarRecord


def version(number, **given):
    return CarRecord("c" * 32, number, "2026-01-01T00:00:00Z", {"name": "Heron", **given})


def mass(number, was, now, told):
    return VersionFact(number, "mass", was, now, told)


def test_a_correction_holds_for_the_versions_before_it():
    facts = [mass(2, "900 kg", "910 kg", "corrected")]
    assert given_as_known(version(1, mass="900 kg"), facts)["mass"] == "910 kg"


def test_a_correction_does_not_reach_over_a_change():
    facts = [mass(2, "900 kg", "930 kg", "changed"), mass(3, "930 kg", "940 kg", "corrected")]
    assert given_as_known(version(1, mass="900 kg"), facts)["mass"] == "900 kg"
    assert given_as_known(version(2, mass="930 kg"), facts)["mass"] == "940 kg"


def test_what_nobody_told_stands_as_a_change():
    facts = [mass(2, "900 kg", "910 kg", None), mass(3, "910 kg", "915 kg", "corrected")]
    assert given_as_known(version(1, mass="900 kg"), facts)["mass"] == "900 kg"
    assert unsaid_between(facts, (3, 1)) == {"mass": True}
    assert unsaid_between(facts, (2, 3)) == {"mass": False}


def put(client, car_id, given, query=""):
    answer = client.put(f"/api/cars/{car_id}{query}", json=given)
    assert answer.status_code == 200
    return answer.json()


def test_a_version_is_told_with_its_facts_or_later(client):
    car = client.post("/api/cars", json={"name": "Heron", "mass": "900 kg", "final_drive": 4.1}).json()
    put(client, car["id"], {"name": "Heron", "mass": "910 kg", "final_drive": 4.1}, "?facts=corrected")
    put(client, car["id"], {"name": "Heron", "mass": 910, "final_drive": 4.3})  # the same mass, otherwise written
    facts = client.get(f"/api/cars/{car['id']}/facts").json()["facts"]
    assert [(one["version"], one["fact"], one["said"]) for one in facts] == [
        (2, "mass", "corrected"), (3, "final_drive", None),
    ]  # fmt: skip
    said = client.put(f"/api/cars/{car['id']}/versions/3/facts", json={"final_drive": "changed"}).json()
    assert said["facts"][0]["said"] == "changed"


def test_a_fact_that_did_not_differ_and_a_version_that_is_not_there_are_refused(client):
    car = client.post("/api/cars", json={"name": "Heron", "mass": "900 kg"}).json()
    put(client, car["id"], {"name": "Heron", "mass": "910 kg"})
    wrong = client.put(f"/api/cars/{car['id']}/versions/2/facts", json={"final_drive": "changed"})
    assert wrong.status_code == 422 and "final drive of version 2" in wrong.json()["detail"]
    assert client.put(f"/api/cars/{car['id']}/versions/3/facts", json={"mass": "changed"}).status_code == 404
    assert client.put(f"/api/cars/{car['id']}?facts=perhaps", json={"name": "Heron"}).status_code == 422
