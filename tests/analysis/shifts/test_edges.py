"""Edges of a shift in engine speed: the fall, the kink before it, the carry after it."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.edges import Began, find_carry, find_freed, find_start
from passband.analysis.shifts.fall import find_fall, find_fall_by_depth
from passband.analysis.shifts.kink import find_kink
from tests.analysis.planted_run import RATIOS, Logger, plant_run


def engine_of(time_s, rpm, rate_hz=100.0):
    return read_engine_speed(Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, rate_hz),)))


def stepped(rate_hz=100.0):
    """8000 rpm rising by 2000 rpm/s, from 1.000 s down to 6000 within 50 ms, then rising by 1500 rpm/s."""
    time_s = np.arange(0.0, 2.0, 1.0 / rate_hz)
    before, after = 8000.0 + 2000.0 * (time_s - 1.0), 6000.0 + 1500.0 * (time_s - 1.05)
    share = np.clip((time_s - 1.0) / 0.05, 0, 1)
    return time_s, np.where(time_s < 1.05, before * (1 - share) + 6000.0 * share, after)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 500.0])
def test_the_fall_is_found_half_way_and_at_its_bottom(rate_hz):
    time_s, rpm = stepped(rate_hz)
    fall = find_fall(engine_of(time_s, rpm, rate_hz), np.full(time_s.size, 7000.0), earliest_s=0.5, latest_s=1.5)
    assert (fall.middle_s, fall.bottom_s) == (pytest.approx(1.025, abs=0.01), pytest.approx(1.05, abs=1.1 / rate_hz))


def test_a_dip_that_comes_back_is_no_fall():
    time_s, rpm = stepped()
    dipped = np.where((time_s > 0.6) & (time_s < 0.635), 6500.0, rpm)
    fall = find_fall(engine_of(time_s, dipped), np.full(time_s.size, 7000.0), earliest_s=0.4, latest_s=1.5)
    assert fall.middle_s == pytest.approx(1.025, abs=0.01)


def test_no_fall_no_shift():
    time_s = np.arange(0.0, 2.0, 0.01)
    engine = engine_of(time_s, 6000.0 + 1000.0 * time_s)
    assert find_fall(engine, np.full(time_s.size, 5000.0), earliest_s=0.0, latest_s=2.0) is None


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 500.0])
def test_the_kink_is_where_the_slope_turns_down(rate_hz):
    time_s, rpm = stepped(rate_hz)
    edge = find_kink(engine_of(time_s, rpm, rate_hz), earliest_s=0.9, latest_s=1.03)
    # the pick-up's usual delay is taken off; this one had none
    assert edge.time_s == pytest.approx(1.0 - 0.008, abs=max(0.008, 0.6 / rate_hz))


def test_a_straight_pull_has_no_kink():
    time_s = np.arange(0.0, 2.0, 0.01)
    assert find_kink(engine_of(time_s, 6000.0 + 1000.0 * time_s), earliest_s=0.5, latest_s=1.5) is None


def test_a_bend_up_is_a_kink_only_where_asked_for():
    time_s = np.arange(0.0, 2.0, 0.01)
    engine = engine_of(time_s, 6000.0 + 1000.0 * time_s + 6000.0 * np.maximum(time_s - 1.0, 0))
    assert find_kink(engine, earliest_s=0.8, latest_s=1.2) is None
    assert find_kink(engine, earliest_s=0.8, latest_s=1.2, either_way=True).time_s == pytest.approx(0.99, abs=0.02)


def test_the_next_gear_carries_where_engine_and_wheels_meet():
    run = plant_run(logger=Logger(rate_hz=200.0))
    engine = read_engine_speed(run.traces)
    planted = run.shifts[0]
    speed = np.interp(engine.true_time_s, run.motion.time_s, run.motion.speed_mps)
    first, second = (60.0 * ratio * 4.1 / 2.1 * 1.015 * speed for ratio in RATIOS[:2])
    fall = find_fall(engine, np.sqrt(first * second), earliest_s=2.0, latest_s=2.5)
    assert find_carry(engine, second, fall=fall).time_s == pytest.approx(planted.end_s, abs=0.012)
    assert find_freed(engine, first, fall=fall, earliest_s=1.5) == fall.middle_s


def test_an_engine_ahead_of_its_gear_ever_since_was_not_let_loose_for_the_shift():
    # Planted: tires that spin from the start on read like an open clutch; one that runs ahead from 0.7 s on does not
    time_s, rpm = stepped()
    engine = engine_of(time_s, rpm)
    fall = find_fall(engine, np.full(time_s.size, 7000.0), earliest_s=0.5, latest_s=1.5)
    spinning = 0.8 * engine.rpm
    assert find_freed(engine, spinning, fall=fall, earliest_s=0.1) == fall.middle_s
    since = np.where(engine.true_time_s < 0.7, engine.rpm, 0.9 * engine.rpm)
    assert find_freed(engine, since, fall=fall, earliest_s=0.1) == pytest.approx(0.7, abs=0.02)


def test_a_fall_cut_short_by_spinning_tires_is_found_by_its_own_depth():
    # Planted: from 8000 to 6000 rpm within 50 ms at 1.000 s, 0.288 in log: cut short for a step of 0.35, not for 0.7
    time_s, rpm = stepped()
    fall = find_fall_by_depth(engine_of(time_s, rpm), 0.35, earliest_s=0.5, latest_s=1.5)
    assert (fall.middle_s, fall.bottom_s) == (pytest.approx(1.025, abs=0.015), pytest.approx(1.05, abs=0.011))
    assert find_fall_by_depth(engine_of(time_s, rpm), 0.7, earliest_s=0.5, latest_s=1.5) is None
    assert find_fall_by_depth(engine_of(time_s, rpm), 0.35, earliest_s=5.0, latest_s=6.0) is None


def spun_after(rate_hz=100.0):
    """By hand: from 6,500 rpm the clutch drags it to 5,100 by 1.05 s, the tires spin until 1.09, then take hold."""
    time_s = np.arange(0.0, 2.0, 1.0 / rate_hz)
    corners = [0.0, 1.0, 1.05, 1.09, 1.2, 2.0], [4500.0, 6500.0, 5100.0, 5250.0, 4000.0, 5200.0]
    return time_s, np.interp(time_s, *corners)


def test_tires_that_take_hold_again_are_not_where_the_gear_carries():
    # Hand: the gear's own speed is met only as the tires slow down, 0.15 s after the clutch had closed
    time_s, rpm = spun_after()
    engine = engine_of(time_s, rpm)
    half_way, next_gear = np.full(time_s.size, 4900.0), np.full(time_s.size, 4100.0)
    fall = find_fall(engine, half_way, earliest_s=0.5, latest_s=1.5)
    carry = find_carry(engine, next_gear, fall=fall)
    assert abs(carry.time_s - 1.04) <= carry.plus_minus_s
    assert carry.plus_minus_s > 0.025


def dragged(corners_s, corners_rpm, **more):
    """By hand, at 100 Hz: the carry of an engine dragged along corners into a gear that the ground has at 4,600."""
    time_s = np.arange(0.0, 2.0, 0.01)
    engine = engine_of(time_s, np.interp(time_s - 0.0135, corners_s, corners_rpm))
    fall = find_fall(engine, np.full(time_s.size, 5700.0), earliest_s=0.5, latest_s=1.5)
    return find_carry(engine, np.full(time_s.size, 4600.0), fall=fall, **more)


def test_a_fall_that_stops_high_above_the_ground_and_goes_on_has_hold_of_spinning_tires():
    # By hand: held at 1.08 s, an all but level shoulder of 60 ms, then down as the tires take hold, until 1.35 s
    corners = [0.0, 1.0, 1.08, 1.14, 1.35, 2.0], [4500.0, 7000.0, 5800.0, 5700.0, 4550.0, 5200.0]
    spun = dragged(*corners, by_ground=True)
    assert abs(spun.time_s - 1.08) <= spun.plus_minus_s < 0.05
    assert dragged(*corners).time_s == pytest.approx(1.34, abs=0.03)


def test_a_fall_that_took_the_whole_step_long_before_the_ground_is_met_has_hold_of_spinning_tires():
    # By hand: 7,500 rpm dragged down by 0.4, log, until 1.20 s; tires that spin keep it above the ground's until 1.75 s
    time_s = np.arange(0.0, 2.4, 0.01)
    corners = [0.0, 1.0, 1.05, 1.2, 1.55, 1.75, 2.4], [5500.0, 7500.0, 7400.0, 5030.0, 4500.0, 3000.0, 3600.0]
    engine = engine_of(time_s, np.interp(time_s - 0.0135, *corners))
    ground = np.full(time_s.size, 3050.0)
    fall = find_fall(engine, np.full(time_s.size, 3800.0), earliest_s=0.5, latest_s=2.0)
    met, taken, missed = (
        find_carry(engine, ground, fall=fall, by_ground=True, began=began)
        for began in (None, Began(1.0, 0.4), Began(1.0, 0.6))
    )
    assert abs(taken.time_s - 1.2) <= taken.plus_minus_s + 0.01
    assert met.time_s > 1.4
    assert missed == met


def test_light_tires_turned_up_by_their_engine_are_no_reason_to_wait_for_the_ground():
    # By hand: 7,200 rpm dragged down to 5,800 within 30 ms and up to 6,150 again; the ground's 4,500 is met at 1.55 s
    time_s = np.arange(0.0, 2.4, 0.01)
    corners = [0.0, 1.0, 1.03, 1.09, 1.55, 2.4], [5500.0, 7200.0, 5800.0, 6150.0, 4450.0, 5300.0]
    engine = engine_of(time_s, np.interp(time_s - 0.0135, *corners))
    fall = find_fall(engine, np.full(time_s.size, 5200.0), earliest_s=0.5, latest_s=2.0)
    met, held = (
        find_carry(engine, np.full(time_s.size, 4500.0), fall=fall, by_ground=True, began=began)
        for began in (None, Began(1.0, 0.45))
    )
    assert abs(held.time_s - 1.03) <= held.plus_minus_s
    assert met.time_s > 1.3


def pulling_but_for(start_s, stop_s) -> Motion:
    """By hand: 6 m/s2, but for none between two moments."""
    time_s = np.arange(0.0, 2.0, 0.005)
    pull = np.where((time_s > start_s) & (time_s < stop_s), 0.0, 6.0)
    one = np.ones(time_s.size)
    return Motion(
        time_s=time_s, speed_mps=20.0 + np.cumsum(pull) * 0.005, speed_plus_minus_mps=one, acceleration_mps2=pull,
        acceleration_plus_minus_mps2=one, distance_m=20.0 * time_s, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=one < 0.0, basis=SpeedBasis.GPS, scale=None, wheelspin=(),
    )  # fmt: skip


def test_an_engine_that_hangs_high_with_the_drive_gone_is_in_no_gear():
    # By hand: a clutch opened at 1.0 s, the engine cut until 1.16 s, then dragged down; the car pulls again as it bites
    corners = [0.0, 1.0, 1.08, 1.16, 1.35, 2.0], [4500.0, 7000.0, 5900.0, 5850.0, 4550.0, 5200.0]
    pulls, coasts = (
        dragged(*corners, by_ground=True, motion=pulling_but_for(*gone)) for gone in ((0.0, 0.0), (1.02, 1.3))
    )
    assert pulls.time_s < 1.15
    assert coasts.time_s == pytest.approx(1.345, abs=0.02)


def test_an_engine_that_leaves_its_own_tires_behind_was_let_loose_though_no_lost_pull_is_seen():
    # By hand, at 20 Hz: out of a pull of 1,500 rpm/s at 1.0 s, 400 rpm ahead within 50 ms, and dragged down by 1.35 s;
    # nothing shows the pull well enough. By the ground, tires that spin would look alike
    time_s = np.arange(0.0, 2.0, 0.05)
    corners = [0.0, 1.0, 1.05, 1.15, 1.35, 2.0], [6000.0, 7500.0, 7930.0, 7900.0, 5500.0, 6000.0]
    rpm = np.interp(time_s - 0.0135, *corners)
    throttle = Channel("throttle", "TPS", "", "", time_s, np.ones(time_s.size), 20.0)
    traces = Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, 20.0), throttle))
    engine = read_engine_speed(traces)
    fall = find_fall(engine, np.full(time_s.size, 6700.0), earliest_s=0.5, latest_s=1.6)
    this_gear = 6000.0 + 1500.0 * engine.true_time_s
    by_tires, by_ground = (
        find_start(engine, this_gear, traces, pulling_but_for(0.0, 0.0), fall=fall, earliest_s=0.3, by_ground=ground)
        for ground in (False, True)
    )
    assert abs(by_tires.time_s - 1.0) <= by_tires.plus_minus_s
    assert by_ground.time_s > 1.06


def test_a_fall_that_eases_high_above_the_ground_leaves_both_readings_open():
    # By hand: tires that spin from 1.08 s on, or a clutch that slips until 1.272 s; to a sample
    corners = [0.0, 1.0, 1.08, 1.28, 2.0], [4500.0, 7000.0, 5800.0, 4550.0, 5200.0]
    either = dragged(*corners, by_ground=True)
    assert abs(either.time_s - 1.08) < either.plus_minus_s + 0.01
    assert abs(either.time_s - 1.272) < either.plus_minus_s + 0.01


def test_a_fall_in_one_go_is_known_to_a_sample():
    # Hand: the same engine dragged down at once
    time_s = np.arange(0.0, 2.0, 0.01)
    engine = engine_of(time_s, np.interp(time_s, [0.0, 1.0, 1.1, 2.0], [4500.0, 6500.0, 4000.0, 5200.0]))
    fall = find_fall(engine, np.full(time_s.size, 5200.0), earliest_s=0.5, latest_s=1.5)
    assert find_carry(engine, np.full(time_s.size, 4100.0), fall=fall).plus_minus_s < 0.02


def test_an_engine_that_bends_gently_is_drawn_back_along_its_parabola():
    # Hand: 1,500 rpm/s until 1.000 s, then bent down by 300,000 rpm/s2 until it falls by 9,000 rpm/s; at 100 Hz
    time_s = np.arange(0.0, 2.0, 0.01)
    since = np.clip(time_s - 1.0, 0.0, 0.035)
    bent = 150000.0 * since**2 + 10500.0 * np.maximum(time_s - 1.035, 0.0)
    engine = engine_of(time_s, 6000.0 + 1500.0 * time_s - bent)
    sharp, gentle = (find_kink(engine, earliest_s=0.8, latest_s=1.15, gently=gently) for gently in (False, True))
    seen = 1.0 - 0.006 - 0.0075  # the pick-up's usual delay is taken off; this one had none
    assert seen - 0.01 < gentle.time_s < sharp.time_s - 0.004
    assert gentle.plus_minus_s > 0.01 > sharp.plus_minus_s  # where on a parabola a bend began is known less well


@pytest.mark.parametrize("gently", [False, True])
def test_one_sample_astray_is_no_kink(gently):
    # Hand: 1,500 rpm/s until 1.000 s, then falling by 10,500; one sample long before lies 90 rpm low, which bends the
    # 20 ms ahead of another by 4,500 rpm/s
    time_s = np.arange(0.0, 2.0, 0.01)
    rpm = 6000.0 + 1500.0 * time_s - 12000.0 * np.maximum(time_s - 1.0, 0.0)
    rpm[90] -= 90.0
    edge = find_kink(engine_of(time_s, rpm), earliest_s=0.8, latest_s=1.1, gently=gently)
    assert edge.time_s == pytest.approx(0.985, abs=0.02)


def feathered(*, pull_lost=(1.62, 1.7)) -> Edge | None:
    """By hand, at 100 Hz: lifted in part from 1.0 to 1.3 s in gear, rising on, and at 1.6 s cut for the next gear."""
    time_s = np.arange(0.0, 2.0, 0.01)
    corners = [0.0, 1.0, 1.3, 1.6, 1.65, 2.0], [6000.0, 7500.0, 7800.0, 8250.0, 6300.0, 6900.0]
    rpm = np.interp(time_s - 0.0135, *corners)
    foot = np.interp(time_s, [0.0, 1.0, 1.05, 1.25, 1.3, 2.0], [1.0, 1.0, 0.5, 0.5, 1.0, 1.0])
    throttle = Channel("throttle", "TPS", "", "", time_s, foot, 100.0)
    traces = Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, 100.0), throttle))
    engine = read_engine_speed(traces)
    fall = find_fall(engine, np.full(time_s.size, 7200.0), earliest_s=1.2, latest_s=1.9)
    this_gear = np.interp(engine.true_time_s, [0.0, 1.0, 1.3, 1.6, 2.0], [6000.0, 7500.0, 7800.0, 8250.0, 8900.0])
    return find_start(engine, this_gear, traces, pulling_but_for(*pull_lost), fall=fall, earliest_s=0.2)


def test_a_foot_that_feathers_the_throttle_in_gear_starts_no_shift():
    # By hand: the engine rose by 750 rpm from that lift on and the car pulled; only the bend at 1.6 s is the shift's
    pulled_on = feathered()
    assert abs(pulled_on.time_s - 1.6) <= pulled_on.plus_minus_s
    # without pull from the lift on, what rose was an engine let loose
    assert feathered(pull_lost=(1.02, 1.7)).time_s == pytest.approx(1.0, abs=0.02)


def lifted_for_good(rate_hz, eased_to) -> Edge | None:
    """By hand: lifted at 1.0 s, clutch open; the engine flies up for 0.15 s and is dragged down from 1.2 s on."""
    time_s = np.arange(0.0, 2.0, 1.0 / rate_hz)
    corners = [0.0, 1.0, 1.03, 1.15, 1.2, 1.3, 2.0], [6000.0, 7500.0, 7800.0, 8000.0, 7950.0, 6000.0, 6900.0]
    rpm = np.interp(time_s - 0.0135, *corners)
    foot = np.interp(time_s, [0.0, 1.0, 1.06, 1.25, 1.3, 2.0], [1.0, 1.0, eased_to, eased_to, 1.0, 1.0])
    throttle = Channel("throttle", "TPS", "", "", time_s, foot, rate_hz)
    traces = Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, rate_hz), throttle))
    engine = read_engine_speed(traces)
    fall = find_fall(engine, np.full(time_s.size, 7000.0), earliest_s=1.1, latest_s=1.6)
    spinning = np.full(engine.rpm.size, 8100.0)  # the ground says nothing of how fast the tires let it turn
    return find_start(engine, spinning, traces, pulling_but_for(0.0, 0.0), fall=fall, earliest_s=0.2)


@pytest.mark.parametrize("rate_hz", [20.0, 50.0, 100.0])
def test_an_engine_that_flies_up_with_its_throttle_shut_is_in_no_gear_though_the_car_seems_to_pull(rate_hz):
    # By hand: 1 Hz of speed shows no loss of pull
    assert lifted_for_good(rate_hz, 0.02).time_s == pytest.approx(1.0, abs=0.5 / rate_hz + 0.01)


def test_the_same_under_half_a_throttle_may_be_a_feathered_gear():
    assert lifted_for_good(100.0, 0.5).time_s > 1.1


@pytest.mark.parametrize(("pull_lost", "starts_s"), [((1.04, 1.8), 1.0), ((1.5, 1.8), 1.5)])
def test_a_gear_missed_by_foot_was_let_go_at_the_first_lift(pull_lost, starts_s):
    # By hand, at 100 Hz: shut from 1.0 to 1.25 s, open until 1.45, shut again from 1.5, falling into gear at 1.7; in
    # neutral the engine sinks below its gear and leaps. Where the car pulled in between, the second lift is the shift's
    time_s = np.arange(0.0, 2.2, 0.01)
    corners = (
        [0.0, 1.0, 1.08, 1.3, 1.45, 1.7, 1.8, 2.2],
        [6000.0, 7500.0, 7600.0, 7250.0, 7900.0, 7800.0, 5900.0, 6400.0],
    )
    rpm = np.interp(time_s - 0.0135, *corners)
    foot = np.interp(time_s, [0.0, 1.0, 1.04, 1.2, 1.25, 1.5, 1.54, 1.75, 1.8, 2.2], [1, 1, 0, 0, 1, 1, 0, 0, 1, 1.0])
    throttle = Channel("throttle", "TPS", "", "", time_s, foot, 100.0)
    traces = Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, 100.0), throttle))
    engine = read_engine_speed(traces)
    fall = find_fall(engine, np.full(time_s.size, 6700.0), earliest_s=1.55, latest_s=2.1)
    this_gear = np.interp(engine.true_time_s, [0.0, 1.0, 2.2], [6000.0, 7500.0, 7500.0])
    got = find_start(engine, this_gear, traces, pulling_but_for(*pull_lost), fall=fall, earliest_s=0.2)
    assert got.time_s == pytest.approx(starts_s, abs=0.03)


def test_a_throttle_that_is_shut_feathers_nothing():
    # By hand: as above, but shut; a receiver of 1 Hz shows the car pulling through it all
    time_s = np.arange(0.0, 2.0, 0.01)
    rpm = np.interp(time_s - 0.0135, [0.0, 1.0, 1.5, 1.6, 2.0], [6000.0, 7500.0, 7900.0, 5900.0, 6300.0])
    foot = np.interp(time_s, [0.0, 1.0, 1.05, 1.5, 1.6, 2.0], [1.0, 1.0, 0.0, 0.0, 1.0, 1.0])
    throttle = Channel("throttle", "TPS", "", "", time_s, foot, 100.0)
    traces = Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, 100.0), throttle))
    engine = read_engine_speed(traces)
    fall = find_fall(engine, np.full(time_s.size, 6800.0), earliest_s=1.2, latest_s=1.9)
    this_gear = np.interp(engine.true_time_s, [0.0, 1.0, 2.0], [6000.0, 7500.0, 8900.0])
    got = find_start(engine, this_gear, traces, pulling_but_for(1.9, 1.95), fall=fall, earliest_s=0.2)
    assert got.time_s == pytest.approx(1.0, abs=0.03)


def test_an_engine_cut_that_coasts_as_the_car_does_was_cut_when_the_pull_went():
    # By hand, at 100 Hz: at 1.0 s a cut takes the pull and 180 rpm; then it sinks by 1,200 rpm/s, as the car's speed in
    # that gear seems to, until a clutch bites at 1.25 s
    time_s = np.arange(0.0, 2.0, 0.01)
    corners = [0.0, 1.0, 1.02, 1.25, 1.35, 2.0], [6000.0, 7500.0, 7320.0, 7050.0, 5400.0, 6000.0]
    traces = Traces(
        (Channel("engine_speed", "RPM", "rpm", "rpm", time_s, np.interp(time_s - 0.0135, *corners), 100.0),)
    )
    engine = read_engine_speed(traces)
    fall = find_fall(engine, np.full(time_s.size, 6300.0), earliest_s=0.5, latest_s=1.6)
    this_gear = np.interp(engine.true_time_s, [0.0, 1.0, 1.02, 1.25, 2.0], [6000.0, 7500.0, 7320.0, 7050.0, 8000.0])
    lost, pulls = (
        find_start(engine, this_gear, traces, pulling_but_for(*gone), fall=fall, earliest_s=0.3, by_ground=False)
        for gone in ((1.0, 1.3), (0.0, 0.0))
    )
    assert abs(lost.time_s - 1.0) <= lost.plus_minus_s
    assert pulls.time_s > 1.15
