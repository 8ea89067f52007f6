"""A library's runs reviewed again: all or some, broken off and gone on with, the old review standing until then."""

from __future__ import annotations

import itertools
import json
import time
from contextlib import closing
from dataclasses import replace
from types import SimpleNamespace

import pytest

from passband.analysis.channels.log import LogError
from passband.service.commands import mending
from passband.service.commands.restoring import restore
from passband.service.commands.reviewing_again import ONCE_BEGUN, print_review_again
from passband.service.given.details import RunChanges, UploadDetails
from passband.service.jobs import job_work, passes
from passband.service.kept.backup import back_up
from passband.service.library import Library
from passband.service.reviewing import tables
from passband.service.reviewing.progress import Cancelled, Progress
from passband.service.reviewing.upload_review import UploadReviewer
from passband.service.uploads.received import ReceivedFile
from tests.service.object_stores import of_the_folder


@pytest.fixture
def data(open_service, planted, upload_to, settings, monkeypatch):
    """A library of two events with two runs each."""
    monkeypatch.setattr(mending, "read_settings", lambda **_: settings)
    with open_service() as client:
        for n in range(4):
            upload_to(client, f"runs=1\n{n}\n".encode(), event="May" if n < 2 else "June", label=f"run {n}")
    return settings.data


@pytest.fixture
def upload_to():
    def send(client, content, **details):
        files = [("log", ("a.csv", content)), ("details", (None, json.dumps(details)))]
        assert client.post("/api/runs", files=files).status_code == 201

    return send


def reviewed_at(settings):
    with closing(Library(settings)) as library:
        runs = library.records.find_runs(event=None, car=None, limit=99, after=None)
        return {run.details.label: run.reviewed_at for run in runs}


def test_all_runs_get_a_new_review(data, settings, capsys):
    before = reviewed_at(settings)
    assert print_review_again(data=data) == 0
    after = reviewed_at(settings)
    assert all(after[name] > before[name] for name in before) and len(after) == 4
    assert "4 of 4 runs were reviewed again." in capsys.readouterr().out


def test_only_those_of_an_event_where_one_is_named(data, settings):
    before = reviewed_at(settings)
    assert print_review_again(data=data, event="May") == 0
    after = reviewed_at(settings)
    assert [after[name] > before[name] for name in sorted(before)] == [True, True, False, False]


def test_nothing_meant_is_said(data, capsys):
    assert print_review_again(data=data, car="Nobody's") == 2
    assert "No run in this library is meant" in capsys.readouterr().err


def test_broken_off_it_goes_on_where_it_was(data, settings, capsys, monkeypatch):
    monkeypatch.setattr(passes, "CHUNK_RUNS", 1)
    whole, done = UploadReviewer.review, []

    def broken(self, *args, **more):
        if len(done) == 2:
            raise Cancelled  # as where the program is told to end
        done.append(args)
        return whole(self, *args, **more)

    before = reviewed_at(settings)
    monkeypatch.setattr(UploadReviewer, "review", broken)
    with closing(Library(settings)) as library:
        job = passes.put_pass(library, event=None, car=None, beside={})
        for _ in range(3):
            job_work.do_job(library, library.records.jobs.take("test"), Progress(lambda stage: None))
        assert library.records.new_reviews.counts(job.id).reviewed == 2
    assert reviewed_at(settings) == before  # old reviews stand until all new ones are there
    monkeypatch.setattr(UploadReviewer, "review", whole)
    assert print_review_again(data=data) == 0
    said = capsys.readouterr()
    assert "2 of 4 runs have their new review" in said.err and "4 of 4 runs were reviewed again." in said.out
    after = reviewed_at(settings)
    assert all(after[name] > before[name] for name in before)


def test_a_run_that_cannot_be_reviewed_keeps_its_review_and_is_told(data, settings, capsys, monkeypatch):
    whole, before = UploadReviewer.review, reviewed_at(settings)

    def fails(self, logs, car, details, *args, **more):
        if details.label == "run 1":
            raise LogError("the log says no more what it said")
        return whole(self, logs, car, details, *args, **more)

    monkeypatch.setattr(UploadReviewer, "review", fails)
    assert print_review_again(data=data) == 2
    said = capsys.readouterr()
    assert "run 1: the review before stands. the log says no more" in said.err and "3 of 4 runs" in said.out
    after = reviewed_at(settings)
    assert after["run 1"] == before["run 1"] and after["run 0"] > before["run 0"]


def test_what_an_earlier_program_left_of_a_pass_is_cleared_away(data):
    (data / ONCE_BEGUN).write_text("{}")
    assert print_review_again(data=data) == 0
    assert not (data / ONCE_BEGUN).exists()


@pytest.fixture
def never_the_same(planted, monkeypatch):
    """Each review's table is a row shorter than the one before, and so another file."""
    whole, count = tables.write_table, itertools.count(1)

    def write(table, path):
        whole(replace(table, frame=table.frame.head(-next(count))), path)

    monkeypatch.setattr(tables, "write_table", write)


@pytest.fixture
def library(never_the_same, data, settings):
    with closing(Library(settings)) as library:
        yield library


def work(library, *, most=100):
    for _ in range(most):
        job = library.records.jobs.take("test")
        if job is None:
            return
        job_work.do_job(library, job, Progress(lambda stage: None))


def rows(library):
    runs = library.records.find_runs(event=None, car=None, limit=99, after=None)
    return {run.id: (run.details.label, run.reviewed_at, library.records.review(run.id)) for run in runs}


