"""A library's backup put onto a database server, and into an object store: the same, or nothing.

Planted: reviews without reading (see conftest). What is there then is held against the library that was backed up.
"""

from __future__ import annotations

import hashlib
import secrets
from contextlib import closing

import pytest
from sqlalchemy import text

from passband.service.access.identity import access_file
from passband.service.access.records import AccessRecords
from passband.service.cli import main
from passband.service.commands import restoring
from passband.service.commands.restoring import restore
from passband.service.given.details import UploadDetails
from passband.service.kept.backup import back_up
from passband.service.library import Library
from passband.service.settings import read_settings
from passband.service.store import sending_rows
from passband.service.store.archives import BackupError
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.record_files import read_record, written_record
from passband.service.uploads.received import ReceivedFile
from tests.service.object_stores import fresh_place, objects_at

RUNS = 5


def send(library, body, car=None, **said):
    with library.incoming() as folder:
        path = folder / secrets.token_hex(4)
        path.write_bytes(body)
        return library.take_in([ReceivedFile(path, "ecu.csv", len(body))], car=car, details=UploadDetails(**said))


@pytest.fixture
def small(planted, tmp_path):
    """A library in a folder with its rows in a file, which has lost its newest run, and what it holds."""
    with closing(Library(read_settings({}, data=tmp_path / "small", workers=0))) as library:
        car = library.cars.add({"name": "Reiher \u00fc \U0001f3c1"})
        library.cars.change(car.id, {"name": "Heron", "mass": "1100 kg"})
        for number in range(RUNS):
            send(library, b"runs=1 %d" % number, library.records.car(car.id), event="Meet", at="2031-05-04")
        library.deleting.remove(library.records.find_runs(event=None, car=None, limit=1, after=None)[0].id)
        held = told(library)
    back_up(tmp_path / "small", tmp_path / "backup")
    return held


def told(library):
    """All that is said of a library's runs and cars, and the bytes of their logs."""
    runs = library.records.find_runs(event=None, car=None, limit=99, after=None)
    rows = [library.records.run(run.id) for run in runs]
    logs = [read(library.folder.originals.open(log.sha256)) for run in rows for log in run.logs]
    reviews = [library.records.review(run.id) for run in runs]
    return (
        rows,
        library.records.all_cars(),
        [library.records.car(c.id, 1) for c in library.records.all_cars()],
        logs,
        reviews,
    )


def read(opened):
    with opened:
        return opened.read()


def hashes(folder):
    return {path: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def address(postgres_server):
    return postgres_server.new_database()


@pytest.fixture
def rows(address):
    with closing(PostgresDatabase(address)) as database:
        yield PostgresRecords(database, "home")


@pytest.mark.parametrize("in_a_store", [False, True])
def test_a_backup_goes_on_as_a_library_on_a_server(small, tmp_path, address, monkeypatch, capsys, in_a_store):
    before, place = hashes(tmp_path / "backup"), fresh_place() if in_a_store else ""
    monkeypatch.setenv("PASSBAND_DATABASE", address)
    monkeypatch.setenv("PASSBAND_OBJECT_STORE", place)
    assert main(["restore", str(tmp_path / "backup"), "--data", str(tmp_path / "new")]) == 0
    assert "and the database on the server" in capsys.readouterr().out
    assert hashes(tmp_path / "backup") == before and not (tmp_path / "new" / "library.sqlite").exists()
    with closing(Library(read_settings(data=tmp_path / "new", workers=0))) as library:
        assert told(library) == small and library.condition.doubt is None
        send(library, b"runs=1 new")
        assert library.records.mark().number == RUNS + 1  # the number of the run that is gone is not given again
    assert bool(place and objects_at(place)) == in_a_store


@pytest.mark.parametrize("after", ["_into_store", "_into_place", "send_library", "claim"])
def test_one_that_was_cut_off_is_begun_again(small, tmp_path, address, rows, monkeypatch, after):
    done = getattr(restoring, after)

    def cut_off(*given, **named):
        done(*given, **named)
        raise KeyboardInterrupt

    monkeypatch.setattr(restoring, after, cut_off)
    with pytest.raises(KeyboardInterrupt):
        restore(tmp_path / "backup", tmp_path / "new", rows=rows)
    monkeypatch.setattr(restoring, after, done)
    if after != "claim":  # else it was all there
        restore(tmp_path / "backup", tmp_path / "new", rows=rows)
    with closing(Library(read_settings({}, data=tmp_path / "new", workers=0, database=address))) as library:
        assert told(library) == small


def test_rows_that_were_cut_off_are_not_there_at_all(small, tmp_path, rows, monkeypatch):
    real = sending_rows.copy_tables
    monkeypatch.setattr(sending_rows, "copy_tables", lambda source, target, tables: real(source, target, tables[:-2]))
    with pytest.raises(BackupError, match=r"rows of dates are not those of the backup: 0 there, 4 in the"):
        restore(tmp_path / "backup", tmp_path / "new", rows=rows)
    assert rows.mark() is None and rows.all_cars() == [] and not (tmp_path / "new").exists()


def test_a_library_that_is_there_is_left_alone(small, tmp_path, rows):
    restore(tmp_path / "backup", tmp_path / "new", rows=rows)
    with pytest.raises(BackupError, match="has a library of 'home' already"):
        restore(tmp_path / "backup", tmp_path / "another", rows=rows)
    assert not (tmp_path / "another").exists() and len(rows.all_cars()) == 1


def test_what_was_not_whole_is_refused(small, tmp_path, rows):
    state = tmp_path / "small" / "library.state"
    body = read_record(state.read_bytes(), state.name)
    state.write_bytes(written_record({**body, "doubt": "older"}))
    back_up(tmp_path / "small", tmp_path / "doubted")
    with pytest.raises(BackupError, match="have `passband recheck` mend it"):
        restore(tmp_path / "doubted", tmp_path / "new", rows=rows)
    assert rows.mark() is None


def test_teams_go_along_with_their_people(small, tmp_path, address, monkeypatch, capsys):
    secret = tmp_path / "secret"
    secret.write_text("a long enough word")
    data = ["access", "--data", str(tmp_path / "small")]
    for words in (["begin", "Red", "--owner", "Robin"], ["team", "Blue", "--owner", "Kim"]):
        assert main([*data, *words, "--password-file", str(secret)]) == 0
    with closing(AccessRecords(access_file(tmp_path / "small"))) as people:
        were = people.all_teams()
    assert main(["backup", str(tmp_path / "teams"), "--data", str(tmp_path / "small")]) == 0
    monkeypatch.setenv("PASSBAND_DATABASE", address)
    restored = ["restore", str(tmp_path / "teams"), "--data", str(tmp_path / "new")]
    assert main(restored) == 0
    with closing(PostgresDatabase(address)) as database, database.engine.begin() as asked:
        now = AccessRecords(database.engine)
        assert now.all_teams() == were and now.person_named("Robin") is not None
        assert (
            asked.execute(text("SELECT what FROM journal ORDER BY number")).scalars().all()[0].endswith("Robin owns it")
        )
        assert told_of(PostgresRecords(database, "home")) == 4
    capsys.readouterr()
    assert main([*restored[:-1], str(tmp_path / "another")]) == 2
    assert "already" in capsys.readouterr().err


def told_of(rows):
    return len(rows.find_runs(event=None, car=None, limit=99, after=None))
