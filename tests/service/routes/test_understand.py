"""What was given is told back in both systems of units, wrong things at their keys, and nothing is kept."""

from __future__ import annotations

import pytest


def given_back(client, **body):
    answer = client.post("/api/understand", json=body)
    assert answer.status_code == 200, answer.text
    return answer.json()


def test_a_car_is_told_back_fact_by_fact(client):
    # Hand: 2450 lb * 0.45359237 = 1111.3 kg; 60 psi = 413.69 kPa; 250 kPa = 36.259 psi
    limit = {"name": "oil", "channel": "oil_pressure", "at_least": "60 psi", "when": ["boost > 250 kPa"]}
    answer = given_back(client, car={"mass": "2450 lb", "rpm_band": "6200-8600 rpm", "limits": [limit]})
    assert answer["understood"] == {
        "car.mass": "2,450 lb = 1,111.3 kg",
        "car.rpm_band": "6,200 rpm, 8,600 rpm",
        "car.limits.0.at_least": "60 psi = 413.69 kPa",
        "car.limits.0.when": "boost at least 36.259 psi = 250 kPa",
    }
    assert answer["errors"] == [] and answer["given"]["car"]["rpm_band"] == ["6200 rpm", "8600 rpm"]
    assert [one["unit"] for one in answer["channels"]["oil_pressure"]["units"]] == ["psi", "kPa", "bar"]
    assert client.get("/api/cars").json() == {"cars": []}


def test_each_wrong_thing_stands_at_its_key_and_hides_no_other(client):
    limits = [
        {"name": "oil", "channel": "oil_pressure", "at_least": 60},
        {"name": "egt", "channel": "exhaust_temprature", "at_most": "930 degC"},
        {"name": "rpm", "channel": "engine_speed", "at_most": "9100 rpm"},
    ]
    answer = given_back(client, car={"mass": "24 kg", "bore": "86 mm", "limits": limits})
    errors = {one["where"]: one["text"] for one in answer["errors"]}
    assert set(errors) == {"car.mass", "car.limits.0.at_least", "car.limits.1.channel"}
    assert errors["car.limits.0.at_least"].startswith("oil pressure at least 60 would be 60 Pa (0.0087 psi)")
    assert set(answer["understood"]) == {"car.bore", "car.limits.2.at_most"}


def test_slip_and_air_are_told_back(client):
    answer = given_back(client, slip={"t1320_s": 8.947, "v1320": 139.7}, air={"relative_humidity": 48, "wind": "5 mph"})
    errors = {one["where"]: one["text"] for one in answer["errors"]}
    assert 'write "139.7 mph" or "139.7 km/h"' in errors["slip.v1320"]
    assert "48 % is 0.48" in errors["air.relative_humidity"]


def test_beside_units_a_conditions_number_must_carry_its_own(client):
    limit = {"name": "oil", "channel": "oil_pressure", "at_least": "60 psi", "when": ["boost > 20000", "gear > 3"]}
    assert given_back(client, car={"limits": [limit]})["errors"] == []
    (error,) = given_back(client, car={"limits": [limit]}, beside_units=True)["errors"]
    assert error == {
        "where": "car.limits.0.when.0",
        "text": 'boost 20000: write its unit, as "20000 psi" or "20000 kPa"',
    }


def test_a_change_to_a_run_is_told_back_field_by_field(client):
    # Hand: 30 lb * 0.45359237 = 13.608 kg; 1 psi = 6.8948 kPa; 84 in = 2.1336 m
    asked = {"shift_rpm": "+150, 3=7600", "mass": "-30 lb", "boost": "+1 psi", "tire_circumference": "84 in",
             "power_gain": "7000..7500=2 %", "gear_ratios": "2.6 1.9", "search": "3.6..4.1"}  # fmt: skip
    answer = given_back(client, whatif=asked, air={"wind": "-5 mph"})
    assert answer["errors"] == []
    assert answer["understood"] == {
        "air.wind": "\N{MINUS SIGN}5 mph = \N{MINUS SIGN}8.0467 km/h",
        "whatif.shift_rpm": "every gear left 150 rpm later; gear 3 left at 7,600 rpm",
        "whatif.mass": "30 lb = 13.608 kg less",
        "whatif.gear_ratios": "2 gears: 2.6, 1.9",
        "whatif.tire_circumference": "84 in = 2.1336 m",
        "whatif.boost": "1 psi = 6.8948 kPa more",
        "whatif.power_gain": "2 % more from 7,000 to 7,500 rpm",
        "whatif.search": "13 final drives, 3.6 to 4.1",
    }


@pytest.mark.parametrize(
    ("part", "given", "said"),
    [
        ("whatif", {"mass": "+30"}, 'write its unit, as "+30 lb" or "+30 kg"'),
        ("whatif", {"mass": "24 lb"}, "cannot be"),
        ("whatif", {"boost": "1"}, "would be 1 Pa"),
        ("whatif", {"final_drive": 90}, "cannot be"),
        ("whatif", {"search": "often"}, "cannot be read"),
        ("turbo", {"inlet_loss": "1"}, "says no unit"),
        ("turbo", {"volumetric_efficiency": "0.95 %"}, "write a share such as 0.95, or 95 %"),
    ],
)
def test_what_is_asked_beside_a_run_is_refused_at_its_field(client, part, given, said):
    (error,) = given_back(client, **{part: given})["errors"]
    assert error["where"] == f"{part}.{next(iter(given))}" and said in error["text"]


@pytest.mark.parametrize(
    "body",
    [{"car": 3}, {"cart": {}}, {"car": {"limits": 3}}, {"car": {"limits": [3]}}, {"car": {"limits": [{"when": 3}]}},
     {"car": {"name": 3, "channels": 4, "mass": []}}, {"slip": {"v1320": {}}}, {"car": {"gear_ratios": "x"}},
     {"car": {"limits": [{"name": {}, "channel": [], "curve": 5}]}}, {"car": {"rpm_band": {"a": 1}}}],
)  # fmt: skip
def test_whatever_is_sent_is_answered_in_words(client, body):
    answer = client.post("/api/understand", json=body)
    assert answer.status_code in (200, 422), answer.text


def test_the_sentence_of_a_refused_slip_and_air_is_an_uploads_answer(upload):
    answer = upload(b"runs=1\n", air={"relative_humidity": 48})
    assert answer.status_code == 422 and "48 % is 0.48" in answer.json()["detail"]


def test_a_plus_minus_of_its_own_is_told_back_beside_the_fact(client):
    # Hand: 5 lb are 2.27 kg; 5 % of 0.56 m^2 are 0.028 m^2, 0.30 ft^2
    answer = given_back(client, car={"mass": "3080 lb +- 5 lb", "drag_area": "0.56 m^2 ± 5 %", "bore": "86 mm"})
    assert answer["understood"] == {
        "car.mass": "3,080 ±5 lb = 1,397.1 ±2.3 kg",
        "car.drag_area": "6.0278 ±0.3 ft² = 0.56 ±0.028 m²",
        "car.bore": "3.3858 in = 86 mm",
    }
