"""The power is cut at every single step of an upload, a change and a removal: afterwards the run is whole or not there.

Planted: each call by which bytes or names reach the disk is counted; at the n-th one, and at every one after it, the
machine is dead. Then the folder is opened anew, as after a restart.
"""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import event

from passband.service.given.details import RunChanges, UploadDetails
from passband.service.library import Library
from passband.service.store.sqlite_records import SqliteRecords
from passband.service.uploads.received import ReceivedFile
from tests.service.object_stores import of_the_folder

pytestmark = [of_the_folder, pytest.mark.usefixtures("rows_in_a_file")]

STEPS_MAX = 60


class PowerCut(BaseException):
    """The machine is dead; nobody catches this."""


class Disk:
    """Counts what reaches the disk, and fails at the n-th."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, library: Library) -> None:
        self.count, self.fails_at, self.error = 0, 0, None
        for name in ("fsync", "replace"):
            monkeypatch.setattr(f"passband.service.store.files.os.{name}", self._counted(getattr(os, name)))
        monkeypatch.setattr(Path, "unlink", self._counted(Path.unlink))
        monkeypatch.setattr(shutil, "rmtree", self._counted(shutil.rmtree))
        assert isinstance(library.records, SqliteRecords)
        event.listen(library.records._engine, "commit", lambda _connection: self._step())

    def _step(self) -> None:
        self.count += 1
        if self.fails_at and self.count == self.fails_at and self.error is not None:
            raise self.error
        if self.fails_at and self.count >= self.fails_at and self.error is None:
            raise PowerCut

    def _counted(self, real: Callable) -> Callable:
        def call(*args, **kwargs):
            self._step()
            return real(*args, **kwargs)

        return call


@contextmanager
def opened(settings) -> Iterator[Library]:
    library = Library(settings)
    try:
        yield library
    finally:
        library.close()


def take_in(library: Library, text: bytes = b"runs=2\n") -> list[str]:
    with library.incoming() as folder:
        path = folder / "0.part"
        path.write_bytes(text)
        taken = library.take_in([ReceivedFile(path, "ecu.csv", len(text))], car=None, details=UploadDetails())
    return [run.id for run in taken.runs]


def assert_whole_or_nothing(library: Library, settings, allowed: tuple[int, ...]) -> int:
    """As many runs as allowed, each with all it needs, not one file that belongs to none, and no doubt of that."""
    assert library.condition.doubt is None
    runs = library.records.find_runs(event=None, car=None, limit=100, after=None)
    assert len(runs) in allowed
    needed = set()
    for run in runs:
        assert library.records.review(run.id)
        for opened_file in (library.files.open_table(run.id), library.files.open_log(run.id, 0)):
            assert opened_file is not None
            with opened_file[1] as file:
                assert file.read()
        whole = library.records.run(run.id)
        needed |= {whole.table_key, *(log.sha256 for log in whole.logs)}
    on_disk = {path.name.removesuffix(".parquet").removesuffix(".zst") for name in ("originals", "runs")
               for path in (settings.data / name).rglob("*") if path.is_file()}  # fmt: skip
    assert on_disk == needed
    assert list((settings.data / "incoming").iterdir()) == []
    with library.records._engine.begin() as connection:
        assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    return len(runs)


@contextmanager
def dead_from(settings, step: int) -> Iterator[tuple[Library, Disk]]:
    """A library whose power is cut at a step; swallowed, as a crash would be, and released for the next start."""
    library = Library(settings)
    with pytest.MonkeyPatch.context() as patch:
        disk = Disk(patch, library)
        disk.fails_at = step
        try:
            yield library, disk
        except PowerCut:
            pass
    library.close()


@pytest.mark.parametrize("log", [b"runs=2\n", b"runs=2\n" + b"0" * 9000], ids=["plain", "packed"])
def test_an_upload_is_whole_or_nothing_wherever_the_power_is_cut(planted, settings, log):
    seen = set()
    for step in range(1, STEPS_MAX):
        shutil.rmtree(settings.data, ignore_errors=True)
        acknowledged = False
        with dead_from(settings, step) as (library, disk):
            take_in(library, log)
            acknowledged = True
        with opened(settings) as library:
            kept = assert_whole_or_nothing(library, settings, allowed=(2,) if acknowledged else (0, 2))
            seen.add(kept)
            assert len(take_in(library, log)) == 2
        if acknowledged and disk.count < step:
            break
    assert step > 8 and seen == {0, 2}


def test_a_change_is_whole_or_nothing_wherever_the_power_is_cut(planted, settings):
    labels = set()
    for step in range(1, STEPS_MAX):
        shutil.rmtree(settings.data, ignore_errors=True)
        with opened(settings) as library:
            run = take_in(library)[0]
        acknowledged = False
        with dead_from(settings, step) as (library, disk):
            library.review_again(run, RunChanges(label="new"))
            acknowledged = True
        with opened(settings) as library:
            assert_whole_or_nothing(library, settings, allowed=(2,))
            label = library.records.run(run).details.label
            assert label == "new" or not acknowledged
            assert f'"label":"{label}"'.encode() in library.records.review(run)
            labels.add(label)
        if acknowledged and disk.count < step:
            break
    assert labels == {"", "new"}


def test_a_removal_is_whole_or_nothing_wherever_the_power_is_cut(planted, settings):
    for step in range(1, STEPS_MAX):
        shutil.rmtree(settings.data, ignore_errors=True)
        with opened(settings) as library:
            run = take_in(library, b"runs=1\n")[0]
        acknowledged = False
        with dead_from(settings, step) as (library, disk):
            library.deleting.remove(run)
            acknowledged = True
        with opened(settings) as library:
            kept = assert_whole_or_nothing(library, settings, allowed=(0,) if acknowledged else (0, 1))
            trashed = list(library.trash.entries())
            assert len(trashed) == 1 - kept
            if trashed:
                assert [one.id for one in library.deleting.restore(trashed[0].id)] == [run]
                assert_whole_or_nothing(library, settings, allowed=(1,))
        if acknowledged and disk.count < step:
            break
    assert step > 2


def test_a_run_taken_out_of_the_trash_is_there_or_here_wherever_the_power_is_cut(planted, settings):
    seen = set()
    for step in range(1, STEPS_MAX):
        shutil.rmtree(settings.data, ignore_errors=True)
        with opened(settings) as library:
            run = take_in(library, b"runs=1\n")[0]
            entry = library.deleting.remove(run)
        acknowledged = False
        with dead_from(settings, step) as (library, disk):
            library.deleting.restore(entry)
            acknowledged = True
        with opened(settings) as library:
            kept = assert_whole_or_nothing(library, settings, allowed=(1,) if acknowledged else (0, 1))
            seen.add(kept)
            if not kept:
                assert [one.id for one in library.deleting.restore(entry)] == [run]
        if acknowledged and disk.count < step:
            break
    assert seen == {0, 1}


def test_a_car_is_whole_or_nothing_wherever_the_power_is_cut(planted, settings):
    seen = set()
    for step in range(1, STEPS_MAX):
        shutil.rmtree(settings.data, ignore_errors=True)
        with opened(settings) as library:
            car = library.cars.add({"name": "Heron"}).id
        acknowledged = False
        with dead_from(settings, step) as (library, disk):
            library.cars.change(car, {"name": "Heron II"})
            acknowledged = True
        with opened(settings) as library:
            assert library.condition.doubt is None
            version = library.records.car(car).version
            assert version == 2 or not acknowledged
            seen.add(version)
            assert library.cars.change(car, {"name": "Heron III"}).version == version + 1
        if acknowledged and disk.count < step:
            break
    assert seen == {1, 2}


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO])
def test_a_disk_that_fails_once_loses_nothing_and_the_next_upload_works(planted, settings, code):
    for step in range(1, STEPS_MAX):
        shutil.rmtree(settings.data, ignore_errors=True)
        with opened(settings) as library, pytest.MonkeyPatch.context() as patch:
            disk = Disk(patch, library)
            disk.fails_at, disk.error = step, OSError(code, os.strerror(code))
            try:
                take_in(library)
            except OSError as error:
                assert error.errno == code
            failed = disk.count >= step
            disk.fails_at = 0
            assert len(take_in(library)) == 2
        with opened(settings) as library:
            assert_whole_or_nothing(library, settings, allowed=(2,))
        if not failed:
            break
    assert step > 8


def test_files_are_safe_before_names_and_names_before_rows(planted, settings, monkeypatch):
    told: list[str] = []
    with opened(settings) as library:
        for name in ("fsync", "replace"):
            real = getattr(os, name)
            monkeypatch.setattr(
                f"passband.service.store.files.os.{name}",
                lambda *a, real=real, name=name: (told.append(name), real(*a))[1],
            )
        event.listen(  # reading commits too, while a log is packed
            library.records._engine,
            "before_cursor_execute",
            lambda _connection, _cursor, said, *_: told.append("row") if said.startswith("INSERT INTO runs ") else None,
        )
        take_in(library, b"runs=1\n")
    # the log and then the table, each safe before it is named; then the names, each folder and the one above it
    first = told.index("fsync")
    assert told[first : first + 8] == ["fsync", "replace"] * 2 + ["fsync"] * 4 and "row" in told[first + 8 :]
