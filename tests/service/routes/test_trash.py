"""What is deleted can be brought back as it was; what has no row goes to the trash and not away."""

from __future__ import annotations

import os
import re
from contextlib import closing
from datetime import UTC, datetime, timedelta

import orjson
import pytest

from passband.service.cli import main
from passband.service.library import Library
from tests.service.object_stores import of_the_folder

ONE_RUN, TWO_RUNS = b"runs=1\n", b"runs=2\n"


def ids(response):
    return [run["id"] for run in response.json()["runs"]]


def everything(client, run):
    paths = ("", "/review", "/traces", "/logs/0", "/export")
    return [client.get(f"/api/runs/{run}{path}").content for path in paths]


def delete(client, run):
    response = client.delete(f"/api/runs/{run}")
    assert response.status_code == 204
    return response.headers["location"]


def test_a_deleted_run_comes_back_as_it_was(upload, client, stored):
    car = client.post("/api/cars", json={"name": "Heron"}).json()["id"]
    run = ids(upload(ONE_RUN, b"runs=1 dash", car=car, label="one", event="Harvest Meet", slip={"t60_s": 1.2}))[0]
    upload(b"runs=1 later")
    before, files = everything(client, run), stored()
    order = client.get("/api/runs").json()
    entry = delete(client, run)
    told = client.get("/api/trash").json()["entries"]
    assert [one["runs"][0]["label"] for one in told] == ["one"] and told[0]["restorable"]
    assert [log["name"] for log in told[0]["logs"]] == ["log0.csv", "log1.csv"]
    back = client.post(f"{entry}/restore")
    assert back.status_code == 200 and ids(back) == [run]
    assert everything(client, run) == before and stored() == files
    assert client.get("/api/runs").json() == order
    assert client.get("/api/trash").json() == {"entries": []}


def test_one_of_two_runs_comes_back_beside_the_other(upload, client, stored):
    first, second = ids(upload(TWO_RUNS))
    before, files = everything(client, second), stored()
    entry = delete(client, second)
    assert client.post(f"{entry}/restore").status_code == 200
    assert everything(client, second) == before and stored() == files
    assert ids(client.get("/api/runs")) == [second, first]


def test_two_deleted_runs_of_one_log_come_back_in_any_order(upload, client, stored):
    first, second = ids(upload(TWO_RUNS))
    files = stored()
    entries = [delete(client, first), delete(client, second)]
    assert stored() == []
    for entry in entries:
        assert client.post(f"{entry}/restore").status_code == 200
    assert stored() == files and ids(client.get("/api/runs")) == [second, first]


def test_a_run_whose_logs_were_sent_again_stays_in_the_trash(upload, client, assert_problem):
    entry = delete(client, ids(upload(ONE_RUN))[0])
    again = ids(upload(ONE_RUN))
    body = assert_problem(client.post(f"{entry}/restore"), 409)
    assert "sent again" in body["detail"] and ids(client.get("/api/runs")) == again
    assert len(client.get("/api/trash").json()["entries"]) == 1


def test_the_trash_lets_go_one_by_one_and_all_at_once(upload, client, settings, assert_problem):
    entries = [delete(client, ids(upload(b"runs=1\n%d" % n))[0]) for n in range(3)]
    assert client.delete(entries[0]).status_code == 204
    assert_problem(client.delete(entries[0]), 404)
    assert_problem(client.post(f"{entries[0]}/restore"), 404)
    assert len(client.get("/api/trash").json()["entries"]) == 2
    assert client.delete("/api/trash").status_code == 204
    assert client.get("/api/trash").json() == {"entries": []}
    assert list((settings.data / "trash").iterdir()) == []


@of_the_folder
def test_a_damaged_review_in_the_trash_is_made_again(upload, client, settings):
    run = ids(upload(ONE_RUN, label="one"))[0]
    before = client.get(f"/api/runs/{run}/review").json()
    entry = delete(client, run)
    next((settings.data / "trash").rglob("review-*.json")).write_text("{}")
    next((settings.data / "trash").rglob("*.parquet")).unlink()
    assert client.post(f"{entry}/restore").status_code == 200
    assert client.get(f"/api/runs/{run}/review").json() == before
    assert client.get(f"/api/runs/{run}/traces").status_code == 200


