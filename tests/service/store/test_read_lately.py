"""Copies of what was read of a store: right, bounded, and never in the way of a look at the store itself."""

from __future__ import annotations

import pytest

from passband.service.store.object_blobs import ObjectBlobs
from passband.service.store.read_lately import ReadLately
from tests.service.object_stores import BUCKET, client, place, store  # noqa: F401

ROOM_BYTES = 10


@pytest.fixture
def lately():
    return ReadLately(ROOM_BYTES)


@pytest.fixture
def kept(store, tmp_path, lately):  # noqa: F811
    """A keeper in a store, and the key of what it keeps."""
    blobs = ObjectBlobs(store, "kept", scratch=tmp_path, lately=lately)
    (tmp_path / "source").write_bytes(b"five!")
    return blobs, blobs.put(tmp_path / "source")


def test_the_least_lately_asked_for_go_first_and_all_stay_within_the_room(lately):
    # Hand: 4 + 4 fit into 10 bytes, a third of 4 does not
    lately.put("a", b"aaaa")
    lately.put("b", b"bbbb")
    assert lately.get("a") == b"aaaa"
    lately.put("c", b"cccc")
    assert (lately.get("a"), lately.get("b"), lately.get("c")) == (b"aaaa", None, b"cccc")


def test_what_is_larger_than_the_room_is_not_kept_and_drives_nothing_out(lately):
    lately.put("a", b"aaaa")
    lately.put("b", b"b" * (ROOM_BYTES + 1))
    assert lately.get("b") is None and lately.get("a") == b"aaaa"


def test_the_same_name_again_takes_its_room_once(lately):
    for _ in range(9):
        lately.put("a", b"aaaa")
    lately.put("b", b"bbbbbb")
    assert lately.get("a") == b"aaaa" and lately.get("b") == b"bbbbbb"


def test_what_was_read_once_is_read_again_without_the_store(kept, monkeypatch):
    blobs, key = kept
    blobs.open(key).close()
    monkeypatch.setattr(blobs._store, "fetch", None)
    with blobs.open(key) as one, blobs.open(key) as other:
        assert one.read(2) == b"fi" and other.read() == b"five!" and one.read() == b"ve!"


def test_a_look_at_the_store_itself_is_not_answered_by_a_copy(kept):
    # Planted: other bytes in its place
    blobs, key = kept
    blobs.open(key).close()
    client().put_object(Bucket=BUCKET, Key=blobs._store._prefix + blobs._names(key)[-1], Body=b"other")
    assert not blobs.is_whole(key)


def test_what_was_removed_is_not_read_from_a_copy(kept):
    blobs, key = kept
    blobs.open(key).close()
    blobs.remove(key)
    with pytest.raises(KeyError, match="nothing is kept under"):
        blobs.open(key)


def test_a_copy_is_of_its_own_place_alone(kept, store, tmp_path, lately):  # noqa: F811
    blobs, key = kept
    blobs.open(key).close()
    elsewhere = ObjectBlobs(store, "another", scratch=tmp_path, lately=lately)
    with pytest.raises(KeyError, match="nothing is kept under"):
        elsewhere.open(key)
