"""Drive handed from one clutch pack to the next: planted by hand beside a torque cut that looks alike at first."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.edges import find_start
from passband.analysis.shifts.fall import find_fall
from passband.analysis.shifts.handover import start_of_handover

LATE_S = 0.0135
"""The pick-up's usual delay, planted as a pure one. [s]"""


def engine_of(corners_s, corners_rpm, rate_hz=100.0):
    """Engine speed along corners at true times, logged late."""
    time_s = np.arange(0.0, 2.0, 1.0 / rate_hz)
    rpm = np.interp(time_s - LATE_S, corners_s, corners_rpm)
    return read_engine_speed(Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, rate_hz),)))


def moved(pull_mps2, basis=SpeedBasis.GPS):
    """A car that pulls as said at each 5 ms."""
    time_s = np.arange(0.0, 2.0, 0.005)
    pull, one = pull_mps2 * np.ones(time_s.size), np.ones(time_s.size)
    speed = 20.0 + np.cumsum(pull) * 0.005
    return Motion(
        time_s=time_s, speed_mps=speed, speed_plus_minus_mps=one, acceleration_mps2=pull,
        acceleration_plus_minus_mps2=one, distance_m=np.cumsum(speed) * 0.005, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=one < 0.0, basis=basis, scale=None, wheelspin=(),
    )  # fmt: skip


HANDED = [0.0, 1.03, 1.13, 2.0], [4000.0, 7000.0, 5200.0, 7000.0]
"""Handed over from 1.000 s on; the old pack slips from 1.030 s, then an even fall of 100 ms. [s], [rpm]"""
CUT = [0.0, 1.0, 1.045, 1.065, 2.0], [4000.0, 7000.0, 6750.0, 5200.0, 7000.0]
"""Cut at 1.000 s, the engine sinks; dogs drag it down from 1.045 s within 20 ms. [s], [rpm]"""


def start_of(corners, motion, rate_hz=100.0):
    engine = engine_of(*corners, rate_hz)
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    this_gear = np.interp(engine.true_time_s, [0.0, 2.0], [4000.0, 9800.0])
    return find_start(engine, this_gear, Traces(()), motion, fall=fall, earliest_s=0.3)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_a_shift_handed_over_starts_before_engine_speed_turns(rate_hz):
    # Hand: drive begins to be handed over 30 ms before the engine turns
    start = start_of(HANDED, moved(5.0), rate_hz)
    assert abs(start.time_s - 1.0) <= start.plus_minus_s < 0.035
    assert start.time_s < 1.025


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_a_torque_cut_starts_where_engine_speed_bends(rate_hz):
    # Hand: the same motion, so that the fall alone tells
    assert start_of(CUT, moved(5.0), rate_hz).time_s == pytest.approx(1.0, abs=max(0.008, 0.6 / rate_hz))


def test_an_even_fall_of_a_car_that_lost_its_pull_was_cut():
    # Hand: none for 60 ms, as a dash without a gap shows it
    grid = np.arange(0.0, 2.0, 0.005)
    lost = moved(np.where((grid > 1.03) & (grid < 1.09), 0.0, 5.0))
    engine, turned = engine_of(*HANDED), Edge(1.03, 0.007, "engine_speed")
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    assert start_of_handover(engine, turned, fall, lost, felt=False) == turned
    assert start_of_handover(engine, turned, fall, moved(5.0), felt=False).time_s < turned.time_s
    by_engine = moved(lost.acceleration_mps2, SpeedBasis.ENGINE_SPEED)  # its pull is the engine's own fall
    assert start_of_handover(engine, turned, fall, by_engine, felt=False).time_s < turned.time_s


def test_a_pull_that_an_accelerometer_shows_to_stay_was_not_cut():
    # Hand: a fall that is not even, as where the bend before it is gentle
    engine, turned = engine_of(*CUT), Edge(1.0, 0.007, "engine_speed")
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    assert start_of_handover(engine, turned, fall, moved(5.0), felt=True).time_s < turned.time_s
    assert start_of_handover(engine, turned, fall, moved(5.0), felt=False) == turned


RESTED = [0.0, 1.0, 1.06, 1.16, 2.0], [4000.0, 7000.0, 6990.0, 5200.0, 7000.0]
"""Packs take the pull over from 1.000 s on: the engine stops rising; it turns down 60 ms later and falls evenly."""


def test_a_pull_that_goes_only_once_the_engine_is_down_was_not_cut():
    # Hand: dogs have it half-way at 1.056 s; what the car pulls with in the next gear is less than half
    engine, turned = engine_of(*CUT), Edge(1.0, 0.007, "engine_speed")
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    grid = np.arange(0.0, 2.0, 0.005)
    late, early = (moved(np.where(grid > from_s, 2.0, 5.0)) for from_s in (1.075, 1.03))
    assert start_of_handover(engine, turned, fall, late, felt=True).time_s < turned.time_s
    assert start_of_handover(engine, turned, fall, late, felt=False) == turned
    assert start_of_handover(engine, turned, fall, early, felt=True) == turned


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
@pytest.mark.parametrize("pull_mps2", [5.0, 0.0])
def test_packs_that_exchange_torque_bring_the_engine_to_rest_before_it_turns(rate_hz, pull_mps2):
    # Hand: 60 ms before; torque cut for the fall itself takes the pull and changes nothing of it
    grid = np.arange(0.0, 2.0, 0.005)
    pull = moved(np.where((grid > 1.06) & (grid < 1.16), pull_mps2, 5.0))
    start = start_of(RESTED, pull, rate_hz)
    assert abs(start.time_s - 1.0) <= start.plus_minus_s < 0.06
    assert start.time_s == pytest.approx(1.0, abs=max(0.012, 1.0 / rate_hz))


