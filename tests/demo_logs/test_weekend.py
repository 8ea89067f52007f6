"""The demo weekend as committed: whole, small, in several dialects, remade byte for byte, and telling its story."""

from __future__ import annotations

import gzip
import json
import tomllib
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.reading import read_log
from passband.demo_logs.make_weekend import FOLDER, make_run
from passband.demo_logs.weekend_story import CAR, EVENT, RUNS

MEGABYTE = 1024 * 1024
EXPECTED: dict[str, Any] = json.loads((FOLDER / "expected.json").read_text(encoding="utf-8"))
TOLD: list[dict[str, Any]] = tomllib.loads((FOLDER / "runs.toml").read_text(encoding="utf-8"))["runs"]


def shift(slug: str, number: int) -> dict[str, Any]:
    return EXPECTED[slug]["shifts"][number - 1]


def test_there_are_runs_enough_and_each_names_its_logs() -> None:
    assert len(TOLD) == len(RUNS) >= 8
    assert all((FOLDER / name).is_file() for told in TOLD for name in told["logs"])
    assert {told["event"] for told in TOLD} == {EVENT}
    assert sum(told["round"].startswith("Qualifying") for told in TOLD) == 3
    assert sum(told["round"].startswith("Elimination") for told in TOLD) == 3


def test_files_are_small() -> None:
    runs = [sum((FOLDER / name).stat().st_size for name in told["logs"]) for told in TOLD]
    assert max(runs) < MEGABYTE
    assert sum(path.stat().st_size for path in FOLDER.iterdir()) < 8 * MEGABYTE


def test_nothing_lies_about_that_no_run_names() -> None:
    named = {name for told in TOLD for name in told["logs"]} | {"car.toml", "runs.toml", "expected.json"}
    assert {path.name for path in FOLDER.iterdir()} == named


def test_three_dialects_and_more() -> None:
    heads = set()
    for told in TOLD:
        for name in told["logs"]:
            lines = gzip.decompress((FOLDER / name).read_bytes()).split(b"\n")
            heads.add((lines[-2].count(b";") > 3, lines[-2].count(b"\t") > 3, lines[-2].count(b"|") > 3, lines[0][:3]))
    assert len(heads) >= 3


@pytest.mark.parametrize("told", TOLD, ids=[told["label"] for told in TOLD])
def test_car_slip_and_air_are_of_the_form_asked_for(told: dict[str, Any]) -> None:
    assert Slip(**told["slip"]).t1320_s == pytest.approx(
        EXPECTED[told["logs"][0][: -len("_ecu.csv.gz")]]["splits"]["1320ft"], abs=1e-3
    )
    assert Air(**told["air"]).temperature is not None


def test_the_car_as_written_in_mixed_units_is_the_car_that_was_driven() -> None:
    # Hand: 3,080 lb are 1397.06 kg, 85.5 in 2.1717 m, 11 in 0.2794 m, 15 psi 103.42 kPa.
    car = Car(**tomllib.loads((FOLDER / "car.toml").read_text(encoding="utf-8")))
    written = (car.mass, car.tire_circumference, car.rollout, car.boost_threshold)
    assert written == pytest.approx((1397.06, 2.1717, 0.2794, 103.42e3), rel=3e-5)
    driven = (CAR.mass_kg, CAR.tire_circumference_m, CAR.rollout_m)
    assert written[:3] == pytest.approx(driven)
    assert car.undriven_tire_circumference == pytest.approx(CAR.undriven_circumference_m)
    assert (car.driven_axle, car.cylinders, car.rpm_band) == ("rear", 6, CAR.band_rpm)


def test_the_car_keeps_the_step_its_band_asks_for() -> None:
    # Hand: run to 7,800 rpm, not to fall below 5,300: no step under 5,300 / 7,800 = 0.6795.
    low, high = CAR.band_rpm
    assert min(b / a for a, b in pairwise(CAR.gears)) > low / high == pytest.approx(0.6795, abs=1e-4)


@pytest.mark.parametrize("slug", ["02_q2", "05_sunday", "09_final"])
def test_an_ecu_log_has_its_channels_and_rate(slug: str) -> None:
    name = f"{slug}_ecu.csv.gz"
    (log,) = read_log((FOLDER / name).read_bytes(), name=name)
    assert len(log.channels) >= 25
    assert log.time.rate_hz >= 100
    assert log.get("engine_speed") is not None and log.get("oil_pressure") is not None


def test_a_run_is_made_again_byte_for_byte(tmp_path: Path) -> None:
    told = next(run for run in RUNS if run.slug == "04_e1")
    make_run(told, tmp_path)
    for path in tmp_path.iterdir():
        assert path.read_bytes() == (FOLDER / path.name).read_bytes()


def test_the_launch_leaves_the_two_step_and_falls_a_little() -> None:
    launch = EXPECTED["02_q2"]["launch"]
    assert launch["rpm_at_release"] == pytest.approx(CAR.launch_rpm, abs=60)
    assert launch["rpm_at_release"] - 500 < launch["rpm_min_after_release"] < launch["rpm_at_release"] - 150


def test_one_shift_is_short_and_one_missed() -> None:
    low, high = CAR.band_rpm
    assert shift("01_q1", 1)["rpm_after"] < low - 500 < shift("02_q2", 1)["rpm_after"]
    assert [(slug, s["to"]) for slug, run in EXPECTED.items() for s in run["shifts"] if s["missed"]] == [("04_e1", 3)]
    assert shift("04_e1", 2)["rpm_peak_during"] > high
    assert EXPECTED["04_e1"]["rpm_band"]["over_s"] > 0.3


def test_one_launch_bogs_and_one_spins() -> None:
    assert EXPECTED["06_e2"]["launch"]["rpm_min_after_release"] < 3000
    assert any(stop - start > 0.5 for start, stop in EXPECTED["03_q3"]["wheelspin"])
    assert EXPECTED["02_q2"]["wheelspin"] == []


def test_the_leak_costs_boost_and_the_heat_costs_time() -> None:
    assert EXPECTED["07_e3"]["boost"]["max_kpa"] < 0.8 * EXPECTED["05_sunday"]["boost"]["max_kpa"]
    assert EXPECTED["05_sunday"]["splits"]["1320ft"] > EXPECTED["02_q2"]["splits"]["1320ft"] + 0.15


def test_clean_runs_stay_in_the_band_after_each_shift() -> None:
    clean = [slug for slug, run in EXPECTED.items() if run["finds"].get("clean")]
    assert len(clean) >= 3
    assert all(s["rpm_after"] > CAR.band_rpm[0] for slug in clean for s in EXPECTED[slug]["shifts"])
