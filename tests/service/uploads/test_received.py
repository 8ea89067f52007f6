"""Uploads: limits held while reading, names made harmless, nothing left behind."""

from __future__ import annotations

import asyncio
import gzip
import hashlib

import orjson
import pytest

from passband.service.uploads.received import harmless_name, receive
from tests.service.object_stores import of_the_folder

ONE_RUN = b"runs=1\n"
BOUNDARY = "cut-here"
FORM = {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"}


def part(name, body, filename=None):
    named = f'; filename="{filename}"' if filename is not None else ""
    return f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"{named}\r\n\r\n'.encode() + body + b"\r\n"


END = f"--{BOUNDARY}--\r\n".encode()


class Sent:
    """A request whose body comes in pieces."""

    headers = {"content-type": FORM["Content-Type"]}  # noqa: RUF012

    def __init__(self, pieces):
        self._pieces = pieces

    async def stream(self):
        for piece in self._pieces:
            yield piece


@pytest.mark.parametrize("size", [1, 7, 13, 64, 1000, 100_000])
@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_parts_come_whole_wherever_the_pieces_are_cut(tmp_path, settings, size, end):
    # Slow twin: what was put into the form; it holds beginnings of the boundary, at its own end too
    logs = [b"1,2,3" + end + f"\r\n--{BOUNDARY[:5]}".encode() + (b"4,-5,--6" + end) * 200 + b"\r", b"7" + end * 300]
    form = b"".join(part("log", log, "a.csv") for log in logs) + part("details", b"{}") + END
    pieces = [form[start : start + size] for start in range(0, len(form), size)]
    received = asyncio.run(receive(Sent(pieces), tmp_path, settings))
    assert [file.path.read_bytes() for file in received.files] == logs
    assert [file.sha256 for file in received.files] == [hashlib.sha256(log).hexdigest() for log in logs]
    assert received.fields == {"details": b"{}"}


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("ecu.csv", "ecu.csv"),
        ("../../etc/passwd", "passwd"),
        ("/etc/passwd", "passwd"),
        ("C:\\logs\\run 3.csv", "run 3.csv"),
        ("a\0b\r\nc\x1b.csv", "abc.csv"),
        ("run\u202egpj.csv", "rungpj.csv"),
        ("..", "log"),
        ("", "log"),
        ("CON", "CON"),
    ],
)
def test_a_name_loses_folders_controls_and_what_turns_text_around(given, kept):
    assert harmless_name(given) == kept


def test_a_long_name_keeps_its_end():
    assert len(harmless_name("x" * 300 + ".csv")) == 200
    assert harmless_name("x" * 300 + ".csv").endswith(".csv")


@of_the_folder
def test_a_file_comes_back_byte_for_byte_under_a_name_of_ours(client, upload, settings):
    body = ONE_RUN + bytes(range(256)) * 300
    run = upload(body, names=["../../../<script>.csv"]).json()["runs"][0]
    back = client.get(f"/api/runs/{run['id']}/logs/0")
    assert back.content == body
    assert back.headers["content-disposition"] == "attachment; filename*=UTF-8''%3Cscript%3E.csv"
    assert back.headers["content-type"] == "application/octet-stream"
    assert "object-src 'none'" in back.headers["content-security-policy"]
    digest = hashlib.sha256(body).hexdigest()
    assert {path.parent.parent.name for path in settings.data.rglob(f"{digest}*")} == {"originals"}


@pytest.mark.parametrize("sent", [b"", gzip.compress(ONE_RUN, mtime=0), b"{}"])
def test_a_body_that_is_no_form_is_415(client, assert_problem, sent):
    assert_problem(client.post("/api/runs", content=sent), 415)


def test_a_boundary_that_no_form_has_is_400(client, assert_problem):
    # RFC 2046, 5.1.1: 70 characters at the most
    kind = f"multipart/form-data; boundary={'b' * 10_000}"
    assert_problem(client.post("/api/runs", content=b"--b", headers={"Content-Type": kind}), 400)