def test_an_engine_that_stands_on_its_limiter_is_at_no_start_before_it_turns():
    # Hand: level at 7,000 rpm for 0.3 s, cut at 1.06 s
    limited = [0.0, 0.76, 1.06, 1.16, 2.0], [4000.0, 7000.0, 7000.0, 5200.0, 7000.0]
    assert start_of(limited, moved(5.0)).time_s > 1.03


def test_the_plus_minus_holds_what_engine_speed_and_the_packs_leave_open():
    # Hand: root of 7 and 24 ms squared
    engine, turned = engine_of(*HANDED), Edge(1.03, 0.007, "engine_speed")
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    assert start_of_handover(engine, turned, fall, moved(5.0), felt=False).plus_minus_s == pytest.approx(
        0.025, abs=1e-4
    )


def test_packs_that_slide_for_a_quarter_of_a_second_are_seen_from_where_the_engine_left_its_gear():
    # Hand: turned at 1.000 s, sliding down for 200 ms, the last third of the fall in the last 50: at 100 Hz
    sliding = [0.0, 1.0, 1.2, 1.25, 2.0], [4000.0, 7000.0, 6300.0, 5200.0, 7000.0]
    start = start_of(sliding, moved(5.0))
    assert abs(start.time_s - 1.0) <= start.plus_minus_s


def test_a_cut_less_sharp_than_the_dogs_is_the_start_if_the_engine_sinks_ever_since():
    # Hand: bent by 4,500 rpm/s at 1.000 s, dragged down from 1.045 s on; a limiter's bounce 50 ms before comes back
    gentle = [0.0, 1.0, 1.045, 1.065, 2.0], [5500.0, 7000.0, 6865.0, 5200.0, 7000.0]
    bounced = [0.0, 0.93, 0.945, 0.96, 1.0, 1.045, 1.065, 2.0], [5605.0, 7000.0, 6940.0, 7000.0, *gentle[1][1:]]
    for corners in (gentle, bounced):
        assert start_of(corners, moved(5.0)).time_s == pytest.approx(1.0, abs=0.012)


def leapt(throttle):
    """By hand: the clutch opens at 1.000 s, the engine leaps by 6 %, and falls into the next gear from 1.15 s on."""
    corners = [0.0, 1.0, 1.04, 1.15, 1.25, 2.0], [5500.0, 7000.0, 7420.0, 7400.0, 5200.0, 6200.0]
    engine = engine_of(*corners)
    grid = np.arange(0.0, 2.0, 0.005)
    motion = moved(np.where((grid > 1.0) & (grid < 1.17), -0.5, 5.0))
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    this_gear = np.interp(engine.true_time_s, [0.0, 1.0, 2.0], [5500.0, 7000.0, 7000.0])
    return find_start(engine, this_gear, throttle, motion, fall=fall, earliest_s=0.3)


def test_a_clutch_let_go_with_the_foot_down_starts_where_the_engine_leaps():
    # Hand: with the throttle seen to stay no lift went before; unseen, one may have
    grid = np.arange(0.0, 2.0, 0.01)
    flat = Traces((Channel("throttle", "TPS", "", "", grid, np.ones(grid.size), 100.0),))
    seen, unseen = leapt(flat), leapt(Traces(()))
    assert abs(seen.time_s - 1.0) <= seen.plus_minus_s < 0.02
    assert unseen.time_s < seen.time_s - 0.03
    assert unseen.plus_minus_s > 0.035


def test_an_engine_that_leaves_its_driven_wheels_is_let_go_though_the_tires_spin():
    # Hand: tires spin until 1.1 s and push the car on; by the wheels the engine leaps away from them at 1.000 s
    corners = [0.0, 1.0, 1.04, 1.15, 1.25, 2.0], [5500.0, 7000.0, 7420.0, 7400.0, 5200.0, 6200.0]
    engine = engine_of(*corners)
    grid = np.arange(0.0, 2.0, 0.005)
    spun = moved(np.where((grid > 1.1) & (grid < 1.17), -0.5, 5.0))
    object.__setattr__(spun, "spinning", grid < 1.1)
    fall = find_fall(engine, np.full(engine.rpm.size, 6100.0), earliest_s=0.5, latest_s=1.5)
    wheels = np.interp(engine.true_time_s, [0.0, 1.0, 1.1, 1.2, 2.0], [5500.0, 7000.0, 2000.0, 8000.0, 9000.0])
    by_wheel, by_ground = (
        find_start(engine, wheels, Traces(()), spun, fall=fall, earliest_s=0.3, by_ground=by_ground)
        for by_ground in (False, True)
    )
    assert abs(by_wheel.time_s - 1.0) <= by_wheel.plus_minus_s
    assert by_ground.time_s > 1.05
