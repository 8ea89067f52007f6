"""A real server with little patience: clients of every slow kind are ended, each as it should be, others are served."""

from __future__ import annotations

import socket
import threading
import time

import pytest

from tests.benchmarks.slow_clients import KINDS, Others, hold, served

PATIENCE_S = 1
CLIENTS = 3
ANSWERS = {"silent": "none", "head": "408", "json body": "408", "upload": "408", "unasked body": "200"}


@pytest.fixture(scope="module")
def server():
    with served(stall_seconds=PATIENCE_S, workers=0) as server:
        yield server


@pytest.fixture(scope="module")
def held(server):
    others = Others(server.port)
    asking = threading.Thread(target=others.ask)
    asking.start()
    clients = hold(server.port, clients=CLIENTS, most_s=20.0)
    others.over.set()
    asking.join()
    return clients, others


@pytest.mark.parametrize("kind", KINDS)
def test_each_slow_kind_is_ended_soon_after_the_patience(held, kind):
    # Planted: a byte a second, so a body is noticed by the second byte after the patience; the rest is a busy machine.
    lasted = [client.lasted_s for client in held[0] if client.kind == kind]
    assert None not in lasted and max(lasted) < 10 * PATIENCE_S


@pytest.mark.parametrize("kind", ANSWERS)
def test_each_is_told_what_was_missed(held, kind):
    client = next(client for client in held[0] if client.kind == kind)
    assert client.status == ANSWERS[kind]
    if client.status == "408":
        assert b"application/problem+json" in client.heard and b"connection: close" in client.heard.lower()


def test_others_are_served_meanwhile(held):
    assert held[1].failures == [] and len(held[1].seconds) > 5


def test_the_log_has_a_line_for_each_and_no_traceback(held, server):
    assert server.told().count("does not read its answer") == CLIENTS
    assert "Traceback" not in server.told()


@pytest.fixture(scope="module")
def small():
    with served(stall_seconds=30, workers=0, connections=16) as server:
        yield server


def answered(port: int, question: bytes) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        line.sendall(question + b"\r\nConnection: close\r\n\r\n")
        return b"".join(iter(lambda: line.recv(65536), b""))


def test_the_silent_make_room_for_those_who_ask(small):
    lines = [socket.create_connection(("127.0.0.1", small.port)) for _ in range(40)]
    assert answered(small.port, b"GET /health HTTP/1.1\r\nHost: localhost").startswith(b"HTTP/1.1 200")
    for line in lines:
        line.close()


def test_one_more_than_can_be_served_is_503_and_told_when_to_come_again(small):
    lines = [socket.create_connection(("127.0.0.1", small.port)) for _ in range(16)]
    for line in lines:
        line.sendall(KINDS["upload"])
    time.sleep(0.5)
    answer = answered(small.port, b"GET /health HTTP/1.1\r\nHost: localhost")
    assert answer.startswith(b"HTTP/1.1 503") and b"retry-after" in answer.lower()
    assert b"application/problem+json" in answer
    for line in lines:
        line.close()


@pytest.mark.parametrize("sent", [b"\x16\x03\x01\x02", b"nonsense", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b"])
def test_what_is_no_http_is_a_problem_too(small, sent):
    answer = answered(small.port, sent)
    assert answer.startswith(b"HTTP/1.1 400") and b"application/problem+json" in answer


def test_a_client_gone_amid_its_body_is_one_line_and_nothing_kept():
    with served(workers=0) as server:
        before = server.told().count("\n")
        for kind in ("json body", "upload"):
            with socket.create_connection(("127.0.0.1", server.port)) as line:
                line.sendall(KINDS[kind] + b"half")
        give_up_s = time.monotonic() + 30.0
        while server.told().count("went away") < 2 and time.monotonic() < give_up_s:
            time.sleep(0.1)
        lines = server.told().splitlines()[before:]
        assert len(lines) == 2 and all("went away amid its body; nothing was kept" in line for line in lines)
        kept = [path for name in ("incoming", "originals", "runs") for path in (server.data / name).rglob("*")]
        assert [path for path in kept if path.is_file()] == []
        assert answered(server.port, b"GET /api/cars HTTP/1.1\r\nHost: localhost").endswith(b'{"cars":[]}')
