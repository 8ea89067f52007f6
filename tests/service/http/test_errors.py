"""One form of error on every route: problem details, status repeated in the body, nothing of ours let out."""

from __future__ import annotations

import errno

import pytest

import passband.analysis.review
from passband.service.reviewing.workers import ServiceEnding, TaskFailed, TaskTooLong, Workers

ONE_RUN, NO_RUN, PNG = b"runs=1\n", b"runs=0\n", b"\x89PNG\r\n\x1a\n"
GONE = "0" * 32
QUESTIONS = [
    ("GET", "/nothing", 404),
    ("GET", "/api/nothing", 404),
    ("DELETE", "/api/cars", 405),
    ("PUT", "/health", 405),
    ("GET", f"/api/cars/{GONE}", 404),
    ("GET", f"/api/cars/{GONE}?version=0", 422),
    ("GET", f"/api/cars/{GONE}?version={10**30}", 422),
    ("PUT", f"/api/cars/{GONE}", 422),
    ("POST", "/api/cars", 422),
    ("POST", "/api/runs", 415),
    ("GET", "/api/runs?limit=0", 422),
    ("GET", "/api/runs?limit=100000", 422),
    ("GET", "/api/runs?limit=x", 422),
    ("GET", f"/api/runs?after={GONE}", 404),
    ("GET", f"/api/runs/{GONE}", 404),
    ("PATCH", f"/api/runs/{GONE}", 422),
    ("DELETE", f"/api/runs/{GONE}", 404),
    ("GET", f"/api/runs/{GONE}/review", 404),
    ("GET", f"/api/runs/{GONE}/traces", 404),
    ("GET", f"/api/runs/{GONE}/traces?points=3", 422),
    ("GET", f"/api/runs/{GONE}/traces?points=100000000", 422),
    ("GET", f"/api/runs/{GONE}/traces?by=luck", 422),
    ("GET", f"/api/runs/{GONE}/logs/0", 404),
    ("GET", f"/api/runs/{GONE}/logs/-1", 404),
    ("GET", f"/api/runs/{GONE}/logs/{10**30}", 404),
    ("GET", f"/api/runs/{GONE}/logs/x", 422),
    ("GET", f"/api/runs/{GONE}/export", 404),
    ("GET", f"/api/runs/{GONE}/export?format=xlsx", 422),
    ("DELETE", f"/api/trash/{GONE}", 404),
    ("POST", f"/api/trash/{GONE}/restore", 404),
    ("GET", "/api/trash/..%2f..%2flock", 404),
    ("GET", "/api/compare", 422),
    ("GET", "/api/change", 422),
    ("GET", f"/api/change?before={GONE}&after={'1' * 32}", 404),
    ("GET", "/api/compare?runs=", 422),
    ("GET", f"/api/compare?runs={GONE},{'1' * 32}", 404),
    ("GET", "/api/overlay", 422),
    ("GET", f"/api/overlay?runs={GONE}", 404),
    ("GET", "/api/overlay?runs=" + ",".join(str(n) for n in range(13)), 422),
    ("GET", "/api/events/nowhere/sheet", 404),
    ("GET", f"/runs/{GONE}", 404),
    ("GET", f"/cars/{GONE}", 404),
    ("GET", "/events/nowhere", 404),
    ("GET", "/static/nothing.js", 404),
    ("GET", "/static/../service/app.py", 404),
    ("GET", "/static/%2e%2e/%2e%2e/pyproject.toml", 404),
]


@pytest.mark.parametrize(("method", "path", "status"), QUESTIONS)
def test_each_route_tells_its_errors_as_problem_details(client, assert_problem, method, path, status):
    assert_problem(client.request(method, path), status)


def test_a_browser_gets_a_page_that_says_the_same(client):
    response = client.get("/nowhere", headers={"Accept": "text/html"})
    assert response.status_code == 404
    assert response.headers["content-type"].startswith("text/html")
    assert "There is nothing at /nowhere." in response.text


def test_what_is_no_log_is_415_with_what_was_found(upload, assert_problem, stored):
    body = assert_problem(upload(PNG, names=["photo.csv"]), 415)
    assert "photo.csv is no log" in body["detail"] and stored() == []


def test_a_log_without_a_run_is_422_with_its_findings(upload, assert_problem, stored):
    body = assert_problem(upload(NO_RUN), 422)
    assert body["findings"][0]["code"] == "still" and stored() == []


def writing(settings):
    """A step of every upload's writing: with rows on a server and files in a store nothing of one is synced here."""
    elsewhere = settings.database.get_secret_value() and settings.object_store
    return (
        "passband.service.uploads.files_coming.FileComing.take"
        if elsewhere
        else "passband.service.store.files.os.fsync"
    )


def test_our_own_mistake_gives_a_reference_and_no_text(
    client, upload, assert_problem, monkeypatch, caplog, stored, settings
):
    def fail(*_args, **_kwargs):
        raise RuntimeError("the secret of /tmp/here")

    monkeypatch.setattr(writing(settings), fail)
    body = assert_problem(upload(ONE_RUN), 500)
    monkeypatch.undo()
    assert body["reference"] in body["detail"] and "secret" not in str(body)
    assert body["reference"] in caplog.text and "the secret" in caplog.text
    assert stored() == []
    assert client.get("/health").json()["status"] == "ok"


def test_logs_that_break_the_review_are_422_by_name_with_a_reference(
    client, upload, assert_problem, monkeypatch, caplog, stored
):
    def fail(*_args, **_kwargs):
        raise MemoryError("the secret of /tmp/here")

    monkeypatch.setattr(passband.analysis.review, "review", fail)
    body = assert_problem(upload(ONE_RUN, names=["wide.csv"]), 422)
    assert "wide.csv" in body["detail"] and body["reference"] in body["detail"] and "secret" not in str(body)
    assert body["reference"] in caplog.text and "the secret" in caplog.text
    assert stored() == []
    assert client.get("/health").json()["status"] == "ok"


@pytest.mark.parametrize(("lost", "status"), [(TaskFailed, 422), (TaskTooLong, 422), (ServiceEnding, 503)])
def test_a_review_that_came_to_no_end_names_its_logs(upload, assert_problem, monkeypatch, stored, lost, status):
    def fail(_self, task, _progress):
        raise lost("the secret", task)

    monkeypatch.setattr(Workers, "run", fail)
    response = upload(ONE_RUN, names=["wide.csv"])
    assert "wide.csv" in assert_problem(response, status)["detail"] and "secret" not in response.text
    assert ("retry-after" in response.headers) == (status == 503)
    assert stored() == []


def test_a_full_disk_is_507_and_nothing_is_kept(upload, assert_problem, monkeypatch, stored, settings):
    def fail(*_args, **_kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(writing(settings), fail)
    assert_problem(upload(ONE_RUN), 507)
    monkeypatch.undo()
    assert stored() == []


@pytest.mark.parametrize(
    ("path", "allowed"),
    [("/api/cars", "GET, HEAD, POST"), ("/api/runs/x", "DELETE, GET, HEAD, PATCH"), ("/health", "GET, HEAD")],
)
def test_what_is_not_possible_says_what_is(client, assert_problem, path, allowed):
    response = client.request("TRACE", path)
    assert_problem(response, 405)
    assert response.headers["allow"] == allowed


def test_a_question_for_the_head_alone_is_answered(client):
    assert client.head("/health").status_code == 200
    assert client.head("/nothing").status_code == 404
