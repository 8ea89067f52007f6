"""The command line: the contract's words, sentences in place of tracebacks, a quick start."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

import passband.analysis.review
from passband.analysis.results.findings import Finding
from passband.service.cli import main

LOG = "Time [s],Engine Speed [rpm],Throttle [%],Bottle\n" + "".join(
    f"{n / 50:.2f},{1000 + 3 * n},{n % 100},{n}\n" for n in range(500)
)


@pytest.fixture
def log(tmp_path) -> Path:
    path = tmp_path / "ecu.csv"
    path.write_text(LOG)
    return path


def run(*arguments: object, capsys) -> tuple[int, str, str]:
    status = main([str(argument) for argument in arguments])
    told = capsys.readouterr()
    return status, told.out, told.err


@pytest.mark.parametrize("command", [[], ["help"], ["review"], ["read"], ["review", "x", "--finish", "500"]])
def test_a_wrong_word_is_refused_with_the_right_ones(command, capsys):
    with pytest.raises(SystemExit) as left:
        main(command)
    assert left.value.code == 2
    assert "usage: passband" in capsys.readouterr().err


def test_read_says_what_was_understood_as_json(log, capsys):
    status, out, _ = run("read", log, "--json", capsys=capsys)
    told = json.loads(out)
    assert status == 0 and told["text"]["delimiter"] == ","
    assert told["channels"][0]["header"].startswith("Engine Speed")
    assert told["channels"][0]["channel"] == "engine_speed"


def test_read_says_what_was_understood_as_a_table(log, capsys):
    status, out, _ = run("read", log, capsys=capsys)
    assert status == 0
    assert "parted by comma, decimal point, 500 rows" in out
    row = next(line for line in out.splitlines() if line.startswith("Engine Speed"))
    assert "Engine speed " in row and "engine_speed" not in out and row.rstrip().endswith("2497")


def test_read_asks_by_title_and_answers_by_name(tmp_path, capsys):
    (tmp_path / "ecu.csv").write_text(LOG.replace("Bottle", "Wheel Speed"))
    _, out, err = run("read", tmp_path / "ecu.csv", capsys=capsys)
    assert "it may be: driven wheel speed, ground speed, GPS speed" in " ".join(out.split())
    asked, _, answered = out.partition("To be asked")[2].partition("Answers stand")
    assert "wheel_speed" not in asked + err and '"Wheel Speed" = "wheel_speed_driven' in answered


def test_read_uses_the_cars_own_mapping(log, tmp_path, capsys):
    (tmp_path / "car.toml").write_text('name = "Heron"\n[channels]\nBottle = "oil_pressure"\n')
    _, out, _ = run("read", log, "--car", tmp_path / "car.toml", "--json", capsys=capsys)
    assert "oil_pressure" in [channel["channel"] for channel in json.loads(out)["channels"]]


@pytest.mark.parametrize("name", ["understood.csv", "understood.parquet"])
def test_read_writes_the_log_as_understood(log, tmp_path, capsys, name):
    status, _, _ = run("read", log, "--out", tmp_path / name, capsys=capsys)
    frame = pl.read_csv(tmp_path / name) if name.endswith("csv") else pl.read_parquet(tmp_path / name)
    assert status == 0 and frame.height == 500
    time_s, engine_rpm = frame.get_columns()[:2]
    assert time_s[50] == pytest.approx(1.0) and engine_rpm[50] == 1150.0


def test_what_is_no_log_ends_with_two_and_a_sentence(tmp_path, capsys):
    (tmp_path / "photo.csv").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    for command in ("read", "review"):
        status, out, err = run(command, tmp_path / "photo.csv", capsys=capsys)
        assert (status, out) == (2, "")
        assert "photo.csv" in err and "Traceback" not in err and err.strip().count("\n") == 0


def test_a_log_without_a_run_ends_with_two_and_a_sentence(log, capsys):
    status, out, err = run("review", log, "--json", capsys=capsys)
    assert (status, out) == (2, "") and err.strip().endswith(".")


@pytest.mark.parametrize(
    ("option", "text", "said"),
    [
        ("--car", 'name = "Heron"\nwieght = 3', "wieght is no key of a car"),
        ("--slip", "t60 = 1.2", "t60 is no key of a slip"),
        ("--air", "pressure = 'high'", "pressure"),
    ],
)
def test_what_was_told_wrong_ends_with_two_and_the_key(log, tmp_path, capsys, option, text, said):
    (tmp_path / "told.toml").write_text(text)
    status, _, err = run("review", log, option, tmp_path / "told.toml", capsys=capsys)
    assert status == 2 and said in err


def test_a_file_that_is_not_there_ends_with_two_and_its_name(tmp_path, capsys):
    status, _, err = run("review", tmp_path / "none.csv", capsys=capsys)
    assert status == 2 and "none.csv cannot be used: No such file" in err


def test_a_planted_run_is_printed_as_json_with_its_findings_on_stderr(planted, tmp_path, capsys):
    (tmp_path / "ecu.csv").write_bytes(b"runs=2\n")
    status, out, err = run("review", tmp_path / "ecu.csv", "--json", capsys=capsys)
    told = json.loads(out)
    assert status == 0 and [run["window"]["log_launch_s"] for run in told["runs"]] == [10.0, 50.0]
    assert err.splitlines() == [f"run {n}: caution: The car's mass is not given." for n in (1, 2)]


def test_a_planted_run_is_printed_as_a_page(planted, tmp_path, capsys):
    (tmp_path / "ecu.csv").write_bytes(b"runs=1\n")
    status, out, _ = run("review", tmp_path / "ecu.csv", capsys=capsys)
    assert status == 0 and "10.029 ±0.004 s" in out and "oil" in out


@pytest.fixture
def wind_told(planted, tmp_path, monkeypatch) -> Path:
    """A log of a planted run whose one finding holds a quantity in SI and a channel's name."""
    finding = Finding("no-wind", "note", "Each 1 m/s moves wheel_speed_fl by 3 kW.", "wheel_speed_fl")
    plain = passband.analysis.review.review
    monkeypatch.setattr(
        passband.analysis.review, "review",
        lambda *given, **more: [replace(one, findings=(finding,)) for one in plain(*given, **more)],
    )  # fmt: skip
    (tmp_path / "ecu.csv").write_bytes(b"runs=1\n")
    return tmp_path / "ecu.csv"


