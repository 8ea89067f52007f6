"""Gauge boost from what a log holds: its own channel, or absolute pressure less one of three. Planted by hand."""

import numpy as np
import pytest

from passband.analysis.air.day import measure_air
from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Air
from passband.analysis.results.boost import BoostBasis
from passband.analysis.sensors.boost_trace import BoostTrace, find_boost

AIR = measure_air(Air(temperature=293.15, pressure=101e3, relative_humidity=0.5), Traces())
NO_AIR = measure_air(Air(temperature=293.15), Traces())


def channel(name, time, values, unit="Pa"):
    return Channel(name, name, unit, "", np.asarray(time), np.asarray(values), 50.0)


def test_gauge_is_taken_as_logged():
    got = find_boost(Traces((channel("boost", np.arange(5.0), np.full(5, 180e3)),)), AIR)
    assert got.basis == "gauge as logged" and got.boost_pa[0] == 180e3 and got.barometer_pa == 101e3


def test_absolute_less_barometer_then_air_given_then_its_own_rest():
    time = np.arange(0.0, 10.0, 0.05)
    absolute = channel("manifold_pressure", time, np.where(time < 2, 98e3, 250e3))
    stands = channel("engine_speed", time, np.where(time < 2, 0.0, 6000.0), "rpm")
    baro = channel("barometer", time, np.full(time.size, 99e3))
    for traces, air, want in (
        (Traces((absolute, stands, baro)), AIR, 151e3),
        (Traces((absolute, stands)), AIR, 149e3),
        (Traces((absolute, stands)), NO_AIR, 152e3),
    ):
        assert find_boost(traces, air).boost_pa[-1] == pytest.approx(want)


def test_absolute_alone_is_left_out_and_says_what_is_needed():
    why = find_boost(Traces((channel("manifold_pressure", np.arange(5.0), np.full(5, 2e5)),)), NO_AIR).reason
    assert why.code == "boost-without-barometer" and "air pressure" in why.text
    assert find_boost(Traces(), AIR).reason.code == "boost-not-logged"


def test_a_naturally_breathing_engine_is_not_boosted():
    time = np.arange(0.0, 8.0, 0.02)
    blown = np.where(time < 4.0, 20e3, 10e3)
    assert BoostTrace(time, blown, BoostBasis.AS_LOGGED, None, "boost").boosted(0.0, 8.0)
    assert not BoostTrace(time, np.full(time.size, -2e3), BoostBasis.AS_LOGGED, None, "boost").boosted(0.0, 8.0)


def test_samples_that_are_not_to_be_believed_are_left_out():
    trace = BoostTrace(np.arange(3.0), np.array([1e5, np.nan, 2e5]), BoostBasis.AS_LOGGED, None, "boost")
    assert trace.known.time_s.tolist() == [0.0, 2.0] and trace.known.boost_pa.tolist() == [1e5, 2e5]
    assert trace.within(1.0, 2.0).time_s.tolist() == [1.0, 2.0]
