"""Bytes under their hash: put once, never changed, never outside their place, in a folder and in an object store."""

from __future__ import annotations

import errno
import gzip
import hashlib
import os
import random
import threading
import time

import pytest

import passband.service.store.files
from passband.service.store.files import FolderBlobs, Written, hash_of, preparing, write_all_whole
from passband.service.store.object_blobs import ObjectBlobs
from tests.service.object_stores import BUCKET, client, place, store  # noqa: F401


@pytest.fixture
def folder_blobs(tmp_path):
    return FolderBlobs(tmp_path / "kept", suffix=".bin")


@pytest.fixture(params=["folder", "folder that packs", "store", "store that packs"])
def blobs(request, tmp_path):
    of = {"suffix": ".bin", "packs": request.param.endswith("packs")}
    if request.param.startswith("folder"):
        return FolderBlobs(tmp_path / "kept", **of)
    return ObjectBlobs(request.getfixturevalue("store"), "kept", scratch=tmp_path, **of)


@pytest.fixture(params=["folder", "store"])
def packing_blobs(request, tmp_path):
    if request.param == "folder":
        return FolderBlobs(tmp_path / "kept", packs=True)
    return ObjectBlobs(request.getfixturevalue("store"), "kept", scratch=tmp_path, packs=True)


LOG = b"Time [s],RPM\n" + b"".join(b"%.2f,%d\n" % (n / 100, 3000 + n) for n in range(3000))
"""Text that is worth packing."""
NOISE = random.Random(1).randbytes(20_000)


def names_kept(blobs, tmp_path):
    """Name and size of all that is kept, past everything of ours."""
    if isinstance(blobs, FolderBlobs):
        return {path.name: path.stat().st_size for path in (tmp_path / "kept").rglob("*") if path.is_file()}
    return {found.name.rpartition("/")[2]: found.bytes for found in blobs._store.below("kept/")}


def keep_plain(blobs, tmp_path, body):
    """As libraries kept files before any was packed."""
    blobs._packs = False
    key = put(blobs, tmp_path, body)
    blobs._packs = True
    return key


def harm(blobs, tmp_path, key, body):
    """Put other bytes in the place of those that are kept, past everything of ours."""
    if isinstance(blobs, FolderBlobs):
        next((tmp_path / "kept").rglob(f"{key}*")).write_bytes(body)
    else:
        client().put_object(Bucket=BUCKET, Key=blobs._store._prefix + blobs._names(key)[-1], Body=body)


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


def test_text_is_packed_and_read_as_it_was_from_any_place(packing_blobs, tmp_path):
    key = put(packing_blobs, tmp_path, LOG)
    assert key == hashlib.sha256(LOG).hexdigest() and list(packing_blobs.keys()) == [key]
    kept = names_kept(packing_blobs, tmp_path)
    assert list(kept) == [f"{key}.zst"] and kept[f"{key}.zst"] < len(LOG) / 2
    with packing_blobs.open(key) as file:
        assert file.read() == LOG
        for at in (20_000, 5, 0, len(LOG) - 3, len(LOG)):
            assert file.seek(at) == at and file.read(50) == LOG[at : at + 50]
        assert file.seek(-7, os.SEEK_END) == len(LOG) - 7 and file.read() == LOG[-7:]
    assert packing_blobs.is_whole(key) and sorted(tmp_path.glob("source*")) == []


@pytest.mark.parametrize("knows_hash", [True, False])
@pytest.mark.parametrize("body", [LOG, NOISE, b""])
def test_what_was_prepared_is_kept_as_the_file_itself(packing_blobs, tmp_path, body, knows_hash):
    sha256 = hashlib.sha256(body).hexdigest() if knows_hash else ""
    expected = put(packing_blobs, tmp_path, body), names_kept(packing_blobs, tmp_path)
    for there_already in (True, False):
        if not there_already:
            packing_blobs.remove(expected[0])
        (tmp_path / "source").write_bytes(body)
        with preparing(packing_blobs, [(tmp_path / "source", sha256)]) as prepared:
            pass  # what is done meanwhile
        [ready] = prepared.result()
        assert (packing_blobs.put(ready), names_kept(packing_blobs, tmp_path)) == expected
        assert sorted(tmp_path.glob("source*")) == []


def test_preparing_waits_for_what_goes_first_but_not_beyond_the_end(packing_blobs, tmp_path):
    (tmp_path / "source").write_bytes(LOG)
    first = threading.Event()
    with preparing(packing_blobs, [(tmp_path / "source", "")], after=first) as prepared:
        time.sleep(0.05)
        assert sorted(path.name for path in tmp_path.glob("source*")) == ["source"]
        first.set()
        assert prepared.result(10)[0].packed == tmp_path / "source.zst"
    with preparing(packing_blobs, [(tmp_path / "source", "")], after=threading.Event()) as prepared:
        pass
    assert prepared.result()[0].source == tmp_path / "source"


def test_nothing_is_prepared_for_what_came_to_no_end(packing_blobs, tmp_path):
    (tmp_path / "source").write_bytes(LOG)
    with (
        pytest.raises(ValueError, match="no run"),
        preparing(packing_blobs, [(tmp_path / "source", "")], after=threading.Event()),
    ):
        raise ValueError("no run")
    assert [path.name for path in tmp_path.glob("source*")] == ["source"]