@pytest.mark.parametrize("kind", ["multipart/form-data", "multipart/form-data; boundary=", "application/json"])
def test_a_form_without_a_boundary_is_415(client, assert_problem, kind):
    assert_problem(client.post("/api/runs", content=b"x", headers={"Content-Type": kind}), 415)


@pytest.mark.parametrize(
    "sent",
    [
        b"no part at all",
        part("log", ONE_RUN, "ecu.csv"),
        part("log", ONE_RUN, "ecu.csv")[:60],
        part("log", ONE_RUN, "ecu.csv") + END[:5],
    ],
)
def test_a_form_that_breaks_off_is_400_and_keeps_nothing(client, assert_problem, stored, sent):
    assert_problem(client.post("/api/runs", content=sent, headers=FORM), 400)
    assert stored() == []


def test_a_log_over_the_limit_is_413_and_leaves_nothing(upload, assert_problem, settings, stored):
    body = assert_problem(upload(ONE_RUN + b"0" * settings.file_bytes, names=["big.csv"]), 413)
    assert "big.csv" in body["detail"] and f"{settings.file_bytes:,}" in body["detail"]
    assert stored() == []


def test_logs_over_the_limit_together_are_413(upload, assert_problem, settings, stored):
    logs = [bytes([48 + n]) * (settings.upload_bytes // 2 - 100) for n in range(3)]
    assert_problem(upload(*logs), 413)
    assert stored() == []


def test_a_body_without_a_length_is_cut_off_soon_after_the_limit(client, assert_problem, settings, stored):
    sent = 0

    def endless():
        nonlocal sent
        yield part("log", ONE_RUN, "ecu.csv")[:-2]
        while sent < 100 * settings.upload_bytes:
            sent += 65536
            yield b"0" * 65536

    response = client.post("/api/runs", content=endless(), headers=FORM)
    assert_problem(response, 413)
    assert stored() == []


def test_too_many_files_are_413(upload, assert_problem, settings):
    assert_problem(upload(*[ONE_RUN + bytes([n]) for n in range(settings.files + 1)]), 413)


def test_too_long_details_and_too_many_parts_are_413(client, upload, assert_problem, settings):
    assert_problem(upload(ONE_RUN, notes="x" * settings.json_bytes), 413)
    parts = b"".join(part(f"p{n}", b"") for n in range(50))
    assert_problem(client.post("/api/runs", content=parts + END, headers=FORM), 413)


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (part("details", b"{}"), "holds no log"),
        (part("file", ONE_RUN, "ecu.csv"), "'file' is no part of an upload"),
        (part("log", ONE_RUN, "ecu.csv") + part("details", b"{"), "no sound JSON"),
        (part("log", ONE_RUN, "ecu.csv") + part("details", b"[]"), "must be a JSON object"),
        (part("log", ONE_RUN, "ecu.csv") + part("details", b'{"owner": 1}'), "owner is no key"),
        (part("log", ONE_RUN, "ecu.csv") + part("details", b'{"finish_ft": 500}'), "finish_ft"),
        (part("log", ONE_RUN, "ecu.csv") + part("details", b'{"slip": {"t60_s": "soon"}}'), "t60_s"),
        (part("log", ONE_RUN, "ecu.csv") + part("details", b'{"air": {"pressure": 3}}'), "pressure"),
    ],
)
def test_an_upload_that_says_something_unusable_is_422(client, assert_problem, stored, parts, said):
    body = assert_problem(client.post("/api/runs", content=parts + END, headers=FORM), 422)
    assert said in body["detail"] and stored() == []


def test_an_unknown_car_is_404(upload, assert_problem, stored):
    assert_problem(upload(ONE_RUN, car="0" * 32), 404)
    assert stored() == []


def test_details_may_be_sent_as_a_file(client):
    files = [("log", ("ecu.csv", ONE_RUN)), ("details", ("details.json", orjson.dumps({"label": "Q1"})))]
    assert client.post("/api/runs", files=files).json()["runs"][0]["label"] == "Q1"


def test_a_car_body_over_the_limit_is_413(client, assert_problem, settings):
    assert_problem(client.post("/api/cars", json={"name": "x" * settings.json_bytes}), 413)
