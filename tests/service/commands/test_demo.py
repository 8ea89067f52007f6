"""The demo: the weekend comes in, in order, once."""

from __future__ import annotations

import pytest

from passband.service.commands.demo import load_weekend
from passband.service.library import Library

CAR = 'name = "Heron"\nmass = "2450 lb"\n'
RUN = """
[[runs]]
logs = ["{n}_ecu.csv", "{n}_dash.csv"]
event = "Harvest Meet"
round = "Q{n}"
slip = {{ t60_s = 1.5 }}
"""


@pytest.fixture
def weekend(tmp_path):
    folder = tmp_path / "weekend"
    folder.mkdir()
    (folder / "car.toml").write_text(CAR)
    (folder / "runs.toml").write_text("".join(RUN.format(n=n) for n in range(5)))
    for n in range(5):
        for device in ("ecu", "dash"):
            (folder / f"{n}_{device}.csv").write_text(f"runs=1\n{n}{device}")
    return folder


@pytest.fixture
def library(planted, settings):
    library = Library(settings)
    yield library
    library.close()


def test_every_run_comes_in_with_what_was_said_of_it_and_in_order(library, weekend, capsys):
    load_weekend(library, weekend)
    runs = library.records.find_runs(event="Harvest Meet", car=None, limit=10, after=None)
    assert [run.details.round for run in runs] == ["Q4", "Q3", "Q2", "Q1", "Q0"]
    assert {run.details.slip["t60_s"] for run in runs} == {1.5}
    assert [log.name for log in library.records.run(runs[0].id).logs] == ["4_ecu.csv", "4_dash.csv"]
    assert capsys.readouterr().out.splitlines()[-1] == "5 of 5: Harvest Meet, Q4"


def test_loading_again_changes_nothing(library, weekend):
    for _ in range(2):
        load_weekend(library, weekend)
    assert len(library.records.find_runs(event=None, car=None, limit=10, after=None)) == 5
    assert len(library.records.all_cars()) == 1


def test_a_log_that_is_missing_stops_the_loading_by_name(library, weekend):
    (weekend / "2_dash.csv").unlink()
    with pytest.raises(FileNotFoundError, match=r"2_dash\.csv"):
        load_weekend(library, weekend)
    assert len(library.records.find_runs(event=None, car=None, limit=10, after=None)) == 4
