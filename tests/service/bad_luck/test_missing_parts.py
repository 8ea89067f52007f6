"""A file of one run is missing, cut or damaged: a named problem of that run alone, mended by recheck or told."""

from __future__ import annotations

import stat
from contextlib import closing

import pytest

from passband.service.cli import main
from passband.service.kept.recheck import recheck
from passband.service.library import Library
from tests.service.object_stores import of_the_folder

pytestmark = of_the_folder

LOG = b"runs=1\n"
NEED_THE_TABLE = ("", "/traces", "/export", "/export?format=csv")


def ids(response):
    return [run["id"] for run in response.json()["runs"]]


def file_of(settings, body):
    """The kept file that holds these bytes."""
    return next(
        path for path in (settings.data / "originals").rglob("*") if path.is_file() and path.read_bytes() == body
    )


def cut(path):
    path.write_bytes(path.read_bytes()[:-100])


def flip(path):
    body = bytearray(path.read_bytes())
    body[len(body) // 2] ^= 1
    path.write_bytes(body)


@pytest.mark.parametrize("harm", [cut, flip, lambda path: path.unlink()], ids=["cut", "flipped", "gone"])
def test_a_harmed_table_is_a_problem_of_its_run_alone_and_is_made_again(
    upload, client, settings, assert_problem, harm, planted
):
    whole, harmed = ids(upload(b"runs=2\n"))[1], ids(upload(LOG, label="one", event="Meet"))[0]
    before = client.get(f"/api/runs/{harmed}/traces").json()
    key = client.app.state.library.records.run(harmed).table_key
    harm(settings.data / "runs" / key[:2] / f"{key}.parquet")
    for path in NEED_THE_TABLE:
        body = assert_problem(client.get(f"/api/runs/{harmed}{path}"), 409)
        assert body["run"] == harmed and "passband recheck" in body["detail"]
        assert client.get(f"/api/runs/{whole}{path}").status_code == 200
    assert client.get(f"/runs/{harmed}", headers={"Accept": "text/html"}).status_code == 409
    for path in (
        "/",
        "/api/runs",
        f"/api/runs/{harmed}/review",
        f"/api/runs/{harmed}/logs/0",
        "/api/events/Meet/sheet",
    ):
        assert client.get(path).status_code == 200
    client.app.state.library.close()
    assert recheck(settings).left == []
    with closing(Library(settings)) as library:
        run, file = library.files.open_table(harmed)
        with file:
            assert file.read() and run.details.label == "one"
    assert len(before["channels"]) == 2


@pytest.mark.parametrize("harm", [flip, lambda path: path.unlink()], ids=["flipped", "gone"])
def test_a_harmed_log_is_told_by_name_and_sending_it_again_mends_it(
    planted, open_service, settings, assert_problem, harm, capsys, monkeypatch
):
    monkeypatch.setenv("PASSBAND_WORKERS", "0")
    with open_service() as client:
        run = ids(client.post("/api/runs", files=[("log", ("ecu 7.csv", LOG))]))[0]
    harm(file_of(settings, LOG))
    with open_service() as client:
        assert "ecu 7.csv" in assert_problem(client.get(f"/api/runs/{run}/logs/0"), 409)["detail"]
        assert_problem(client.patch(f"/api/runs/{run}", json={"label": "x"}), 409)
        assert client.get(f"/api/runs/{run}/traces").status_code == 200
    assert main(["recheck", "--data", str(settings.data)]) == 2
    said = capsys.readouterr()
    assert "The log ecu 7.csv is" in said.err and "send it again" in said.err
    with open_service() as client:
        again = client.post("/api/runs", files=[("log", ("ecu 7.csv", LOG))])
        assert again.status_code == 200 and ids(again) == [run]
        assert client.get(f"/api/runs/{run}/logs/0").content == LOG
    assert main(["recheck", "--data", str(settings.data)]) == 0
    assert "All that is kept is in order" in capsys.readouterr().out


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_run_whose_log_is_damaged_waits_for_it_when_the_database_is_lost_too(planted, open_service, settings):
    with open_service() as client:
        send = [("log", ("ecu.csv", LOG))]
        run = ids(client.post("/api/runs", files=send, data={"details": '{"label": "one"}'}))[0]
    flip(file_of(settings, LOG))
    (settings.data / "library.sqlite").unlink()
    left = recheck(settings).left
    assert len(left) == 2 and "could not be made again" in left[0] and "is damaged" in left[1]
    with open_service() as client:
        assert client.get("/health").json()["library"]["complete"]
        assert client.get("/api/runs").json()["runs"] == []
        assert ids(client.post("/api/runs", files=[("log", ("ecu.csv", LOG))])) == [run]
        assert client.get(f"/api/runs/{run}").json()["label"] == "one"
    assert recheck(settings).left == []


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_log_that_nothing_is_known_of_stays_and_is_told(planted, open_service, settings):
    with open_service() as client:
        client.post("/api/runs", files=[("log", ("ecu.csv", LOG))])
    path = file_of(settings, LOG)
    (settings.data / "library.sqlite").unlink()
    next((settings.data / "uploads").glob("*.json")).unlink()
    left = recheck(settings).left
    assert len(left) == 1 and f"originals/{path.parent.name}/{path.name}" in left[0]
    with open_service() as client:
        assert path.read_bytes() == LOG
        assert client.post("/api/runs", files=[("log", ("ecu.csv", path.read_bytes()))]).status_code == 201
    assert recheck(settings).left == []


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_damaged_record_is_written_anew_from_its_rows(planted, open_service, settings):
    with open_service() as client:
        client.post("/api/cars", json={"name": "Heron"})
        client.post("/api/runs", files=[("log", ("ecu.csv", LOG))])
    paths = [next((settings.data / name).glob("*.json")) for name in ("uploads", "cars")]
    for path in paths:
        flip(path)
    report = recheck(settings)
    assert report.left == [] and len([line for line in report.done if "record" in line]) == 2
    (settings.data / "library.sqlite").unlink()
    assert recheck(settings).left == []
    with open_service() as client:
        assert len(client.get("/api/runs").json()["runs"]) == len(client.get("/api/cars").json()["cars"]) == 1


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_damaged_database_refuses_the_start_in_one_sentence_and_recheck_mends_it(
    planted, open_service, settings, capsys, monkeypatch
):
    monkeypatch.setenv("PASSBAND_WORKERS", "0")
    with open_service() as client:
        run = ids(client.post("/api/runs", files=[("log", ("ecu.csv", LOG))]))[0]
    (settings.data / "library.sqlite").write_bytes(b"this was a database once" * 1000)
    data = ["--data", str(settings.data)]
    assert main(["serve", "--port", "0", *data]) == 2
    said = capsys.readouterr().err
    assert "passband recheck" in said and "Traceback" not in said
    assert main(["recheck", *data]) == 0
    assert "went to the trash" in capsys.readouterr().out
    with open_service() as client:
        assert client.get(f"/api/runs/{run}/traces").status_code == 200


@pytest.mark.usefixtures("rows_in_a_file")
def test_a_doubt_is_told_on_the_page_and_in_health(planted, open_service, settings):
    with open_service() as client:
        client.post("/api/runs", files=[("log", ("ecu.csv", LOG))])
        assert client.get("/health").json()["library"] == {
            "complete": True, "uploads_without_row": 0, "logs_without_row": 0, "text": "",
        }  # fmt: skip
    (settings.data / "library.sqlite").write_bytes(b"")
    with open_service() as client:
        told = client.get("/health").json()["library"]
        assert told["complete"] is False and told["uploads_without_row"] == told["logs_without_row"] == 1
        page = client.get("/").text
        assert "1 logs and 1 uploads" in page and "passband recheck" in page


def test_foreign_files_are_left_alone_and_told_once(planted, open_service, settings, caplog):
    with open_service() as client:
        run = ids(client.post("/api/runs", files=[("log", ("ecu.csv", LOG))]))[0]
    folder = file_of(settings, LOG).parent
    key = "f" * 64
    foreign = [
        settings.data / "originals" / "notes.txt", folder / ".DS_Store", folder / key, folder / ("A" * 64),
        settings.data / "runs" / "desktop.ini", settings.data / "uploads" / "readme.txt", settings.data / "mine.txt",
    ]  # fmt: skip
    for path in foreign:
        path.write_bytes(b"not yours")
    caplog.set_level("INFO")
    with open_service() as client:
        assert client.get("/health").json()["library"]["complete"]
        assert client.get(f"/api/runs/{run}/traces").status_code == 200
    assert all(path.read_bytes() == b"not yours" for path in foreign)
    assert "4 files in originals are none of ours" in caplog.text
    assert recheck(settings).left == []
    assert all(path.exists() for path in foreign)


def test_the_folder_is_for_its_owner_only(planted, open_service, settings):
    for _ in range(2):
        with open_service():
            assert stat.S_IMODE(settings.data.stat().st_mode) == 0o700
        settings.data.chmod(0o755)
