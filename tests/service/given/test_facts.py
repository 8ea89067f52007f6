"""What the user tells: read from TOML and JSON alike, refused with the key and what would do."""

from __future__ import annotations

import re

import pytest

from passband.analysis.given.car import Air, Car, Slip
from passband.service.given.facts import GivenError, read_car, read_file, read_given


def test_toml_and_json_tell_the_same_car(tmp_path):
    (tmp_path / "car.toml").write_text('name = "Heron"\nmass = "2450 lb"\nrpm_band = [6400, 8600]\n')
    (tmp_path / "car.json").write_text('{"name": "Heron", "mass": "2450 lb", "rpm_band": [6400, 8600]}')
    cars = [read_car(read_file(tmp_path / name, what="car")) for name in ("car.toml", "car.json")]
    assert cars[0] == cars[1]
    assert cars[0].mass == pytest.approx(1111.3013, abs=1e-3)  # hand: 2450 * 0.45359237


def test_an_unknown_key_is_named_with_the_keys_there_are():
    with pytest.raises(GivenError, match=r"wieght is no key of a car; the keys are name, mass"):
        read_car({"name": "Heron", "wieght": 1000})


def test_a_quantity_of_another_kind_is_refused_with_its_path():
    with pytest.raises(GivenError, match=r"mass: .*'3 psi'"):
        read_car({"name": "Heron", "mass": "3 psi"})


def test_a_bound_that_does_not_fit_its_channel_is_refused_at_the_door():
    limit = {"name": "oil", "channel": "oil_pressure", "at_least": "90 degC"}
    with pytest.raises(GivenError, match=r"limit 'oil', at_least") as caught:
        read_car({"name": "Heron", "limits": [limit]})
    assert caught.value.faults[0].where == "limits.0.at_least"


@pytest.mark.parametrize("bound", ["", "a lot"])
def test_a_bound_that_is_no_quantity_is_refused_for_an_unknown_channel_too(bound):
    with pytest.raises(GivenError, match="limit 'bottle'"):
        read_car({"name": "Heron", "limits": [{"name": "bottle", "channel": "Bottle", "at_most": bound}]})


def test_curves_and_conditions_are_checked_as_bounds_are():
    curve = {"against": "engine_speed", "points": [["3000 rpm", "30 psi"], ["9000 kg", "60 psi"]], "side": "at_least"}
    limit = {
        "name": "oil",
        "channel": "oil_pressure",
        "curve": curve,
        "when": [{"channel": "throttle", "at_least": "x"}],
    }
    with pytest.raises(GivenError) as caught:
        read_car({"name": "Heron", "limits": [limit]})
    assert {fault.where for fault in caught.value.faults} == {"limits.0.when.0.at_least", "limits.0.curve.points.1.0"}


@pytest.mark.parametrize("told", [None, [], "Heron", 3])
def test_what_is_no_table_is_refused(told):
    with pytest.raises(GivenError, match="must be a table"):
        read_given(Car, told, what="car")


def test_a_slip_must_rise_and_air_must_be_possible():
    with pytest.raises(GivenError, match="must rise"):
        read_given(Slip, {"t60_s": 1.5, "t330_s": 1.4}, what="slip")
    with pytest.raises(GivenError, match="relative_humidity"):
        read_given(Air, {"relative_humidity": 48}, what="air")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("car.yaml", "name: x", "must be a .toml or a .json"),
        ("car.toml", "name = ", "is no sound TOML"),
        ("car.json", "{", "is no sound JSON"),
        ("car.json", "[1]", "must be a table"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_by_name(tmp_path, name, text, said):
    (tmp_path / name).write_text(text)
    with pytest.raises(GivenError, match=f"{name}.*{said}"):
        read_file(tmp_path / name, what="car")


def test_a_file_that_is_not_there_is_refused_by_name(tmp_path):
    with pytest.raises(GivenError, match=r"car\.toml cannot be read: no such file"):
        read_file(tmp_path / "car.toml", what="car")


def test_of_many_faults_the_sentence_tells_five_and_the_list_all():
    with pytest.raises(GivenError, match="and 3 more") as caught:
        read_given(Air, {f"key{n}": 1 for n in range(8)}, what="air")
    assert len(caught.value.faults) == 8


def _with_limit(**limit):
    return {"name": "Heron", "limits": [{"name": "l", **limit}]}


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        (
            {"channel": "oil_pressure", "at_least": 60},
            'oil pressure at least 60 would be 60 Pa (0.0087 psi): write "60 psi" or "60 kPa"',
        ),
        ({"channel": "coolant temp", "at_most": "220"}, 'would be 220 K (-63.7 degF, -53.1 degC): write "220 degF"'),
        ({"channel": "boost", "at_most": "2 bar", "when": ["throttle > 90"]}, "throttle at least 90 does not lie from"),
        (
            {"channel": "oil_pressure", "curve": {"against": "rpm", "points": [[3, 40], [6, 60]], "side": "at_least"}},
            'rpm 3 would be 3 rpm: write "3 rpm" or "3 krpm"',
        ),
        ({"channel": "battery", "at_least": 11.5, "longer_than": 200}, '200 would be 200 s: write "200 ms"'),
        ({"channel": "coolant_temprature", "at_most": "104 degC"}, "the nearest known is coolant_temperature"),
        ({"channel": "egt sprad", "at_most": "60 K"}, "the nearest known is exhaust_temperature_spread"),
        (
            {"channel": "battery", "at_least": 11, "when": [{"channel": "throtle", "at_least": "90 %"}]},
            "no channel is called 'throtle'; the nearest known is throttle",
        ),
    ],
)
def test_a_limit_that_would_be_misread_is_refused_in_words(limit, said):
    with pytest.raises(GivenError) as refused:
        read_car(_with_limit(**limit))
    assert said in str(refused.value)


@pytest.mark.parametrize(
    "channel", ["Nitrous Bottle", "Boost Target", "Fuel Pump", "Clutch Slip", "exhaust_temperature_3"]
)
def test_a_limit_on_a_header_of_ones_own_is_kept(channel):
    read_car(_with_limit(channel=channel, at_least="900 degC"))


def test_a_header_that_looks_misspelt_is_kept_where_the_car_names_it():
    told = _with_limit(channel="Coolant Temprature", at_most=104)
    read_car({**told, "channels": {"Coolant Temprature": "Coolant Temprature"}})


def test_keys_that_there_are_stand_once_behind_all_that_are_none():
    with pytest.raises(
        GivenError, match=r"t60 is no key of a slip; t330 is .*; t660 is no key of a slip; the keys are "
    ) as told:
        read_given(Slip, {"t60": 1.6, "t330": 4.0, "t660": 6.1}, what="slip")
    assert str(told.value).count("the keys are") == 1


@pytest.mark.parametrize(("told", "said"), [
    ({"name": "Heron", "final_drive": "4.1 +- 0.1"}, "takes no plus-minus, being counted or chosen: write '4.1' alone"),
    ({"name": "Heron", "mass": "958 kg +- -2 kg"}, "must be no less than 0"),
    ({"mass": 958}, "name: must be given"),
])  # fmt: skip
def test_what_is_wrong_with_a_fact_is_said_in_words_of_the_trade(told, said):
    with pytest.raises(GivenError, match=re.escape(said)):
        read_car(told)
