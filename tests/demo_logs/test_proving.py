"""The proving ground: cases are whole, repeatable, and their truths agree with one another."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from passband.demo_logs.proving import KINDS, main, plan_case, write_case

FILES = {"conditions.json", "dash.csv", "ecu.csv", "setup.json", "slip.json", "truth.json"}


def written(kind: str, folder: Path, seed: int = 2) -> dict[str, Any]:
    write_case(folder / kind, plan_case(kind, seed), seed)
    return json.loads((folder / kind / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def lever(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    folder = tmp_path_factory.mktemp("cases")
    return folder / "plain_rear_lever", written("plain_rear_lever", folder)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_makes_a_plan_and_the_same_for_the_same_seed(kind: str) -> None:
    assert plan_case(kind, 7) == plan_case(kind, 7)
    assert plan_case(kind, 7) != plan_case(kind, 8)


def test_a_case_has_its_files(lever: tuple[Path, dict[str, Any]]) -> None:
    assert {path.name for path in lever[0].iterdir()} == FILES


def test_the_same_seed_writes_the_same_case(lever: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    written("plain_rear_lever", tmp_path)
    for name in FILES:
        assert (tmp_path / "plain_rear_lever" / name).read_bytes() == (lever[0] / name).read_bytes()


def test_the_slip_is_the_truth_printed(lever: tuple[Path, dict[str, Any]]) -> None:
    slip = json.loads((lever[0] / "slip.json").read_text(encoding="utf-8"))
    splits = lever[1]["runs"][0]["splits"]
    assert {name: slip[f"{name}_s"] for name in splits} == pytest.approx(splits, abs=5.1e-4)


def test_the_shifts_agree_with_gears_and_ratios(lever: tuple[Path, dict[str, Any]]) -> None:
    setup, run = json.loads((lever[0] / "setup.json").read_text(encoding="utf-8")), lever[1]["runs"][0]
    gears = setup["gear_ratios"]
    assert [shift["to"] for shift in run["shifts"]] == [2, 3, 4, 5]
    for shift in run["shifts"]:
        step = gears[shift["to"] - 1] / gears[shift["from"] - 1]
        assert shift["rpm_before_times_step"] == pytest.approx(step * shift["rpm_before"])
        assert shift["rpm_after"] <= shift["rpm_at_end"] <= shift["rpm_before_max"]
        assert shift["rpm_after"] == pytest.approx(shift["rpm_before_times_step"], rel=0.08)
        assert 0.03 < shift["duration_s"] < 0.15


def test_gear_intervals_follow_one_another(lever: tuple[Path, dict[str, Any]]) -> None:
    intervals = lever[1]["runs"][0]["gear_intervals"]
    assert all(a["time_end"] < b["time_start"] for a, b in pairwise(intervals))


def test_powers_fall_along_the_driveline(lever: tuple[Path, dict[str, Any]]) -> None:
    power = lever[1]["runs"][0]["power"]
    means = [power[name]["avg_w"] for name in ("flywheel_brake", "clutch_output", "wheel_hub", "tractive")]
    assert means == sorted(means, reverse=True)


def test_times_in_the_band_sum_to_the_run(lever: tuple[Path, dict[str, Any]]) -> None:
    run = lever[1]["runs"][0]
    total = sum(run["rpm_band"][name] for name in ("under_s", "in_s", "over_s"))
    assert total == pytest.approx(run["end_of_run"] - run["clock_start"], abs=0.002)


def test_tractive_work_is_the_car_s_own(lever: tuple[Path, dict[str, Any]]) -> None:
    # Slow twin: force from the logged-grid speed: m v dv + drag + rolling against the tires' power, 100 Hz.
    run, car = lever[1]["runs"][0], lever[1]["car_true"]
    t, v = (np.array(run["arrays"][name]) for name in ("time", "speed_mps"))
    inside = (t >= run["clock_start"]) & (t <= run["end_of_run"])
    t, v = t[inside], v[inside]
    mass = car["mass"] + 0.9 / car["r_u"] ** 2
    road = 0.5 * lever[1]["air_density_kgm3"] * car["CdA"] * v**2 + car["Crr"] * car["mass"] * 9.80665
    expected = 0.5 * mass * (v[-1] ** 2 - v[0] ** 2) + np.trapezoid(road * v, t)
    assert run["power"]["tractive"]["avg_w"] * (t[-1] - t[0]) == pytest.approx(expected, rel=0.005)


def test_a_missed_shift_is_told(tmp_path: Path) -> None:
    shifts = written("missed_shift", tmp_path)["runs"][0]["shifts"]
    assert sum(shift["missed"] for shift in shifts) == 1
    assert max(shifts, key=lambda shift: shift["duration_s"])["missed"]


def test_two_runs_lie_in_one_log(tmp_path: Path) -> None:
    truth = written("two_runs", tmp_path)
    first, second = truth["runs"]
    assert first["end_of_run"] + 20 < second["launch"]["clutch_release"] < truth["ecu_log_end"]
    assert "return road" in {event["kind"] for event in truth["decoys"]}


def test_a_restarted_log_counts_from_the_part_that_holds_the_run(tmp_path: Path) -> None:
    truth = written("log_restarted", tmp_path)
    assert 2.0 < truth["runs"][0]["launch"]["clutch_release"] < 5.0
    assert truth["restart_s"] > 0


def test_wheelspin_and_shake_leave_their_episodes(tmp_path: Path) -> None:
    assert any(stop - start > 0.25 for start, stop in written("wheelspin", tmp_path)["runs"][0]["wheelspin"])
    assert "shake" in written("tire_shake", tmp_path)["events"]


def test_the_command_lists_its_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--list"])
    assert capsys.readouterr().out.split() == list(KINDS)
