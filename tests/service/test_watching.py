"""What the service says of itself to who watches it: counts that Prometheus reads, and whether it is ready."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from contextlib import closing

import pytest
from prometheus_client.parser import text_string_to_metric_families
from starlette.testclient import TestClient

from passband.service.app import create_app
from passband.service.readiness import Looked
from passband.service.reviewing.review_files import ReviewTask
from passband.service.reviewing.workers import TaskFailed, Workers
from passband.service.settings import SettingsError, read_settings
from tests.service.conftest import small_settings

TOKEN = "0123456789abcdef"


@pytest.fixture
def here(planted, settings):
    """A program on this machine."""
    with TestClient(create_app(settings), raise_server_exceptions=False, client=("127.0.0.1", 5000)) as client:
        yield client


def counted(client: TestClient) -> dict[tuple, float]:
    """Every sample by its name and labels, as Prometheus's own reader reads them."""
    answer = client.get("/metrics")
    assert answer.status_code == 200 and answer.headers["content-type"].startswith("text/plain; version=")
    assert answer.headers["cache-control"] == "no-store"
    families = text_string_to_metric_families(answer.text)
    return {(one.name, *one.labels.values()): one.value for family in families for one in family.samples}


def send(client: TestClient, *logs: bytes, **data: str):
    return client.post(
        "/api/runs", files=[("log", (f"{n}.csv", log, "text/csv")) for n, log in enumerate(logs)], data=data
    )


def test_questions_are_counted_by_the_route_as_it_is_written(here):
    for path in ("/api/runs/secret1", "/api/runs/secret2", "/health", "/secret3", "/secret4"):
        here.get(path)
    found = counted(here)
    assert found["passband_requests_total", "GET", "/api/runs/{run_id}", "404"] == 2
    assert found["passband_requests_total", "GET", "/health", "200"] == 1
    assert found["passband_requests_total", "GET", "none", "404"] == 2
    assert found["passband_request_seconds_count", "GET", "/api/runs/{run_id}"] == 2
    assert not [key for key in found if "secret" in "".join(key)]


def test_uploads_are_counted_by_what_became_of_them(here):
    # Planted: two kept, one twice, three refused for three reasons.
    statuses = [
        send(here, log).status_code for log in (b"runs=1\na", b"runs=2\nb", b"runs=1\na", b"\x89PNG", b"runs=0")
    ]
    assert statuses == [201, 201, 200, 415, 422]
    assert send(here, b"runs=1\nc", details="{").status_code in (400, 422)
    found = counted(here)
    assert [found["passband_uploads_total", one] for one in ("kept", "here_already", "refused", "failed")] == [
        2,
        1,
        3,
        0,
    ]
    assert found["passband_reviews_total", "review", "done"] == 2
    assert found["passband_reviews_total", "review", "refused"] == 2
    assert found["passband_review_seconds_count", "review"] == found["passband_review_wait_seconds_count",] == 4
    assert found["passband_stored_bytes", ""] == len(b"runs=1\na" + b"runs=2\nb")
    assert ("passband_quota_bytes", "") not in found


def test_jobs_are_counted_by_what_became_of_them(here):
    # Planted: one that is done, one whose log holds no run
    waited = [
        here.post("/api/runs", files={"log": ("a.csv", log)}, headers={"Prefer": "respond-async"}).status_code
        for log in (b"runs=1\na", b"runs=0")
    ]
    assert waited == [202, 202]
    until = time.monotonic() + 20
    # Two workers: either may end first
    while counted(here).get(("passband_job_seconds_count", "upload")) != 2 and time.monotonic() < until:
        time.sleep(0.02)
    found = counted(here)
    assert (found["passband_jobs_total", "upload", "done"], found["passband_jobs_total", "upload", "refused"]) == (1, 1)
    assert found["passband_job_seconds_count", "upload"] == 2
    assert (found["passband_jobs_open", "waiting", ""], found["passband_jobs_open", "working", ""]) == (0, 0)


def test_a_followed_upload_is_counted_like_any_other(here):
    followed = {"Accept": "text/event-stream"}
    for log in (b"runs=1\na", b"runs=0"):
        here.post("/api/runs", files=[("log", ("a.csv", log, "text/csv"))], headers=followed)
    found = counted(here)
    assert (found["passband_uploads_total", "kept"], found["passband_uploads_total", "refused"]) == (1, 1)


