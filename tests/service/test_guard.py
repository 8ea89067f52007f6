"""The door: own names only, no changes by a foreign page, headers on everything."""

from __future__ import annotations

import socket

import pytest

from passband.service.guard import is_own_name


@pytest.mark.parametrize(
    "host", ["", "localhost", "localhost:8080", "127.0.0.1:8080", "[::1]:8080", "192.168.4.20", socket.gethostname()]
)
def test_addresses_and_this_machines_names_are_its_own(host):
    assert is_own_name(host)


@pytest.mark.parametrize("host", ["elsewhere.example", "localhost.example", "127.0.0.1.example", "a b", "[::1"])
def test_any_other_name_is_not(host):
    assert not is_own_name(host)
    assert is_own_name(host, others=("*",)) == (host != "[::1")


def test_a_foreign_host_is_421_and_says_which_setting_would_do(client, assert_problem):
    body = assert_problem(client.get("/api/runs", headers={"Host": "rebound.example"}), 421)
    assert "PASSBAND_HOSTS" in body["detail"]


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_foreign_page_may_change_nothing(client, assert_problem, method, headers):
    assert_problem(client.request(method, "/api/cars", headers=headers, json={"name": "Heron"}), 403)


def test_our_own_page_and_a_plain_client_may(client):
    own = {"Origin": "http://testserver", "Sec-Fetch-Site": "same-origin"}
    assert client.post("/api/cars", json={"name": "Heron"}, headers=own).status_code == 201
    assert client.post("/api/cars", json={"name": "Heron"}).status_code == 201


@pytest.mark.parametrize("path", ["/", "/health", "/api/runs", "/openapi.json", "/static/passband.css", "/nowhere"])
def test_every_response_carries_the_safe_headers(client, path):
    headers = client.get(path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    policy = headers["content-security-policy"]
    for rule in ("default-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
        assert rule in policy
    assert "unsafe-eval" not in policy and "http:" not in policy and "https:" not in policy


def test_no_page_of_documentation_asks_a_foreign_server(client):
    assert client.get("/docs").status_code == 404
    assert client.get("/redoc").status_code == 404
