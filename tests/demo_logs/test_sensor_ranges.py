"""The ranges that sensors are drawn from: the wide set holds the usual one, and each says what it rests on."""

from __future__ import annotations

import numpy as np
import pytest

from passband.demo_logs.loggers import UNITS
from passband.demo_logs.proving import plan_case
from passband.demo_logs.sensor_ranges import SETS, USUAL, WIDE, range_of
from passband.demo_logs.sensor_sets import dash_sensors, ecu_sensors, make_sensor

COUNTED = {"uws", "dws", "dsh"}
"""Late by teeth in the wide set: their own time is what electronics add."""


@pytest.mark.parametrize("quantity", sorted(USUAL))
def test_the_wide_set_holds_the_usual_one(quantity: str) -> None:
    usual, wide = USUAL[quantity], WIDE[quantity]
    if quantity in COUNTED:
        assert min(wide.teeth) <= 4 and wide.turn > 0
        return
    for narrow, broad in ((usual.latency_s, wide.latency_s), (usual.lag_s, wide.lag_s)):
        assert broad[0] <= narrow[0] <= narrow[1] <= broad[1]
    assert wide.noise >= usual.noise


@pytest.mark.parametrize("name", SETS)
def test_every_range_says_what_it_rests_on(name: str) -> None:
    assert all(each.source for each in SETS[name].values())
    assert all(0 <= low <= high for each in SETS[name].values() for low, high in (each.latency_s, each.lag_s))


def test_the_wide_set_is_as_wide_as_what_comes_through_the_gate() -> None:
    # Hand: GPS 1 to 25 Hz and 0.05 to 0.4 s late, wheels of 4 to 60 teeth, copies prompt or a tenth of a second old
    gps, wheel = WIDE["gps"], WIDE["uws"]
    assert (min(gps.rate_hz), max(gps.rate_hz)) == (1.0, 25.0)
    assert gps.latency_s[0] + gps.lag_s[0] == pytest.approx(0.05) and sum((gps.latency_s[1], gps.lag_s[1])) == 0.4
    assert (min(wheel.teeth), max(wheel.teeth)) == (4, 60)
    assert WIDE["rpm2"].latency_s == (0.0, 0.1)


@pytest.mark.parametrize("name", SETS)
def test_sensors_lie_inside_their_ranges(name: str) -> None:
    ranges = SETS[name]
    for seed in range(20):
        rng = np.random.default_rng(seed)
        for sensor in [*ecu_sensors(("rpm", "map", "egt1", "dws", "dsh"), "bar", rng, ranges),
                       *dash_sensors(rng, ranges, taste="metric")]:  # fmt: skip
            if sensor.quantity == "sats":
                continue
            drawn = range_of(sensor.quantity, ranges)
            assert drawn.latency_s[0] <= sensor.latency_s <= drawn.latency_s[1]
            assert drawn.lag_s[0] <= sensor.lag_s <= drawn.lag_s[1]
            assert sensor.unit in UNITS
            assert (sensor.tooth > 0) == bool(drawn.teeth)
            if drawn.teeth:
                assert round(drawn.turn / sensor.tooth) in drawn.teeth


def test_the_usual_set_draws_what_it_always_drew() -> None:
    # By hand: one draw for the header's name of four, one for the delay, one for the filter, and none besides; the
    # sensors of logs that were made before stay as they are
    sensor = make_sensor("rpm", "metric", rng := np.random.default_rng(7))
    hand = np.random.default_rng(7)
    assert sensor.header == ("Engine Speed", "RPM", "Engine RPM", "Eng Speed")[int(hand.integers(4))]
    assert (sensor.latency_s, sensor.lag_s) == (hand.uniform(0.004, 0.009), hand.uniform(0.004, 0.010))
    assert rng.random() == hand.random()


def test_the_wide_set_draws_the_gps_rate_where_the_kind_leaves_it_open() -> None:
    rates = {plan_case("plain_rear_natural", seed, sensors="wide").dash["gps_hz"] for seed in range(30)}
    assert min(rates) == 1.0 and max(rates) == 25.0
    assert {plan_case("gps_5_hz", seed, sensors="wide").dash["gps_hz"] for seed in range(5)} == {5.0}


def test_but_for_its_sensors_a_wide_case_is_the_usual_one() -> None:
    usual, wide = plan_case("wheelspin", 3), plan_case("wheelspin", 3, sensors="wide")
    assert (usual.car, usual.runs, usual.offset_s, usual.ecu_hz) == (wide.car, wide.runs, wide.offset_s, wide.ecu_hz)
