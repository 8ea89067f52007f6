"""Work as jobs: an upload that is not waited for, told as one that was; a library reviewed again as one."""

from __future__ import annotations

import time
from contextlib import closing

import orjson
import pytest

from passband.service.jobs import job_work
from passband.service.library import Library
from passband.service.reviewing.workers import ProcessDied, TaskFailed
from passband.service.store.jobs import NewJob, moment

ONE, TWO = b"runs=1\n", b"runs=2\n"
NO_WAIT = {"Prefer": "respond-async"}
SOON_S = 20.0


@pytest.fixture
def put_off(client):
    """Send logs and do not wait."""

    def send(*logs: bytes, prefer: str = "respond-async", **details):
        files = [("log", (f"log{n}.csv", log, "text/csv")) for n, log in enumerate(logs)]
        data = {"details": orjson.dumps(details).decode()}
        return client.post("/api/runs", files=files, data=data, headers={"Prefer": prefer, "X-Request-Id": "asked"})

    return send


def ended(client, address: str) -> dict:
    until = time.monotonic() + SOON_S
    while time.monotonic() < until:
        told = client.get(address).json()
        if told["state"] in ("done", "failed"):
            return told
        time.sleep(0.02)
    raise AssertionError(told)


@pytest.fixture
def nobody_works(monkeypatch):
    """Jobs wait: nobody takes one until the test goes on."""
    monkeypatch.setattr(job_work.JobRunner, "start", lambda self: None)


def test_an_upload_that_is_not_waited_for_is_accepted_and_then_done(client, put_off):
    answer = put_off(TWO, label="Q1", event="Meet")
    assert answer.status_code == 202 and answer.headers["preference-applied"] == "respond-async"
    assert int(answer.headers["retry-after"]) >= 1
    told = ended(client, answer.headers["location"])
    assert told["state"] == "done" and told["problem"] is None and told["ended_at"] >= told["put_at"]
    direct = client.get("/api/runs").json()["runs"]
    assert told["uploaded"]["new"] and told["uploaded"]["runs"] == direct[::-1]
    assert {run["event"] for run in direct} == {"Meet"} and len(direct) == 2
    assert [finding["code"] for finding in told["uploaded"]["findings"]] == ["no-mass"]


def test_an_upload_is_waited_for_where_nothing_else_is_preferred(client, put_off):
    assert put_off(ONE, prefer="").status_code == 201
    assert put_off(b"runs=1\n1", prefer="handling=lenient").status_code == 201


@pytest.mark.parametrize("prefer", ["RESPOND-ASYNC", "handling=lenient, respond-async; wait=5", "respond-async,wait=1"])
def test_the_preference_is_found_among_others(put_off, prefer):
    # Published (RFC 7240, section 2): several preferences in one header, names without regard to case, parameters
    assert put_off(ONE, prefer=prefer).status_code == 202


def test_one_that_fails_tells_the_problem_that_a_direct_answer_would_have_told(client, upload, put_off):
    for log in (b"\x89PNG", b"runs=0\n"):
        direct = client.post("/api/runs", files=[("log", ("log0.csv", log))], headers={"X-Request-Id": "asked"}).json()
        told = ended(client, put_off(log).headers["location"])
        assert told["state"] == "failed" and told["uploaded"] is None
        assert told["problem"] == direct


def test_logs_of_one_that_fails_lie_in_the_trash(client, put_off, stored):
    ended(client, put_off(b"\x89PNG").headers["location"])
    until = time.monotonic() + SOON_S
    while stored() and time.monotonic() < until:
        time.sleep(0.02)
    assert stored() == []
    (entry,) = client.get("/api/trash").json()["entries"]
    assert entry["reason"] == "refused" and "log0.csv is no log" in entry["why"] and not entry["restorable"]


def test_what_cannot_be_used_is_refused_at_once(put_off, assert_problem, stored):
    assert_problem(put_off(ONE, air={"wind": "much"}), 422)
    assert stored() == []


