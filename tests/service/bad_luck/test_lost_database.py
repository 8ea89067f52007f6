"""The database is lost, cut, old or damaged: no log goes, the runs come back with their ids and the same reviews.

Planted: a library of two cars, four uploads and five runs, one of them changed since, one deleted; then its database is
harmed in each way there is, the service is started on it, and `recheck` is run. `LOST_DATABASE_ROUNDS=n` flips n bytes
of each page instead of one, and prints how each round ended.
"""

from __future__ import annotations

import os
import random
import shutil
import tomllib
from collections import Counter
from contextlib import closing
from pathlib import Path

import orjson
import pytest

import passband.demo_logs
from passband.service.given.details import RunChanges, UploadDetails
from passband.service.kept.recheck import recheck
from passband.service.library import Library
from passband.service.store.faults import LibraryDamaged
from passband.service.store.schema import SchemaError
from passband.service.uploads.received import ReceivedFile
from tests.service.object_stores import of_the_folder

pytestmark = [of_the_folder, pytest.mark.usefixtures("rows_in_a_file")]

ROUNDS = int(os.environ.get("LOST_DATABASE_ROUNDS", "1"))
PAGE_BYTES = 4096


def take_in(library, *texts, car=None, **details):
    with library.incoming() as folder:
        files = []
        for n, text in enumerate(texts):
            (folder / f"{n}.part").write_bytes(text)
            files.append(ReceivedFile(folder / f"{n}.part", f"log{n}.csv", len(text)))
        return [run.id for run in library.take_in(files, car=car, details=UploadDetails(**details)).runs]


def told(library):
    """All that a user sees: runs in order, what was said of them, their reviews, logs and tables."""
    seen = []
    for line in library.records.find_runs(event=None, car=None, limit=100, after=None):
        run = library.records.run(line.id)
        review = orjson.loads(library.records.review(run.id))
        del review["version"]
        opened = [library.files.open_table(run.id)[1], *(library.files.open_log(run.id, log.n)[1] for log in run.logs)]
        sizes = []
        for file in opened:
            with file:
                sizes.append(len(file.read()))
        shown = {name: value for name, value in run.summary.items() if name != "digest"}  # made anew when asked for
        seen.append((run.id, run.position, run.details, run.car, run.added_at, shown, review, run.logs, sizes))
    cars = {
        car.id: [library.records.car(car.id, n + 1) for n in range(car.version)] for car in library.records.all_cars()
    }
    return seen, cars


@pytest.fixture
def kept(planted, settings, tmp_path):
    """A library's folder, a copy of its database from half the way, one as after a power cut, and what a user saw."""
    with closing(Library(settings)) as library:
        car = library.cars.add({"name": "Heron", "mass": "2450 lb"})
        library.cars.add({"name": "Egret"})
        first = take_in(library, b"runs=2\n", b"runs=1\ndash", car=car, event="Harvest Meet", slip=[{"t60_s": 1.2}])
        gone = take_in(library, b"runs=1\ngone")[0]
    shutil.copy(settings.data / "library.sqlite", tmp_path / "older")
    with closing(Library(settings)) as library:
        library.cars.change(car.id, {"name": "Heron II", "mass": "2460 lb"})
        take_in(library, b"runs=1\ndash", label="dash alone", notes="läuft")
        library.review_again(first[1], RunChanges(label="soft launch", air={"temperature": "31 degC"}))
        take_in(library, b"runs=1\nlast", round="Q2")
        library.deleting.remove(gone)
        seen = told(library)
        shutil.copytree(settings.data, tmp_path / "running")
    shutil.copytree(settings.data, tmp_path / "sound")
    return settings, seen


def originals(settings):
    return {path.name: path.read_bytes() for path in (settings.data / "originals").rglob("*") if path.is_file()}


def start(settings):
    """Start the service's library and end it again; whether it started, and why not all was shown."""
    before = originals(settings)
    database = settings.data / "library.sqlite"
    files = {path: path.read_bytes() for path in settings.data.glob("library.sqlite*") if not path.name.endswith("shm")}
    try:
        with closing(Library(settings)) as library:
            doubt = library.condition.text
    except (LibraryDamaged, SchemaError) as error:
        assert {path: path.read_bytes() for path in files} == files and database.exists()
        assert originals(settings) == before
        return False, str(error)
    assert originals(settings) == before
    return True, doubt


def recheck_brings_back(settings, seen, *, twice=True):
    before = originals(settings)
    report = recheck(settings)
    assert report.left == []
    assert originals(settings) == before
    with closing(Library(settings)) as library:
        assert told(library) == seen
        assert library.condition.text == ""
    again = recheck(settings) if twice else None
    assert again is None or (again.left == [] and "0 of them were mended" in again.done[-1])
    return report


def test_a_library_that_is_sound_is_left_as_it_is(kept):
    settings, seen = kept
    files = {path: path.read_bytes() for path in (settings.data / "uploads").iterdir()}
    assert start(settings) == (True, "")
    assert "0 of them were mended" in recheck_brings_back(settings, seen).done[-1]
    assert {path: path.read_bytes() for path in files} == files


@pytest.mark.parametrize("how", ["removed", "0 bytes", "all rows gone"])
def test_a_lost_database_is_told_and_made_anew(kept, how):
    settings, seen = kept
    database = settings.data / "library.sqlite"
    if how == "0 bytes":
        database.write_bytes(b"")
    else:
        database.unlink()
    if how == "all rows gone":
        (settings.data / "library.state").unlink()
    started, doubt = start(settings)
    assert started and "the database is missing or empty" in doubt and "passband recheck" in doubt
    assert start(settings) == (started, doubt)
    recheck_brings_back(settings, seen)


