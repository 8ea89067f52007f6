"""The command `whatif` on the demo weekend and its route: answers, worth, search, refusals in sentences."""

import json

import pytest

from passband.service.answers.search_asked import read_search
from passband.service.cli import main
from passband.service.given.facts import GivenError

LIST = ["whatif", "demo_logs/weekend/runs.toml", "--car", "demo_logs/weekend/car.toml", "--run", "Q2"]


def test_an_answer_has_the_names_that_others_rely_on(capsys):
    assert main([*LIST, "--mass", "+30 kg", "--worth", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["run"] == "Q2" and told["change"] == {"mass": "+30 kg"}
    assert 0.03 < told["elapsed_time_s"]["value"] < 0.15
    assert told["elapsed_time_s"]["plus_minus"] >= 0.010
    assert told["trap_speed_mps"]["value"] < 0.0
    assert [split["at_ft"] for split in told["splits"]] == [60, 330, 660, 1000, 1320]
    assert [shift["name"] for shift in told["shifts"]] == ["1-2", "2-3", "3-4"]
    assert {"rpm_after", "margin_to_band_low_rpm"} <= told["shifts"][0].keys()
    assert {"time_in_band_s", "findings", "worth"} <= told.keys()
    # How near the model comes to its own run is part of the answer: 25 ms and 1 % are owed
    assert told["own_run_s"] <= 0.025 and told["own_run_rpm_share"] <= 0.01


def test_the_page_prints_in_80_columns(capsys):
    assert main([*LIST, "--shift-rpm", "2=+100", "--worth", "--search", "3.6,3.8"]) == 0
    page = capsys.readouterr().out
    assert "minus is quicker" in page and "SEARCHED" in page
    assert max(map(len, page.splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--mass", "30"], "says no unit"),
        (["--shift-rpm", "later"], "write '+250'"),
        (["--power-gain", "3 %"], "write '7500=3 %'"),
        (["--gear-ratios", "1.1,2.2"], "must be above 0 and fall"),
        ([], "Nothing is asked"),
    ],
)
def test_wrong_words_are_answered_in_a_sentence(arguments, said, capsys):
    assert main([*LIST, *arguments]) == 2
    assert said in capsys.readouterr().err


def test_a_change_downwards_needs_no_blank_before_its_unit(capsys):
    assert main([*LIST, "--mass", "-30lb", "--units", "metric"]) == 0
    page = capsys.readouterr().out
    assert "IF mass -30lb" in page and "km/h" in page


def test_power_is_raised_over_a_range_and_air_told_in_part(tmp_path, capsys):
    air = tmp_path / "air.toml"
    air.write_text('temperature = "40 degC"\n')
    assert main([*LIST, "--power-gain", "7000..7400=2 %; 7400 to 8000 = 3%", "--air", str(air), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["change"]["air"] == {"temperature": "40 degC"}
    assert 0.0 < told["elapsed_time_s"]["value"] < 0.15  # what the gain wins is less than what the heat costs
    assert main([*LIST, "--power-gain", "8000..7000=2 %"]) == 2
    assert "must rise" in capsys.readouterr().err


def test_a_search_says_the_band_and_what_it_would_break(capsys):
    assert main([*LIST, "--search", "3.7..4.3", "--aim", "under-band"]) == 0
    page = capsys.readouterr().out
    assert "under the band" in page and "were not tried. The first:" in page and "over your limit" in page
    assert max(map(len, page.splitlines())) <= 80


def test_what_the_run_cannot_answer_is_null_with_a_reason(capsys):
    assert main([*LIST, "--final-drive", "4.3", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["elapsed_time_s"] is None
    assert told["findings"][0]["code"] == "whatif-refused"


def test_a_route_answers_and_refuses(client, upload, assert_problem):
    run = upload(b"runs=1\n1").json()["runs"][0]["id"]
    answer = client.post(f"/api/runs/{run}/whatif", json={"mass": "+20 kg"})
    assert answer.status_code == 200, answer.text
    assert answer.json()["elapsed_time_s"] is None  # the planted run has no car
    assert "mass is not given" in answer.json()["findings"][0]["text"]
    assert "says no unit" in assert_problem(client.post(f"/api/runs/{run}/whatif", json={"mass": "20"}), 422)["detail"]
    assert "Nothing is asked" in assert_problem(client.post(f"/api/runs/{run}/whatif", json={}), 422)["detail"]


def test_forecasts_are_held_against_runs_with_a_known_change(capsys, tmp_path):
    # Not planted: of the demo's runs Q1 grabbed second early; the table has its row, whatever was measured
    known = tmp_path / "changes.toml"
    known.write_text('[[changes]]\nlabel = "Q1"\nshift_rpm = "1=-200"\n', encoding="utf-8")
    assert main([*LIST, "--check", str(known)]) == 0
    page = capsys.readouterr().out
    assert "FORECAST FROM Q2" in page and "Q1" in page
    assert max(map(len, page.splitlines())) <= 80
    known.write_text('[[changes]]\nlabel = "Q7"\nmass = "+1 kg"\n', encoding="utf-8")
    assert main([*LIST, "--check", str(known)]) == 2
    assert "labelled 'Q7'" in capsys.readouterr().err


def test_a_cars_forecasts_are_held_against_its_runs(client, upload, assert_problem):
    assert_problem(client.get("/api/cars/" + "0" * 32 + "/foretold"), 404)
    car = client.post("/api/cars", json={"name": "Kite"}).json()["id"]
    answer = client.get(f"/api/cars/{car}/foretold").json()
    assert answer["pairs"] == [] and answer["total"]["asked"] == 0
    page = client.get(f"/cars/{car}/foretold")
    assert page.status_code == 200 and "Two clean runs of this car" in page.text


def test_searches_are_read_as_people_write_them():
    # By hand: thirteen even places of a range, a gear by its number, sets parted by semicolons
    assert read_search("shift-rpm").shifts
    assert read_search("4.56, 4.71").final_drives == (4.56, 4.71)
    even = read_search("3.6..4.2").final_drives
    assert len(even) == 13 and (even[0], even[1], even[-1]) == (3.6, 3.65, 4.2)
    gear = read_search("gear 2=1.70, 1.75")
    assert (gear.gear, gear.ratios) == (2, (1.70, 1.75))
    assert read_search("2.6/1.9/1.5; 2.5/1.8/1.4").sets == ((2.6, 1.9, 1.5), (2.5, 1.8, 1.4))
    for wrong in ("soon", "gear 2=", "4.1..", "gear two=1.7"):
        with pytest.raises(GivenError, match="cannot be read: write"):
            read_search(wrong)


def test_a_gears_ratio_is_searched(capsys):
    assert main([*LIST, "--search", "gear 3=1.45..1.55", "--aim", "under-band", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["searched"]
    assert [one["what"] for one in found] == ["gear 3"]
    assert len(found[0]["tried"]) == 13
    assert main([*LIST, "--search", "gear 9=1.1,1.2"]) == 2
    assert "name 4 gears" in capsys.readouterr().err
    assert main([*LIST, "--search", "2.61/1.96/1.49/1.15; 2.5/1.9/1.45/1.12"]) == 0
    assert "gear ratios" in capsys.readouterr().out
