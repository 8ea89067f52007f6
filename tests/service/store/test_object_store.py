"""A library whose files lie in an object store: what is put stays, what is left over waits, what is away is told.

Planted: reviews without reading (see conftest), and a store that is a mock (see object_stores).
"""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from passband.service.app import create_app
from passband.service.cli import main
from passband.service.commands.mending import print_recheck
from passband.service.commands.restoring import restore
from passband.service.given.details import UploadDetails
from passband.service.kept.backup import back_up
from passband.service.library import Library
from passband.service.settings import SettingsError, read_settings
from passband.service.store import kept_files, object_blobs, settling
from passband.service.store.faults import FilesAway, FilesElsewhere
from passband.service.store.object_blobs import ObjectBlobs
from passband.service.store.object_store import ObjectStore
from passband.service.store.trash import Reason, TrashedFile
from passband.service.store_address import read_address
from passband.service.uploads.received import ReceivedFile
from tests.service.object_stores import BUCKET, client, fresh_place, objects_at, place, store  # noqa: F401

LOG = b"runs=2 " + b"7" * 60
NOBODY = "s3://season/none?endpoint=http://127.0.0.1:9"
"""A place at which nobody listens."""


@pytest.fixture
def settings(tmp_path, place):  # noqa: F811
    return read_settings({}, data=tmp_path / "data", workers=0, hosts="testserver", object_store=place)


@pytest.fixture
def library(planted, settings):
    with closing(Library(settings)) as opened:
        yield opened


def keep(library, log=LOG):
    with library.incoming() as folder:
        path = folder / "0.part"
        path.write_bytes(log)
        files = [ReceivedFile(path, "ecu.csv", len(log))]
        return [run.id for run in library.take_in(files, car=None, details=UploadDetails()).runs]


def sum_of(body):
    return hashlib.sha256(body).hexdigest()


def key_of(log=LOG):
    return f"originals/{sum_of(log)[:2]}/{sum_of(log)}"


def assert_whole(library, runs, log=LOG):
    assert library.condition.doubt is None
    for run in runs:
        record, table = library.files.open_table(run)
        with table, library.files.open_log(run, 0)[1] as original:
            assert sum_of(table.read()) == record.table_key and original.read() == log


def test_other_bytes_under_a_name_are_refused_and_what_is_there_stays(store, place):  # noqa: F811
    assert store.put("one", b"first", sha256=sum_of(b"first"))
    assert not store.put("one", b"other", sha256=sum_of(b"other"))
    assert not store.put("one", io.BytesIO(b"other"), sha256=sum_of(b"other"), replacing='"another etag"')
    assert objects_at(place) == {"one": b"first"}


def test_two_who_put_the_same_bytes_at_once_put_them_once(store, tmp_path, monkeypatch, place):  # noqa: F811
    # Planted: the other one's put lands between the question whether it is there and ours
    blobs, real = ObjectBlobs(store, "kept", scratch=tmp_path), store.facts

    def facts_before_another_put(name):
        found = real(name)
        client().put_object(Bucket=BUCKET, Key=store._prefix + name, Body=b"x")
        return found

    monkeypatch.setattr(store, "facts", facts_before_another_put)
    source = tmp_path / "source"
    source.write_bytes(b"x")
    assert blobs.put(source) == sum_of(b"x") and not source.exists()
    assert list(objects_at(place).values()) == [b"x"]


def test_what_is_put_again_is_made_young_again(store, tmp_path, monkeypatch):  # noqa: F811
    blobs, copied = ObjectBlobs(store, "kept", scratch=tmp_path), []
    monkeypatch.setattr(store, "copy", lambda name, to: copied.append((name, to)))
    for renew_s in (3600.0, -1.0):
        monkeypatch.setattr(object_blobs, "RENEW_S", renew_s)
        for _ in range(2):
            (tmp_path / "source").write_bytes(b"x")
            key = blobs.put(tmp_path / "source")
    assert set(copied) == {(f"kept/{key[:2]}/{key}",) * 2} and len(copied) == 2


def test_an_upload_lies_in_the_store_and_nothing_of_it_in_the_folder(library, settings, place):  # noqa: F811
    runs = keep(library)
    assert len(runs) == 2
    assert_whole(library, runs)
    assert sorted(name.partition("/")[0] for name in objects_at(place)) == ["library.json", "originals", "runs", "runs"]
    assert not (settings.data / "originals").exists() and not (settings.data / "runs").exists()


def test_a_library_opened_again_has_all_it_had(library, settings):
    runs = keep(library)
    library.close()
    with closing(Library(settings)) as again:
        assert_whole(again, runs)


def test_damaged_and_missing_objects_are_a_conflict_of_their_run_only(planted, settings, assert_problem):
    with TestClient(create_app(settings), raise_server_exceptions=False) as asked:
        runs = asked.post("/api/runs", files=[("log", ("a.csv", LOG, "text/csv"))]).json()["runs"]
        tables = [name for name in objects_at(settings.object_store) if name.startswith("runs/")]
        prefix = read_address(settings.object_store).prefix
        client().put_object(Bucket=BUCKET, Key=f"{prefix}/{key_of()}", Body=LOG[:-1] + b"8")
        assert "damaged" in assert_problem(asked.get(f"/api/runs/{runs[0]['id']}/logs/0"), 409)["detail"]
        client().delete_object(Bucket=BUCKET, Key=f"{prefix}/{tables[0]}")
        said = [asked.get(f"/api/runs/{run['id']}/export").status_code for run in runs]
        assert sorted(said) == [200, 409]


