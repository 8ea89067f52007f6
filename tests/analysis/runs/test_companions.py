"""What stands beside a cost, and what is said of pairs that are not quite alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.results.review import CarFacts
from passband.analysis.runs.companions import Pair, lifted_s, watch
from passband.analysis.runs.companions import measure_companions as measure_watched
from passband.analysis.runs.cost import compare_costs
from tests.analysis.runs.planted_engine import engine_run
from tests.analysis.runs.planted_pair import planted_run


def measure_companions(base, other, **where):
    return measure_watched(watch(base), watch(other), **where)


def with_channel(run, **channels):
    return replace(run, channels=dict(channels))


def pedal(run, *, off_s=()):
    throttle = np.ones(run.time_s.size)
    for start, stop in off_s:
        throttle[(run.time_s >= start) & (run.time_s < stop)] = 0.1
    return with_channel(run, throttle=throttle)


def test_a_lift_stands_beside_the_part_it_was_on():
    # Planted: the foot is off for 0.3 s from 5 s on
    base, other = pedal(planted_run()), pedal(planted_run("other"), off_s=((5.0, 5.3),))
    at_m = float(np.interp(5.1, other.time_s, other.distance_m))
    got = measure_companions(base, other, kind="gear", name="gear 2", from_m=at_m - 20.0, to_m=at_m + 20.0)
    assert got.lift_s.base == 0.0 and got.lift_s.other == pytest.approx(0.3, abs=0.011)
    elsewhere = measure_companions(base, other, kind="gear", name="gear 1", from_m=10.0, to_m=30.0)
    assert elsewhere.lift_s is None


@pytest.mark.parametrize(("off_s", "wanted"), [(0.11, 0.0), (0.14, 0.14)])
def test_a_lift_shorter_than_a_linkage_bounces_is_none(off_s, wanted):
    run = pedal(planted_run(), off_s=((5.0, 5.0 + off_s),))
    assert lifted_s(run, 0.0, 402.0) == pytest.approx(wanted, abs=0.011)


def test_the_lift_that_ends_the_run_is_none():
    run = planted_run()
    end_s = float(np.interp(402.2, run.distance_m, run.time_s))
    assert lifted_s(pedal(run, off_s=((end_s - 0.2, end_s + 5.0),)), 0.0, 402.0) == 0.0


def test_without_a_throttle_nothing_is_said_of_lifts():
    assert lifted_s(planted_run(), 0.0, 402.0) is None


def test_boost_lost_is_told_of_a_boosted_engine_only():
    base, other = planted_run(), planted_run("other")
    full, less = np.full(base.time_s.size, 80e3), np.full(other.time_s.size, 60e3)
    where = {"kind": "gear", "name": "gear 2", "from_m": 60.0, "to_m": 140.0}
    got = measure_companions(with_channel(base, boost=full), with_channel(other, boost=less), **where)
    assert got.boost_pa == Pair(pytest.approx(80e3), pytest.approx(60e3))
    none = measure_companions(with_channel(base, boost=full - 81e3), with_channel(other, boost=less - 65e3), **where)
    assert none.boost_pa is None


def test_a_run_on_the_limiter_says_how_long():
    # Planted: 4000 rpm/s up to 9000 rpm, then held there from 7 s to 8 s
    run = planted_run()
    rpm = np.where(run.time_s < 7.0, 9000.0 - 4000.0 * (7.0 - run.time_s), 9000.0)
    rpm = np.where(run.time_s > 8.0, 7000.0, rpm)
    got = measure_companions(run, with_channel(run, engine_speed=rpm), kind="gear", name="", from_m=160.0, to_m=402.0)
    assert got.limiter_s is None  # one of the two logs no engine speed
    held = with_channel(run, engine_speed=rpm)
    free = with_channel(run, engine_speed=np.where(run.time_s < 7.0, rpm, 9000.0 - 2000.0 * (run.time_s - 7.0)))
    got = measure_companions(free, held, kind="gear", name="", from_m=160.0, to_m=402.0)
    assert got.limiter_s.other == pytest.approx(1.0, abs=0.15)


def codes(base, other):
    return {finding.code for finding in compare_costs(base, other).findings}


def test_another_car_another_tire_and_other_air_are_said():
    rng = np.random.default_rng(1)
    base, other = engine_run("a", rng), engine_run("b", rng)
    assert codes(base, other) == set()
    foreign = replace(other, review=replace(other.review, car=CarFacts("another")))
    assert "runs-of-two-cars" in codes(base, foreign)
    tires = replace(base, tire_circumference_m=2.1), replace(other, tire_circumference_m=2.15)
    assert "runs-on-other-tires" in codes(*tires)
    density = replace(other.review.air.density_kgpm3, value=1.15)
    thin = replace(other, review=replace(other.review, air=replace(other.review.air, density_kgpm3=density)))
    assert "runs-in-other-air" in codes(base, thin)
