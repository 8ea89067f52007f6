"""Jobs of one library worked on by several programs: rows on a server, each job taken by one of them.

Two libraries open on one folder and one database in one process stand for two programs: they share nothing in memory.
"""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest

from passband.service.given.details import UploadDetails
from passband.service.jobs import job_work, passes
from passband.service.library import Library
from passband.service.reviewing.progress import Progress
from passband.service.settings import read_settings
from passband.service.store import job_rows
from passband.service.store.jobs import NewJob, moment
from passband.service.uploads.received import ReceivedFile

LONG_S = 120.0


@pytest.fixture
def two(planted, tmp_path, postgres_server):
    address = postgres_server.new_database()
    shared = read_settings({}, data=tmp_path / "data", workers=0, database=address, reserve_bytes=0)
    with closing(Library(shared)) as one, closing(Library(shared)) as other:
        yield one, other


def put_off(library: Library, body: bytes):
    with library.incoming() as folder:
        (folder / "a").write_bytes(body)
        sent = [ReceivedFile(folder / "a", "ecu.csv", len(body))]
        return library.put_off(sent, car=None, details=UploadDetails(), beside={})


def rows(library: Library) -> dict[str, str]:
    runs = library.records.find_runs(event=None, car=None, limit=99, after=None)
    return {run.id: run.reviewed_at for run in runs}


def test_each_job_is_taken_by_one_however_many_take(two):
    one, other = two
    for n in range(24):
        one.records.jobs.put(NewJob(f"{n:032x}", "upload", f"key {n}", {}))

    def take_all(name: str) -> list[str]:
        jobs, taken = (one if name < "c" else other).records.jobs, []
        while (job := jobs.take(name)) is not None:
            taken.append(job.id)
        return taken

    with ThreadPoolExecutor(4) as pool:
        taken = [id for some in pool.map(take_all, "abcd") for id in some]
    assert sorted(taken) == [f"{n:032x}" for n in range(24)]


def test_uploads_and_a_pass_are_done_by_whoever_comes(two, monkeypatch):
    monkeypatch.setattr(passes, "CHUNK_RUNS", 1)
    one, other = two
    for n in range(6):
        put_off(one, b"runs=1\n%d" % n)
    assert put_off(other, b"runs=1\n0").kind == "upload" and one.records.jobs.waits().waiting == 6
    runners = [job_work.JobRunner(lambda library=library: [library], at_once=2) for library in two]
    for runner in runners:
        runner.start()
    try:
        wait_for(lambda: len(rows(one)) == 6 and one.records.jobs.waits().working == 0)
        before = rows(one)
        job = passes.put_pass(other, event=None, car=None, beside={})
        wait_for(lambda: one.records.jobs.job(job.id).state == "done")
    finally:
        for runner in runners:
            runner.close()
    assert one.records.jobs.job(job.id).result == {"runs": 6, "reviewed": 6, "left": []}
    after = rows(other)
    assert all(after[id] > at for id, at in before.items()) and len(after) == 6


def wait_for(true) -> None:
    until = time.monotonic() + LONG_S
    while not true():
        assert time.monotonic() < until
        time.sleep(0.05)


def test_a_program_that_comes_takes_nothing_from_one_that_works_until_it_is_not_heard_of(two, monkeypatch):
    one, other = two
    put_off(one, b"runs=1\n")
    held = one.records.jobs.take("one")
    assert other.records.jobs.take("other") is None
    later = moment(60.0)
    monkeypatch.setattr(job_rows, "moment", lambda ahead_s=0.0: moment(60.0 + ahead_s) if ahead_s else later)
    job = other.records.jobs.take("other")
    assert job.id == held.id and job.lost == 1
    job_work.do_job(other, job, Progress(lambda stage: None))
    job_work.do_job(one, held, Progress(lambda stage: None))  # it comes to itself and finds the runs here
    assert len(rows(one)) == 1 and one.records.jobs.job(job.id).result["new"]
