"""Figures of one shift: by hand on straight lines."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.figures import (
    AFTER_UNSEEN,
    BEFORE_UNSEEN,
    END_UNSEEN,
    MOTION_UNSEEN,
    Cost,
    lowest_rpm_of_shift,
    measure_boost_through,
    measure_cost,
    rpm_before_shift,
)
from tests.analysis.stages import planted_boost

TIME = np.arange(0.0, 3.0, 0.01)


def engine_of(rpm):
    return read_engine_speed(Traces((Channel("engine_speed", "RPM", "rpm", "rpm", TIME, rpm, 100.0),)))


def edge(time_s):
    return Edge(time_s, 0.004, "shift_cut")


def motion_of(acceleration):
    one = np.ones(TIME.size)
    speed = 20.0 + np.cumsum(acceleration) * 0.01
    return Motion(
        time_s=TIME, speed_mps=speed, speed_plus_minus_mps=one, acceleration_mps2=acceleration,
        acceleration_plus_minus_mps2=one, distance_m=np.cumsum(speed) * 0.01, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=np.zeros(TIME.size, dtype=np.bool_), basis="gps", scale=None,
        wheelspin=(),
    )  # fmt: skip


def test_rpm_before_allows_for_the_delay():
    # hand: 6000 + 1500 t, seen late by what pick-ups are (planted: 10 to 17 ms), at 1.503 s
    for late_s in (0.010, 0.0135, 0.017):
        got = rpm_before_shift(engine_of(6000.0 + 1500.0 * (TIME - late_s)), edge(1.503))
        assert got.value == pytest.approx(6000.0 + 1500.0 * 1.503, abs=1500.0 * 0.004)
        assert abs(got.value - (6000.0 + 1500.0 * 1.503)) < got.plus_minus


def test_the_steeper_the_pull_the_wider_the_doubt():
    slow, steep = (rpm_before_shift(engine_of(5000.0 + slope * TIME), edge(1.5)) for slope in (500.0, 3000.0))
    assert steep.plus_minus > 4 * slow.plus_minus


def test_an_engine_that_bounces_on_its_limiter_is_known_to_its_bounce():
    # hand: 9000 rpm with 40 rpm of bounce at 23 Hz from 1 s on, quiet before: 28 rpm of scatter, three times that
    bounce = np.where(TIME > 1.0, 40.0 * np.sin(2 * np.pi * 23.0 * TIME), 0.0)
    before = rpm_before_shift(engine_of(9000.0 + bounce), edge(1.5))
    assert before.plus_minus == pytest.approx(3.0 * 28.0, rel=0.25)
    assert rpm_before_shift(engine_of(9000.0 + 0.0 * TIME), edge(1.5)).plus_minus < 5.0


def test_a_sample_on_the_edge_that_saw_the_fall_begin_makes_no_bounce():
    # Planted: 8000 rpm on a steady rise, the cut's flag on a sample that reads 90 rpm low
    rpm = 7000.0 + 2000.0 * (TIME - 1.0)
    at = int(np.flatnonzero(engine_of(rpm).true_time_s <= 1.5 - 0.003)[-1])
    begun = rpm.copy()
    begun[at] -= 90.0
    told, sound = (rpm_before_shift(engine_of(one), edge(1.5)) for one in (begun, rpm))
    assert told.value == pytest.approx(sound.value, abs=5.0)
    assert told.plus_minus < 1.5 * sound.plus_minus


def test_where_noise_took_the_samples_before_the_wheels_stand_in():
    # Planted: half the samples before the shift read double; through the gear the wheels say 7500
    rpm = np.full(TIME.size, 7490.0)
    rpm[138:150] *= 2.0
    held = rpm_before_shift(engine_of(rpm), edge(1.5), geared_rpm=7500.0)
    assert held.value == 7500.0 and held.plus_minus > 50.0
    sound = rpm_before_shift(engine_of(np.full(TIME.size, 7490.0)), edge(1.5), geared_rpm=7500.0)
    assert sound.value == pytest.approx(7490.0, abs=1.0)


def test_rpm_before_the_record_is_none():
    assert rpm_before_shift(engine_of(np.full(TIME.size, 6000.0)), edge(-1.0)) is BEFORE_UNSEEN


def test_lowest_rpm_is_that_of_the_window_only():
    rpm = 7000.0 - 1000.0 * np.exp(-(((TIME - 1.2) / 0.05) ** 2)) - 3000.0 * np.exp(-(((TIME - 1.7) / 0.05) ** 2))
    lowest = lowest_rpm_of_shift(engine_of(rpm), edge(1.1), edge(1.15))
    assert lowest.value == pytest.approx(6000.0, abs=60.0)
    assert lowest.plus_minus > 0


def test_lowest_rpm_outside_the_record_is_none():
    assert lowest_rpm_of_shift(engine_of(np.full(TIME.size, 6000.0)), edge(5.0), edge(5.1)) is AFTER_UNSEEN


def test_a_constant_pull_costs_nothing():
    cost = measure_cost(motion_of(np.full(TIME.size, 8.0)), 1.0, 1.1, finish_s=9.0)
    assert (cost.speed_mps, cost.time_s) == (pytest.approx(0.0, abs=1e-9), pytest.approx(0.0, abs=1e-9))


def test_a_tenth_of_a_second_without_pull_costs_its_speed():
    # hand: 8 m/s2 gone for 0.1 s is 0.8 m/s; 0.08 m/s s of it by the window's end 0.1 s on, over some 28 m/s
    gone = np.where((TIME >= 1.0) & (TIME < 1.1 - 1e-9), 0.0, 8.0)
    cost = measure_cost(motion_of(gone), 1.0, 1.1, finish_s=9.0)
    assert cost.speed_mps == pytest.approx(0.8, abs=0.01)
    assert cost.time_s == pytest.approx(0.8 * 0.15 / 28.0, rel=0.1)


def test_a_cut_costs_at_the_finish_what_the_same_pull_without_it_would_have_gained():
    # Planted: constant power of 150 W/kg from 20 m/s, cut for 0.1 s at 1 s; slow twin: integrated without the cut
    step, times = 0.005, []
    for cut in (True, False):
        time_s = np.arange(0.0, 12.0, step)
        speed = np.empty(time_s.size)
        speed[0] = 20.0
        for place in range(1, time_s.size):
            pull = 0.0 if cut and 1.0 <= time_s[place - 1] < 1.1 else 150.0 / speed[place - 1]
            speed[place] = speed[place - 1] + pull * step
        gone = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * step)))
        times.append((time_s, speed, gone))
    (time_s, speed, gone), (_, _, without) = times
    pull = np.gradient(speed, step)
    motion = replace(
        motion_of(pull), time_s=time_s, speed_mps=speed, acceleration_mps2=pull, distance_m=gone,
        speed_plus_minus_mps=np.full(time_s.size, 0.02), acceleration_plus_minus_mps2=np.full(time_s.size, 0.1),
    )  # fmt: skip
    cost = measure_cost(motion, 1.0, 1.1, finish_s=9.0)
    lost = 9.0 - float(np.interp(np.interp(9.0, time_s, gone), without, time_s))
    assert cost.at_finish_s.value == pytest.approx(lost, rel=0.1)
    assert cost.time_s < 0.5 * lost
    assert 0.0 < cost.at_finish_s.plus_minus < 0.5 * lost
    assert measure_cost(motion, 1.0, 1.1, finish_s=1.2).at_finish_s is END_UNSEEN


def test_a_shift_at_the_end_of_the_record_has_no_cost():
    assert measure_cost(motion_of(np.full(TIME.size, 8.0)), 2.8, 2.9, finish_s=9.0) == Cost(*3 * [MOTION_UNSEEN])


def test_boost_that_never_recovers_has_no_recovery():
    boost = planted_boost(TIME, np.where(TIME < 1.0, 1.5e5, 0.9e5))
    through = measure_boost_through(boost, 1.0, 1.1)
    assert (through.before_pa, through.lowest_pa) == (pytest.approx(1.5e5), 0.9e5)
    assert isinstance(through.recovery_s, Unknown) and through.recovery_s.reason.code == "boost-not-back"


def test_boost_passes_nan_over():
    values = np.where((TIME > 1.01) & (TIME < 1.05), np.nan, 1.5e5)
    assert measure_boost_through(planted_boost(TIME, values), 1.0, 1.1).lowest_pa == 1.5e5


def test_without_boost_each_figure_says_why():
    reason = Unknown(Finding("boost-not-logged", "note", "No log holds boost."))
    assert measure_boost_through(reason, 1.0, 1.1).before_pa is reason


def test_a_pickup_that_may_be_slower_leaves_more_open_before_a_shift():
    # hand: 1,500 rpm/s; the delay's 0.9 of 6.5 ms, and 13.5 ms that the lag may be longer than usual, by Pythagoras
    engine = engine_of(6000.0 + 1500.0 * TIME)
    usual, slow = (rpm_before_shift(engine, edge(1.503), **most) for most in ({}, {"most_lag_s": 0.025}))
    assert usual.value == slow.value
    assert usual.run_plus_minus == slow.run_plus_minus  # the run's own stays
    assert [one.shared[0].effect for one in (usual, slow)] == pytest.approx([8.775, 22.07], abs=0.02)


def test_an_end_that_is_not_known_leaves_open_what_the_fall_makes_of_it():
    # Hand: the engine still falls by 4,000 rpm/s when the window of 150 ms ends: 60 ms are 240 rpm
    engine = engine_of(6000.0 - 4000.0 * np.clip(TIME - 1.5, 0.0, 0.5))
    sure, loose = (
        lowest_rpm_of_shift(engine, edge(1.35), Edge(1.55, open_s, "engine_speed")) for open_s in (0.013, 0.06)
    )
    assert sure.value == loose.value
    assert sure.plus_minus < 90.0 < 220.0 < loose.plus_minus


def test_dogs_may_carry_while_soft_shafts_wind_up():
    # Hand: the same fall after a shift of 80 ms: half of it are 160 rpm, and the truth is no lower than that allows
    engine = engine_of(6000.0 - 4000.0 * np.clip(TIME - 0.0135 - 1.5, 0.0, 0.5))
    found = lowest_rpm_of_shift(engine, edge(1.5), Edge(1.58, 0.013, "engine_speed"))
    true_rpm = 6000.0 - 4000.0 * (0.04 + 0.15)
    assert abs(found.value - true_rpm) <= found.plus_minus < 200.0


def test_an_engine_at_its_lowest_well_within_the_window_pays_nothing_for_soft_shafts():
    # Hand: it is at its lowest 40 ms after the gear carries
    engine = engine_of(np.interp(TIME - 0.0135, [0.0, 1.5, 1.62, 3.0], [4000.0, 6000.0, 4500.0, 6000.0]))
    quick, slow = (
        lowest_rpm_of_shift(engine, edge(start_s), Edge(1.58, 0.013, "engine_speed")) for start_s in (1.5, 1.4)
    )
    assert quick == slow


def test_behind_a_converter_an_engine_that_bends_gently_is_read_at_its_top():
    # Hand: it tops out 24 rpm above where the ratio began to change;
    # one that leaps up by 300 as the old gear lets go is read where it was let go
    rise = 6000.0 + 2000.0 * np.minimum(TIME - 1.5, 0.012) - 20000.0 * np.maximum(TIME - 1.53, 0.0)
    top = rpm_before_shift(engine_of(rise), edge(1.487), falls_by_s=1.6).value
    assert top == pytest.approx(6024.0, abs=3.0)
    flare = rise + 300.0 * ((TIME > 1.495) & (TIME < 1.53))
    assert rpm_before_shift(engine_of(flare), edge(1.47), falls_by_s=1.6).value < 6000.0


def test_what_samples_40_ms_apart_miss_of_a_swing_is_covered_wherever_they_fall():
    # Planted: 2,000 rpm down within 40 ms, swinging 12 % below and back at 22 Hz; sixteen phases of the sampling
    fine = np.arange(0.0, 3.0, 0.0005)
    since = fine - 1.54
    swing = -350.0 * np.sin(2 * np.pi * 22.0 * since) * np.exp(-30.0 * since)
    rpm = np.where(since < 0.0, np.clip(8000.0 - 50000.0 * (fine - 1.5), 6000.0, 8000.0), 6000.0 + swing)
    held = []
    for phase in np.linspace(0.0, 0.04, 16, endpoint=False):
        rows = np.arange(phase, 2.9, 0.04)
        channel = Channel("engine_speed", "RPM", "rpm", "rpm", rows, np.interp(rows - 0.0135, fine, rpm), 25.0)
        found = lowest_rpm_of_shift(read_engine_speed(Traces((channel,))), edge(1.5), edge(1.54))
        held.append(abs(found.value - rpm.min()) <= found.plus_minus)
    assert np.mean(held) >= 0.9


def test_ten_times_a_second_a_flare_out_of_the_pull_is_in_the_plus_minus():
    # Hand: 700 rpm/s up to 5,900 at 1.40 s, flaring to 6,250 at 1.47, down to 5,000 by 1.65; the shift found at 1.43
    time_s = np.arange(0.0, 3.0, 0.1)
    rpm = np.interp(
        time_s - 0.0135, [0.0, 1.4, 1.47, 1.52, 1.65, 3.0], [4920.0, 5900.0, 6250.0, 6200.0, 5000.0, 5700.0]
    )
    engine = read_engine_speed(Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, 10.0),)))
    before = rpm_before_shift(engine, Edge(1.43, 0.05, "engine_speed"), falls_by_s=1.65)
    assert abs(before.value - 6250.0) < before.plus_minus + 50.0
    assert abs(before.value - 5900.0) < before.plus_minus + 50.0


def test_rpm_before_is_open_by_what_scale_and_resolution_leave():
    # Hand: nothing scatters, the start is sure and the engine climbs by 100 rpm/s: 0.6 rpm for the pick-up beside 2.5
    before = rpm_before_shift(engine_of(7000.0 + 100.0 * TIME), Edge(1.5, 0.001, "shift_cut"))
    assert 2.5 < before.plus_minus < 2.7