def test_the_same_logs_are_the_same_job_and_then_the_same_runs(nobody_works, client, put_off):
    first, again = put_off(ONE, label="a"), put_off(ONE, label="b")
    assert again.status_code == 202 and again.headers["location"] == first.headers["location"]
    with_settled = client.app.state.jobs
    library = client.app.state.library
    job = library.records.jobs.take("test")
    job_work.do_job(library, job, job_work.Progress(lambda stage: None))
    assert with_settled is not None and library.records.jobs.take("test") is None
    runs = ended(client, first.headers["location"])["uploaded"]["runs"]
    known = put_off(ONE)
    assert known.status_code == 200 and "preference-applied" not in known.headers
    assert [run["id"] for run in known.json()["runs"]] == [run["id"] for run in runs]
    assert known.json()["findings"][-1]["code"] == "logs-already-here"


def test_a_job_that_was_sent_meanwhile_by_another_way_gives_those_runs(nobody_works, client, upload, put_off):
    accepted = put_off(ONE)
    direct = upload(ONE).json()["runs"]
    library = client.app.state.library
    job_work.do_job(library, library.records.jobs.take("test"), job_work.Progress(lambda stage: None))
    told = ended(client, accepted.headers["location"])["uploaded"]
    assert not told["new"] and told["runs"] == direct


def test_what_was_accepted_is_done_after_a_start(rows_in_a_file, monkeypatch, planted, open_service, settings, stored):
    with monkeypatch.context() as idle:
        idle.setattr(job_work.JobRunner, "start", lambda self: None)
        with open_service() as client:
            files = [("log", ("a.csv", ONE)), ("log", ("again.csv", ONE))]
            address = client.post("/api/runs", files=files, headers=NO_WAIT).headers["location"]
            assert client.get(address).json()["state"] == "waiting"
            assert client.app.state.library.records.jobs.take("one who is killed") is not None
            assert client.get(address).json()["state"] == "working"
    assert len(stored()) == 1
    with open_service() as client:
        told = ended(client, address)["uploaded"]
        assert told["new"] and [finding["code"] for finding in told["findings"]] == ["file-sent-twice", "no-mass"]
        assert client.get("/health").json()["library"]["complete"]
        assert client.get("/api/trash").json()["entries"] == []


def test_a_quota_counts_what_waits(nobody_works, planted, settings, tmp_path):
    from passband.service.given.details import UploadDetails
    from passband.service.store.faults import QuotaUsedUp
    from passband.service.uploads.received import ReceivedFile

    with closing(Library(settings, quota_bytes=15)) as library, library.incoming() as folder:
        for n, fits in enumerate((True, False)):
            (folder / str(n)).write_bytes(log := b"runs=1\n%04d" % n)
            file = ReceivedFile(folder / str(n), "a.csv", len(log))
            if fits:
                library.put_off([file], car=None, details=UploadDetails(), beside={})
            else:
                with pytest.raises(QuotaUsedUp):
                    library.put_off([file], car=None, details=UploadDetails(), beside={})


@pytest.fixture
def library(planted, settings):
    with closing(Library(settings)) as library:
        yield library


def work(library: Library, *, most: int = 100) -> int:
    """Do what is due, and how many jobs that were."""
    for count in range(most):
        job = library.records.jobs.take("test")
        if job is None:
            return count
        job_work.do_job(library, job, job_work.Progress(lambda stage: None))
    return most


def put(library: Library, log: bytes = ONE):
    from passband.service.given.details import UploadDetails
    from passband.service.uploads.received import ReceivedFile

    with library.incoming() as folder:
        (folder / "a").write_bytes(log)
        return library.put_off([ReceivedFile(folder / "a", "a.csv", len(log))], car=None, details=UploadDetails(),
                               beside={})  # fmt: skip


def breaks(monkeypatch, library, error, times):
    left = [times]
    review = library.workers.run

    def run(task, progress=None):
        left[0] -= 1
        if left[0] >= 0:
            raise error("gone", task)
        return review(task, progress)

    monkeypatch.setattr(library.workers, "run", run)


def test_a_process_that_dies_costs_a_try_and_no_upload(library, monkeypatch):
    breaks(monkeypatch, library, ProcessDied, 3)
    job = put(library)
    assert work(library) == 4
    assert library.records.jobs.job(job.id).state == "done"


