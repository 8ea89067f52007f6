"""Bytes under their hash: put once, never changed, never outside the folder."""

from __future__ import annotations

import hashlib

import pytest

from passband.service.store.files import FolderBlobs, hash_of


@pytest.fixture
def blobs(tmp_path):
    return FolderBlobs(tmp_path / "kept", suffix=".bin")


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
