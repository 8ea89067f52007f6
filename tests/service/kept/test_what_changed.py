"""A run is reviewed from its logs only where what its figures are made of has changed."""

from __future__ import annotations

import shutil
import tomllib
from contextlib import closing

import orjson
import pytest

import passband.analysis.held_again
import passband.analysis.review
from passband.analysis import versions
from passband.service.commands.demo import WEEKEND
from passband.service.given.details import RunChanges, UploadDetails
from passband.service.jobs.job_work import do_job
from passband.service.jobs.passes import put_pass
from passband.service.kept import what_changed
from passband.service.kept.what_changed import needs_logs
from passband.service.library import Library
from passband.service.reviewing.progress import unheard
from passband.service.settings import read_settings
from passband.service.store.jobs import OPEN
from passband.service.store.kept_runs import MadeOf
from passband.service.uploads.received import ReceivedFile

NAMES = ("04_e1_ecu.csv.gz", "04_e1_dash.csv.gz")
GIVEN = tomllib.loads((WEEKEND / "car.toml").read_text(encoding="utf-8"))
FIRST, *OTHERS = GIVEN["limits"]


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """A library with one run of the weekend."""
    folder = tmp_path_factory.mktemp("filled")
    with closing(Library(read_settings({}, data=folder, workers=0))) as library:
        car = library.cars.add(GIVEN)
        with library.incoming() as incoming:
            copies = [shutil.copy(WEEKEND / name, incoming / name) for name in NAMES]
            files = [ReceivedFile(copy, copy.name, copy.stat().st_size) for copy in copies]
            library.take_in(files, car=car, details=UploadDetails(label="E1", event="Lantern"))
    return folder


@pytest.fixture
def library(filled, tmp_path):
    """The same, for one test to change."""
    shutil.copytree(filled, tmp_path / "data")
    with closing(Library(read_settings({}, data=tmp_path / "data", workers=0))) as library:
        yield library


@pytest.fixture
def asked(monkeypatch):
    """What was computed: a review of logs, or bounds held anew."""
    did = []
    whole, held = passband.analysis.review.review, what_changed.Workers.hold
    monkeypatch.setattr(passband.analysis.review, "review", lambda *a, **k: did.append("review") or whole(*a, **k))
    monkeypatch.setattr(what_changed.Workers, "hold", lambda self, task: did.append("hold") or held(self, task))
    return did


def only_run(library):
    return library.records.find_runs(event=None, car=None, limit=9, after=None)[0]


def change_car(library, **other):
    (car,) = library.records.all_cars()
    library.cars.change(car.id, {**car.given, **other})


def told(library, run):
    """All that is kept of a run but when it was reviewed."""
    row, digest = library.records.run(run.id), library.records.digests.of([run.id])[run.id]
    review = orjson.loads(library.records.review(run.id))
    return review, row.summary, row.car, row.table_key, dict(digest.figures), digest.arrays


def test_other_limits_are_held_anew_and_say_what_a_review_says(library, asked):
    # Slow twin: what was kept is taken away, so that the same change is reviewed from the logs
    run = only_run(library)
    change_car(library, limits=[*OTHERS], boost_threshold="90 kPa", rpm_band=["6000 rpm", "7500 rpm"], name="Other")
    library.review_again(run.id, RunChanges(label="Anew"))
    assert asked == ["hold"]
    held = told(library, run)
    library.folder.kept.remove(run.id)
    library.review_again(run.id, RunChanges())
    assert asked == ["hold", "review"]
    assert orjson.dumps(held[0]) == orjson.dumps(told(library, run)[0])
    assert held[1:] == told(library, run)[1:]