def test_a_deleted_run_lies_in_the_stores_trash_and_comes_back(library, place):  # noqa: F811
    runs = keep(library)
    entries = [library.deleting.remove(run) for run in runs]
    names = set(objects_at(place))
    assert {name.split("/")[1] for name in names - {"library.json"}} == set(entries)
    assert all(name.startswith(("trash/", "library.json")) for name in names)
    assert len(library.trash.entry(entries[0]).files) == 3  # the log, the table, the review
    for entry in entries:
        assert library.deleting.restore(entry)
    assert_whole(library, runs)
    assert not [name for name in objects_at(place) if name.startswith("trash/")]


def test_the_trash_let_go_of_leaves_nothing_in_the_store(library, place):  # noqa: F811
    for run in keep(library):
        assert library.deleting.let_go(library.deleting.remove(run))
    assert set(objects_at(place)) == {"library.json"}


def test_what_was_laid_aside_for_an_entry_that_never_came_goes_after_its_time(library, monkeypatch, place):  # noqa: F811
    keep(library)
    file = TrashedFile(sum_of(LOG), library.folder.originals)
    never = "20200101T000000Z-deleted-00000000"
    kept = library.trash.put(Reason.DELETED, "It was deleted by a person.", files=[file])
    library.folder.originals.set_aside(file.key, Path(never))
    library.trash.expire(30)
    assert len([name for name in objects_at(place) if name.startswith("trash/")]) == 2
    monkeypatch.setattr(object_blobs.ObjectAside, "entries", lambda self, *, idle_s: {kept, never})
    library.trash.expire(30)
    assert [name.split("/")[1] for name in objects_at(place) if name.startswith("trash/")] == [kept]


def test_what_no_row_names_waits_its_time_and_then_goes_to_the_trash(library, settings, monkeypatch, place):  # noqa: F811
    # Planted: a file that another program has just put, whose row is not written yet
    runs = keep(library)
    other = b"put by another program"
    library.folder.originals._store.put(key_of(other), other, sha256=sum_of(other))
    library.close()
    with closing(Library(settings)) as again:
        assert list(again.trash.entries()) == [] and key_of(other) in objects_at(place)
    monkeypatch.setattr(settling, "UNUSED_S", 0.0)
    with closing(Library(settings)) as later:
        (entry,) = later.trash.entries()
        assert entry.files == (sum_of(other),) and key_of(other) not in objects_at(place)
        assert_whole(later, runs)


def test_a_store_that_is_away_is_told_without_its_address(planted, settings, assert_problem, caplog):
    with TestClient(create_app(settings), raise_server_exceptions=False) as asked:
        run = asked.post("/api/runs", files=[("log", ("a.csv", LOG, "text/csv"))]).json()["runs"][0]["id"]
        library = asked.app.state.library
        away = ObjectStore(read_address(NOBODY))
        for blobs in (library.folder.originals, library.folder.tables):
            blobs._store = away
        sent = asked.post("/api/runs", files=[("log", ("b.csv", LOG + b"1", "text/csv"))])
        for answer in (asked.get(f"/api/runs/{run}/logs/0"), asked.get(f"/api/runs/{run}/export"), sent):
            problem = assert_problem(answer, 503)
            assert "does not answer" in problem["detail"] and answer.headers["retry-after"] == "30"
            assert not [secret for secret in ("127.0.0.1", ":9", "season", sum_of(LOG)) if secret in answer.text]
        assert "The store that holds logs and tables does not answer." in asked.get("/ready").text
        assert run in [one["id"] for one in asked.get("/api/runs").json()["runs"]]
    told = "\n".join(record.getMessage() for record in caplog.records if record.name == "passband")
    assert "EndpointConnectionError" in told and "127.0.0.1:9" not in told and "made-up" not in told


def test_a_store_that_is_away_stops_the_start(tmp_path, capsys, monkeypatch):
    (tmp_path / "data").mkdir()
    monkeypatch.setenv("PASSBAND_OBJECT_STORE", NOBODY)
    assert main(["serve", "--port", "0", "--data", str(tmp_path / "data")]) == 2
    assert "does not answer" in capsys.readouterr().err
    assert not (tmp_path / "data" / kept_files.MARK).exists()


def test_a_start_without_the_setting_or_with_another_place_is_refused(library, settings):
    keep(library)
    library.close()
    for written, said in (("", "say so in PASSBAND_OBJECT_STORE"), (fresh_place(), "and PASSBAND_OBJECT_STORE names")):
        with pytest.raises(FilesElsewhere, match=said):
            Library(settings.model_copy(update={"object_store": written}))
    with closing(Library(settings)):
        pass


