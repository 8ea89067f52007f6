"""Logs and tables taken away: whole, by range, packed at rest or not, from here or from the store they lie in."""

from __future__ import annotations

import urllib.request
from contextlib import contextmanager

import pyarrow as pa
import pytest
from fastapi.testclient import TestClient

from passband.service.app import create_app
from passband.service.settings import read_settings
from tests.service.object_stores import objects_at, place  # noqa: F401

LOG = b"runs=1\n" + b"".join(b"%.2f,%d\n" % (n / 100, 3000 + n) for n in range(3000))
SHORT = b"runs=1 and too short to be worth packing"


@contextmanager
def serving(tmp_path, store="", **more):
    settings = read_settings({}, data=tmp_path / "data", workers=0, hosts="testserver", object_store=store, **more)
    with TestClient(create_app(settings), raise_server_exceptions=False, follow_redirects=False) as client:
        yield client


def send(client, log=LOG):
    return (
        f"/api/runs/{client.post('/api/runs', files=[('log', ('ecu.csv', log, 'text/csv'))]).json()['runs'][0]['id']}"
    )


@pytest.fixture(params=["folder", "store"])
def client(planted, request, tmp_path):
    with serving(tmp_path, request.getfixturevalue("place") if request.param == "store" else "") as client:
        yield client


@pytest.mark.parametrize("log", [LOG, SHORT], ids=["packed", "plain"])
def test_a_log_comes_back_byte_for_byte_with_its_size(client, log):
    got = client.get(f"{send(client, log)}/logs/0", headers={"Accept-Encoding": "identity"})
    assert got.status_code == 200 and got.content == log
    assert got.headers["content-length"] == str(len(log)) and got.headers["accept-ranges"] == "bytes"


# Published (RFC 9110, 14.1.2): a first and a last byte, both counted; without the last one to the end; "-n" the last n
@pytest.mark.parametrize(
    ("asked", "start", "stop"),
    [("0-0", 0, 1), ("5-9", 5, 10), ("20000-20099", 20000, 20100), ("7-", 7, None), ("-11", -11, None),
     ("0-99999999", 0, None), ("-99999999", 0, None)],
)  # fmt: skip
def test_a_range_of_a_log_is_that_range(client, asked, start, stop):
    got = client.get(f"{send(client)}/logs/0", headers={"Range": f"bytes={asked}"})
    wanted = LOG[start:stop]
    assert got.status_code == 206 and got.content == wanted
    first = start % len(LOG)
    assert got.headers["content-range"] == f"bytes {first}-{first + len(wanted) - 1}/{len(LOG)}"
    assert got.headers["content-length"] == str(len(wanted)) and "content-encoding" not in got.headers


def test_a_range_of_a_table_is_that_range(client):
    run = send(client)
    whole = client.get(f"{run}/export").content
    got = client.get(f"{run}/export", headers={"Range": "bytes=4-103"})
    assert whole[:4] == b"PAR1" and got.status_code == 206 and got.content == whole[4:104]


def test_a_log_is_fetched_in_pieces_that_make_the_whole(client):
    path, got = f"{send(client)}/logs/0", b""
    tag = client.get(path).headers["etag"]
    while len(got) < len(LOG):
        asked = {"Range": f"bytes={len(got)}-{len(got) + 9999}", "If-Range": tag}
        got += client.get(path, headers=asked).content
    assert got == LOG


def test_nothing_of_a_range_is_there(client, assert_problem):
    got = client.get(f"{send(client)}/logs/0", headers={"Range": f"bytes={len(LOG)}-"})
    assert_problem(got, 416)
    assert got.headers["content-range"] == f"bytes */{len(LOG)}"


@pytest.mark.parametrize(
    "headers",
    [{"Range": "bytes=0-1,4-5"}, {"Range": "lines=0-1"}, {"Range": "bytes=9-3"}, {"Range": "bytes=-"},
     {"Range": "bytes=0-1", "If-Range": '"another"'},
     *({"Range": asked.format("9" * 5000)} for asked in ("bytes=0-{}", "bytes={}-", "bytes=-{}"))],
)  # fmt: skip
def test_what_is_no_single_range_of_these_bytes_gives_the_whole(client, headers):
    got = client.get(f"{send(client)}/logs/0", headers=headers)
    assert got.status_code == 200 and got.content == LOG


def fetched(address):
    """As a client that knows nothing of us has it."""
    with urllib.request.urlopen(urllib.request.Request(address)) as answer:
        return answer.read(), answer.headers


def test_where_set_so_a_download_is_sent_to_the_store(planted, tmp_path, place):  # noqa: F811
    with serving(tmp_path, place, signed_seconds=60) as client:
        run = send(client, SHORT)
        for path, name, wanted in ((f"{run}/logs/0", "ecu.csv", SHORT), (f"{run}/export", ".parquet", None)):
            got = client.get(path)
            assert got.status_code == 307 and got.content == b"" and got.headers["cache-control"] == "no-store"
            body, headers = fetched(got.headers["location"])
            assert body == wanted if wanted else body[:4] == b"PAR1"
            assert "attachment" in headers["content-disposition"] and name in headers["content-disposition"]


def test_a_packed_log_is_sent_there_only_for_who_can_unpack_it(planted, tmp_path, place):  # noqa: F811
    with serving(tmp_path, place, signed_seconds=60) as client:
        path = f"{send(client)}/logs/0"
        for refusing in ("gzip", "gzip, zstd;q=0", "identity"):
            got = client.get(path, headers={"Accept-Encoding": refusing})
            assert got.status_code == 200 and got.content == LOG
        got = client.get(path, headers={"Accept-Encoding": "gzip, zstd"})
        assert got.status_code == 307 and "Accept-Encoding" in got.headers["vary"]
        body, headers = fetched(got.headers["location"])
        assert headers["content-encoding"] == "zstd" and len(body) < len(LOG) / 2
        assert pa.input_stream(pa.py_buffer(body), compression="zstd").read() == LOG
        ranged = client.get(path, headers={"Accept-Encoding": "zstd", "Range": "bytes=0-9"})
        assert ranged.status_code == 206 and ranged.content == LOG[:10]


def test_without_a_store_downloads_stay_here_whatever_is_set(planted, tmp_path):
    with serving(tmp_path, signed_seconds=60) as client:
        assert client.get(f"{send(client)}/logs/0").content == LOG


def test_an_address_of_what_is_missing_is_not_given_out(planted, tmp_path, place, assert_problem):  # noqa: F811
    with serving(tmp_path, place, signed_seconds=60) as client:
        run = send(client, SHORT)
        blobs = client.app.state.library.folder.originals
        for key in list(blobs.keys()):
            blobs.remove(key)
        assert_problem(client.get(f"{run}/logs/0"), 409)
        assert objects_at(place)
