"""Costs, change and the sheet as pages and files, on planted runs; a list put into a library."""

from __future__ import annotations

import io
import re
from contextlib import closing

import polars as pl
import pytest

from passband.service.cli import main
from passband.service.library import Library
from tests.service.object_stores import of_the_folder

HTML = {"Accept": "text/html"}


@pytest.fixture
def runs(client, upload):
    return [
        upload(f"runs=1\n{n}\n".encode(), event="Harvest Meet", round=f"Q{n}").json()["runs"][0]["id"] for n in range(2)
    ]


def test_costs_and_change_have_pages(client, runs):
    for path in (f"/costs?runs={','.join(runs)}", f"/change?before={runs[0]}&after={runs[1]}"):
        response = client.get(path, headers=HTML)
        assert response.status_code == 200, path
        assert "Q1" in response.text and 'src="http' not in response.text
        assert not re.search("[+\N{MINUS SIGN}]0(\\.0+)? ±", response.text)  # nothing has no sign


def test_runs_of_two_cars_are_told_apart_by_their_cars(client, upload):
    runs = []
    for number, name in enumerate(("Heron", "Otter")):
        car = client.post("/api/cars", json={"name": name}).json()["id"]
        body = f"runs=1\n{name}\n".encode()
        runs.append(upload(body, car=car, event="Meet", round="Q1").json()["runs"][0]["id"])
        names = [row["id"] for row in client.get("/api/runs").json()["runs"]]
        assert len(names) == number + 1
    for path in (f"/costs?runs={','.join(runs)}", f"/change?before={runs[0]}&after={runs[1]}"):
        text = client.get(path, headers=HTML).text
        assert "Meet, Q1, Heron" in text and "Meet, Q1, Otter" in text, path
    assert "</a> Heron" in client.get(f"/overlay?runs={','.join(runs)}", headers=HTML).text


def test_a_run_on_both_sides_is_refused(client, runs):
    assert client.get(f"/change?before={runs[0]}&after={runs[0]}", headers=HTML).status_code == 422


def test_a_sheet_holds_a_row_for_each_run_and_names_the_best(client, runs):
    sheet = client.get("/api/events/Harvest%20Meet/sheet").json()
    assert len(sheet["rows"]) == len(sheet["runs"]) == len(sheet["same_engine"]) == 2
    assert sheet["best"] in runs and sheet["cars"] == []
    assert len(client.get("/api/events/Harvest%20Meet/sheet?cars=true").json()["cars"]) == 1


def test_a_sheet_goes_out_as_csv_and_parquet(client, runs):
    address = "/api/events/Harvest%20Meet/sheet?format="
    assert client.get(f"{address}csv").text.splitlines()[0].startswith("label,event,round")
    assert pl.read_parquet(io.BytesIO(client.get(f"{address}parquet").content)).height == 2
    assert client.get(f"{address}xls").status_code == 422


def test_no_answer_lets_a_digest_out(client, runs):
    assert "digest" not in client.get("/api/runs").text


def test_a_row_without_a_digest_makes_it_anew(client, runs):
    records = client.app.state.library.records
    with records._writer.begin() as connection:
        connection.exec_driver_sql("DELETE FROM digests")
    assert len(client.get("/api/events/Harvest%20Meet/sheet").json()["rows"]) == 2


@of_the_folder
def test_a_list_goes_in_once_and_says_so(planted, settings, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("PASSBAND_WORKERS", "0")
    (tmp_path / "car.toml").write_text('name = "Heron"\n')
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_bytes(b"runs=1\n" + name.encode() + b"\n")
    told = ['car = "car.toml"\n']
    told += [f'[[runs]]\nlogs = ["{name}.csv"]\nlabel = "{name}"\nat = 2031-05-04\ngroup = "stock"\n' for name in "ab"]
    (tmp_path / "runs.toml").write_text("".join(told))
    command = ["load", str(tmp_path / "runs.toml"), "--data", str(settings.data)]
    assert main(command) == 0 and "2 of 2: b: taken in" in capsys.readouterr().out
    assert main(command) == 0 and "2 of 2: b: is here already" in capsys.readouterr().out
    with closing(Library(settings)) as library:
        found = library.records.find_runs(event=None, car=None, limit=9, after=None)
        assert [run.details.label for run in found] == ["b", "a"]
        assert (found[0].details.notes, found[0].details.at) == ("Group: stock.", "2031-05-04")
        assert len(library.records.all_cars()) == 1


@of_the_folder
def test_parts_and_groups_of_a_list_are_kept_once(planted, settings, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("PASSBAND_WORKERS", "0")
    (tmp_path / "car.toml").write_text('name = "Heron"\n')
    told = ['car = "car.toml"\n']
    for name, group in (("a", "old"), ("b", "old"), ("c", "new")):
        (tmp_path / f"{name}.csv").write_bytes(b"runs=1\n" + name.encode() + b"\n")
        told.append(f'[[runs]]\nlogs = ["{name}.csv"]\nlabel = "{name}"\ngroup = "{group}"\n')
    told.append('[[parts]]\nname = "clutch"\nfirst = "b"\nabove_rpm = [7000]\n')
    (tmp_path / "runs.toml").write_text("".join(told))
    command = ["load", str(tmp_path / "runs.toml"), "--data", str(settings.data)]
    assert main(command) == 0
    assert "part clutch: kept\ngroups new against old: kept" in capsys.readouterr().out
    assert main(command) == 0 and "kept" not in capsys.readouterr().out
    with closing(Library(settings)) as library:
        runs = {
            run.details.label: run.id for run in library.records.find_runs(event=None, car=None, limit=9, after=None)
        }
        (part,), (groups,) = library.records.items("part"), library.records.items("groups")
        assert (part.given["first_run"], part.given["last_run"]) == (runs["b"], "")
        assert (groups.given["before"], groups.given["after"]) == ([runs["a"], runs["b"]], [runs["c"]])
