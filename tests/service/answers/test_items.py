"""Parts of cars with what they have seen, and changes with a name: kept, counted, brought back after a loss."""

from __future__ import annotations

import shutil
from contextlib import closing

import pytest

from passband.service.commands.restoring import restore
from passband.service.kept.backup import back_up
from passband.service.kept.recheck import recheck
from passband.service.library import Library
from passband.service.settings import read_settings
from tests.service.object_stores import of_the_folder

HTML = {"Accept": "text/html"}


@pytest.fixture
def car(client):
    return client.post("/api/cars", json={"name": "Heron"}).json()["id"]


@pytest.fixture
def runs(upload, car):
    """Three runs of the car, of two days."""
    days = ("2031-05-04", "2031-05-05T10:30", "2031-05-05T14:00")
    sent = [
        upload(f"runs=1\n{n}\n".encode(), car=car, event="Harvest Meet", round=f"Q{n}", at=day)
        for n, day in enumerate(days)
    ]
    return [one.json()["runs"][0]["id"] for one in sent]


def counted(client, car, **told):
    made = client.post(f"/api/cars/{car}/parts", json={"name": "clutch", **told})
    assert made.status_code == 201
    (part,) = client.get(f"/api/cars/{car}/parts").json()["parts"]
    return part["used_up"]


def test_a_part_is_counted_over_all_runs_of_its_car(client, car, runs):
    used = counted(client, car, above_rpm=[7000])
    assert (used["runs"], used["first_at"], used["last_at"]) == (3, "2031-05-04", "2031-05-05T14:00:00")
    assert len(used["launches"]) == 3 and used["above"][0]["rpm"] == 7000.0


@pytest.mark.parametrize(
    ("told", "count"),
    [
        ({"fitted_from": "2031-05-05"}, 2),
        ({"fitted_to": "2031-05-04"}, 1),
        ({"fitted_to": "2031-05-05T11:00"}, 2),
        ({"fitted_from": "2031-05-06"}, 0),
    ],
)
def test_a_part_is_counted_from_day_to_day(client, car, runs, told, count):
    assert counted(client, car, **told)["runs"] == count


def test_a_part_is_counted_from_run_to_run(client, car, runs):
    assert counted(client, car, first_run=runs[1], last_run=runs[1])["runs"] == 1


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"fitted_from": "soon"}, "must be a date"),
        ({"fitted_from": "2031-05-05", "fitted_to": "2031-05-04"}, "swap the two dates"),
        ({"first_run": "nobody's"}, "No run of this car"),
        ({"above_rpm": [-1]}, "above_rpm"),
        ({"name": " "}, "must not be blank"),
    ],
)
def test_a_part_that_makes_no_sense_is_refused(client, car, runs, told, says, assert_problem):
    answer = client.post(f"/api/cars/{car}/parts", json={"name": "clutch", **told})
    assert says in assert_problem(answer, 422)["detail"]


def test_a_part_of_no_car_is_not_found(client, assert_problem):
    assert_problem(client.post("/api/cars/nobody/parts", json={"name": "clutch"}), 404)
    assert_problem(client.get("/api/cars/nobody/parts"), 404)


def test_a_part_taken_off_the_list_comes_back_when_it_is_told_anew(client, car, runs):
    part = client.post(f"/api/cars/{car}/parts", json={"name": "clutch"}).json()
    assert client.delete(f"/api/parts/{part['id']}").status_code == 204
    assert client.get(f"/api/cars/{car}/parts").json()["parts"] == []
    assert client.put(f"/api/parts/{part['id']}", json={**part, "kind": "discs"}).json()["kind"] == "discs"
    assert len(client.get(f"/api/cars/{car}/parts").json()["parts"]) == 1