@pytest.mark.parametrize(("error", "tries"), [(ProcessDied, 5), (TaskFailed, 1)])
def test_logs_that_break_every_process_are_given_up(library, monkeypatch, error, tries):
    breaks(monkeypatch, library, error, 99)
    job = put(library)
    assert work(library) == tries
    told = library.records.jobs.job(job.id)
    assert told.state == "failed" and told.result["problem"]["title"] == "Not reviewable"


def test_a_service_that_ends_again_and_again_over_one_upload_comes_up_at_last(library):
    job = put(library)
    for _ in range(25):
        assert library.records.jobs.take("one that is killed").tries == 0
        library.records.jobs.take_over()
    assert work(library) == 1
    told = library.records.jobs.job(job.id)
    assert told.state == "failed" and "ended 25 times" in told.result["problem"]["detail"]


def test_an_error_that_nobody_foresaw_waits_for_its_turn(library, monkeypatch, caplog):
    def broken(*_args, **_more):
        raise RuntimeError("planted")

    monkeypatch.setattr(Library, "take_in", broken)
    job = put(library)
    assert work(library) == 1
    assert library.records.jobs.job(job.id).state == "waiting"
    monkeypatch.setattr(job_work, "AGAIN_S", 0.0)
    time.sleep(0.01)
    monkeypatch.setattr("passband.service.store.job_rows.moment", lambda ahead_s=0.0: "9")
    work(library)
    told = library.records.jobs.job(job.id)
    assert told.state == "failed" and told.result["problem"]["status"] == 500
    assert told.result["problem"]["reference"] in caplog.text


def test_one_who_is_not_heard_of_loses_the_job(library, monkeypatch):
    job = put(library)
    jobs = library.records.jobs
    lost = jobs.take("one")
    assert jobs.take("another") is None
    later = jobs.heard.__globals__["moment"](60.0)
    monkeypatch.setattr("passband.service.store.job_rows.moment", lambda ahead_s=0.0: later)
    monkeypatch.setattr("passband.service.store.job_rows.STALL_S", 0.0)
    jobs.heard("another", {job.id: "reading"})  # not the holder's: nothing is heard of it
    taken = jobs.take("another")
    assert taken is not None and (taken.id, taken.lost, taken.tries, taken.holder) == (job.id, 1, 0, "another")
    with pytest.raises(Exception, match=job.id):
        jobs.finish(lost, {})
    jobs.finish(taken, {})


@pytest.mark.parametrize(("ahead_s", "is_taken"), [(3600.0, True), (20.0, False)])
def test_a_clock_that_is_set_back_keeps_no_job_waiting(library, monkeypatch, ahead_s, is_taken):
    jobs = library.records.jobs
    with monkeypatch.context() as patched:  # the clock stood so far ahead when the job came
        patched.setattr("passband.service.store.job_rows.moment", lambda more_s=0.0: moment(ahead_s + more_s))
        put(library)
    assert (jobs.take("one") is not None) == is_taken


def test_a_job_with_parts_waits_for_all_of_them(library):
    jobs = library.records.jobs
    jobs.put(NewJob("a" * 32, "pass", "all", {}), [NewJob(c * 32, "chunk", c, {}) for c in "bc"])
    first, second = jobs.take("one"), jobs.take("two")
    assert [first.id, second.id] == ["b" * 32, "c" * 32] and jobs.take("three") is None
    jobs.finish(second, {})
    assert jobs.take("three") is None
    jobs.finish(first, {})
    assert jobs.take("three").id == "a" * 32


def test_uploads_come_before_chunks(library):
    library.records.jobs.put(NewJob("a" * 32, "pass", "all", {}), [NewJob("b" * 32, "chunk", "b", {})])
    upload = put(library)
    assert library.records.jobs.take("one").id == upload.id


def test_what_came_of_a_job_is_forgotten_after_its_time(library):
    done, waits = put(library), put(library, b"runs=1\n1")
    jobs = library.records.jobs
    jobs.finish(jobs.take("one"), {})
    jobs.forget(days=1)
    assert jobs.job(done.id) is not None
    jobs.forget(days=-1)
    assert jobs.job(done.id) is None and jobs.job(waits.id) is not None
