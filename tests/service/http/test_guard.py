"""The door: own names only, no changes by a foreign page, headers on everything."""

from __future__ import annotations

import socket

import pytest

from passband.service.http.guard import is_own_name, is_own_page


@pytest.mark.parametrize(
    "host", ["", "localhost", "localhost:8080", "127.0.0.1:8080", "[::1]:8080", "192.168.4.20", socket.gethostname()]
)
def test_addresses_and_this_machines_names_are_its_own(host):
    assert is_own_name(host)


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        "localhost.example",
        "127.0.0.1.example",
        "a b",
        "[::1",
        "x@localhost",
        "localhost/a",
        "localhost:",
        "localhost:999999",
        "l\xf6calhost",
    ],
)
def test_any_other_name_is_not(host):
    assert not is_own_name(host)
    assert is_own_name(host, others=("*",)) == host.endswith(".example")  # any name, but a name


def test_a_foreign_host_is_421_and_says_which_setting_would_do(client, assert_problem):
    body = assert_problem(client.get("/api/runs", headers={"Host": "rebound.example"}), 421)
    assert "PASSBAND_HOSTS" in body["detail"]


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "https://testserver:8443"},
        {"Origin": "http://testserver:8080"},
        {"Origin": "http://["},
        {"Origin": b"http://testserver\xe9"},
        {"Origin": ""},
        {"Origin": "testserver"},
        {"Origin": "http://testserver/path"},
        {"Origin": "http://testserver:99999999999"},
        {"Origin": "ftp://testserver"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_foreign_page_may_change_nothing(client, assert_problem, method, headers):
    assert_problem(client.request(method, "/api/cars", headers=headers, json={"name": "Heron"}), 403)


@pytest.mark.parametrize(
    ("origin", "scheme", "ours"),
    [
        ("http://127.0.0.1:8080", "http", True),
        ("https://127.0.0.1:8080", "http", False),
        ("http://127.0.0.1:8080", "https", False),
        ("https://127.0.0.1:8080", "https", True),
    ],
)
def test_a_page_of_another_scheme_is_foreign(origin, scheme, ours):
    assert is_own_page(origin, host="127.0.0.1:8080", scheme=scheme) == ours


@pytest.mark.parametrize("host", ["strip.example", "strip.example:443", "STRIP.example"])
def test_a_name_told_may_stand_behind_a_proxy_with_tls(host):
    assert is_own_page("https://strip.example", host=host, scheme="http", others=("strip.example",))
    assert not is_own_page("https://strip.example:8443", host=host, scheme="http", others=("strip.example",))
    assert not is_own_page("https://strip.example", host=host, scheme="http")


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


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_question_of_two_lengths_is_refused_and_its_line_ended(client, assert_problem, method):
    # Published: RFC 9112, 6.3: what follows it on the line may be anybody's
    headers = {"Content-Length": "2", "Transfer-Encoding": "chunked"}
    got = client.request(method, "/api/cars", content=b"{}", headers=headers)
    assert "RFC 9112" in assert_problem(got, 400)["detail"] and got.headers["connection"] == "close"
