"""From a user's word to channels. Evidence: hand. What stands in for boost is in `test_limits.py`."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.engine.channels_meant import Logged, channels_meant, name_meant
from passband.analysis.reading import read_log

TIME = np.arange(10.0)


def channel(name, level, unit="K", header=None):
    return Channel(name, header or name, unit, unit, TIME, np.full(TIME.size, float(level)), 1.0)


CYLINDERS = (channel("exhaust_temperature_1", 1000.0), channel("exhaust_temperature_2", 940.0))


@pytest.mark.parametrize(
    "text",
    [
        "exhaust_temperature_spread", "exhaust temperature spread", "EGT spread", "egt_spread", "EGTs spread",
        "Exhaust gas temperature spread", "Exhaust temperature spread between cylinders",
        "Spread of exhaust temperatures", "exhaust temperature difference between the cylinders",
    ],
)  # fmt: skip
def test_plain_aliases_of_the_spread(text):
    assert name_meant(text) == "exhaust_temperature_spread"


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("EGT", "exhaust_temperature"),
        ("EGT 3", "exhaust_temperature_3"),
        ("EGT 3 spread", "EGT 3 spread"),
        ("EGT spread target", "EGT spread target"),
        ("oil temperature spread", "oil temperature spread"),
        ("spread", "spread"),
    ],
)
def test_what_is_no_spread_of_exhaust_temperatures(text, name):
    assert name_meant(text) == name


def test_the_cylinders_own_temperatures_go_before_a_spread_that_a_logger_made():
    logged = channel("exhaust_temperature_spread", 700.0, "delta_K"), channel("EGT Spread", 700.0, "degC")
    (got,) = channels_meant("EGT spread", Logged(Traces((*logged, *CYLINDERS))))
    assert got.name == "exhaust_temperature_spread" and set(got.values) == {60.0}


@pytest.mark.parametrize(("unit", "value_k"), [("degC", 90.0), ("°F", 50.0), ("K", 90.0)])
def test_a_spread_that_only_a_logger_made_is_a_difference_in_its_own_unit(unit, value_k):
    # Hand: 90 degF of difference are 50 K
    (got,) = channels_meant("EGT spread", Logged(Traces((CYLINDERS[0], channel("EGT Spread", 90.0, unit)))))
    assert (got.name, got.unit) == ("exhaust_temperature_spread", "delta_K")
    assert got.values == pytest.approx(value_k)


def test_a_loggers_spread_without_a_unit_keeps_its_bare_numbers():
    (got,) = channels_meant("EGT spread", Logged(Traces((channel("EGT Spread", 90.0, ""),))))
    assert (got.name, got.unit, got.values[0]) == ("EGT Spread", "", 90.0)


def test_a_spread_read_from_a_log_by_its_full_name_is_a_difference():
    # Hand: 18 degF of difference are 10 K, and 36 are 20
    rows = "".join(f"{n / 10},{3000 + n},{18 + 18 * (n % 2)}\n" for n in range(40))
    log = read_log(f"Time [s],Engine Speed [rpm],Exhaust Temperature Spread [°F]\n{rows}".encode(), name="ecu.csv")[0]
    (got,) = channels_meant("EGT spread", Logged(Traces(log.channels)))
    assert (got.name, got.unit) == ("exhaust_temperature_spread", "delta_K")
    assert sorted(set(got.values.round(9))) == [10.0, 20.0]


def test_a_recognised_one_is_taken_and_nothing_is_nothing():
    logged = channel("exhaust_temperature_spread", 70.0, "delta_K")
    assert channels_meant("EGT spread", Logged(Traces((logged,)))) == [logged]
    assert channels_meant("EGT spread", Logged(Traces(CYLINDERS[:1]))) == []
