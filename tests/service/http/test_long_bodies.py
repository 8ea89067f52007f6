"""Long bodies come through whole, whatever the pieces and whatever stands around them."""

from __future__ import annotations

import asyncio
import hashlib
import random
import socket
import threading

import pytest
import uvicorn

from passband.service.http.long_bodies import LongBodies

LONG = random.Random(3).randbytes(3_000_000)


async def tell_hash(scope, receive, send):
    """Answers the hash of what came; at ``/early`` before any of it was read."""
    digest, more = hashlib.sha256(), scope["path"] != "/early"
    while more:
        message = await receive()
        if message["type"] != "http.request":
            return
        assert type(message["body"]) is bytes
        digest.update(message["body"])
        more = message["more_body"]
    body = digest.hexdigest().encode()
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"64")]})
    await send({"type": "http.response.body", "body": body})


@pytest.fixture(scope="module")
def place():
    """Where a server listens that answers hashes."""
    taken = socket.socket()
    taken.bind(("127.0.0.1", 0))
    taken.listen()
    config = uvicorn.Config(tell_hash, http=LongBodies, ws="none", lifespan="off", log_config=None)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=[taken])))
    thread.start()
    yield taken.getsockname()
    server.should_exit = True
    thread.join()
    taken.close()


def hash_of(body):
    return hashlib.sha256(body).hexdigest().encode()


def ask(body, path="/", *, headers=""):
    return f"POST {path} HTTP/1.1\r\nHost: a\r\n{headers}Content-Length: {len(body)}\r\n\r\n".encode() + body


def answers(line, count):
    """Bodies of so many answers."""
    found, came = [], b""
    while len(found) < count:
        head, parted, rest = came.partition(b"\r\n\r\n")
        if parted and head.startswith(b"HTTP/1.1 100"):
            came = rest
        elif parted and len(rest) >= 64:
            found.append(rest[:64])
            came = rest[64:]
        else:
            piece = line.recv(65536)
            assert piece, "the line ended"
            came += piece
    return found


@pytest.mark.parametrize("piece", [999_999, 262_144, 70_001, 5_003])
def test_a_body_comes_whole_whatever_the_pieces(place, piece):
    # Slow twin: the hash of all at once
    sent = ask(LONG)
    with socket.create_connection(place) as line:
        for start in range(0, len(sent), piece):
            line.sendall(sent[start : start + piece])
        assert answers(line, 1) == [hash_of(LONG)]


def test_questions_behind_a_long_body_are_answered_in_turn(place):
    # Slow twin: three questions at once on one line, the second of them long too
    bodies = [LONG, LONG[:700_000], b"short"]
    with socket.create_connection(place) as line:
        threading.Thread(target=line.sendall, args=(b"".join(map(ask, bodies)),)).start()
        assert answers(line, 3) == [hash_of(body) for body in bodies]


def test_a_body_in_chunks_is_the_librarys_own(place):
    # Hand: RFC 9112, 7.1; chunks of 0x186a0 bytes
    chunks = [LONG[start : start + 100_000] for start in range(0, len(LONG), 100_000)]
    with socket.create_connection(place) as line:
        line.sendall(b"POST / HTTP/1.1\r\nHost: a\r\nTransfer-Encoding: chunked\r\n\r\n")
        line.sendall(b"".join(b"186a0\r\n" + chunk + b"\r\n" for chunk in chunks) + b"0\r\n\r\n")
        assert answers(line, 1) == [hash_of(LONG)]


def test_who_waits_to_be_told_to_go_on_is_told(place):
    # Hand: RFC 9110, 10.1.1
    head, body = ask(LONG, headers="Expect: 100-continue\r\n")[: -len(LONG)], LONG
    with socket.create_connection(place) as line:
        line.sendall(head)
        assert line.recv(100).startswith(b"HTTP/1.1 100")
        line.sendall(body)
        assert answers(line, 1) == [hash_of(LONG)]


def test_an_answer_amid_the_body_comes_and_the_line_goes_on(place):
    # Planted: the answer is sent before any of the body was read
    with socket.create_connection(place) as line:
        threading.Thread(target=line.sendall, args=(ask(LONG, "/early") + ask(b"next"),)).start()
        assert answers(line, 2) == [hash_of(b""), hash_of(b"next")]


def test_one_that_goes_amid_its_body_leaves_the_others_alone(place):
    # Planted: half a body, then nobody
    with socket.create_connection(place) as line:
        line.sendall(ask(LONG)[:1_500_000])
    with socket.create_connection(place) as line:
        line.sendall(ask(b"here"))
        assert answers(line, 1) == [hash_of(b"here")]
