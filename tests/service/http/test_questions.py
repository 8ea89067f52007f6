"""Keys of a question that nobody knows are refused. Hand: the keys are those of the contract."""

import pytest


@pytest.mark.parametrize(
    ("question", "keys"),
    [
        ("/api/runs?evnt=Meet", "event, car, limit, after"),
        ("/api/runs?event=Meet&limits=3", "event, car, limit, after"),
        ("/api/compare?run=a,b", "runs"),
        ("/api/overlay?runs=a,b&channel=boost", "channels"),
    ],
)
def test_a_misspelt_key_is_refused_with_those_there_are(client, question, keys):
    answer = client.get(question)
    assert answer.status_code == 422 and answer.headers["content-type"] == "application/problem+json"
    assert "is no key of this question" in answer.json()["detail"] and keys in answer.json()["detail"]


def test_the_keys_of_the_contract_are_taken_and_health_takes_any(client):
    for question in ("/api/runs?event=&car=&limit=2", "/api/runs", "/health?at=12", "/?units=us&from=mail"):
        assert client.get(question).status_code == 200, question


def test_an_overlay_of_channels_that_no_run_has_is_refused(client, upload):
    (run,) = [one["id"] for one in upload(b"runs=1\n").json()["runs"]]
    refused = client.get(f"/api/overlay?runs={run}&channels=nope")
    assert refused.status_code == 404 and "none of these runs has nope" in refused.json()["detail"]
    assert client.get(f"/api/overlay?runs={run}&channels=boost").status_code == 200
