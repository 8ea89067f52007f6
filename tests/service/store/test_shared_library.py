"""One library served by several programs: rows on a server, files in one folder.

Two libraries open on one folder and one database in one process stand for two programs: they share nothing in memory.
"""

from __future__ import annotations

import os
import secrets
import time
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import closing

import pytest

from passband.service.given.details import RunChanges, UploadDetails
from passband.service.kept.backup import back_up
from passband.service.kept.recheck import recheck
from passband.service.library import Library
from passband.service.settings import read_settings
from passband.service.store.archives import BackupError
from passband.service.store.claiming import claim
from passband.service.store.faults import NotWhole, RowsElsewhere
from passband.service.store.folder import MARK
from passband.service.uploads.received import ReceivedFile

LONG_S = 60
"""What ought to come is waited for so long; the machine may be busy. [s]"""
A_DAY_S = 24 * 3600
"""What is younger may still be in use by another process. [s]"""


@pytest.fixture
def shared(planted, tmp_path, postgres_server):
    address = postgres_server.new_database()
    return read_settings({}, data=tmp_path / "data", workers=0, database=address, reserve_bytes=0)


@pytest.fixture
def two(shared):
    with closing(Library(shared)) as one, closing(Library(shared)) as other:
        yield one, other


def send(library: Library, body: bytes, **said):
    with library.incoming() as folder:
        path = folder / secrets.token_hex(4)
        path.write_bytes(body)
        details = UploadDetails(**said)
        return library.take_in([ReceivedFile(path, "ecu.csv", len(body))], car=None, details=details)


def files(settings) -> list[str]:
    kept = [path for name in ("originals", "runs") for path in (settings.data / name).rglob("*") if path.is_file()]
    return sorted(path.name for path in kept)


def whole(library: Library, run_id: str) -> bool:
    table, log = library.files.open_table(run_id), library.files.open_log(run_id, 0)
    for found in (table, log):
        assert found is not None
        found[1].close()
    return True


def test_what_one_takes_in_the_other_shows_changes_and_removes(two, shared):
    one, other = two
    run = send(one, b"runs=2", event="Meet").runs[0]
    assert whole(other, run.id) and other.records.events() == ["Meet"]
    assert other.review_again(run.id, RunChanges(notes="wet")).details.notes == "wet"
    assert one.records.run(run.id).details.notes == "wet" and whole(one, run.id)
    entry = other.deleting.remove(run.id)
    assert one.files.open_table(run.id) is None and one.records.run(run.id) is None
    assert [run.id for run in one.deleting.restore(entry)] == [run.id] and whole(other, run.id)
    assert (shared.data / "library.sqlite").exists() is False


def test_starting_another_leaves_what_is_on_its_way_alone(two, shared):
    one, _ = two
    with one.incoming() as folder:
        (folder / "half").write_bytes(b"half")
        with closing(Library(shared)):
            pass
        assert (folder / "half").read_bytes() == b"half"


def test_the_same_logs_at_both_at_once_are_one_upload_whole(two, shared):
    with ThreadPoolExecutor(8) as pool:
        done = [pool.submit(send, two[n % 2], b"runs=3") for n in range(8)]
        taken = [one.result(LONG_S) for one in done]
    assert len({run.id for one in taken for run in one.runs}) == 3 and sum(one.new for one in taken) == 1
    assert all(whole(two[0], run.id) for run in taken[0].runs) and len(files(shared)) == 4


def test_logs_that_come_at_one_while_the_other_lets_the_last_run_of_them_go_are_kept(two):
    one, other = two
    with ThreadPoolExecutor(2) as pool:
        for _ in range(6):
            run = send(one, b"runs=1").runs[0]
            gone, come = pool.submit(other.deleting.remove, run.id), pool.submit(send, one, b"runs=1")
            wait([gone, come], LONG_S)
            for left in come.result().runs:
                assert one.records.run(left.id) is None or whole(one, left.id)
            for left in one.records.find_runs(event=None, car=None, limit=9, after=None):
                assert whole(other, left.id)
                one.deleting.remove(left.id)


def test_changes_of_one_run_at_both_at_once_all_count(two):
    run = send(two[0], b"runs=1").runs[0]
    changes = [RunChanges(notes="n"), RunChanges(event="e"), RunChanges(round="r"), RunChanges(label="l")]
    with ThreadPoolExecutor(4) as pool:
        for done in [pool.submit(two[n % 2].review_again, run.id, change) for n, change in enumerate(changes)]:
            done.result(LONG_S)
    said = two[0].records.run(run.id).details
    assert (said.notes, said.event, said.round, said.label) == ("n", "e", "r", "l")


def test_a_car_amended_at_both_at_once_has_every_amendment(two):
    car = two[0].cars.add({"name": "H"})

    def amend(n: int) -> None:
        two[n % 2].cars.amend(car.id, lambda given: {**given, "name": given["name"] + str(n)})

    with ThreadPoolExecutor(4) as pool:
        for done in [pool.submit(amend, n) for n in range(8)]:
            done.result(LONG_S)
    assert sorted(two[1].records.car(car.id).given["name"]) == list("01234567H")


# ---- folder and database belong together


def test_a_folder_whose_rows_are_on_a_server_is_not_opened_without(two, shared):
    with pytest.raises(RowsElsewhere, match="set PASSBAND_DATABASE"):
        Library(shared.model_copy(update={"database": read_settings({}).database}))


def test_a_folder_with_its_rows_in_a_file_is_not_opened_with_a_server(planted, shared):
    in_file = shared.model_copy(update={"database": read_settings({}).database})
    Library(in_file).close()
    with pytest.raises(RowsElsewhere, match=r"library\.sqlite"):
        Library(shared)
    Library(in_file).close()


