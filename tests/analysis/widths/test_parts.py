"""Parts of a plus-minus."""

from __future__ import annotations

import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.widths.parts import is_of_device, of_devices, of_facts, of_method

PARTED = Estimate.parted(500.0, 3.0, {"device: pick-up lag": 4.0, "car: mass": 12.0, "day: air density": -5.0})


def test_facts_are_of_car_and_day_and_the_rest_is_of_sensors_and_method() -> None:
    # Hand: 12 and -5 are 13; 3 and 4 are 5; all are the root of 194
    assert of_facts(PARTED) == pytest.approx(13.0)
    assert of_method(PARTED) == pytest.approx(5.0)
    assert of_devices(PARTED) == pytest.approx(4.0)
    assert PARTED.plus_minus == pytest.approx(194.0**0.5)


def test_what_nobody_parted_is_all_of_the_method() -> None:
    assert (of_facts(Estimate(5.0, 2.0)), of_method(Estimate(5.0, 2.0)), of_devices(Estimate(5.0, 2.0))) == (0, 2.0, 0)


def test_a_cause_is_of_what_stands_before_its_colon() -> None:
    assert is_of_device("device: wheel scale")
    assert not is_of_device("car: device of the owner")