def test_a_damaged_mark_is_told_and_nothing_else_is_taken_for_the_librarys_place(library, settings):
    library.close()
    (settings.data / kept_files.MARK).write_bytes(b"{")
    for store_address in (settings.object_store, ""):
        with pytest.raises(FilesElsewhere, match=r"files\.json in the library's folder is damaged"):
            Library(settings.model_copy(update={"object_store": store_address}))


def test_a_second_library_at_the_same_place_is_refused(library, settings, tmp_path):
    with pytest.raises(FilesElsewhere, match="is another library's place"):
        Library(settings.model_copy(update={"data": tmp_path / "second"}))
    assert not (tmp_path / "second" / kept_files.MARK).exists()


def test_a_library_in_its_folder_is_not_taken_for_one_in_a_store(planted, settings):
    with closing(Library(settings.model_copy(update={"object_store": ""}))) as plain:
        keep(plain)
    with pytest.raises(FilesElsewhere, match="make a backup without PASSBAND_OBJECT_STORE"):
        Library(settings)


def test_a_team_has_a_place_below(planted, settings, place):  # noqa: F811
    of_team = settings.of_folder("teams/7f")
    with closing(Library(of_team)) as library:
        runs = keep(library)
        assert_whole(library, runs)
    assert {name.split("/")[0] for name in objects_at(place)} == {"teams"}
    with closing(Library(of_team.model_copy(update={"object_store": place}))) as again:
        assert_whole(again, runs)  # as a command with the team's folder opens it


@pytest.mark.parametrize("target", ["folder", "file.tar"])
def test_a_backup_moves_a_library_from_the_folder_into_a_store_and_back(planted, tmp_path, place, target):  # noqa: F811
    in_folder = read_settings({}, data=tmp_path / "first", workers=0)
    with closing(Library(in_folder)) as first:
        runs = keep(first)
    back_up(in_folder.data, tmp_path / "out" / target)
    restore(tmp_path / "out" / target, tmp_path / "second", store=place)
    in_store = read_settings({}, data=tmp_path / "second", workers=0, object_store=place)
    with closing(Library(in_store)) as second:
        assert_whole(second, runs)
        gone = second.deleting.remove(runs[1])
    assert not (tmp_path / "second" / "originals").exists() and gone
    manifest = back_up(in_store.data, tmp_path / "in" / target, store=place)
    assert manifest.faults == () and manifest.runs == 1
    restore(tmp_path / "in" / target, tmp_path / "third")
    with closing(Library(read_settings({}, data=tmp_path / "third", workers=0))) as third:
        assert_whole(third, runs[:1])


def test_a_restore_that_a_store_cut_off_begins_again(planted, tmp_path, place, monkeypatch):  # noqa: F811
    with closing(Library(read_settings({}, data=tmp_path / "first", workers=0))) as first:
        runs = keep(first)
    back_up(tmp_path / "first", tmp_path / "kept")
    with monkeypatch.context() as cut:
        cut.setattr(ObjectBlobs, "put", lambda *_args, **_more: (_ for _ in ()).throw(FilesAway()))
        with pytest.raises(FilesAway):
            restore(tmp_path / "kept", tmp_path / "second", store=place)
    assert not (tmp_path / "second" / "library.sqlite").exists()
    restore(tmp_path / "kept", tmp_path / "second", store=place)
    with closing(Library(read_settings({}, data=tmp_path / "second", workers=0, object_store=place))) as second:
        assert_whole(second, runs)


def test_a_recheck_looks_through_the_store(library, settings, place, capsys, monkeypatch):  # noqa: F811
    runs = keep(library)
    library.close()
    tables = [name for name in objects_at(place) if name.startswith("runs/")]
    client().delete_object(Bucket=BUCKET, Key=f"{read_address(place).prefix}/{tables[0]}")
    monkeypatch.setenv("PASSBAND_OBJECT_STORE", place)
    monkeypatch.setenv("PASSBAND_WORKERS", "0")
    assert print_recheck(data=settings.data) == 0
    assert "1 of its reviews made again" in capsys.readouterr().out
    with closing(Library(settings)) as again:
        assert_whole(again, runs)


@pytest.mark.parametrize(
    "written",
    ["season", "http://season", "s3://", "s3://Season", "s3://key:secret@season", "s3://season/a//b", "s3://season/..",
     "s3://season?bucket=x", "s3://season?endpoint=host", "s3://season?endpoint=http://a:b@host", "s3://season#x"],
)  # fmt: skip
def test_an_address_that_cannot_be_is_refused_and_not_repeated(written):
    with pytest.raises(SettingsError, match="PASSBAND_OBJECT_STORE must") as told:
        read_settings({"PASSBAND_OBJECT_STORE": written})
    assert "secret" not in str(told.value)


def test_a_start_without_a_store_loads_no_client():
    code = "import sys; import passband.service.app, passband.service.kept.backup; " \
           "import passband.service.commands.restoring; " \
           "sys.exit('boto3' in sys.modules or 'botocore' in sys.modules)"  # fmt: skip
    assert subprocess.run([sys.executable, "-c", code], env=os.environ).returncode == 0
