"""A library left by a program of the third form says ``told`` where we say ``given``: it opens, heals and is restored.

Planted: a library of now, taken back to the third form as those programs wrote it: both columns, the rows of the
version, and the key in each record file of a car or item with its sum.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from passband.service.commands.restoring import restore
from passband.service.kept.backup import back_up
from passband.service.kept.recheck import recheck
from passband.service.library import Library
from passband.service.settings import read_settings
from passband.service.store.record_files import read_record, written_record
from passband.service.store.records import ItemRecord
from passband.service.store.released_forms import FORMS
from tests.service.object_stores import of_the_folder

pytestmark = pytest.mark.usefixtures("rows_in_a_file")
CAR = {"name": "Heron", "mass": "2450 lb"}
ITEM = ItemRecord("ab" * 16, "part", None, "2031-05-04T00:00:00Z", gone=False, given={"name": "clutch"})


def take_back(database) -> None:
    with closing(sqlite3.connect(database)) as rows, rows:
        for table in ("new_reviews", "job_logs", "jobs"):  # of the fifth form
            rows.execute(f"DROP TABLE {table}")
        for table in ("car_versions", "items"):
            rows.execute(f"ALTER TABLE {table} RENAME COLUMN given TO told")
        rows.execute("DELETE FROM schema_version WHERE version > 3")
        rows.execute("UPDATE alembic_version SET version_num = '0003'")


def take_back_record(path) -> None:
    body = read_record(path.read_bytes(), path.name)
    for record in (body["item"],) if "item" in body else body["versions"]:
        record["told"] = record.pop("given")
    path.write_bytes(written_record(body))


@pytest.fixture
def older(planted, settings):
    """The folder's settings and the car's id; one car in two versions, one item."""
    with closing(Library(settings)) as library:
        car = library.cars.add({"name": "Egret"})
        library.cars.change(car.id, CAR)
        library.records.keep_item(ITEM)
        library.records.give_back_room()
    take_back(settings.data / "library.sqlite")
    records = [path for folder in ("cars", "items") for path in (settings.data / folder).glob("*.json")]
    assert len(records) == 2
    for path in records:
        take_back_record(path)
    with closing(sqlite3.connect(settings.data / "library.sqlite")) as rows:
        there = dict(rows.execute("SELECT name, sql FROM sqlite_master"))
    assert FORMS[2].items() <= there.items()  # as that program made it
    return settings, car.id


def all_is_there(settings, car: str) -> bool:
    with closing(Library(settings)) as library:
        assert library.condition.doubt is None
        assert library.records.car(car, 1).given == {"name": "Egret"}
        assert library.records.car(car).given == CAR
        return library.records.item(ITEM.id) == ITEM


def test_it_opens_with_its_cars_and_items_and_nothing_doubted(older):
    assert all_is_there(*older)
    assert all_is_there(*older)  # once more, brought up to date


def test_its_records_bring_back_a_lost_database(older):
    settings, car = older
    for path in settings.data.glob("library.sqlite*"):
        path.unlink()
    recheck(settings)
    assert all_is_there(settings, car)


@of_the_folder
def test_it_goes_into_a_backup_and_comes_back(older, tmp_path):
    settings, car = older
    back_up(settings.data, tmp_path / "kept.tar")
    restore(tmp_path / "kept.tar", tmp_path / "again")
    assert all_is_there(read_settings({}, data=tmp_path / "again", workers=0), car)
