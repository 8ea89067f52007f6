"""The commands `turbo` and `bench` on the demo weekend, with their pictures; wrong input answered in a sentence."""

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest

from passband.service.cli import main

LIST = ["demo_logs/weekend/runs.toml", "--car", "demo_logs/weekend/car.toml", "--run", "Q2"]
MAP = ["--map", "demo_logs/bench/compressor_map.csv"]


def test_turbo_prints_a_page_and_draws_a_picture(capsys, tmp_path):
    picture = tmp_path / "map.svg"
    assert main(["turbo", *LIST, *MAP, "--charge-loss", "1 psi", "--picture", str(picture)]) == 0
    page = capsys.readouterr().out
    assert "least margin to surge" in page
    assert max(map(len, page.splitlines())) <= 80
    root = ElementTree.fromstring(picture.read_text(encoding="utf-8"))
    assert root.tag.endswith("svg")
    assert len(root.findall(".//{*}circle")) == 3  # one a shift


def test_turbo_answers_in_json(capsys):
    assert main(["turbo", *LIST, *MAP, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["run"] == "Q2"
    told = told["way"]
    assert told["flow_basis"] == "fuel flow and lambda"
    assert 0.5 < told["mean_efficiency"] < 0.8
    assert len(told["flow_kgps"]) == len(told["time_s"])


def test_bench_prints_both_sheets(capsys, tmp_path):
    sheets = ["--flow", "demo_logs/bench/flow_sheet.csv", "--dyno", "demo_logs/bench/dynamometer.csv"]
    picture = tmp_path / "bench.svg"
    assert main(["bench", *LIST, *sheets, "--picture", str(picture)]) == 0
    page = capsys.readouterr().out
    assert "Inlet Mach index 0.6" in page
    assert "95 % of it at" in page
    assert "the circle is the narrower" in " ".join(page.split()) and "port m/s" in page
    assert max(map(len, page.splitlines())) <= 80
    assert ElementTree.fromstring(picture.read_text(encoding="utf-8")).tag.endswith("svg")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["turbo", *LIST, *MAP, "--charge-loss", "7"], "says no unit"),
        (["turbo", *LIST, *MAP, "--charge-loss", "-1 kPa"], "between 0 and 100 kPa"),
        (["turbo", *LIST, *MAP, "--volumetric-efficiency", "95"], "write a share"),
        (["turbo", *LIST, *MAP, "--compressors", "0"], "1 to 4"),
        (["turbo", *LIST, *MAP, "--picture", "a.png"], ".svg"),
        (["turbo", *LIST, "--map", "demo_logs/bench/flow_sheet.csv"], "needs a column 'speed'"),
        (["turbo", *LIST, "--map", "nowhere.csv"], "nowhere.csv cannot be used"),
        (["bench", *LIST], "Name a sheet"),
    ],
)
def test_wrong_input_is_answered_in_a_sentence(arguments, said, capsys):
    assert main(arguments) == 2
    assert said in capsys.readouterr().err


def test_a_change_on_the_bench_is_driven_down_the_runs_track(capsys, tmp_path):
    # Planted: two per cent more everywhere, so the run is quicker by what the model makes of two per cent
    from passband.analysis.bench.sheets import read_dyno_curve

    with open("demo_logs/bench/dynamometer.csv", "rb") as file:
        before = read_dyno_curve(file.read(), name="before")
    after = tmp_path / "after.csv"
    rows = "".join(f"{r:.0f},{1.02 * p / 1000.0:.3f}\n" for r, p in zip(before.engine_rpm, before.power_w, strict=True))
    after.write_text(f"Correction,SAE J1349\n\nrpm,power (kW)\n{rows}")
    sheets = ["--dyno", str(after), "--dyno-before", "demo_logs/bench/dynamometer.csv"]
    assert main(["bench", *LIST, *sheets, "--json"]) == 0
    change = json.loads(capsys.readouterr().out)["dynamometer_change"]
    assert change["ratio"] == pytest.approx(1.02, abs=1e-3)
    assert -0.15 < change["on_track"]["elapsed_time_s"]["value"] < -0.03
    assert main(["bench", *LIST, *sheets]) == 0
    page = capsys.readouterr().out
    assert "The same shares of power in this run" in page and max(map(len, page.splitlines())) <= 80
    assert main(["bench", *LIST, "--flow-before", "demo_logs/bench/flow_sheet.csv", "--dyno", str(after)]) == 2
    assert "name both" in capsys.readouterr().err


@pytest.fixture(scope="module")
def named(tmp_path_factory):
    """The demo's second run in a list that names the demo's sheets."""
    folder = tmp_path_factory.mktemp("named")
    demo = Path("demo_logs").resolve()
    logs = [str(demo / "weekend" / f"02_q2_{device}.csv.gz") for device in ("ecu", "dash")]
    sheets = {"flow_sheet": "flow_sheet", "dynamometer": "dynamometer", "compressor_map": "compressor_map"}
    lines = [f'{name} = "{demo / "bench" / file}.csv"' for name, file in sheets.items()]
    text = [f'car = "{demo / "weekend" / "car.toml"}"', "[sheets]", *lines, 'charge_loss = "1 psi"', "[[runs]]"]
    (folder / "runs.toml").write_text("\n".join([*text, f"logs = {json.dumps(logs)}", 'label = "Q2"']))
    return [str(folder / "runs.toml"), "--run", "Q2", "--json"]


def test_a_list_that_names_its_sheets_needs_no_file_told(named, capsys):
    # The same as with every sheet on the command line
    assert main(["turbo", *named]) == main(["turbo", *named, *MAP, "--charge-loss", "1 psi"]) == 0
    one, other = capsys.readouterr().out.splitlines()[:2]
    assert json.loads(one)["way"] == json.loads(other)["way"]
    assert main(["bench", *named]) == 0
    laid = json.loads(capsys.readouterr().out)
    assert laid["head"] is not None and laid["dynamometer"] is not None


def test_a_forecast_takes_the_list_s_curve_by_its_word(named, capsys):
    assert main(["whatif", *named, "--power", "dynamometer"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["change"]["power"].startswith("a curve of")
