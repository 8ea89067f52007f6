"""A real server on a real port: slow and endless senders are ended, others are answered, and it goes when told."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

import passband.demo_logs
from passband.service.cli import main

LIMIT = 200_000
HEAD = b"POST /api/runs HTTP/1.1\r\nHost: localhost\r\nContent-Type: multipart/form-data; boundary=cut\r\n"
PART = b'--cut\r\nContent-Disposition: form-data; name="log"; filename="ecu.csv"\r\n\r\n'


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    data = tmp_path_factory.mktemp("served") / "data"
    command = [sys.executable, "-m", "passband.service.cli", "serve", "--port", "0", "--data", str(data)]
    settings = {
        "WORKERS": 1,
        "RESERVE_BYTES": 0,
        "STALL_SECONDS": 1,
        "FILE_BYTES": LIMIT,
        "UPLOAD_BYTES": LIMIT,
        "JSON_BYTES": 1024,
    }
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2],
        env={**os.environ, **{f"PASSBAND_{name}": str(value) for name, value in settings.items()}},
    )  # fmt: skip
    line = process.stdout.readline()
    assert line.startswith("Serving on http://127.0.0.1:"), process.stderr.read()
    process.url, process.data = line.split()[-1], data
    yield process
    if process.poll() is None:
        process.kill()
    process.communicate()


def sent(server, *pieces: bytes, most: int = 0) -> tuple[int, dict, int]:
    """Send pieces, the last over and over up to `most` bytes; status, body, and how much was taken."""
    count = 0
    with socket.create_connection(("127.0.0.1", int(server.url.rpartition(":")[2])), timeout=20) as line:
        with contextlib.suppress(ConnectionError):
            for piece in pieces:
                line.sendall(piece)
            while count < most:
                line.sendall(pieces[-1])
                count += len(pieces[-1])
        answer = b""
        with contextlib.suppress(ConnectionError):
            while chunk := line.recv(65536):
                answer += chunk
                if b"\r\n\r\n" in answer and answer.endswith(b"}"):
                    break
    head, _, body = answer.partition(b"\r\n\r\n")
    return int(head.split()[1]), json.loads(body), count


def healthy(server) -> bool:
    with urllib.request.urlopen(f"{server.url}/health", timeout=20) as response:
        return json.load(response)["status"] == "ok"


def nothing_incoming(server) -> bool:
    return list((server.data / "incoming").iterdir()) == []


def test_one_that_stands_still_is_ended(server):
    status, body, _ = sent(server, HEAD + b"Content-Length: 5000\r\n\r\n" + PART + b"runs")
    assert status == 408 and "stood still for 1 s" in body["detail"]
    assert healthy(server) and nothing_incoming(server)


def test_a_body_announced_too_long_is_refused_unread(server):
    status, body, _ = sent(server, HEAD + b"Content-Length: 999999999\r\n\r\n")
    assert status == 413 and "999,999,999 bytes" in body["detail"]


def test_an_endless_body_is_cut_off_within_a_mebibyte_of_the_limit(server):
    chunk = b"10000\r\n" + b"0" * 65536 + b"\r\n"
    first = f"{len(PART):x}\r\n".encode() + PART + b"\r\n"
    with contextlib.suppress(ConnectionError):
        status, _, count = sent(server, HEAD + b"Transfer-Encoding: chunked\r\n\r\n" + first, chunk, most=100 * LIMIT)
        assert status == 413 and count < 100 * LIMIT
    assert healthy(server) and nothing_incoming(server)
    kept = [path for path in server.data.rglob("*") if path.is_file() and path.stat().st_size > LIMIT]
    assert kept == []


def test_a_second_one_on_the_same_folder_is_kept_out(server, capsys):
    assert main(["serve", "--port", "0", "--data", str(server.data)]) == 2
    assert "is in use by another Passband" in capsys.readouterr().err


@pytest.fixture
def ending(tmp_path):
    """A server that waits one second for what is under way when it is told to end."""
    program = (
        "import sys, passband.service.serving as serving; from passband.service.cli import main; serving.GRACE_S = 1; "
        f"sys.exit(main(['serve', '--port', '0', '--data', {str(tmp_path / 'data')!r}]))"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        cwd=Path(__file__).parents[2], env={**os.environ, "PASSBAND_WORKERS": "1"},
    )  # fmt: skip
    process.port = int(process.stdout.readline().rpartition(":")[2])
    yield process
    if process.poll() is None:
        process.kill()
    process.communicate()


def ended_amid(ending, sent: bytes) -> int:
    """Status of a question that was sent so far when the server was told to end; it must end in order."""
    with socket.create_connection(("127.0.0.1", ending.port), timeout=30) as line:
        line.sendall(sent)
        time.sleep(0.3)
        ending.send_signal(signal.SIGTERM)
        answer = b""
        with contextlib.suppress(ConnectionError):
            while chunk := line.recv(65536):
                answer += chunk
    assert ending.wait(30) == 0
    assert "Traceback" not in ending.stderr.read()
    assert b"application/" in answer and b"Internal Server Error" not in answer
    return int(answer.split()[1])


def test_an_upload_still_coming_in_when_the_server_ends_is_503(ending):
    assert ended_amid(ending, HEAD + b"Content-Length: 5000\r\n\r\n" + PART + b"Time") == 503


def test_an_upload_in_review_when_the_server_ends_is_503_or_answered(ending):
    log = next((Path(passband.demo_logs.__file__).parent / "weekend").glob("*ecu.csv.gz")).read_bytes()
    body = PART + log + b"\r\n--cut--\r\n"
    assert ended_amid(ending, HEAD + f"Content-Length: {len(body)}\r\n\r\n".encode() + body) in (201, 503)


def test_it_ends_in_order_when_told(server):
    assert healthy(server)
    server.send_signal(signal.SIGTERM)
    assert server.wait(30) == 0
    assert "Traceback" not in server.stderr.read()