def test_an_older_database_is_told_and_brought_up_to_what_was_kept(kept, tmp_path):
    settings, seen = kept
    shutil.copy(tmp_path / "older", settings.data / "library.sqlite")
    started, doubt = start(settings)
    assert started and "older copy" in doubt
    report = recheck_brings_back(settings, seen)
    assert [line for line in report.done if "was deleted since" in line]


def test_a_database_without_the_end_of_its_log_is_older_or_lost_and_comes_back(kept, tmp_path):
    settings, seen = kept
    shutil.rmtree(settings.data)
    shutil.copytree(tmp_path / "running", settings.data)
    assert (settings.data / "library.sqlite-wal").stat().st_size > 0
    (settings.data / "library.sqlite-wal").unlink()
    (settings.data / "library.sqlite-shm").unlink()
    started, doubt = start(settings)
    assert started and "passband recheck" in doubt
    recheck_brings_back(settings, seen)


def test_a_start_after_a_power_cut_has_all_that_was_acknowledged(kept, tmp_path):
    settings, seen = kept
    shutil.rmtree(settings.data)
    shutil.copytree(tmp_path / "running", settings.data)
    assert start(settings) == (True, "")
    recheck_brings_back(settings, seen)


def test_a_flipped_byte_in_any_page_loses_nothing(kept, tmp_path):
    settings, seen = kept
    sound = (settings.data / "library.sqlite").read_bytes()
    ends: Counter[str] = Counter()
    for page in range(len(sound) // PAGE_BYTES):
        for turn in range(ROUNDS):
            shutil.rmtree(settings.data)
            shutil.copytree(tmp_path / "sound", settings.data)
            chance = random.Random(1000 * page + turn)
            place = page * PAGE_BYTES + (chance.randrange(100) if turn == 1 else chance.randrange(PAGE_BYTES))
            harmed = bytearray(sound)
            harmed[place] ^= 1 << chance.randrange(8)
            (settings.data / "library.sqlite").write_bytes(harmed)
            started, why = start(settings)
            assert started or "passband recheck" in why or "Use a newer one" in why
            ends["refused" if not started else "told" if why else "shown"] += 1
            recheck_brings_back(settings, seen, twice=False)
    print(f"{sum(ends.values())} flips in {len(sound) // PAGE_BYTES} pages: {dict(ends)}")
    assert sum(ends.values()) == ROUNDS * (len(sound) // PAGE_BYTES) > 20


def test_what_is_added_to_a_lost_library_does_not_make_it_look_sound(kept):
    settings, seen = kept
    (settings.data / "library.sqlite").unlink()
    with closing(Library(settings)) as library:
        for n in range(30):
            added = take_in(library, b"runs=1\nnew %d" % n)
    started, doubt = start(settings)
    assert started and "missing or empty" in doubt
    assert recheck(settings).left == []
    with closing(Library(settings)) as library:
        runs, cars = told(library)
    assert runs[30:] == seen[0] and runs[0][0] == added[0] and cars == seen[1]


def test_logs_sent_again_to_a_lost_library_bring_back_what_was_said_of_them(kept):
    settings, seen = kept
    (settings.data / "library.sqlite").unlink()
    with closing(Library(settings)) as library:
        back = take_in(library, b"runs=2\n", b"runs=1\ndash", label="anything else")
        assert {run[0] for run in seen[0]} >= set(back) and len(back) == 2
        assert [library.records.run(run).details.label for run in back] == ["", "soft launch"]
    recheck_brings_back(settings, seen)


def test_an_older_database_does_not_write_over_a_newer_record(kept, tmp_path):
    settings, seen = kept
    shutil.copy(tmp_path / "older", settings.data / "library.sqlite")
    changed = next(run[0] for run in seen[0] if run[2].label == "soft launch")
    with closing(Library(settings)) as library:
        with pytest.raises(RuntimeError, match="older copy"):
            library.review_again(changed, RunChanges(label="other"))
        with pytest.raises(RuntimeError, match="older copy"):
            library.deleting.remove(changed)
        assert library.records.run(changed).details.label == ""
    recheck_brings_back(settings, seen)


def test_a_library_of_before_gets_its_records_at_the_next_start(kept):
    settings, seen = kept
    shutil.rmtree(settings.data / "uploads")
    shutil.rmtree(settings.data / "cars")
    (settings.data / "library.state").unlink()
    assert start(settings) == (True, "")
    (settings.data / "library.sqlite").unlink()
    recheck_brings_back(settings, seen)


def test_real_reviews_come_back_equal(settings, tmp_path):
    # Slow twin: the reviews of two demo runs, one with a slip for each of its runs, made again from logs and records
    weekend = Path(passband.demo_logs.__file__).parent / "weekend"
    runs = tomllib.loads((weekend / "runs.toml").read_text())["runs"][1:3]
    with closing(Library(settings)) as library:
        car = library.cars.add(tomllib.loads((weekend / "car.toml").read_text()))
        for told_of in runs:
            texts = [(weekend / name).read_bytes() for name in told_of.pop("logs")]
            take_in(library, *texts, car=car, **told_of)
        seen = told(library)
    assert len(seen[0]) == 2 and seen[0][0][2].slip
    (settings.data / "library.sqlite").unlink()
    shutil.rmtree(settings.data / "runs")
    recheck_brings_back(settings, seen, twice=False)
