"""A backup made while uploads go on, and put back: what it names is there byte for byte, and what is not is named.

Planted: reviews without reading (see conftest), so that many uploads take no time; hashes are those of the standard
library over what lies on the disk.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import subprocess
import sys
import tarfile
import threading
import time
from contextlib import closing, contextmanager
from pathlib import Path

import orjson
import pytest

from passband.service.cli import main
from passband.service.commands.restoring import restore
from passband.service.given.details import UploadDetails
from passband.service.kept import backup
from passband.service.kept.backup import back_up
from passband.service.library import Library
from passband.service.settings import read_settings
from passband.service.store.archives import MANIFEST, BackupError
from passband.service.store.folder import hold_folder
from passband.service.store.packing import unpack
from passband.service.store.record_files import read_record, written_record
from passband.service.uploads.received import ReceivedFile
from tests.service.object_stores import of_the_folder
from tests.service.real_server import ROOT, Server, assert_all_whole, short_log

pytestmark = [of_the_folder, pytest.mark.usefixtures("rows_in_a_file")]


@pytest.fixture
def library(planted, settings):
    library = Library(settings)
    yield library
    library.close()


@pytest.fixture(params=["folder", "file.tar"])
def target(request, tmp_path):
    return tmp_path / "backups" / request.param


def keep(library: Library, number: int) -> str:
    with library.incoming() as folder:
        path = folder / "0.part"
        path.write_bytes(b"runs=1 %d\n" % number)
        files = [ReceivedFile(path, f"log{number}.csv", path.stat().st_size)]
        taken = library.take_in(files, car=None, details=UploadDetails(event="Meet", round=str(number)))
    return taken.runs[0].id


def rows_of(database: Path) -> dict[str, str]:
    """Hash of the review of each run."""
    with closing(sqlite3.connect(f"{database.as_uri()}?immutable=1", uri=True)) as rows:
        kept = rows.execute("SELECT id, review FROM runs")
        return {id: hashlib.sha256(unpack(review)).hexdigest() for id, review in kept}


@contextmanager
def opened(folder: Path):
    library = Library(read_settings({}, data=folder, workers=0))
    try:
        yield library
    finally:
        library.close()


def assert_restored(folder: Path, runs: dict[str, str]) -> None:
    """Every run with its review, log and table, nothing doubted and nothing left over."""
    with opened(folder) as library:
        assert library.condition.doubt is None and list(library.trash.entries()) == []
        kept = {run.id for run in library.records.find_runs(event=None, car=None, limit=1000, after=None)}
        assert kept == set(runs)
        for run, review in runs.items():
            assert hashlib.sha256(library.records.review(run)).hexdigest() == review
            record, table = library.files.open_table(run)
            log, original = library.files.open_log(run, 0)
            with table, original:
                assert hashlib.sha256(table.read()).hexdigest() == record.table_key
                assert hashlib.sha256(original.read()).hexdigest() == log.sha256


def test_a_backup_amid_uploads_and_deletes_comes_back_as_it_stood(library, target, tmp_path):
    for number in range(5):
        keep(library, number)
    stop, kept = threading.Event(), []

    def go_on(first: int) -> None:
        number = first
        while not stop.is_set():
            run = keep(library, number)
            kept.append(run)
            if number % 3 == 0:
                library.deleting.remove(run)
            number += 2

    senders = [threading.Thread(target=go_on, args=(first,)) for first in (100, 101)]
    for sender in senders:
        sender.start()
    try:
        while len(kept) < 6:
            pass
        manifest = back_up(library._folder.root, target)
        copied = len(kept)
    finally:
        stop.set()
        for sender in senders:
            sender.join()
    assert manifest.faults == () and manifest.runs >= 5 and copied >= 6
    restored = tmp_path / "restored"
    restore(target, restored)
    runs = rows_of(restored / "library.sqlite")
    assert len(runs) == manifest.runs
    assert_restored(restored, runs)


def test_a_run_deleted_after_the_rows_were_copied_is_taken_from_the_trash(library, target, tmp_path, monkeypatch):
    run = keep(library, 1)
    monkeypatch.setattr("passband.service.kept.backup._named", after_a_delete(library, run))
    manifest = back_up(library._folder.root, target)
    assert manifest.faults == () and library.records.run(run) is None
    restore(target, tmp_path / "restored")
    assert_restored(tmp_path / "restored", rows_of(tmp_path / "restored" / "library.sqlite"))


def after_a_delete(library, run):
    named = backup._named

    def first_deleted(*args):
        library.deleting.remove(run)
        return named(*args)

    return first_deleted


def test_the_same_from_the_command_line_and_not_over_something(library, target, tmp_path, capsys):
    keep(library, 1)
    data = ["--data", str(library._folder.root)]
    assert main(["backup", str(target), *data]) == 0
    assert "Backed up 1 run, 0 cars and 5 files" in capsys.readouterr().out
    assert main(["backup", str(target), *data]) == 2 and "is there already" in capsys.readouterr().err
    assert main(["restore", str(target), *data]) == 2 and "is not empty" in capsys.readouterr().err
    assert main(["restore", str(target), "--data", str(tmp_path / "new")]) == 0
    assert "every sum was right" in capsys.readouterr().out


def flipped(body: bytes, at: int) -> bytes:
    return body[:at] + bytes([body[at] ^ 0x10]) + body[at + 1 :]


def test_a_flipped_byte_in_any_file_is_named_and_nothing_is_restored(library, tmp_path):
    keep(library, 1)
    whole = tmp_path / "whole"
    manifest = back_up(library._folder.root, whole)
    for file in (*(kept.path for kept in manifest.files), MANIFEST):
        backup = tmp_path / "flipped"
        shutil.copytree(whole, backup)  # a copy: the backup's own files are the library's by another name
        body = (backup / file).read_bytes()
        (backup / file).write_bytes(flipped(body, len(body) // 2))
        with pytest.raises(BackupError, match=file.replace(".", r"\.") + " is damaged"):
            restore(backup, tmp_path / "restored")
        assert not (tmp_path / "restored").exists()
        shutil.rmtree(backup)


def test_a_flipped_byte_anywhere_in_a_tar_file_is_told_or_harmless(library, tmp_path):
    keep(library, 1)
    tar = tmp_path / "backup.tar"
    back_up(library._folder.root, tar)
    body, told = tar.read_bytes(), 0
    for at in range(0, len(body), 4099):
        (tmp_path / "flipped.tar").write_bytes(flipped(body, at))
        restored = tmp_path / f"restored{at}"
        try:
            restore(tmp_path / "flipped.tar", restored)
        except BackupError:
            told += 1
            assert not restored.exists()
        else:  # padding between files, or a date of one
            assert_restored(restored, rows_of(restored / "library.sqlite"))
    assert told > 5


def test_a_missing_file_is_named(library, tmp_path):
    keep(library, 1)
    manifest = back_up(library._folder.root, tmp_path / "backup")
    table = next(kept.path for kept in manifest.files if kept.path.startswith("runs/"))
    (tmp_path / "backup" / table).unlink()
    with pytest.raises(BackupError, match=f"1 of 5 files .* {table} is missing"):
        restore(tmp_path / "backup", tmp_path / "restored")


@pytest.mark.parametrize("name", ["folder", "file.tar"])
def test_a_backup_that_was_cut_off_is_known_for_what_it_is(library, tmp_path, monkeypatch, name):
    keep(library, 1)

    def die(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("passband.service.store.archives.Manifest.written", die)
    with pytest.raises(BackupError, match=r"could not be finished \(No space left on device\).* is no backup"):
        back_up(library._folder.root, tmp_path / name)
    with pytest.raises(BackupError, match="no backup"):
        restore(tmp_path / name, tmp_path / "restored")
    assert not (tmp_path / "restored").exists()
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".passband")] == []


def test_a_restore_that_was_cut_off_is_no_library_and_begins_again(library, tmp_path, monkeypatch):
    run = keep(library, 1)
    back_up(library._folder.root, tmp_path / "backup")
    left = tmp_path / "restored"

    class Dead(BaseException):
        pass

    def die(source, target):
        if Path(target).name == "uploads":
            raise Dead
        os.replace(source, target)

    with monkeypatch.context() as cut:
        cut.setattr("passband.service.commands.restoring.os.rename", die)
        cut.setattr("passband.service.commands.restoring._clear", lambda *_args, **_more: None)
        with pytest.raises(Dead):
            restore(tmp_path / "backup", left)
    assert (left / "originals").is_dir() and not (left / "library.sqlite").exists()
    restore(tmp_path / "backup", left)
    assert_restored(left, {run: rows_of(left / "library.sqlite")[run]})


def test_a_log_missing_or_damaged_in_the_library_is_named_and_the_rest_is_kept(library, tmp_path, capsys):
    keep(library, 1), keep(library, 2)
    for path, act in zip((library._folder.root / "originals").glob("*/*"), ("gone", "cut"), strict=True):
        path.unlink() if act == "gone" else path.write_bytes(b"runs")
    manifest = back_up(library._folder.root, tmp_path / "backup")
    assert len(manifest.faults) == 2
    assert {"is missing", "is damaged"} == {
        f"is {fault.split(' is ')[1].split()[0].strip(':')}" for fault in manifest.faults
    }
    assert main(["restore", str(tmp_path / "backup"), "--data", str(tmp_path / "new")]) == 1
    said = capsys.readouterr()
    assert "2 runs" in said.out and "The log log1.csv is" in said.err


def test_what_a_killed_backup_left_behind_long_ago_goes_and_what_another_holds_stays(library, tmp_path):
    for name, days_ago in (("left", 3), ("held", 3), ("fresh", 0)):
        folder = tmp_path / f".passband-backup-{name}"
        folder.mkdir()
        (folder / "library.sqlite").write_bytes(b"rows")
        at = time.time() - days_ago * 86_400
        os.utime(folder, (at, at))
    held = hold_folder(tmp_path / ".passband-backup-held")
    os.utime(tmp_path / ".passband-backup-held", (0, 0))
    back_up(library._folder.root, tmp_path / "kept")
    held.release()
    assert sorted(path.name for path in tmp_path.glob(".passband*")) == [
        ".passband-backup-fresh", ".passband-backup-held",
    ]  # fmt: skip


def test_what_no_library_would_hold_is_not_restored(library, tmp_path):
    keep(library, 1)
    back_up(library._folder.root, tmp_path / "backup.tar")
    with tarfile.open(tmp_path / "backup.tar") as tar:
        tar.extractall(tmp_path / "backup", filter="data")
    told = read_record((tmp_path / "backup" / MANIFEST).read_bytes(), MANIFEST)
    told["files"].append({"path": "../outside", "bytes": 1, "sha256": "0" * 64})
    (tmp_path / "backup" / MANIFEST).write_bytes(written_record(told))
    with pytest.raises(BackupError, match=r"'\.\./outside', which is no file of a library"):
        restore(tmp_path / "backup", tmp_path / "restored")
    assert orjson.loads((tmp_path / "backup" / MANIFEST).read_bytes())["runs"] == 1


@pytest.mark.parametrize("place", ["data/inside", "photo.zip"])
def test_places_that_cannot_be_are_refused(library, tmp_path, place):
    with pytest.raises(BackupError, match=r"lies in the library itself|plain \.tar file"):
        back_up(library._folder.root, tmp_path / place)
    with pytest.raises(BackupError, match="holds no library"):
        back_up(tmp_path / "nothing", tmp_path / "backup")
    with pytest.raises(BackupError, match="There is no backup"):
        restore(tmp_path / "nothing", tmp_path / "new")


def test_a_backup_by_another_process_while_the_service_takes_uploads(tmp_path):
    # Planted: short logs of the demo model; the service is a real one and does not know of the backup
    server = Server(tmp_path / "data", workers=0)
    server.start()
    try:
        first = server.send(short_log(0)).told["runs"][0]["id"]
        command = [
            sys.executable,
            "-m",
            "passband.service.cli",
            "backup",
            str(tmp_path / "b.tar"),
            "--data",
            str(server.data),
        ]
        backup = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
        number = 0
        while backup.poll() is None:
            number += 1
            assert server.send(short_log(number)).status == 201
        said = backup.communicate()[0]
    finally:
        assert server.stop() == 0
    assert backup.returncode == 0 and "Backed up" in said and number > 0
    manifest = restore(tmp_path / "b.tar", tmp_path / "restored")
    assert 1 <= manifest.runs <= number + 1
    assert assert_all_whole(tmp_path / "restored", {first: short_log(0)}) == manifest.runs
