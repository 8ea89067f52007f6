"""What was told otherwise of a car at two of its runs, as its page says it."""

from __future__ import annotations

import pytest

from passband.service.cars.car_between import in_one_unit


@pytest.mark.parametrize(
    ("fact", "now", "was", "told"),
    [  # by hand: 76.5 in = 1.9431 m, 2450 lb = 1111.3 kg
        ("tire_circumference", "76.5 in", "1.9225 m", "1.9431 m, 1.9225 m"),
        ("tire_circumference", "76.5 in", "75,9 in", "76.5 in, 75,9 in"),
        ("mass", "2450 lb +- 2 lb", "2460 lb", "2450 lb +- 2 lb, 2460 lb"),
        ("mass", 1100, "2450 lb", "1100 kg, 1111.3 kg"),
        ("gear_ratios", [2.0, 1.5], [2.1, 1.5], "2/1.5, 2.1/1.5"),
    ],
)
def test_two_facts_stand_in_one_unit(fact, now, was, told):
    first, second = {fact: now}, {fact: was}
    assert f"{in_one_unit(fact, first, second)}, {in_one_unit(fact, second, first)}" == told