def test_an_upload_that_breaks_by_our_mistake_is_counted_as_failed(here, monkeypatch):
    monkeypatch.setattr(here.app.state.library.records, "add_upload", lambda *_: 1 / 0)
    assert send(here, b"runs=1\na").status_code == 500
    assert counted(here)["passband_uploads_total", "failed"] == 1


def test_two_services_in_one_process_do_not_count_into_each_other(here, tmp_path):
    with TestClient(create_app(small_settings(tmp_path / "other")), client=("::1", 5000)) as other:
        other.get("/health")
        assert ("passband_requests_total", "GET", "/health", "200") not in counted(here)


def test_the_metrics_are_for_this_machine_where_no_token_is_set(here, assert_problem):
    elsewhere = TestClient(here.app, client=("192.168.4.20", 5000))
    assert "PASSBAND_METRICS_TOKEN" in assert_problem(elsewhere.get("/metrics"), 403)["detail"]
    for name in ("X-Forwarded-For", "Forwarded", "Via"):
        assert_problem(here.get("/metrics", headers={name: "127.0.0.1"}), 403)


def test_with_a_token_the_metrics_are_for_who_shows_it_from_wherever(tmp_path, assert_problem):
    settings = read_settings({"PASSBAND_METRICS_TOKEN": TOKEN}, data=tmp_path / "d", workers=0, hosts="testserver")
    assert TOKEN not in repr(settings)
    with TestClient(create_app(settings)) as client:
        assert client.get("/metrics", headers={"Authorization": f"bearer {TOKEN}"}).status_code == 200
        for wrong in (
            {},
            {"Authorization": TOKEN},
            {"Authorization": "Bearer " + TOKEN[:-1]},
            {"Authorization": "Bearer "},
        ):
            assert_problem(client.get("/metrics", headers=wrong), 401)


def test_a_token_that_could_be_guessed_is_refused_without_being_told():
    with pytest.raises(SettingsError, match="PASSBAND_METRICS_TOKEN must have 16 letters or more") as refused:
        read_settings({"PASSBAND_METRICS_TOKEN": "hunter2"})
    assert "hunter2" not in str(refused.value)


@pytest.fixture(autouse=True)
def looked_at_each_time(monkeypatch):
    monkeypatch.setattr("passband.service.readiness.HOLD_S", 0.0)


def test_it_is_ready_when_all_of_it_answers(client):
    assert client.get("/ready").json()["status"] == "ready"
    assert client.get("/ready").json()["version"] == client.get("/health").json()["version"]


