"""What the service says of itself: every route of the contract, bodies and errors described."""

from __future__ import annotations

import pytest

ROUTES = {
    "/api/understand": {"post"},
    "/api/cars": {"get", "post"},
    "/api/cars/{car_id}": {"get", "put"},
    "/api/runs": {"get", "post"},
    "/api/runs/{run_id}": {"get", "patch", "delete"},
    "/api/runs/{run_id}/review": {"get"},
    "/api/runs/{run_id}/traces": {"get"},
    "/api/runs/{run_id}/logs/{n}": {"get"},
    "/api/runs/{run_id}/export": {"get"},
    "/api/compare": {"get"},
    "/api/overlay": {"get"},
    "/api/events/{name}/sheet": {"get"},
    "/health": {"get"},
}


@pytest.fixture
def described(client):
    return client.get("/openapi.json").json()


def test_every_route_is_described_and_no_page(described):
    assert {path: set(operations) for path, operations in described["paths"].items()} == ROUTES


def test_every_error_is_a_problem(described):
    for operations in described["paths"].values():
        for operation in operations.values():
            assert "application/problem+json" in operation["responses"]["default"]["content"]
            assert "422" not in operation["responses"]


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


def test_a_quantity_may_be_a_number_or_a_text(described):
    mass = described["components"]["schemas"]["Car"]["properties"]["mass"]
    assert {"type": ["number", "string"]} in mass["anyOf"]


def test_asking_twice_gives_the_same(client, described):
    assert client.get("/openapi.json").json() == described
