"""How slow a pick-up may be, by the swing that it lets be seen: planted swings, and by hand."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.dip import (
    LongestLag,
    Swing,
    falls_too_sharp,
    is_quick,
    longest_lag,
    pickup_evidence,
    read_swing,
)
from passband.analysis.shifts.figures import lowest_rpm_of_shift

USUAL_LAG_S = 0.0115
"""By hand: 7.5 ms and 4 more, as good pick-ups are. [s]"""
DELAY_S, DROP_RPM, FALL_S, SWING_HZ, DECAY_PER_S = 0.006, 2000.0, 0.06, 13.0, 18.0


def swung(lag_s, *, noise_rpm=0.0):
    """Engine speed as read of `swung_log`; with it, the lowest that the engine truly turned."""
    traces, lowest_rpm = swung_log(lag_s, noise_rpm=noise_rpm)
    return read_engine_speed(traces), lowest_rpm


def swung_log(lag_s, *, noise_rpm=0.0):
    """Planted: from 1.000 s down by 2,000 rpm along a straight fall, swinging on about the next gear's speed.

    At 200 Hz through a pure delay and a first-order lag; with it, the lowest that the engine truly turned.
    """
    fine = np.arange(0.0, 2.0, 1e-4)
    since, way = fine - 1.0 - FALL_S, 2.0 * np.pi * SWING_HZ
    swing = -DROP_RPM / FALL_S / way * np.sin(way * since) * np.exp(-DECAY_PER_S * since)
    rpm = np.where(fine < 1.0, 8000.0, np.where(since < 0.0, 6000.0 - DROP_RPM * since / FALL_S, 6000.0 + swing))
    seen, keep = np.full(rpm.size, rpm[0]), np.exp(-1e-4 / lag_s)
    for at in range(1, rpm.size):
        seen[at] = keep * seen[at - 1] + (1.0 - keep) * rpm[at]
    rows = np.arange(0.0, 1.9, 0.005)
    logged = np.interp(rows - DELAY_S, fine, seen) + noise_rpm * np.random.default_rng(3).standard_normal(rows.size)
    channel = Channel("engine_speed", "RPM", "rpm", "rpm", rows, logged, 200.0)
    return Traces((channel,)), float(rpm.min())


@pytest.mark.parametrize("lag_s", [0.004, 0.008, 0.018, 0.023])
@pytest.mark.parametrize("noise_rpm", [0.0, 8.0])
def test_the_lowest_of_a_shift_is_covered_whatever_the_lag(lag_s, noise_rpm):
    engine, true_rpm = swung(lag_s, noise_rpm=noise_rpm)
    lag = longest_lag([read_swing(engine, 1.0, 1.06, rpm_before=8000.0)], quick=True)
    start, end = (Edge(at, 0.003, "engine_speed") for at in (1.0, 1.06))
    found = lowest_rpm_of_shift(engine, start, end, most_lag_s=lag.after_s)
    assert abs(found.value - true_rpm) <= found.plus_minus


def test_a_usual_pickup_that_shows_the_dip_pays_nothing():
    lag = longest_lag([read_swing(swung(0.006)[0], 1.0, 1.06, rpm_before=8000.0)], quick=True)
    assert lag == LongestLag(pytest.approx(USUAL_LAG_S), pytest.approx(USUAL_LAG_S))


def test_a_swing_is_measured_from_the_line_that_it_dies_away_to():
    # Hand: 5,600 at 1.045 s and 6,200 at 1.065 s about 6,000; then along 6,000 plus 1,000 rpm/s from 1.03 s on
    time_s = np.arange(0.0, 1.6, 0.005)
    corners = [0.0, 1.0, 1.045, 1.065, 1.085, 1.6], [8000.0, 8000.0, 5600.0, 6200.0, 6055.0, 6570.0]
    channel = Channel("engine_speed", "RPM", "rpm", "rpm", time_s + 0.0135, np.interp(time_s, *corners), 200.0)
    swing = read_swing(read_engine_speed(Traces((channel,))), 1.0, 1.03, rpm_before=8000.0)
    assert swing.dip == pytest.approx(415.0 / 2000.0, abs=0.12)
    assert swing.back == pytest.approx(165.0 / 2000.0, abs=0.06)


def test_an_engine_that_only_sinks_onto_its_line_from_above_swings_back_by_nothing():
    # Hand: wheels that spun slow down for a third of a second after the gear was in
    time_s = np.arange(0.0, 1.6, 0.005)
    corners = [0.0, 1.0, 1.03, 1.17, 1.6], [8000.0, 8000.0, 6500.0, 6100.0, 6530.0]
    channel = Channel("engine_speed", "RPM", "rpm", "rpm", time_s + 0.0135, np.interp(time_s, *corners), 200.0)
    swing = read_swing(read_engine_speed(Traces((channel,))), 1.0, 1.03, rpm_before=8000.0)
    assert swing.dip < -0.03
    assert swing.back == pytest.approx(0.0, abs=0.02)


def test_no_swing_is_read_where_the_record_ends_or_engine_speed_rose():
    engine, _ = swung(0.007)
    assert read_swing(engine, 1.0, 1.9, rpm_before=8000.0) is None
    assert read_swing(engine, 1.0, 1.06, rpm_before=5000.0) is None


# hand: before a shift 11.5 ms where 15 % are seen, 25 where 5 are, straight between; after it from 12 % on
@pytest.mark.parametrize(
    ("dip", "before_s", "after_s"),
    [(0.25, 0.0115, 0.0115), (0.15, 0.0115, 0.0115), (0.10, 0.01825, 0.015357), (0.05, 0.025, 0.025)],
)
def test_the_less_a_quick_shift_dips_the_slower_the_pickup_may_be(dip, before_s, after_s):
    lag = longest_lag([Swing(dip, 0.5 * dip)] * 3, quick=True)
    assert (lag.before_s, lag.after_s) == (pytest.approx(before_s, abs=1e-6), pytest.approx(after_s, abs=1e-6))


# hand: half a swing later 60 % of the dip and less opens nothing, 80 % and more all, 70 % half of 13.5 ms
@pytest.mark.parametrize(("back", "lag_s"), [(0.06, 0.0115), (0.07, 0.01825), (0.08, 0.025), (0.2, 0.025)])
@pytest.mark.parametrize("quick", [False, True])
def test_a_swing_back_without_its_dip_tells_of_a_slow_pickup(back, lag_s, quick):
    swings = [Swing(0.10, back) for _ in range(3)]
    assert longest_lag(swings, quick=quick).after_s >= lag_s - 1e-9
    assert longest_lag(swings, quick=False).after_s == pytest.approx(lag_s)


def test_a_round_fall_without_a_ring_is_not_taken_for_a_slow_pickup_after_a_shift():
    lag = longest_lag([Swing(0.05, 0.009)] * 3, quick=True)
    assert (lag.before_s, lag.after_s) == (pytest.approx(0.025), pytest.approx(USUAL_LAG_S))


def test_a_swing_back_of_noise_tells_nothing():
    assert longest_lag([Swing(0.01, 0.014)], quick=False) == LongestLag(USUAL_LAG_S, USUAL_LAG_S)


def test_soft_shifts_without_a_dip_show_nothing():
    assert longest_lag([Swing(-0.05, 0.0)], quick=False) == LongestLag(USUAL_LAG_S, USUAL_LAG_S)


def test_one_that_spins_its_tires_does_not_decide():
    usual = Swing(0.2, 0.05)
    assert longest_lag([usual, Swing(-0.5, 0.5), usual, usual], quick=True) == LongestLag(USUAL_LAG_S, USUAL_LAG_S)


def fallen(lag_s):
    """Planted: from 1.000 s down by 2,000 rpm along a straight fall of 0.1 s that stops short, through one lag."""
    fine = np.arange(0.0, 2.0, 1e-4)
    rpm = 8000.0 - 2000.0 * np.clip((fine - 1.0) / 0.1, 0.0, 1.0)
    seen, keep = np.full(rpm.size, rpm[0]), np.exp(-1e-4 / lag_s)
    for at in range(1, rpm.size):
        seen[at] = keep * seen[at - 1] + (1.0 - keep) * rpm[at]
    rows = np.arange(0.0, 1.9, 0.01)
    channel = Channel("engine_speed", "RPM", "rpm", "rpm", rows, np.interp(rows - DELAY_S, fine, seen), 100.0)
    return read_engine_speed(Traces((channel,)))


@pytest.mark.parametrize("lag_s", [0.025, 0.035])
def test_a_fall_fades_with_the_lag_of_a_slow_pickup_and_opens_both_sides_to_it(lag_s):
    swing = read_swing(fallen(lag_s), 1.0, 1.1, rpm_before=8000.0)
    lag = longest_lag([swing], quick=False)
    assert swing.fades_s == pytest.approx(lag_s, abs=0.1 * lag_s)
    assert lag.before_s == lag.after_s == swing.fades_s


def test_a_prompt_pickup_shows_a_straight_fall_to_end_sharply():
    swing = read_swing(fallen(0.002), 1.0, 1.1, rpm_before=8000.0)  # hand: 0.23 of 0.1 s over log(0.30 / 0.07) is 16 ms
    assert swing.fades_s == pytest.approx(0.016, abs=0.002)


def test_the_fall_that_fades_soonest_bounds_the_pickup_and_none_is_slower_than_any_is():
    slow, quick = (Swing(-0.02, 0.0, fades_s) for fades_s in (0.030, 0.018))
    assert longest_lag([slow, quick, Swing(-0.02, 0.0, 0.0)], quick=False).after_s == pytest.approx(0.018)
    assert longest_lag([Swing(-0.02, 0.0, 0.2)], quick=False).after_s == pytest.approx(0.045)


def test_two_falls_sharper_than_a_lag_lets_them_be_say_that_it_was_none():
    # By hand: a lag of 23 ms, give or take 3, lets nothing fade in less than 20; three quarters of that are 15
    slow = replace(swung(0.006)[0], lag_s=0.023, lag_plus_minus_s=0.003, lag_measured=True)
    sharp, gentle = Swing(0.1, 0.0, 0.014), Swing(0.1, 0.0, 0.016)
    assert falls_too_sharp([sharp, sharp, gentle], slow)
    assert not falls_too_sharp([sharp, gentle, gentle], slow)
    assert not falls_too_sharp([Swing(0.1, 0.0, 0.0)] * 3, slow)
    usual = slow.of_usual_lag()
    assert (usual.lag_measured, usual.longest_lag_s) == (False, pytest.approx(USUAL_LAG_S))


def test_without_swings_it_is_usual():
    assert longest_lag([], quick=True) == LongestLag(USUAL_LAG_S, USUAL_LAG_S)


def quick_shift(start_s=1.0, end_s=1.06) -> Shift:
    after, drop = Estimate(5700.0, 20.0), Estimate(2300.0, 20.0)
    return Shift(1, 2, start_s, 0.005, end_s, end_s - start_s, None, ShiftKind.NORMAL, Estimate(8000.0, 10.0), after,
                 drop, None, None, None, None, None, None, None, None)  # fmt: skip


def test_what_a_runs_shifts_tell_of_its_pickup_is_one_number():
    prompt, slow = (pickup_evidence(swung(lag_s)[0], [quick_shift()]) for lag_s in (0.006, 0.023))
    assert prompt.lag_s == pytest.approx(USUAL_LAG_S)
    assert slow.lag_s > 0.018
    assert slow.dip < prompt.dip
    assert prompt.back > 0.0


@pytest.mark.parametrize("shifts", [[], [quick_shift()]])
def test_nothing_is_told_of_a_pickup_without_shifts_or_behind_a_converter(shifts):
    told = pickup_evidence(swung(0.023)[0], shifts, converter=bool(shifts))
    assert (told.lag_s, told.dip, told.back) == (pytest.approx(USUAL_LAG_S), None, None)


def test_quick_is_told_by_the_median():
    # Hand: the middle of three below 0.12 s
    assert is_quick([0.05, 0.06, 0.5]) and not is_quick([0.05, 0.2, 0.3]) and not is_quick([])
