"""The main job, end to end: two runs of the demo weekend through HTTP, held against the truth that their maker knows.

Planted: the weekend's physics. Tolerances: elapsed time to the slip's printed thousandth; without the slip what an
undriven wheel allows; engine speeds to one part in a hundred.
"""

from __future__ import annotations

import io
import json
import tomllib
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from fastapi.testclient import TestClient

import passband.demo_logs
from passband.service.app import create_app
from passband.service.settings import read_settings

WEEKEND = Path(passband.demo_logs.__file__).parent / "weekend"
CLEAN, MISSED_SHIFT = "02_q2", "04_e1"


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    settings = read_settings({}, data=tmp_path_factory.mktemp("job") / "data", workers=1, hosts="testserver")
    with TestClient(create_app(settings)) as client:
        yield client


@pytest.fixture(scope="module")
def car(client):
    return client.post("/api/cars", json=tomllib.loads((WEEKEND / "car.toml").read_text())).json()["id"]


def send(client, car, slug):
    told = next(
        run for run in tomllib.loads((WEEKEND / "runs.toml").read_text())["runs"] if run["logs"][0].startswith(slug)
    )
    files = [("log", (name, (WEEKEND / name).read_bytes())) for name in told.pop("logs")]
    response = client.post("/api/runs", files=files, data={"car": car, "details": json.dumps(told)})
    assert response.status_code == 201, response.text
    return response.json()["runs"][0]["id"]


@pytest.fixture(scope="module")
def runs(client, car):
    return {slug: send(client, car, slug) for slug in (CLEAN, MISSED_SHIFT)}


@pytest.fixture(scope="module")
def expected():
    return json.loads((WEEKEND / "expected.json").read_text())


def review(client, run):
    return client.get(f"/api/runs/{run}/review").json()


@pytest.mark.parametrize("slug", [CLEAN, MISSED_SHIFT])
def test_times_shifts_and_launch_are_what_happened(client, runs, expected, slug):
    got, truth = review(client, runs[slug]), expected[slug]
    times = {split["at_ft"]: split["time_s"]["value"] for split in got["distance"]["splits"]}
    wanted = {int(mark.removesuffix("ft")): time for mark, time in truth["splits"].items()}
    assert times == pytest.approx(wanted, abs=0.003)
    assert [(s["from_gear"], s["to_gear"]) for s in got["shifts"]] == [(s["from"], s["to"]) for s in truth["shifts"]]
    for shift, true in zip(got["shifts"], truth["shifts"], strict=True):
        assert shift["rpm_before"]["value"] == pytest.approx(true["rpm_before"], rel=0.01)
        start = got["window"]["log_clock_start_s"] + shift["time_s"]
        assert start == pytest.approx(true["time_start"], abs=0.02)
    assert got["launch"]["rpm_at_launch"]["value"] == pytest.approx(truth["launch"]["rpm_at_release"], abs=60)
    assert not [finding for finding in got["findings"] if finding["level"] == "stop"]


def test_a_missed_shift_passes_the_limit_on_engine_speed(client, runs):
    verdicts = {limit["name"]: limit for limit in review(client, runs[MISSED_SHIFT])["limits"]}
    assert verdicts["Engine speed"]["verdict"] == "outside"
    assert verdicts["Engine speed"]["margin"] < 0
    clean = {limit["name"]: limit["verdict"] for limit in review(client, runs[CLEAN])["limits"]}
    assert clean["Engine speed"] == "inside"


def test_without_its_slip_the_run_is_still_timed(client, runs, expected):
    run = runs[CLEAN]
    slip = client.get(f"/api/runs/{run}").json()["slip"]
    changed = client.patch(f"/api/runs/{run}", json={"slip": None})
    assert changed.status_code == 200
    time_s = changed.json()["elapsed_time_s"]
    assert time_s["value"] == pytest.approx(expected[CLEAN]["splits"]["1320ft"], abs=0.02)
    assert client.patch(f"/api/runs/{run}", json={"slip": slip}).status_code == 200


def test_the_logs_come_back_and_the_traces_show_the_run(client, runs, expected):
    run = runs[CLEAN]
    assert client.get(f"/api/runs/{run}/logs/0").content == (WEEKEND / f"{CLEAN}_ecu.csv.gz").read_bytes()
    told = client.get(f"/api/runs/{run}/traces?channels=engine_speed,boost,speed_mps&points=800").json()
    assert told["missing"] == []
    speed = told["channels"][2]
    at_finish = np.interp(402.336, speed["x"], [y if y is not None else np.nan for y in speed["y"]])
    assert at_finish == pytest.approx(expected[CLEAN]["trap_speeds"]["1320ft"], rel=0.01)


def test_the_export_holds_all_channels_of_both_logs(client, runs):
    frame = pl.read_parquet(io.BytesIO(client.get(f"/api/runs/{runs[CLEAN]}/export").content))
    assert {"engine_speed", "engine_speed.1", "exhaust_temperature_6", "wheel_speed_fl", "gps_speed"} <= set(
        frame.columns
    )


def test_two_runs_are_laid_over_each_other(client, runs):
    ids = ",".join(runs.values())
    drawing = client.get(f"/api/overlay?runs={ids}").json()
    assert "vega-lite" in drawing["$schema"]
    against = client.get(f"/api/compare?runs={ids}").json()["others"][0]["against_first"]
    assert sum(part["lost_s"]["value"] for part in against["stretches"]) == pytest.approx(against["total_s"]["value"])


def test_every_page_shows_the_runs(client, runs):
    for path in ("/", f"/runs/{runs[CLEAN]}", f"/overlay?runs={','.join(runs.values())}", "/events/Lantern%20Weekend"):
        response = client.get(path, headers={"Accept": "text/html"})
        assert response.status_code == 200 and "Q2" in response.text
