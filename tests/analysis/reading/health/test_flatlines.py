"""Signals that stand still when what they measure does not."""

import numpy as np

from passband.analysis.reading.health.flatlines import find_saturated, find_stuck, is_dead
from passband.analysis.statistics.intervals import Interval

TIME = np.arange(2000) / 100.0
RNG = np.random.default_rng(5)
RPM = np.round(3000 + 2500 * np.sin(0.5 * TIME) + 6 * RNG.standard_normal(2000))


def test_a_restless_signal_that_repeats_itself_and_jumps_on_is_stuck():
    stuck = RPM.copy()
    stuck[400:500] = stuck[400]
    assert find_stuck(TIME, stuck, rate_hz=100.0, least=1500.0) == [Interval(401, 500)]


def test_a_receiver_that_misses_a_second_is_stuck():
    speed = np.round((TIME[(np.arange(2000) // 10) * 10]) * 3.1, 2)
    speed[800:900] = speed[790]
    (found,) = find_stuck(TIME, speed, rate_hz=10.0, least=5.0)
    assert found.start in range(790, 802) and found.stop == 900


def test_a_signal_that_noise_always_moves_may_freeze_for_good():
    frozen = RPM.copy()
    frozen[1500:] = frozen[1500]
    assert find_stuck(TIME, frozen, rate_hz=100.0, least=1000.0, never_still=True) == [Interval(1501, 2000)]
    assert find_stuck(TIME, frozen, rate_hz=100.0, least=1000.0) == []  # a regulated one may end on a plateau


def test_short_repeats_coarse_steps_rest_and_plateaus_are_honest():
    short = RPM.copy()
    short[400:430] = short[400]
    coarse = np.round(RPM, -3)
    resting = np.where(TIME < 10, 0.0, RPM)
    plateau = np.minimum(3000 + 1000 * TIME, 8000.0)  # no jump on release
    plateau[TIME > 15] -= 0.5 * (TIME[TIME > 15] - 15)
    for values in (RPM, short, coarse, resting, plateau):
        assert find_stuck(TIME, values, rate_hz=100.0, least=1500.0) == []


def test_a_signal_that_stands_throughout_is_not_stuck_but_dead():
    assert find_stuck(TIME, np.full(2000, 3000.0), rate_hz=100.0, least=1500.0, never_still=True) == []


def test_dead_is_one_value_through_a_whole_log():
    assert is_dead(TIME, np.full(2000, 7.0))
    assert not is_dead(TIME, RPM)
    assert not is_dead(TIME[:60], np.full(60, 7.0))  # too short to tell


def test_a_top_cut_off_flat_is_saturated():
    boost = np.minimum(200e3 * np.sin(0.5 * TIME) + 1e3 * RNG.standard_normal(2000), 150e3)
    found = find_saturated(TIME, boost, rate_hz=100.0)
    assert found and all(boost[piece.start] == 150e3 for piece in found)


def test_noise_on_a_plateau_and_coarse_steps_are_not_saturated():
    regulated = 150e3 + 500 * RNG.standard_normal(2000)
    coarse = np.round(200 * np.sin(0.5 * TIME) / 20) * 20
    for values in (regulated, coarse, RPM):
        assert find_saturated(TIME, values, rate_hz=100.0) == []


def test_a_sample_before_a_gap_in_the_record_is_not_stuck():
    # Planted: a rising signal whose record breaks off for a second and goes on further up
    time_s = np.concatenate((np.arange(0.0, 5.0, 0.01), np.arange(6.0, 10.0, 0.01)))
    values = 20.0 + 10.0 * time_s
    assert find_stuck(time_s, values, rate_hz=100.0, least=1.0) == []


def slow_receiver(*, missing=(), steps=120):
    """Planted: a car that gains 5 m/s in each of 20 updates and coasts down by 1, held over 25 rows at 2 Hz."""
    updates = np.concatenate((np.arange(20) * 5.0, 95.0 - 1.0 * np.arange(steps - 20)))
    updates = np.round(np.maximum(updates, 0.0) + 0.03 * np.random.default_rng(2).standard_normal(steps), 2)
    for at in missing:
        updates[at] = updates[at - 1]
    return np.arange(25 * steps) / 50.0, np.repeat(updates, 25)


def test_a_receiver_by_the_clock_that_misses_two_updates_under_way_is_stuck():
    time_s, speed = slow_receiver(missing=(8, 9))
    assert find_stuck(time_s, speed, rate_hz=2.0, least=5.0) == [Interval(7 * 25 + 1, 10 * 25)]
    assert find_stuck(*slow_receiver(), rate_hz=2.0, least=5.0) == []


def test_of_a_receiver_that_often_repeats_itself_two_missing_updates_are_honest():
    time_s, speed = slow_receiver(missing=(8, 9, *range(25, 100, 6)))
    assert find_stuck(time_s, speed, rate_hz=2.0, least=5.0) == []


def test_two_updates_alike_at_a_steady_speed_are_honest():
    # by hand: it goes on from there, without a jump
    _, speed = slow_receiver()
    stood = np.concatenate((speed[: 61 * 25], np.repeat(speed[60 * 25], 50), speed[61 * 25 :]))
    assert find_stuck(np.arange(stood.size) / 50.0, stood, rate_hz=2.0, least=5.0) == []


def test_an_engine_that_is_held_and_then_leaves_is_not_stuck():
    # Planted: held at 2,500 rpm for a second, then off in even steps of 80 and more; and one that stood while it moved
    time_s = np.arange(0.0, 6.0, 0.02)
    rising = 2400.0 + 900.0 * (time_s - 2.0)
    held = np.where(time_s < 1.0, 2450.0 + 50.0 * time_s, np.where(time_s < 2.0, 2500.0, 0.0))
    leaves = np.where(time_s < 2.0, held, 2500.0 + 4000.0 * np.minimum(time_s - 1.98, 0.5) + 20.0 * time_s)
    assert find_stuck(time_s, leaves, rate_hz=50.0, least=1500.0) == []
    stood = np.where((time_s > 3.0) & (time_s < 4.0), 3300.0, rising)[time_s > 1.0]
    assert len(find_stuck(time_s[time_s > 1.0], stood, rate_hz=50.0, least=1500.0)) == 1