@of_the_folder
def test_a_run_whose_log_is_gone_from_the_trash_and_the_store_cannot_come_back(
    upload, client, settings, assert_problem
):
    run = ids(upload(ONE_RUN))[0]
    entry = delete(client, run)
    for path in (settings.data / "trash").rglob("*"):
        if len(path.name) == 64 or path.suffix == ".parquet":
            path.unlink()
    assert "log0.csv" in assert_problem(client.post(f"{entry}/restore"), 409)["detail"]
    assert client.get("/api/runs").json()["runs"] == []


def test_the_start_page_offers_what_was_deleted_back(upload, client):
    entry = delete(client, ids(upload(ONE_RUN, label="soft launch"))[0]).rpartition("/")[2]
    page = client.get(f"/?deleted={entry}").text
    assert "Deleted: soft launch (log0.csv)" in page and f'data-restore="{entry}"' in page
    assert "data-restore" not in client.get("/?deleted=../../lock").text
    listed = client.get("/trash").text
    assert "soft launch" in listed and f'data-let-go="{entry}"' in listed


@of_the_folder
def test_a_log_without_a_row_goes_to_the_trash_and_the_log_tells(planted, settings, caplog):
    Library(settings).close()
    key = "ab" + "0" * 62
    (settings.data / "originals" / "ab").mkdir()
    (settings.data / "originals" / "ab" / key).write_bytes(b"left by a crash")
    os.utime(settings.data / "originals" / "ab" / key, (0, 0))  # beside a server a young file may be on its way
    with closing(Library(settings)) as library:
        entry = next(library.trash.entries())
        assert (settings.data / "trash" / entry.id / key).read_bytes() == b"left by a crash"
    assert re.fullmatch(r"\d{8}T\d{6}Z-cut-off-[0-9a-f]{8}", entry.id) and entry.id in caplog.text
    told = orjson.loads((settings.data / "trash" / entry.id / "reason.json").read_bytes())
    assert told["files"] == [key] and told["reason"] == "cut-off" and told["at"].endswith("Z")


@pytest.mark.parametrize(("days", "left"), [(30, 1), (0, 2)])
def test_the_trash_lets_go_of_old_entries_at_start(planted, settings, open_service, days, left):
    with open_service() as client:
        for n in range(2):
            delete(client, ids(client.post("/api/runs", files=[("log", ("a.csv", b"runs=1\n%d" % n))]))[0])
    path = next((settings.data / "trash").rglob("reason.json"))
    told = orjson.loads(path.read_bytes())
    told["at"] = (datetime.now(UTC) - timedelta(days=31)).isoformat(timespec="seconds").replace("+00:00", "Z")
    path.write_bytes(orjson.dumps(told))
    later = settings.model_copy(update={"trash_days": days})
    with closing(Library(later)) as library:
        assert len(list(library.trash.entries())) == left


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_library_in_doubt_lets_go_of_nothing(planted, settings, open_service):
    with open_service() as client:
        runs = [ids(client.post("/api/runs", files=[("log", ("a.csv", b"runs=1\n%d" % n))]))[0] for n in range(2)]
        delete(client, runs[0])
    path = next((settings.data / "trash").rglob("reason.json"))
    path.write_bytes(path.read_bytes().replace(b'"at": "20', b'"at": "19'))
    (settings.data / "library.sqlite").unlink()
    with closing(Library(settings)) as library:
        assert library.condition.doubt and len(list(library.trash.entries())) == 1


@pytest.mark.usefixtures("rows_in_a_file")
def test_the_command_line_lists_restores_and_empties(planted, settings, open_service, capsys, monkeypatch):
    monkeypatch.setenv("PASSBAND_WORKERS", "0")
    with open_service() as client:
        run = ids(client.post("/api/runs", files=[("log", ("ecu.csv", ONE_RUN))]))[0]
        entry = delete(client, run).rpartition("/")[2]
    data = ["--data", str(settings.data)]
    assert main(["trash", *data]) == 0
    assert f"{entry}: ecu.csv" in capsys.readouterr().out
    assert main(["trash", *data, "--restore", entry]) == 0
    assert main(["trash", *data, "--restore", entry]) == 2
    with open_service() as client:
        assert client.get(f"/api/runs/{run}").status_code == 200
        delete(client, run)
        assert main(["trash", *data]) == 2  # the folder is in use
    assert main(["trash", *data, "--empty"]) == 0
    assert list((settings.data / "trash").iterdir()) == []
