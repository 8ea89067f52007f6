"""Facts that cannot be together: numbers meant in another unit. Evidence: hand, by the units' own factors."""

from __future__ import annotations

import pytest

from passband.analysis.given.car import Car
from passband.analysis.given.facts_together import tell_facts_unlike_each_other

SALOON = {
    "name": "saloon", "mass": 1500.0, "drag_area": 0.7, "wheel_inertia": 5.0, "engine_inertia": 0.25,
    "final_drive": 3.9, "gear_ratios": [3.2, 1.9, 1.3, 1.0], "tire_circumference": 2.0,
}  # fmt: skip
FT2_A_M2, LBFT2_A_KGM2 = 10.7639, 23.7304
"""From 1 ft = 0.3048 m and 1 lb = 0.45359237 kg, both exact."""


@pytest.mark.parametrize(
    ("fact", "times", "asks"),
    [("drag_area", FT2_A_M2, "ft2"), ("drag_area", 1 / FT2_A_M2, "m2"), ("wheel_inertia", LBFT2_A_KGM2, "lb ft2"),
     ("engine_inertia", LBFT2_A_KGM2, "lb ft2")],
)  # fmt: skip
def test_a_number_in_another_unit_is_asked_about(fact, times, asks):
    unit = "m^2" if fact == "drag_area" else "kg m^2"
    (told,) = tell_facts_unlike_each_other(Car(**{**SALOON, fact: f"{SALOON[fact] * times} {unit}"}))
    assert told.code == "fact-unlikely" and told.level == "caution"
    assert f"{asks}?" in told.text and told.where == fact


@pytest.mark.parametrize(
    "other",
    [{}, {"mass": 290.0, "drag_area": 0.45, "wheel_inertia": 1.2, "engine_inertia": 0.03, "tire_circumference": 1.95},
     {"mass": 7000.0, "drag_area": "7 m^2", "wheel_inertia": "60 kg m^2", "engine_inertia": 3.0,
      "tire_circumference": 3.2}],
)  # fmt: skip
def test_saloons_motorcycles_and_trucks_are_not_asked(other):
    # common practice, no source: a light motorcycle with its rider, and a road tractor without its trailer
    assert tell_facts_unlike_each_other(Car(**{**SALOON, **other})) == []


def test_what_is_not_given_is_not_held():
    assert tell_facts_unlike_each_other(Car(name="bare")) == []
    assert tell_facts_unlike_each_other(Car(name="heavy wheels", wheel_inertia="90 kg m^2", mass=1000.0)) == []
