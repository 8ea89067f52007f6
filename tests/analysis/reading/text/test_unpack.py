"""What came in: packed, too large unpacked, or something else altogether."""

import gzip
import io
import time
import zipfile

import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.text.unpack import unpack

LOG = b"Time,RPM\n" + b"0.01,1000\n" * 50


def zipped(files: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return buffer.getvalue()


def test_plain_bytes_pass_through():
    assert unpack(LOG, name="x").data is LOG


def test_gzip_of_several_members_is_one_file():
    unpacked = unpack(gzip.compress(LOG) + gzip.compress(b"more"), name="x")
    assert (unpacked.data, unpacked.compression) == (LOG + b"more", "gzip")


def test_zip_of_one_log_with_clutter_beside_it():
    data = zipped({"run.csv": LOG, "__MACOSX/._run.csv": b"x", "folder/.DS_Store": b"y"})
    assert unpack(data, name="x").data == LOG


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (zipped({}), "found 0 files"),
        (zipped({"a.csv": LOG, "b.csv": LOG}), "found 2 files"),
        (zipped({"[Content_Types].xml": b"<x/>"}), "spreadsheet"),
        (zipped({"a.csv": LOG})[:60], "damaged"),
        (gzip.compress(LOG, mtime=0)[:-9], "cut short"),
        (gzip.compress(LOG, mtime=0)[:-1], "cut short"),
        (gzip.compress(LOG, mtime=0)[:20] + b"\x00" * 40, "damaged"),
        (b"%PDF-1.7 \x00", "PDF"),
    ],
)
def test_what_cannot_be_unpacked_is_refused(data, why):
    with pytest.raises(NotALog, match=why):
        unpack(data, name="x")


@pytest.mark.parametrize("pack", [gzip.compress, lambda data: zipped({"a.csv": data})])
def test_a_bomb_is_stopped_before_it_grows(pack):
    bomb = pack(b"0" * 60_000_000)
    began = time.process_time()
    with pytest.raises(NotALog, match="grows past"):
        unpack(bomb, name="x")
    assert time.process_time() - began < 2.0


def test_a_log_of_constants_is_no_bomb():
    steady = b"Time,RPM\n" + b"0.01,1000,20.0,100.0\n" * 100_000  # packs 200 to 1
    assert unpack(gzip.compress(steady), name="x").data == steady
