"""Bytes under their hash: put once, never changed, never outside their place, in a folder and in an object store."""

from __future__ import annotations

import hashlib
import os

import pytest

from passband.service.store.files import FolderBlobs, hash_of
from passband.service.store.object_blobs import ObjectBlobs
from tests.service.object_stores import BUCKET, client, place, store  # noqa: F401


@pytest.fixture
def folder_blobs(tmp_path):
    return FolderBlobs(tmp_path / "kept", suffix=".bin")


@pytest.fixture(params=["folder", "store"])
def blobs(request, tmp_path):
    if request.param == "folder":
        return request.getfixturevalue("folder_blobs")
    return ObjectBlobs(request.getfixturevalue("store"), "kept", scratch=tmp_path, suffix=".bin")


def harm(blobs, tmp_path, key, body):
    """Put other bytes in the place of those that are kept, past everything of ours."""
    if isinstance(blobs, FolderBlobs):
        next((tmp_path / "kept").rglob(f"{key}*")).write_bytes(body)
    else:
        client().put_object(Bucket=BUCKET, Key=blobs._store._prefix + blobs._name(key), Body=body)


def put(blobs, tmp_path, body):
    source = tmp_path / "source"
    source.write_bytes(body)
    return blobs.put(source)


def test_the_key_is_the_sha256_of_the_bytes(blobs, tmp_path):
    # Published (FIPS 180-4 example): SHA-256 of "abc"
    key = put(blobs, tmp_path, b"abc")
    assert key == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    with blobs.open(key) as file:
        assert file.read() == b"abc"
    assert not (tmp_path / "source").exists()


def test_a_large_file_is_hashed_whole(tmp_path):
    body = bytes(range(256)) * 10_000
    (tmp_path / "large").write_bytes(body)
    assert hash_of(tmp_path / "large") == hashlib.sha256(body).hexdigest()


def test_the_same_bytes_are_kept_once(blobs, tmp_path):
    assert put(blobs, tmp_path, b"x") == put(blobs, tmp_path, b"x")
    assert len(list(blobs.keys())) == 1


def test_what_is_open_stays_readable_when_the_key_is_removed(blobs, tmp_path):
    key = put(blobs, tmp_path, b"x")
    with blobs.open(key) as file:
        blobs.remove(key)
        assert file.read() == b"x"
    blobs.remove(key)
    assert list(blobs.keys()) == []
    with pytest.raises(KeyError, match="nothing is kept"):
        blobs.open(key)


@pytest.mark.parametrize("key", ["", "../../etc/passwd", "A" * 64, "0" * 63, "0" * 63 + "/", "0" * 64 + "\n"])
def test_what_is_no_key_reaches_no_file(blobs, key):
    with pytest.raises(KeyError, match="is no key"):
        blobs.open(key)
    with pytest.raises(KeyError, match="is no key"):
        blobs.remove(key)


def calls(monkeypatch, *names):
    """Names of the calls by which bytes and names reach the disk, in order."""
    told = []
    for name in names:
        real = getattr(os, name)
        monkeypatch.setattr(os, name, lambda *a, real=real, name=name: (told.append(name), real(*a))[1])
    return told


def test_a_key_is_noted_before_its_name_can_be_there_and_only_if_it_is_new(folder_blobs, tmp_path, monkeypatch):
    blobs = folder_blobs
    told = calls(monkeypatch, "replace")
    for _ in range(2):
        (tmp_path / "source").write_bytes(b"x")
        blobs.put(tmp_path / "source", noted=told.append)
    assert [word[:7] for word in told] == [hash_of(next(tmp_path.rglob("*.bin")))[:7], "replace"]


def test_a_file_whose_folder_could_not_be_synced_is_synced_when_it_comes_again(folder_blobs, tmp_path, monkeypatch):
    blobs = folder_blobs
    real, failing = os.fsync, [True]

    def fsync(handle):
        if failing and os.path.isdir(f"/proc/self/fd/{handle}"):
            raise OSError(5, "Input/output error")
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    with pytest.raises(OSError, match="Input/output"):
        put(blobs, tmp_path, b"x")
    failing.clear()
    told = calls(monkeypatch, "fsync", "replace")
    put(blobs, tmp_path, b"x")
    assert told == ["fsync", "fsync", "fsync"]  # the file, its folder, the folder above


def test_damaged_bytes_are_not_given_out_and_the_same_file_again_mends_them(blobs, tmp_path):
    key = put(blobs, tmp_path, b"sound")
    harm(blobs, tmp_path, key, b"soumd")
    assert not blobs.is_whole(key)
    with pytest.raises(KeyError, match="damaged"):
        blobs.open(key)
    assert put(blobs, tmp_path, b"sound") == key and blobs.is_whole(key)
    with blobs.open(key) as file:
        assert file.read() == b"sound"


def test_what_was_set_aside_stays_when_the_key_is_removed(folder_blobs, tmp_path):
    blobs = folder_blobs
    key = put(blobs, tmp_path, b"x")
    name = blobs.set_aside(key, tmp_path)
    blobs.remove(key)
    assert name == f"{key}.bin" and (tmp_path / name).read_bytes() == b"x"
    with pytest.raises(KeyError, match="nothing is kept"):
        blobs.set_aside(key, tmp_path)


def test_where_no_second_name_can_be_bytes_are_copied(folder_blobs, tmp_path, monkeypatch):
    blobs = folder_blobs
    key = put(blobs, tmp_path, b"x")
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(PermissionError(1, "Operation not permitted")))
    assert (tmp_path / blobs.set_aside(key, tmp_path)).read_bytes() == b"x"


def test_files_of_others_are_no_keys(folder_blobs, tmp_path, caplog):
    blobs = folder_blobs
    key = put(blobs, tmp_path, b"x")
    folder = tmp_path / "kept" / key[:2]
    for path in (folder / "notes.bin", folder / f"{'0' * 64}.bin", folder / key, tmp_path / "kept" / "top.bin"):
        path.write_bytes(b"")
    caplog.set_level("INFO")
    assert list(blobs.keys()) == [key]
    assert "4 files in kept are none of ours" in caplog.text