def test_findings_beside_json_are_in_si_and_beside_a_page_in_its_units(wind_told, capsys):
    assert run("review", wind_told, "--json", capsys=capsys)[2] == (
        "note: Each 1 m/s moves wheel_speed_fl by 3 kW. (wheel_speed_fl)\n"
    )
    _, page, err = run("review", wind_told, "--units", "us", capsys=capsys)
    assert err == "note: Each 2.2 mph moves wheel speed front left by 4.0 hp. (Wheel speed front left)\n"
    assert "FINDINGS" in page and "Each 2.2 mph moves wheel speed front left by 4.0 hp." in page


@pytest.mark.parametrize("together", [True, False])
def test_whoever_reads_page_and_findings_in_one_place_meets_each_once(wind_told, tmp_path, monkeypatch, together):
    with (tmp_path / "page").open("w") as page, (tmp_path / "beside").open("w") as beside:
        monkeypatch.setattr(sys, "stdout", page)
        monkeypatch.setattr(sys, "stderr", page if together else beside)
        assert main(["review", str(wind_told)]) == 0
    told = (tmp_path / "page").read_text()
    assert told.count("Each 2.2 mph") == 1 and ("FINDINGS" in told) is not together
    assert told.splitlines()[-1].startswith("note: ") is together


def test_a_mistyped_setting_stops_serve_with_a_sentence(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("PASSBAND_FILE_BITES", "3")
    status, _, err = run("serve", "--data", tmp_path / "data", capsys=capsys)
    assert status == 2 and "PASSBAND_FILE_BITES is no setting" in err


def test_a_port_in_use_stops_serve_with_a_sentence(tmp_path, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        status, _, err = run("serve", "--port", taken.getsockname()[1], "--data", tmp_path / "data", capsys=capsys)
    assert status == 2 and "name another with --port" in err


def test_a_mistyped_word_is_answered_without_loading_the_house():
    started = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "passband.service.cli", "--help"], capture_output=True, text=True
    )
    assert done.returncode == 0 and time.monotonic() - started < 10
    loaded = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
    assert not loaded & {"numpy", "polars", "scipy", "fastapi", "pydantic", "pint"}


def test_linear_algebra_has_one_thread_and_scipy_signal_stays_out(log):
    # A fresh process: what stands in the environment when numpy loads is what it starts with
    told = (
        "import os, sys; from passband.service.cli import main; "
        "main(['read', sys.argv[1]]); import passband.analysis.review; "
        "print(os.environ['OPENBLAS_NUM_THREADS'], os.environ['OMP_NUM_THREADS'], 'scipy.signal' in sys.modules)"
    )
    environment = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    ran = subprocess.run(
        [sys.executable, "-c", told, str(log)], capture_output=True, text=True, timeout=120, check=True,
        env=environment | {"OMP_NUM_THREADS": "2"},
    )  # fmt: skip
    assert ran.stdout.splitlines()[-1] == "1 2 False"  # what the user had said stands
