"""Logs that share no engine speed, laid over each other by speed: planted offsets, no speed no place."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.clocks.speed_match import match_by_speed
from passband.analysis.given.car import Car
from tests.analysis.two_loggers import CAR, between, dash_log, ecu_log, visit, without

RUN = visit()
ECU = ecu_log(RUN)
OFFSET_S = 3.0


def dash(*missing, run=RUN, **how):
    return without(dash_log(run, copy=False, rate_ppm=0.0, **how), *missing)


def off_in_sigmas(match, offset_s=OFFSET_S):
    return (match.offset_s - offset_s) / match.sigma_s


@pytest.mark.parametrize("ecu_hz, dash_hz", [(25.0, 25.0), (50.0, 100.0), (100.0, 50.0), (500.0, 200.0)])
@pytest.mark.parametrize("noise", [0.0, 1.0, 3.0])
def test_the_planted_offset_is_found_within_twice_its_deviation(ecu_hz, dash_hz, noise):
    # Planted: driven tire 25 ms late in the ECU's log, undriven wheel 27 ms late in the dash's
    best = match_by_speed(ecu_log(RUN, rate_hz=ecu_hz), dash(rate_hz=dash_hz, noise=noise), car=CAR)[0]
    assert abs(off_in_sigmas(best)) < 2.0 and best.sigma_s < 0.05
    assert best.channels == ("wheel_speed_driven", "wheel_speed_fl")


def test_against_gps_alone_it_is_found_and_less_sure():
    by_wheel, by_gps = (match_by_speed(ECU, each, car=CAR)[0] for each in (dash(), dash("wheel_speed_fl")))
    assert by_gps.channels[1] == "gps_speed"
    assert abs(off_in_sigmas(by_gps)) < 2.0 and by_gps.sigma_s > by_wheel.sigma_s


def test_against_engine_speed_it_is_among_the_places_and_less_sure():
    # An engine falls at every shift where the car does not: the best place may be a shift off, and torque cuts choose
    places = match_by_speed(without(ECU, "wheel_speed_driven"), dash(), car=CAR)
    assert {place.channels[0] for place in places} == {"engine_speed"}
    assert min(abs(off_in_sigmas(place)) for place in places) < 2.0
    assert places[0].sigma_s > match_by_speed(ECU, dash(), car=CAR)[0].sigma_s
    assert places[0].disagreement > 0.3


@pytest.mark.parametrize("offset_s", [-40.0, -2.0, 6.0])
def test_the_offset_is_found_wherever_the_logs_begin(offset_s):
    best = match_by_speed(ECU, dash(offset_s=offset_s), car=CAR)[0]
    assert abs(off_in_sigmas(best, offset_s)) < 2.0


def test_the_answer_moves_with_the_other_clock():
    # Time shifted by 2 s
    log = dash()
    later = replace(log, channels=tuple(replace(one, time_s=one.time_s + 2.0) for one in log.channels))
    first, second = (match_by_speed(ECU, each, car=CAR)[0] for each in (log, later))
    assert second.offset_s == pytest.approx(first.offset_s - 2.0, abs=0.005)
    assert second.pivot_s == pytest.approx(first.pivot_s + 2.0, abs=0.05)


@pytest.mark.parametrize("scale", [0.9, 1.2])
def test_neither_gearing_nor_circumference_is_needed(scale):
    # A speed that reads wrong by a factor has the same logarithm's slope
    log = dash()
    wrong = replace(log, channels=tuple(replace(one, values=scale * one.values) for one in log.channels))
    first, second = (match_by_speed(ECU, each, car=CAR)[0] for each in (log, wrong))
    assert second.offset_s == pytest.approx(first.offset_s, abs=0.01)


def test_places_are_told_best_first_and_apart():
    two = visit(runs=2)
    places = match_by_speed(ecu_log(two), dash(run=two), car=CAR)
    worse = [place.disagreement for place in places]
    assert len(places) > 1 and worse == sorted(worse) and 0.0 <= worse[0] < 0.3
    gaps = np.diff(sorted(place.offset_s for place in places))
    assert (gaps > 0.3).all()


def test_another_pull_agrees_less():
    same = match_by_speed(ECU, dash(), car=CAR)[0].disagreement
    other = match_by_speed(ECU, dash(run=visit(pull_mps2=8.0, shift_rpm=7600.0)), car=CAR)[0].disagreement
    assert other > same + 0.1


def test_the_driven_axle_tells_which_wheel_is_taken():
    # Planted: both front wheels in the dash's log; a front-driven car's own are its last choice
    front = Car(name="planted", driven_axle="front", transmission="clutch")
    assert match_by_speed(ECU, dash(), car=front)[0].channels[1] == "gps_speed"


def slowed(log, factor):
    return replace(log, channels=tuple(replace(one, values=factor * one.values) for one in log.channels))


@pytest.mark.parametrize(
    "ecu, other",
    [
        (ECU, dash("gps_speed", "wheel_speed_fl")),
        (without(ECU, "engine_speed", "wheel_speed_driven"), dash()),
        (ECU, slowed(dash(), 0.02)),
        (ECU, slowed(dash(), np.nan)),
        (ECU, between(dash(), 0.0, 4.0)),
    ],
    ids=["no speed in the dash", "no speed in the ECU", "a walking pace", "no value", "no pull"],
)
def test_without_a_pull_in_both_there_is_no_place(ecu, other):
    assert match_by_speed(ecu, other, car=CAR) == []


def test_a_steady_speed_says_nothing_of_time():
    log = dash()
    steady = replace(log, channels=tuple(replace(one, values=np.full_like(one.values, 30.0)) for one in log.channels))
    assert match_by_speed(ECU, steady, car=CAR) == []


def test_what_it_is_given_is_left_as_it_was():
    log = dash()
    before = [one.values.copy() for one in (*ECU.channels, *log.channels)]
    match_by_speed(ECU, log, car=CAR)
    for then, now in zip(before, (*ECU.channels, *log.channels), strict=True):
        np.testing.assert_array_equal(then, now.values)