def test_words_compute_nothing(library, asked):
    run = only_run(library)
    before = told(library, run)
    got = library.review_again(run.id, RunChanges(notes="New plugs.", at="2031-05-04"))
    assert (asked, got.details.notes, got.details.at) == ([], "New plugs.", "2031-05-04")
    assert told(library, run) == before and got.reviewed_at > run.reviewed_at
    library.review_again(run.id, RunChanges(label="", event="Meet", round="Q1"))
    assert asked == []
    review, _, _, _, figures, _ = told(library, run)
    assert review["run"] == {**before[0]["run"], "label": "", "event": "Meet", "round": "Q1"}
    assert (figures["label"], figures["event"], figures["round"]) == ("Meet, Q1", "Meet", "Q1")


@pytest.mark.parametrize("changes", [RunChanges(finish_ft=1000), RunChanges(air={"temperature": "30 degC"})])
def test_what_figures_are_made_of_asks_for_a_review(library, asked, changes):
    library.review_again(only_run(library).id, changes)
    assert asked == ["review"]
    library.review_again(only_run(library).id, RunChanges())
    assert asked == ["review"]  # what that review kept is of these inputs


def test_another_mass_asks_for_a_review(library, asked):
    change_car(library, mass="1500 kg")
    library.review_again(only_run(library).id, RunChanges())
    assert asked == ["review"]


def test_a_torn_file_asks_for_a_review_and_is_made_anew(library, asked):
    run = only_run(library)
    path = library.folder.kept.path(run.id)
    path.write_bytes(path.read_bytes()[:-100])
    change_car(library, limits=[])
    library.review_again(run.id, RunChanges())
    change_car(library, limits=OTHERS)
    library.review_again(run.id, RunChanges())
    assert asked == ["hold", "review", "hold"]


def test_a_deleted_run_leaves_nothing_kept(library):
    run = only_run(library)
    path = library.folder.kept.path(run.id)
    assert path.exists()
    library.deleting.remove(run.id)
    assert not path.exists()


CHANGED = {"1": frozenset(), "2": frozenset({"engine/limits"}), "3": frozenset({"shifts"})}


@pytest.mark.parametrize(
    ("kept", "why"),
    [
        (None, "nothing is kept"),
        (MadeOf("others", "3"), "has changed"),
        (MadeOf("these", "0"), "not known here"),
        (MadeOf("these", "1"), "changed in shifts"),
        (MadeOf("these", "3"), ""),
    ],
)
def test_a_version_of_the_analysis_names_what_it_changed(kept, why, monkeypatch):
    monkeypatch.setattr(what_changed, "rooms_changed_since", lambda v: versions.rooms_changed_since(v, changed=CHANGED))
    assert why in needs_logs(kept, "these")
    assert bool(why) is bool(needs_logs(kept, "these"))


def test_a_version_that_changed_limits_alone_holds_them_anew(library, asked, monkeypatch):
    run = only_run(library)
    changed = {versions.VERSION: frozenset(), "next": frozenset({"engine/limits"})}
    monkeypatch.setattr(what_changed, "rooms_changed_since", lambda v: versions.rooms_changed_since(v, changed=changed))
    for module in (what_changed, passband.analysis.held_again):
        monkeypatch.setattr(module, "VERSION", "next")
    library.review_again(run.id, RunChanges())
    assert asked == ["hold"] and told(library, run)[0]["version"] == "next"


def test_a_pass_leaves_what_the_next_limit_is_held_against(library, asked):
    # Slow twin: what the pass kept, taken away, and the same limit reviewed from the logs
    change_car(library, mass="1500 kg")
    job = put_pass(library, event=None, car=None, beside={})
    while job is None or job.state in OPEN:
        job = library.records.jobs.take("test")
        do_job(library, job, unheard())
        job = library.records.jobs.job(job.parent or job.id)
    run = only_run(library)
    assert asked == ["review"] and not (library.folder.root / "kept" / "new" / job.id).exists()
    change_car(library, limits=OTHERS)
    library.review_again(run.id, RunChanges())
    assert asked == ["review", "hold"]
    held = told(library, run)
    library.folder.kept.remove(run.id)
    library.review_again(run.id, RunChanges())
    assert asked == ["review", "hold", "review"] and told(library, run) == held