def test_a_part_is_one_tap_from_car_and_sheet(client, car, runs):
    counted(client, car)
    for address in (f"/cars/{car}", "/events/Harvest%20Meet", "/cars"):
        assert f'href="/cars/{car}/parts"' in client.get(address, headers=HTML).text, address
    page = client.get(f"/cars/{car}/parts", headers=HTML)
    assert page.status_code == 200 and "Run by run" in page.text and "2031-05-05 10:30" in page.text


def groups(client, runs, **more):
    return client.post("/api/groups", json={"name": "springs", "before": runs[:1], "after": runs[1:], **more})


def test_a_change_with_a_name_has_an_address(client, runs):
    kept = groups(client, runs, notes="+10 lb").json()
    told = client.get(f"/api/groups/{kept['id']}").json()
    assert told["name"] == "springs" and len(told["change"]["after"]["runs"]) == 2
    page = client.get(f"/changes/{kept['id']}", headers=HTML)
    assert page.status_code == 200 and "<h1" in page.text and "+10 lb" in page.text
    assert f'href="/changes/{kept["id"]}"' in client.get("/events/Harvest%20Meet", headers=HTML).text


def test_a_change_goes_on_without_a_run_that_was_deleted(client, runs, assert_problem):
    kept = groups(client, runs).json()
    client.delete(f"/api/runs/{runs[1]}")
    assert len(client.get(f"/api/groups/{kept['id']}").json()["change"]["after"]["runs"]) == 1
    client.delete(f"/api/runs/{runs[2]}")
    assert "trash" in assert_problem(client.get(f"/api/groups/{kept['id']}"), 404)["detail"]


def test_groups_that_make_no_sense_are_refused(client, runs, assert_problem):
    assert_problem(groups(client, runs, after=runs[:1]), 422)
    assert_problem(groups(client, runs, after=["nobody"]), 422)
    assert_problem(groups(client, runs, before=[]), 422)


def test_groups_taken_off_the_list_keep_their_address(client, runs):
    kept = groups(client, runs).json()
    assert client.delete(f"/api/groups/{kept['id']}").status_code == 204
    assert client.get("/api/groups").json()["groups"] == []
    assert client.get(f"/api/groups/{kept['id']}").json()["gone"] is True


@pytest.mark.usefixtures("rows_in_a_file")
def test_items_come_back_from_their_records_when_the_database_is_lost(client, car, runs, settings):
    part = client.post(f"/api/cars/{car}/parts", json={"name": "clutch"}).json()
    kept = groups(client, runs).json()
    client.app.state.library.close()
    for path in settings.data.glob("library.sqlite*"):
        path.unlink()
    recheck(settings)
    with closing(Library(settings)) as library:
        assert library.condition.doubt is None
        assert {library.records.item(one["id"]).given["name"] for one in (part, kept)} == {"clutch", "springs"}


@pytest.mark.usefixtures("rows_in_a_file")
def test_an_item_that_the_database_lost_is_told_as_a_doubt(client, car, settings, tmp_path):
    library = client.app.state.library
    library.records.give_back_room()
    shutil.copy(settings.data / "library.sqlite", tmp_path / "older.sqlite")
    client.post(f"/api/cars/{car}/parts", json={"name": "clutch"})
    library.close()
    for path in settings.data.glob("library.sqlite*"):
        path.unlink()
    shutil.copy(tmp_path / "older.sqlite", settings.data / "library.sqlite")
    with closing(Library(settings)) as again:
        assert again.condition.doubt is not None


@of_the_folder
@pytest.mark.usefixtures("rows_in_a_file")
def test_items_go_into_a_backup_and_come_back_from_it(client, car, runs, settings, tmp_path):
    part = client.post(f"/api/cars/{car}/parts", json={"name": "clutch"}).json()
    back_up(settings.data, tmp_path / "kept.tar")
    restore(tmp_path / "kept.tar", tmp_path / "again")
    with closing(Library(read_settings({}, data=tmp_path / "again", workers=0))) as library:
        assert library.condition.doubt is None
        assert library.records.item(part["id"]).given["name"] == "clutch"