def not_ready(client, assert_problem) -> str:
    answer = client.get("/ready")
    said = assert_problem(answer, 503)
    assert answer.headers["retry-after"] == "5" and said["title"] == "Not ready"
    assert client.get("/health").status_code == 200  # it is alive all the same
    return said["detail"]


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_database_that_takes_no_writes_is_not_ready(client, settings, assert_problem):
    # Planted: another program holds the file for writing; ours need not wait its usual 10 s for that.
    engine = client.app.state.library.records._engine
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA busy_timeout = 50")
    with closing(sqlite3.connect(settings.data / "library.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert "database cannot be read and written" in not_ready(client, assert_problem)
        other.execute("ROLLBACK")
    assert client.get("/ready").status_code == 200


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_probe_changes_nothing(client, settings):
    with closing(sqlite3.connect(settings.data / "library.sqlite")) as found:
        before = found.execute("SELECT * FROM progress").fetchall(), found.execute("PRAGMA data_version").fetchall()
        files = sorted(path.name for path in settings.data.rglob("*"))
        assert client.get("/ready").status_code == 200
        assert sorted(path.name for path in settings.data.rglob("*")) == files
        assert (
            found.execute("SELECT * FROM progress").fetchall(),
            found.execute("PRAGMA data_version").fetchall(),
        ) == before


def test_a_folder_that_takes_no_files_is_not_ready(client, settings, assert_problem):
    incoming = client.app.state.library.folder.incoming
    incoming.rename(settings.data / "elsewhere")
    assert "takes no files" in not_ready(client, assert_problem)
    (settings.data / "elsewhere").rename(incoming)
    assert client.get("/ready").status_code == 200


def test_a_disk_with_hardly_any_room_is_not_ready(client, monkeypatch, assert_problem):
    monkeypatch.setattr("passband.service.store.room._free_bytes", lambda folder: 1000)
    assert "Hardly any room" in not_ready(client, assert_problem)


def test_a_reserve_that_was_used_up_is_set_aside_again_before_it_is_missed(client, settings):
    (settings.data / "reserve").write_bytes(b"")
    assert client.get("/ready").status_code == 200
    assert (settings.data / "reserve").stat().st_size == settings.reserve_bytes


def test_a_look_holds_for_a_moment_however_many_ask(monkeypatch):
    monkeypatch.setattr("passband.service.readiness.HOLD_S", 60.0)
    looked, looks = Looked(), []
    assert [looked.found(lambda: looks.append(1) or ["no"]) for _ in range(3)] == [["no"]] * 3 and looks == [1]


def test_who_asks_while_another_looks_is_told_what_was_found_before():
    looked, begun, go_on = Looked(), threading.Event(), threading.Event()
    assert looked.found(lambda: ["before"]) == ["before"]

    def slowly() -> list[str]:
        begun.set()
        go_on.wait(10)
        return []

    thread = threading.Thread(target=looked.found, args=(slowly,))
    thread.start()
    assert begun.wait(10) and looked.found(lambda: ["not asked"]) == ["before"]
    go_on.set()
    thread.join()
    assert looked.found(list) == []


def test_workers_that_do_not_answer_are_told(client, monkeypatch, assert_problem):
    monkeypatch.setattr(client.app.state.workers, "answers", lambda within_s: False)
    assert "No process that computes reviews answers" in not_ready(client, assert_problem)


@pytest.fixture(scope="module")
def one_worker():
    workers = Workers(1, seconds=60, memory_bytes=2**32)
    yield workers
    workers.close()


def test_a_process_answers_once_it_has_loaded_and_again_after_it_died(one_worker):
    assert one_worker.answers(within_s=30)
    one_worker._all[0].kill()
    one_worker._all[0]._process.join()
    assert one_worker.answers(within_s=30)


def test_a_process_that_was_asked_in_vain_does_its_task_all_the_same(one_worker, tmp_path):
    assert one_worker.answers(within_s=30)
    os.kill(one_worker._all[0]._process.pid, 19)  # stopped
    assert not one_worker.answers(within_s=0.05) and not one_worker.answers(within_s=0.05)
    os.kill(one_worker._all[0]._process.pid, 18)  # goes on
    (tmp_path / "a.csv").write_bytes(b"\x89PNG")
    task = ReviewTask(((tmp_path / "a.csv", "a.csv"),), None, (), None, 1320, "", "", "", tmp_path)
    for _ in range(2):
        with pytest.raises(Exception, match=r"a\.csv"):
            one_worker.run(task)
    assert one_worker.answers(within_s=5)


def test_the_load_is_counted_while_tasks_wait_and_are_worked_on(one_worker, tmp_path):
    # Planted: a process that is stopped, one task in it and one behind.
    assert one_worker.answers(within_s=30)
    heard: list = []
    one_worker.load.hear = heard.append
    os.kill(one_worker._all[0]._process.pid, 19)
    task = ReviewTask(((tmp_path / "a.csv", "a.csv"),), None, (), None, 1320, "", "", "", tmp_path)

    def ask() -> None:
        with pytest.raises(TaskFailed):
            one_worker.run(task)

    threads = [threading.Thread(target=ask) for _ in range(2)]
    for thread in threads:
        thread.start()
    until = time.monotonic() + 10
    while (one_worker.load.now().busy, one_worker.load.now().waiting) != (1, 1) and time.monotonic() < until:
        time.sleep(0.01)
    assert (one_worker.load.now().workers, one_worker.load.now().busy, one_worker.load.now().waiting) == (1, 1, 1)
    assert one_worker.answers(within_s=0.1)  # at work is not absent
    time.sleep(0.05)  # who waits has then waited longer than what is held against below, however quick all else was
    one_worker._all[0].kill()
    for thread in threads:
        thread.join(30)
    assert (one_worker.load.now().busy, one_worker.load.now().waiting) == (0, 0)
    assert {one.outcome for one in heard} == {"lost"} and len(heard) == 2
    assert sorted(one.waited_s > 0.01 for one in heard) == [False, True]
