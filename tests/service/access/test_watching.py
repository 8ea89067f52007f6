"""With teams: `/ready` names none, and `/metrics` is shown to nobody without the operator's token."""

from __future__ import annotations

import pytest
from prometheus_client.parser import text_string_to_metric_families
from starlette.testclient import TestClient

from passband.service.access.teams import access_records
from passband.service.app import create_app
from tests.service.access.conftest import House
from tests.service.access.test_route_walk import planted

TOKEN = "a token of the operator's"
NAMES = ("red owner", "red crew", "red reader", "blue owner")


def test_health_and_readiness_are_told_to_anybody_and_name_no_team(house: House):
    planted(house)
    for path in ("/health", "/ready"):
        answer = house.client.get(path)
        assert answer.status_code == 200 and set(answer.json()) == {"status", "version"}
        assert answer.json() == house.client.get(path, headers=house.cookie("blue reader")).json()


def test_the_metrics_are_refused_to_everybody_alike_while_no_token_is_set(house: House):
    planted(house)
    same = {"X-Request-Id": "same"}
    headers = [same, *({**house.cookie(name), **same} for name in NAMES), {"Authorization": "Bearer x", **same}]
    answers = [house.client.get("/metrics", headers=one) for one in headers]
    assert {one.status_code for one in answers} == {403} and len({one.text for one in answers}) == 1


@pytest.fixture
def told(house: House, settings):
    """The same service with a token."""
    place, token = planted(house), type(settings.metrics_token)(TOKEN)
    house.client.__exit__(None, None, None)
    with TestClient(create_app(settings.model_copy(update={"metrics_token": token}))) as client:
        yield client, place
    house.client.__enter__()


def test_the_metrics_want_the_token_and_no_session_will_do(house: House, told):
    client, _ = told
    wrong = [{}, house.cookie("red owner"), {"Authorization": f"Bearer {TOKEN}x"}, {"Authorization": f"Basic {TOKEN}"}]
    answers = [client.get("/metrics", headers={**one, "X-Request-Id": "same"}) for one in wrong]
    assert {one.status_code for one in answers} == {401} and len({one.text for one in answers}) == 1
    assert client.get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"}).status_code == 200


def test_each_teams_bytes_and_quota_are_told_while_its_library_is_open(house: House, told, settings):
    client, place = told
    with access_records(settings) as records:
        records.add_team("green", folder=None, quota_bytes=5_000, now=0)
    assert client.get("/api/runs/" + place["run_id"], headers=house.cookie("red reader")).status_code == 200
    text = client.get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"}).text
    kept = {
        (one.name, one.labels["team"]): one.value
        for family in text_string_to_metric_families(text)
        for one in family.samples
        if one.name.endswith("_bytes") and "team" in one.labels
    }
    assert kept == {("passband_stored_bytes", "red"): len(b"runs=1\n1"), ("passband_quota_bytes", "green"): 5_000}
    assert place["run_id"] not in text and "Red one" not in text
