"""Room set aside is really taken from the disk and really given back; a full disk is told from a broken one.

Hand: blocks as the file system counts them, errors made as SQLite makes them.
"""

from __future__ import annotations

import errno
import os
import sqlite3

import pytest
from sqlalchemy.exc import OperationalError

from passband.service.store import room
from passband.service.store.room import Reserve, no_room

MIB = 1024 * 1024


def blocks(path) -> int:
    return path.stat().st_blocks * 512


def sqlite_error(code: int) -> OperationalError:
    error = sqlite3.OperationalError("of SQLite")
    error.sqlite_errorcode = code
    return OperationalError("INSERT", {}, error)


def test_what_is_set_aside_has_blocks_behind_it_and_is_given_up_whole(tmp_path):
    reserve = Reserve(tmp_path / "reserve", 2 * MIB)
    assert reserve.fill() == 2 * MIB and blocks(tmp_path / "reserve") >= 2 * MIB
    assert reserve.give_up() and blocks(tmp_path / "reserve") == 0
    assert not reserve.give_up()


def test_another_size_is_taken_up_and_none_takes_none(tmp_path):
    Reserve(tmp_path / "reserve", 2 * MIB).fill()
    assert Reserve(tmp_path / "reserve", MIB).fill() == MIB == (tmp_path / "reserve").stat().st_size
    assert Reserve(tmp_path / "none", 0).fill() == 0 and not (tmp_path / "none").exists()


def test_where_there_is_less_room_less_is_set_aside(tmp_path, monkeypatch):
    def allocate(path, wanted):
        if wanted > 600 * 1024:
            raise OSError(errno.ENOSPC, "full")
        path.write_bytes(bytes(wanted))

    monkeypatch.setattr(room, "_allocate", allocate)
    assert 300 * 1024 < Reserve(tmp_path / "reserve", 4 * MIB).fill() <= 600 * 1024
    monkeypatch.setattr(room, "_free_bytes", lambda _folder: 192 * 1024 + 5)
    assert Reserve(tmp_path / "other", 4 * MIB).fill() == 192 * 1024


def test_what_meets_a_full_disk_is_done_again_with_the_reserve(tmp_path):
    reserve = Reserve(tmp_path / "reserve", MIB)
    reserve.fill()

    def act():
        if (tmp_path / "reserve").stat().st_size:
            raise sqlite_error(sqlite3.SQLITE_FULL)
        return "done"

    assert reserve.spend(act) == "done"
    assert (tmp_path / "reserve").stat().st_size == MIB


def test_without_a_reserve_or_for_another_reason_it_fails_as_it_did(tmp_path):
    def full():
        raise OSError(errno.ENOSPC, "full")

    with pytest.raises(OSError, match="full"):
        Reserve(tmp_path / "none", 0).spend(full)
    reserve = Reserve(tmp_path / "reserve", MIB)
    reserve.fill()
    calls = []

    def broken():
        calls.append(1)
        raise sqlite_error(sqlite3.SQLITE_CORRUPT)

    with pytest.raises(OperationalError, match="of SQLite"):
        reserve.spend(broken)
    assert len(calls) == 1


def test_with_hardly_anything_free_the_reserve_goes_before_it_is_asked_for(tmp_path, monkeypatch):
    reserve = Reserve(tmp_path / "reserve", MIB)
    reserve.fill()
    monkeypatch.setattr(room, "_free_bytes", lambda _folder: 100)
    reserve.make_way()
    assert (tmp_path / "reserve").stat().st_size == 0


@pytest.mark.parametrize(
    ("error", "full"),
    [
        (OSError(errno.ENOSPC, ""), True),
        (OSError(errno.EDQUOT, ""), True),
        (OSError(errno.EIO, ""), False),
        (sqlite_error(sqlite3.SQLITE_FULL), True),
        (sqlite_error(sqlite3.SQLITE_IOERR_WRITE), False),
        (sqlite_error(sqlite3.SQLITE_BUSY), False),
        (ValueError(""), False),
    ],
)
def test_a_full_disk_is_told_from_other_trouble(tmp_path, error, full):
    assert no_room(error, tmp_path) is full
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("code", [sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_SHMSIZE, sqlite3.SQLITE_CANTOPEN])
def test_an_error_of_reading_or_writing_is_one_of_room_where_a_few_bytes_find_none(tmp_path, monkeypatch, code):
    def fsync(_file):
        raise OSError(errno.EDQUOT, os.strerror(errno.EDQUOT))

    monkeypatch.setattr(room.os, "fsync", fsync)
    assert no_room(sqlite_error(code), tmp_path)
    assert list(tmp_path.iterdir()) == []
