"""Hottest less coldest exhaust temperature. Evidence: hand, on three cylinders of five samples, and in closed form."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.engine.exhaust import EXHAUST_SPREAD, exhaust_temperatures, find_exhaust_spread, why_no_spread

NAN = np.nan
TIME = np.arange(5.0)


def egt(number, values, *, time=TIME, log=0, rate_hz=1.0):
    name = f"exhaust_temperature_{number}" if number else "exhaust_temperature"
    values = np.asarray(values, dtype=float)
    return Channel(name, f"EGT {number}", "K", "degC", np.asarray(time, float), values, rate_hz, log=log)


def spread(*channels):
    return find_exhaust_spread(Traces(channels))


THREE = (
    egt(1, [900.0, 950.0, 1000.0, 1050.0, 1100.0]),
    egt(2, [880.0, 910.0, 940.0, 970.0, 1000.0]),  # lags: it rises 30 K a sample where the first rises 50
    egt(3, [890.0, 960.0, NAN, NAN, 990.0]),
)


def test_hottest_less_coldest_of_three_one_lagging_and_one_partly_unknown():
    # Hand: 900-880, 960-910, then without the third 1000-940 and 1050-970, then 1100-990
    got = spread(*THREE)
    assert got.spread_k.tolist() == [20.0, 50.0, 60.0, 80.0, 110.0]
    assert [got.cylinders[place].name[-1] for place in got.hottest] == ["1", "3", "1", "1", "1"]
    assert [got.cylinders[place].name[-1] for place in got.coldest] == ["2", "2", "2", "2", "3"]
    assert got.known.tolist() == [3, 3, 2, 2, 3]


def test_words_name_the_two_and_how_many_were_known():
    got = spread(*THREE)
    assert got.words_at(1.0) == "hottest exhaust temperature 3, coldest exhaust temperature 2"
    assert got.words_at(3.0).endswith("coldest exhaust temperature 2, of 2 known out of 3")
    assert got.words_at(99.0) == ""


def test_fewer_than_two_known_is_unknown():
    got = spread(egt(1, [900.0, NAN, NAN, 900.0, NAN]), egt(2, [800.0, 800.0, NAN, NAN, 850.0]))
    assert got.spread_k.tolist() == pytest.approx([100.0, NAN, NAN, NAN, NAN], nan_ok=True)
    assert got.hottest.tolist() == [0, -1, -1, -1, -1]
    assert got.words_at(1.0) == ""


def test_inputs_are_not_written_to():
    before = [channel.values.copy() for channel in THREE]
    spread(*THREE)
    assert all(np.array_equal(old, one.values, equal_nan=True) for old, one in zip(before, THREE, strict=True))


def test_equal_cylinders_have_no_spread_and_a_common_shift_changes_nothing():
    same = egt(1, THREE[0].values), egt(2, THREE[0].values)
    assert spread(*same).spread_k.tolist() == [0.0] * 5
    warmer = [egt(number, channel.values + 100.0) for number, channel in enumerate(THREE, 1)]
    np.testing.assert_array_equal(spread(*warmer).spread_k, spread(*THREE).spread_k)


@pytest.mark.parametrize("tau_s", [(0.5, 0.7), (0.3, 1.1)])
def test_probes_that_lag_differently_in_equal_gas_show_a_spread_of_rate_times_lag(tau_s):
    # Hand: a first-order probe in gas that rises by r settles r x tau below it; r = 200 K/s
    time = np.arange(0.0, 12.0, 0.05)
    probes = [egt(n, 800 + 200 * (time - tau * (1 - np.exp(-time / tau))), time=time) for n, tau in enumerate(tau_s, 1)]
    assert spread(*probes).spread_k[-1] == pytest.approx(200.0 * (tau_s[1] - tau_s[0]), abs=0.1)


def test_the_moments_are_those_of_the_slowest():
    # Hand: the fast one is read at whole seconds; its peak between them is another moment
    fast = egt(1, [900.0, 990.0, 900.0, 990.0, 900.0], time=TIME / 2, rate_hz=2.0)
    got = spread(fast, egt(2, [850.0, 850.0, 850.0], time=[0.0, 1.0, 2.0]))
    assert got.time_s.tolist() == [0.0, 1.0, 2.0] and got.spread_k.tolist() == [50.0, 50.0, 50.0]


def test_samples_at_other_times_are_read_between_neighbours():
    # Hand: both rise 10 K/s, 100 K apart at the same row, and the second is logged half a second later
    late = egt(2, [900.0, 910.0, 920.0, 930.0], time=[0.5, 1.5, 2.5, 3.5])
    got = spread(egt(1, [1000.0, 1010.0, 1020.0, 1030.0, 1040.0]), late)
    assert got.spread_k.tolist() == pytest.approx([NAN, 105.0, 105.0, 105.0, NAN], nan_ok=True)


def test_where_the_slowest_is_silent_the_others_go_on():
    time = np.arange(0.0, 10.0, 0.1)
    slow = egt(3, np.full(5, 700.0), time=np.arange(5.0))
    got = spread(egt(1, np.full(100, 900.0), time=time), egt(2, np.full(100, 880.0), time=time), slow)
    assert set(got.spread_k[got.time_s <= 4.0]) == {200.0}
    later = got.time_s > 4.0
    assert set(got.spread_k[later]) == {20.0} and got.time_s[-1] == pytest.approx(9.9)


def test_a_hole_between_samples_is_not_bridged():
    holed = np.concatenate([np.arange(0.0, 2.0, 0.1), np.arange(6.0, 8.0, 0.1)])
    whole = egt(1, np.full(8, 900.0), time=np.arange(0.05, 8.0))
    got = spread(whole, egt(2, np.full(40, 850.0), time=holed))
    inside = (got.time_s > 2.0) & (got.time_s < 6.0)
    assert inside.any() and np.isnan(got.spread_k[inside]).all()


def test_one_without_a_number_stands_for_no_cylinder_and_one_number_counts_once():
    collector, one, again = egt(0, THREE[0].values), egt(1, THREE[1].values), egt(1, THREE[2].values, log=1)
    assert exhaust_temperatures(Traces((collector, one, again))) == [one]
    assert spread(collector, one, again) is None


def test_one_that_is_hardly_ever_logged_does_not_thin_the_others_out():
    rare = egt(3, [300.0, 300.0], time=[0.0, 4.0])
    assert spread(*THREE, rare).spread_k.tolist() == spread(*THREE).spread_k.tolist()
    assert spread(THREE[0], rare) is None
    assert "every 2 s" in why_no_spread(Traces((THREE[0], rare)))


@pytest.mark.parametrize(("channels", "held"), [((), "none"), (THREE[:1], "only exhaust_temperature_1")])
def test_too_few_say_what_there_is(channels, held):
    assert why_no_spread(Traces(channels)).endswith(f"the log holds {held}")


def test_as_a_channel_it_is_a_difference_in_kelvin():
    got = spread(egt(1, THREE[0].values, rate_hz=10.0), egt(2, THREE[1].values, rate_hz=4.0)).channel
    assert (got.name, got.unit, got.rate_hz) == (EXHAUST_SPREAD, "delta_K", 4.0)
    assert got.values.tolist() == [20.0, 40.0, 60.0, 80.0, 100.0]