def test_several_laid_are_all_named_before_a_folder_is_synced(folder_blobs, tmp_path, monkeypatch):
    told = calls(monkeypatch, "fsync", "replace")
    written = Written()
    for n in range(2):
        (tmp_path / f"source{n}").write_bytes(b"%d" % n)
    keys = written.put_all([(folder_blobs, tmp_path / f"source{n}") for n in range(2)])
    assert told == ["fsync", "replace"] * 2 + ["fsync"] * 3  # two folders, and the one that they lie in
    assert keys == [hashlib.sha256(b"%d" % n).hexdigest() for n in range(2)] == [key for _, key in written.keys]


def test_what_stands_in_the_way_of_preparing_is_raised_where_it_is_asked_for(packing_blobs, tmp_path):
    with preparing(packing_blobs, [(tmp_path / "gone", "")]) as prepared:
        pass
    with pytest.raises(FileNotFoundError, match="gone"):
        prepared.result()


@pytest.mark.parametrize("body", [b"", b"short", LOG[:4096], NOISE, gzip.compress(NOISE.hex().encode(), mtime=0)])
def test_what_is_not_worth_it_stays_plain(packing_blobs, tmp_path, body):
    key = put(packing_blobs, tmp_path, body)
    assert names_kept(packing_blobs, tmp_path) == {key: len(body)}
    with packing_blobs.open(key) as file:
        assert file.read() == body


def test_plain_files_of_an_older_library_are_read_and_kept_once(packing_blobs, tmp_path):
    key = keep_plain(packing_blobs, tmp_path, LOG)
    with packing_blobs.open(key) as file:
        assert file.read() == LOG
    assert put(packing_blobs, tmp_path, LOG) == key
    assert names_kept(packing_blobs, tmp_path) == {key: len(LOG)}
    packing_blobs.remove(key)
    assert list(packing_blobs.keys()) == [] == list(names_kept(packing_blobs, tmp_path))


def test_a_damaged_plain_file_is_mended_by_a_packed_one(packing_blobs, tmp_path):
    key = keep_plain(packing_blobs, tmp_path, LOG)
    harm(packing_blobs, tmp_path, key, LOG[:-1] + b"?")
    put(packing_blobs, tmp_path, LOG)
    assert list(names_kept(packing_blobs, tmp_path)) == [f"{key}.zst"] and packing_blobs.is_whole(key)


def test_any_flipped_byte_of_a_packed_file_is_found(folder_blobs, tmp_path):
    blobs = FolderBlobs(tmp_path / "packed", packs=True)
    key = put(blobs, tmp_path, LOG)
    path = blobs.stored(key, tmp_path)
    body = path.read_bytes()
    for at in range(0, len(body), 131):
        path.write_bytes(body[:at] + bytes([body[at] ^ 0x10]) + body[at + 1 :])
        assert not blobs.is_whole(key)
    path.write_bytes(body[: len(body) // 2])
    with pytest.raises(KeyError, match="damaged"):
        blobs.open(key)


def test_both_forms_side_by_side_are_one_key_and_either_is_read(packing_blobs, tmp_path):
    # Planted: a crash between the packed file's name and the removal of the damaged plain one, and the other way
    key = put(packing_blobs, tmp_path, LOG)
    packed = packing_blobs.stored(key, tmp_path).read_bytes()
    keep_beside(packing_blobs, tmp_path, key, LOG[:-1])
    assert list(packing_blobs.keys()) == [key] and packing_blobs.is_whole(key)
    keep_beside(packing_blobs, tmp_path, key, LOG)
    keep_beside(packing_blobs, tmp_path, f"{key}.zst", packed[:-9])
    with packing_blobs.open(key) as file:
        assert file.read() == LOG


def keep_beside(blobs, tmp_path, name, body):
    if isinstance(blobs, FolderBlobs):
        (tmp_path / "kept" / name[:2] / name).write_bytes(body)
    else:
        client().put_object(Bucket=BUCKET, Key=f"{blobs._store._prefix}kept/{name[:2]}/{name}", Body=body)


def test_nothing_is_left_of_packing_where_its_file_cannot_be_written(folder_blobs, tmp_path, monkeypatch):
    blobs = FolderBlobs(tmp_path / "packed", packs=True)
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(OSError, match="No space"):
        put(blobs, tmp_path, LOG)
    assert (tmp_path / "source").read_bytes() == LOG and list(blobs.keys()) == []


def test_of_several_small_files_all_are_changed_or_none(tmp_path, monkeypatch):
    # Planted: the disk fails over one of them
    places = [tmp_path / f"{n}.json" for n in range(20)]
    write_all_whole(dict.fromkeys(places, b"before"), scratch=tmp_path)

    def fail_over_one(path):
        if path.read_bytes() == b"after 7":
            raise OSError(errno.EIO, "planted")

    monkeypatch.setattr(passband.service.store.files, "sync_file", fail_over_one)
    with pytest.raises(OSError, match="planted"):
        write_all_whole({path: f"after {n}".encode() for n, path in enumerate(places)}, scratch=tmp_path)
    assert {path.read_bytes() for path in places} == {b"before"} and len(list(tmp_path.iterdir())) == 20
