"""A library's runs reviewed again: all or some, broken off and gone on with, the old review standing until then."""

from __future__ import annotations

import json
from contextlib import closing

import pytest

from passband.analysis.channels.log import LogError
from passband.service import mending
from passband.service.library import Library
from passband.service.reviewing_again import BEGUN, print_review_again


@pytest.fixture
def data(open_service, planted, upload_to, settings, monkeypatch):
    """A library of two events with two runs each."""
    monkeypatch.setattr(mending, "read_settings", lambda **_: settings)
    with open_service() as client:
        for n in range(4):
            upload_to(client, f"runs=1\n{n}\n".encode(), event="May" if n < 2 else "June", label=f"run {n}")
    return settings.data


@pytest.fixture
def upload_to():
    def send(client, content, **details):
        files = [("log", ("a.csv", content)), ("details", (None, json.dumps(details)))]
        assert client.post("/api/runs", files=files).status_code == 201

    return send


def reviewed_at(settings):
    with closing(Library(settings)) as library:
        runs = library.records.find_runs(event=None, car=None, limit=99, after=None)
        return {run.details.label: run.reviewed_at for run in runs}


def test_all_runs_get_a_new_review(data, settings, capsys):
    before = reviewed_at(settings)
    assert print_review_again(data=data) == 0
    after = reviewed_at(settings)
    assert all(after[name] > before[name] for name in before) and len(after) == 4
    assert "4 of 4 runs were reviewed again." in capsys.readouterr().out
    assert not (data / BEGUN).exists()


def test_only_those_of_an_event_where_one_is_named(data, settings):
    before = reviewed_at(settings)
    assert print_review_again(data=data, event="May") == 0
    after = reviewed_at(settings)
    assert [after[name] > before[name] for name in sorted(before)] == [True, True, False, False]


def test_nothing_meant_is_said(data, capsys):
    assert print_review_again(data=data, car="Nobody's") == 2
    assert "No run in this library is meant" in capsys.readouterr().err


def test_broken_off_it_goes_on_where_it_was(data, settings, capsys, monkeypatch):
    whole, done = Library.review_again, []

    def broken(self, run_id, changes):
        if len(done) == 2:
            raise KeyboardInterrupt
        done.append(run_id)
        return whole(self, run_id, changes)

    monkeypatch.setattr(Library, "review_again", broken)
    with pytest.raises(KeyboardInterrupt):
        print_review_again(data=data)
    monkeypatch.setattr(Library, "review_again", whole)
    first = reviewed_at(settings)
    assert print_review_again(data=data) == 0
    said = capsys.readouterr()
    assert "2 of 4 runs have their new review" in said.err and "2 of 4 runs were reviewed again, 2 had" in said.out
    assert sum(reviewed_at(settings)[name] == at for name, at in first.items()) == 2


def test_a_run_that_cannot_be_reviewed_keeps_its_review_and_is_told(data, settings, capsys, monkeypatch):
    whole, before = Library.review_again, reviewed_at(settings)

    def fails(self, run_id, changes):
        if self.records.run(run_id).details.label == "run 1":
            raise LogError("the log says no more what it said")
        return whole(self, run_id, changes)

    monkeypatch.setattr(Library, "review_again", fails)
    assert print_review_again(data=data) == 2
    assert "run 1: the review before stands. the log says no more" in capsys.readouterr().err
    assert reviewed_at(settings)["run 1"] == before["run 1"]
