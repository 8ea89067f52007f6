"""Bounds held against what was kept of a run give to the letter what a review of its logs gives."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.engine import limits
from passband.analysis.engine.kept_bytes import CannotReadKept, kept_run_from_bytes, kept_run_to_bytes
from passband.analysis.engine.kept_run import CannotHold, Found, hold_to_bounds
from passband.analysis.engine.run_times import RunTimes
from passband.analysis.held_again import hold_again
from passband.analysis.reading import read_log
from passband.analysis.report import as_table
from passband.analysis.results.codec import as_json
from passband.analysis.results.review import RunFacts
from passband.analysis.review import review
from passband.analysis.runs.compared_run import prepare_run
from passband.analysis.runs.digest import digest_again, digest_run
from passband.analysis.runs.kept_digest import keep_digest
from passband.analysis.runs.summary import summarise
from passband.service.commands.demo import WEEKEND
from passband.service.given.facts import read_car

NAMES = ("04_e1_ecu.csv.gz", "04_e1_dash.csv.gz")
KEPT_BEFORE_S = 240.0
"""What is kept of a log that began long before its launch: as DEVELOPERS says. [s]"""
FACTS = RunFacts((), "Named anew", "Elsewhere", "Q9")
OWNED = {
    "name": "Heron", "mass": "1397 kg", "driven_axle": "rear", "drag_area": "0.7 m2", "rpm_band": [5300, 7800],
    "boost_threshold": "150 kPa", "limits": [{"name": "Oil", "channel": "oil_pressure", "at_least": "280 kPa"}],
}  # fmt: skip
LIMITS = [
    {"name": "held", "channel": "oil_pressure", "at_least": "420 kPa", "longer_than": 0.3},
    {"name": "if", "channel": "lambda", "at_most": 0.85, "when": [{"channel": "throttle", "at_least": 0.9}]},
    {"name": "made of others", "channel": "EGT spread", "at_most": "40 delta_K"},
    {"name": "made of pressure", "channel": "boost", "at_most": "160 kPa"},
    {"name": "as logged", "channel": "Nitrous Bottle", "at_least": "900 psi"},
    {"name": "if nobody knows", "channel": "engine_speed", "at_most": "7000", "when": [{"channel": "Q", "at_most": 1}]},
    {"name": "staging", "channel": "coolant_temperature", "at_most": "80 degC", "during": "staging"},
    {"name": "burnout", "channel": "engine_speed", "at_most": "6500 rpm", "during": "burnout"},
    {"name": "after", "channel": "engine_speed", "at_most": "6500 rpm", "during": "after"},
    {"name": "log", "channel": "engine_speed", "at_most": "7900 rpm", "during": "log"},
]
OTHERS = {
    "limits": {"limits": LIMITS},
    "none": {"limits": [], "rpm_band": None, "boost_threshold": None, "name": "Another name"},
    "band": {"rpm_band": [6100, 7300], "boost_threshold": "90 kPa"},
}


def car_with(**other):
    return read_car({key: value for key, value in {**OWNED, **other}.items() if value is not None})


def reviewed(car, facts=None):
    logs = [read_log((WEEKEND / name).read_bytes(), name=name, index=n) for n, name in enumerate(NAMES)]
    return review(logs, car, facts=facts)[0]


@pytest.fixture(scope="module")
def first():
    """The run as it was reviewed first."""
    return reviewed(car_with())


def through_bytes(kept):
    return kept_run_from_bytes(kept_run_to_bytes(kept))


@pytest.mark.parametrize("name", OTHERS)
def test_other_bounds_give_what_a_review_gives(first, name):
    # Slow twin: the same logs reviewed with the other car
    car = car_with(**OTHERS[name])
    stored = json.loads(json.dumps(as_json(first)))
    whole = reviewed(car, FACTS)
    now, told = hold_again(stored, through_bytes(first.kept.about_the_run()), car, FACTS)
    assert json.dumps(told) == json.dumps(as_json(whole))
    of = (digest_run(prepare_run(one, as_table(one).frame, label="L")) for one in (first, whole))
    assert keep_digest(digest_again(next(of), now, label="L")) == keep_digest(next(of))


def test_of_several_limits_only_those_asked_otherwise_are_looked_at(first, monkeypatch):
    # Slow twin: the same logs reviewed with the other car. What is not asked otherwise stands, moved or not
    one = car_with(limits=LIMITS)
    stored = json.loads(json.dumps(as_json(reviewed(one))))
    other = {**LIMITS[2], "at_most": "20 delta_K"}
    car = car_with(limits=[LIMITS[9], other, *LIMITS[3:6], {**LIMITS[0], "name": "called otherwise"}])
    looked, check = [], limits._check
    monkeypatch.setattr(limits, "_check", lambda rule, *rest: looked.append(rule.limit.name) or check(rule, *rest))
    now, told = hold_again(stored, through_bytes(first.kept), car, FACTS, limits_were=one.limits)
    assert looked == ["made of others", "as logged", "if nobody knows", "called otherwise"]  # two have no data
    whole = reviewed(car, FACTS)
    assert json.dumps(told) == json.dumps(as_json(whole)) and summarise(now) == summarise(whole)


@pytest.mark.parametrize("spoil", [{"version": "0"}, {"limits": []}])
def test_what_another_version_found_or_is_not_there_does_not_stand(first, spoil):
    stored = json.loads(json.dumps(as_json(first)))
    _, told = hold_again(
        {**stored, **spoil}, through_bytes(first.kept), car_with(), FACTS, limits_were=car_with().limits
    )
    assert json.dumps(told["limits"]) == json.dumps(stored["limits"])


def test_a_kept_run_comes_back_to_the_bit(first):
    back = through_bytes(first.kept)
    for one, other in zip(first.kept.traces, back.traces, strict=True):
        assert replace(one, time_s=other.time_s, values=other.values, logged=None) == replace(other)
        np.testing.assert_array_equal(one.time_s, other.time_s)
        np.testing.assert_array_equal(one.values, other.values)
    assert (back.times, back.kinds, back.before, back.between) == (
        first.kept.times, first.kept.kinds, first.kept.before, first.kept.between,
    )  # fmt: skip


@pytest.mark.parametrize(
    "spoil", [lambda body: b"", lambda body: body[:200], lambda body: body[:-8], lambda body: b"x" * 99]
)
def test_bytes_that_are_no_kept_run_are_refused(first, spoil):
    with pytest.raises(CannotReadKept, match="no kept run"):
        kept_run_from_bytes(spoil(kept_run_to_bytes(first.kept)))


def test_of_a_long_log_only_what_lies_about_the_run_is_kept_and_nothing_beyond_it_is_made_up(first):
    # Planted: the run's samples moved 300 s before the launch as well, as an hour's log has them
    early = [replace(one, time_s=np.concatenate(([one.time_s[0] - 300.0], one.time_s)),
                     values=np.concatenate((one.values[:1], one.values))) for one in first.kept.traces]  # fmt: skip
    long = replace(
        first.kept, traces=type(first.kept.traces)(tuple(early)), times=RunTimes(first.kept.times.launch_s, 9.0)
    )
    kept = long.about_the_run()
    assert not kept.whole and min(one.time_s[0] for one in kept.traces) >= kept.times.launch_s - KEPT_BEFORE_S
    found = Found(None)
    own = car_with(limits=LIMITS[:2])
    assert hold_to_bounds(through_bytes(kept), own, found).limits == hold_to_bounds(long, own, found).limits
    for place in (7, 8, 9):  # a burnout that is not there, and times that go on to the log's ends
        with pytest.raises(CannotHold, match=f"limits {LIMITS[place]['name']} ask"):
            hold_to_bounds(kept, car_with(limits=[LIMITS[place]]), found)


def test_what_was_kept_of_another_review_is_refused(first):
    kept = replace(first.kept, kinds=first.kept.kinds[:-1])
    with pytest.raises(CannotHold, match="not of this review"):
        hold_again(json.loads(json.dumps(as_json(first))), kept, car_with(), FACTS)