def test_another_database_or_folder_is_refused_and_nothing_is_touched(shared, tmp_path, postgres_server):
    with closing(Library(shared)) as library:
        send(library, b"runs=1")
    before = files(shared)
    empty = read_settings({}, data=shared.data, workers=0, database=postgres_server.new_database())
    with pytest.raises(RowsElsewhere, match="not in this database"):
        Library(empty)
    with pytest.raises(RowsElsewhere, match="not the one that the rows"):
        Library(shared.model_copy(update={"data": tmp_path / "elsewhere"}))
    other = empty.model_copy(update={"data": tmp_path / "other"})
    Library(other).close()
    with pytest.raises(RowsElsewhere, match="not the one that the rows"):
        Library(other.model_copy(update={"data": shared.data}))
    (shared.data / MARK).unlink()
    with pytest.raises(RowsElsewhere, match="knows nothing"):
        Library(read_settings({}, data=shared.data, workers=0, database=postgres_server.new_database()))
    assert files(shared) == before
    Library(shared).close()  # the rows' own folder is known by its logs, and marked again
    assert (shared.data / MARK).exists()


def test_an_older_copy_of_the_rows_is_told_and_no_file_goes(shared, caplog):
    with closing(Library(shared)) as library:
        send(library, b"runs=1")
        kept = send(library, b"runs=2").runs[0]
        with library.records._writer.begin() as connection:  # as before the second upload
            connection.exec_driver_sql("DELETE FROM runs WHERE number > 1")
            connection.exec_driver_sql("DELETE FROM uploads WHERE runs_found = 2")
            connection.exec_driver_sql("UPDATE libraries SET number = 1")
    make_old(shared)
    before = files(shared)
    for _ in range(2):
        with closing(Library(shared)) as library:
            assert "older copy" in library.condition.text and library.condition.originals == 1
            assert "backup of the server" in library.condition.text
            for n in range(3, 7):  # what is added meanwhile does not make it look sound
                send(library, b"runs=%d" % n)
    assert set(before) < set(files(shared)) and "older copy" in caplog.text
    assert "Nothing is recorded of the log" in recheck(shared).left[0]
    with closing(Library(shared)) as library:
        assert library.condition.doubt is not None
        assert send(library, b"runs=2").runs[0].id != kept.id
    assert recheck(shared).left == []
    with closing(Library(shared)) as library:
        assert library.condition.doubt is None


def test_a_recheck_beside_the_service_makes_again_what_is_damaged_and_names_what_cannot_be(two, shared):
    one, other = two
    runs = [send(one, b"runs=%d" % n).runs[0] for n in (1, 2)]
    table, log = one.records.run(runs[0].id).table_key, one.records.run(runs[1].id).logs[0].sha256
    (shared.data / "runs" / table[:2] / f"{table}.parquet").write_bytes(b"damaged")
    (shared.data / "originals" / log[:2] / log).unlink()
    with pytest.raises(NotWhole):
        other.files.open_table(runs[0].id)
    before = listed(other)
    report = recheck(shared)
    assert whole(other, runs[0].id) and listed(other) == before
    assert "1 of them were mended" in report.done[-1]
    assert len(report.left) == 1 and "ecu.csv is missing" in report.left[0]
    assert send(one, b"runs=2").new is False and recheck(shared).left == []


def test_a_backup_of_ours_says_that_the_server_s_is_wanted(two, shared, tmp_path):
    with pytest.raises(BackupError, match="pg_dump"):
        back_up(shared.data, tmp_path / "kept.tar")


def listed(library: Library) -> list[str]:
    return [run.id for run in library.records.find_runs(event=None, car=None, limit=100, after=None)]


def make_old(settings) -> None:
    latest = time.time() - A_DAY_S - 60
    for name in ("originals", "runs"):
        for path in (settings.data / name).rglob("*"):
            os.utime(path, (latest, latest))


def test_files_without_a_row_go_into_the_trash_once_they_are_old(shared):
    with closing(Library(shared)) as library:
        run = send(library, b"runs=1").runs[0]
        for blobs in (library._originals, library._tables):
            (shared.data / "stray").write_bytes(b"stray")
            blobs.put(shared.data / "stray")
    before = files(shared)
    Library(shared).close()
    assert files(shared) == before  # they may be of an upload that another is keeping just now
    make_old(shared)
    with closing(Library(shared)) as library:
        assert len(files(shared)) == len(before) - 2 and whole(library, run.id)
        assert sum(len(entry.files) for entry in library.trash.entries()) == 2


def test_a_start_waits_until_another_has_kept_its_files_and_rows(two, shared):
    make_old(shared)
    (two[0].folder.incoming / "x").write_bytes(b"runs=1")
    os.utime(two[0].folder.incoming / "x", (0, 0))
    with ThreadPoolExecutor(1) as pool, two[0].writes.alone:
        two[0]._originals.put(two[0].folder.incoming / "x")
        starts = pool.submit(Library, shared)
        assert not wait([starts], 0.5).done  # the file is old, and its rows are still to come
        run = send(two[0], b"runs=1").runs[0]
    starts.result(LONG_S).close()
    assert whole(two[1], run.id) and not list(two[0].trash.entries())


def test_a_claim_is_made_by_one_of_those_that_open_a_new_folder_at_once(shared):
    with ThreadPoolExecutor(4) as pool:
        opened = [done.result(LONG_S) for done in [pool.submit(Library, shared) for _ in range(4)]]
    try:
        assert len({library.records.mark() for library in opened}) == 1
        assert all(claim(library.folder, library.records) for library in opened)
    finally:
        for library in opened:
            library.close()
