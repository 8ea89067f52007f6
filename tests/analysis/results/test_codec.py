"""A review as JSON and back: nothing that it says is lost on the way, and what is no review is refused by its place."""

from __future__ import annotations

import json
import tomllib
from dataclasses import fields, replace
from importlib.resources import files

import numpy as np
import pytest

from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.reading import read_log
from passband.analysis.results.codec import CannotDecode, as_json, plain, review_from_json
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown
from passband.analysis.review import review

WEEKEND = files("passband.demo_logs") / "weekend"
RUNS = tomllib.loads((WEEKEND / "runs.toml").read_text())["runs"]
CAR = Car.model_validate(tomllib.loads((WEEKEND / "car.toml").read_text()))


def reviewed(number, car=CAR, **told):
    logs = [read_log((WEEKEND / name).read_bytes(), name=name) for name in RUNS[number]["logs"]]
    (run,) = review(logs, car, **told)
    return run


def of_the_json(run):
    """What the JSON tells of a run: the review without the channels and the motion it was made of."""
    return Review(**{field.name: getattr(run, field.name) for field in fields(Review)})


@pytest.fixture(scope="module")
def whole():
    return reviewed(3, slips=[Slip.model_validate(RUNS[3]["slip"])], air=Air.model_validate(RUNS[3]["air"]))


@pytest.fixture(scope="module")
def bare():
    return reviewed(0, Car(name="nothing else is known of it"))


@pytest.mark.parametrize("which", ["whole", "bare"])
def test_a_review_comes_back_from_its_json_as_it_was(which, request) -> None:
    run = request.getfixturevalue(which)
    told = json.loads(json.dumps(as_json(run)))
    back = review_from_json(told)
    assert back == of_the_json(run)
    assert as_json(back) == told


def test_the_json_has_the_names_that_others_rely_on(whole) -> None:
    # Published: the names of the figures are an agreement; they may be added to, none may go.
    told = as_json(whole)
    assert {
        "run", "window", "clocks", "distance", "gears", "launch", "shifts", "boost", "power", "band", "limits",
        "findings",
    } <= told.keys()  # fmt: skip
    assert {"basis", "rollout_m", "scale", "splits", "traps", "wheelspin"} <= told["distance"].keys()
    assert {"average_w", "average_pulling_w", "peak_w", "work_j", "from_trap_speed_w"} <= told["power"].keys()
    assert set(told["findings"][0]) == {"code", "level", "text", "where"}
    assert told["car"] == {"name": CAR.name}
    assert not {"traces", "motion", "setup"} & told.keys()


def test_what_is_not_finite_becomes_none_at_any_depth() -> None:
    got = plain({"a": (1.0, float("nan")), "b": np.array([np.inf, 2.0]), "c": Estimate(1.0, 0.5), "d": np.float64(3)})
    assert got == {"a": [1.0, None], "b": [None, 2.0], "c": {"value": 1.0, "plus_minus": 0.5}, "d": 3.0}


def test_what_json_cannot_say_is_refused() -> None:
    with pytest.raises(ValueError, match="a review holds a complex"):
        plain([1j])


def test_a_review_of_an_earlier_version_is_still_read(whole) -> None:
    told = as_json(whole)
    del told["air"]["pressure_basis"]
    told["one day"] = {"more": "will be told"}
    assert review_from_json(told).shifts == whole.shifts


def test_why_a_part_is_unknown_comes_back_with_it(bare) -> None:
    told = as_json(bare)
    assert told["power"] is None and told["unknown"]["power"]["code"] == "mass-missing"
    assert review_from_json(told).power.reason in bare.findings
    del told["unknown"]  # as an earlier version wrote it
    assert review_from_json(told).power.reason.code == "reason-not-kept"


def test_why_a_single_figure_is_unknown_comes_back_with_it(bare) -> None:
    told = as_json(bare)
    assert told["launch"]["back_in_band_s"] is None
    assert told["unknown"]["launch.back_in_band_s"]["code"] == "band-not-given"
    assert review_from_json(told).launch == bare.launch
    del told["unknown"]  # as an earlier version wrote it
    assert review_from_json(told).launch.back_in_band_s.reason.code == "reason-not-kept"


def test_boost_that_was_held_against_nothing_says_so_in_both_ways(whole) -> None:
    none = Unknown(Finding("boost-threshold-not-given", "note", "No boost threshold is given."))
    boost = replace(whole.boost, threshold_pa=None, time_above_s=none, share_above=none, deficit_pa_s=none)
    told = as_json(replace(whole, boost=boost))
    assert told["boost"]["time_above_s"] is None and told["boost"]["threshold_pa"] is None
    assert told["unknown"]["boost.share_above"]["code"] == "boost-threshold-not-given"
    assert "boost.threshold_pa" not in told["unknown"]
    assert review_from_json(told).boost == boost
    del told["unknown"]  # as an earlier version wrote it
    assert review_from_json(told).boost.deficit_pa_s.reason.code == "reason-not-kept"


def test_why_a_figure_of_one_shift_is_unknown_stands_by_its_place(whole) -> None:
    why = Unknown(Finding("boost-not-back", "note", "Boost did not come back."))
    first, second, *rest = whole.shifts
    shown = replace(whole, shifts=(first, replace(second, boost_recovery_s=why), *rest))
    told = as_json(shown)
    assert told["shifts"][1]["boost_recovery_s"] is None
    assert told["unknown"]["shifts[1].boost_recovery_s"]["code"] == "boost-not-back"
    assert review_from_json(told).shifts == shown.shifts


def test_the_findings_of_all_parts_stand_in_the_review_once(whole) -> None:
    told = as_json(whole)
    assert whole.power.findings and set(whole.power.findings) <= set(whole.findings)
    assert "findings" not in told["power"]
    assert len(whole.findings) == len(set(whole.findings))


def spoilt(told, *path, value):
    inner = told
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    return told


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("shifts", 1, "rpm_after", "value"), "6000", r"review\.shifts\[1\]\.rpm_after\.value must be a float"),
        (("shifts", 0, "kind"), "odd", r"review\.shifts\[0\]\.kind must be one of normal, "),
        (("limits",), None, r"review\.limits must be a list"),
        (("window",), 3, r"review\.window must be an object"),
        (("window",), {}, r"review\.window lacks 'log_launch_s'"),
        (("band", "shown_by_data"), [1.0], r"review\.band\.shown_by_data must hold 2 values, got 1"),
        (("limits", 0, "side"), "beside", r"review\.limits\[0\]\.side must be one of at_least, at_most"),
    ],
)
def test_what_is_no_review_is_refused_by_its_place(whole, path, value, said) -> None:
    with pytest.raises(CannotDecode, match=said):
        review_from_json(spoilt(json.loads(json.dumps(as_json(whole))), *path, value=value))