def test_new_reviews_stand_all_at_once(library, monkeypatch, stored):
    monkeypatch.setattr(passes, "CHUNK_RUNS", 1)
    before, seen = rows(library), []
    monkeypatch.setitem(job_work.WORK, "sweep", lambda *args: None)
    whole = passes.work_sweep
    monkeypatch.setattr(passes, "work_sweep", lambda library, job, progress: seen.append(rows(library)) or whole(
        library, job, progress))  # fmt: skip
    passes.put_pass(library, event=None, car=None, beside={})
    for _ in range(4):
        work(library, most=1)
        assert rows(library) == before
    work(library)
    (after,) = seen
    assert all(after[id][1] > before[id][1] and after[id][2] == before[id][2] for id in before)
    assert len(stored()) == 8  # four logs and four tables: nothing is left of the pass


def test_the_same_pass_asked_for_twice_is_one(library):
    first = passes.put_pass(library, event=None, car=None, beside={})
    assert passes.put_pass(library, event=None, car=None, beside={}).id == first.id
    assert passes.put_pass(library, event="May", car=None, beside={}).id != first.id
    work(library)
    assert passes.put_pass(library, event=None, car=None, beside={}).id != first.id


def test_runs_of_the_same_logs_are_read_once(planted, settings, monkeypatch):
    asked = []
    whole = UploadReviewer.review
    monkeypatch.setattr(UploadReviewer, "review", lambda *args, **more: asked.append(1) or whole(*args, **more))
    with closing(Library(settings)) as library:
        with library.incoming() as folder:
            (folder / "a").write_bytes(b"runs=3\n")
            library.take_in([ReceivedFile(folder / "a", "a.csv", 7)], car=None, details=UploadDetails())
        job = passes.put_pass(library, event=None, car=None, beside={})
        work(library)
        assert library.records.jobs.job(job.id).result == {"runs": 3, "reviewed": 3, "left": []}
    assert len(asked) == 2


def test_a_run_changed_or_deleted_meanwhile_keeps_what_was_done_to_it(library, stored):
    job = passes.put_pass(library, event=None, car=None, beside={})
    ids = {label: id for id, (label, _, _) in rows(library).items()}
    work(library, most=1)
    library.review_again(ids["run 0"], RunChanges(label="told anew"))
    library.deleting.remove(ids["run 1"])
    changed = rows(library)[ids["run 0"]]
    work(library)
    result = library.records.jobs.job(job.id).result
    assert (result["runs"], result["reviewed"]) == (4, 2)
    assert {left["run"]: left["why"] for left in result["left"]} == {
        ids["run 0"]: "It was changed and reviewed meanwhile; that review stands.",
        ids["run 1"]: "It was deleted meanwhile.",
    }
    assert rows(library)[ids["run 0"]] == changed and len(rows(library)) == 3
    assert len(stored()) == 6


def test_a_pass_takes_the_cars_as_they_were_when_it_began(library):
    car = library.cars.add({"name": "Heron"})
    ids = list(rows(library))
    for id in ids:
        library.review_again(id, RunChanges(car=car.id))
    passes.put_pass(library, event=None, car="Heron", beside={})
    library.cars.change(car.id, {"name": "Heron II"})
    work(library)
    assert {library.records.run(id).car for id in ids} == {(car.id, 1)}
    passes.put_pass(library, event=None, car=car.id, beside={})
    work(library)
    assert {library.records.run(id).car for id in ids} == {(car.id, 2)}


@of_the_folder
def test_a_library_is_whole_amid_a_pass_and_its_backup_too(rows_in_a_file, library, settings, tmp_path, monkeypatch):
    monkeypatch.setattr(passes, "CHUNK_RUNS", 1)
    job = passes.put_pass(library, event=None, car=None, beside={})
    work(library, most=2)
    library.close()
    assert back_up(settings.data, tmp_path / "backup").faults == ()
    restore(tmp_path / "backup", tmp_path / "restored")
    for folder in (settings.data, tmp_path / "restored"):
        with closing(Library(settings.model_copy(update={"data": folder}))) as again:
            assert again.condition.doubt is None and list(again.trash.entries()) == []
            work(again)
            assert again.records.jobs.job(job.id).result["reviewed"] == 4


def test_asked_for_over_http(data, open_service, assert_problem):
    with open_service() as client:
        assert_problem(client.post("/api/review-again", json={"event": "Nowhere"}), 422)
        assert_problem(client.post("/api/review-again", json={"events": "May"}), 422)
        answer = client.post("/api/review-again", json={"event": "May"})
        assert answer.status_code == 202 and answer.json()["kind"] == "review-again"
        until = time.monotonic() + 20
        while (told := client.get(answer.headers["location"]).json())["state"] != "done":
            assert time.monotonic() < until, told
            time.sleep(0.02)
        assert told["reviewed_again"] == {"runs": 2, "reviewed": 2, "left": [], "stands": True}
        assert client.get(f"/api/jobs/{'0' * 32}").status_code == 404


@pytest.mark.parametrize("count", [1, 9, 40, 2000])
def test_chunks_grow_small_towards_the_end_so_that_all_end_together(count):
    # Hand: at most ten runs, and no more than a sixteenth of what was left, but for the run that makes it full.
    planted = [SimpleNamespace(upload_id=f"upload {n}", id=f"run {n}") for n in range(count)]
    sizes = [sum(len(ids) for _, ids in chunk) for chunk in passes._parted(planted)]
    assert sum(sizes) == count and sizes == sorted(sizes, reverse=True) and sizes[0] <= 10
    assert sizes[-15:] == [1] * min(count, 15)
