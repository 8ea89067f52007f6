"""Samples that leave a signal faster than the engine can, and come back."""

import numpy as np
import pytest

from passband.analysis.reading.health.spikes import Gate, find_excursions, find_rail_spikes, swings_past
from passband.analysis.statistics.intervals import Interval

ENGINE = Gate(
    floor=80.0, share=0.02, fall_per_s=90e3, rise_per_s=45e3, most_fall=0.46, most_rise=0.5, longest_s=0.4,
    longest_flat_s=2.0, least=500.0,
)  # fmt: skip
"""An engine: 2,000 rpm lost in 30 ms by dogs is 67,000 rpm/s, no gear step takes 46 %. By arithmetic. [rpm]"""


def engine(rate_hz: float, *, noise: float = 6.0):
    """Idle, a launch against a two-step limiter, four gears with torque-cut shifts; no fault in it."""
    time = np.arange(int(12 * rate_hz)) / rate_hz
    knots = [(0, 950), (2, 950), (2.4, 6500), (4, 6500), (4.8, 5400), (6.5, 8500)]
    for start in (6.5, 8.0, 9.8):
        knots += [(start + 0.03, 6400), (start + 0.045, 6200), (start + 0.06, 6450), (start + 1.4, 8500)]
    knots += [(11.3, 8500), (12, 3000)]
    rpm = np.interp(time, *zip(*knots, strict=True))
    limiter = (time > 2.5) & (time < 4)
    rpm = rpm + np.where(limiter, 200 * np.sin(2 * np.pi * 12 * time), 0.0)
    return time, np.round(rpm + noise * np.random.default_rng(3).standard_normal(time.size))


@pytest.mark.parametrize("rate_hz", [20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0])
@pytest.mark.parametrize("noise", [0.0, 6.0, 15.0])
def test_a_healthy_run_has_none(rate_hz, noise):
    assert find_excursions(*engine(rate_hz, noise=noise), ENGINE) == []


def test_a_true_shift_that_is_quicker_than_the_gate_is_no_excursion():
    time, rpm = engine(500.0, noise=0.0)
    rpm[time >= 6.5] = np.minimum(rpm[time >= 6.5], 6300)  # falls 2200 in 2 ms and stays
    assert find_excursions(time, rpm, ENGINE) == []


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 500.0])
@pytest.mark.parametrize("factor", [0.0, 0.5, 2.0])
@pytest.mark.parametrize("at_s", [1.0, 3.0, 6.2, 6.52, 8.03, 11.8])
def test_lost_halved_and_doubled_pulses_are_found_to_the_sample(rate_hz, factor, at_s):
    # Planted: one to three samples, also inside shifts and on the limiter
    time, rpm = engine(rate_hz)
    start = int(at_s * rate_hz)
    stop = start + min(3, max(1, int(0.03 * rate_hz)))
    rpm[start:stop] *= factor
    (found,) = find_excursions(time, rpm, ENGINE)
    assert found.where == Interval(start, stop) and found.to_zero == (factor == 0.0)


@pytest.mark.parametrize("seconds", [0.02, 0.3, 1.5])
def test_a_long_loss_to_zero_is_one_excursion(seconds):
    time, rpm = engine(100.0)
    lost = (time >= 8.5) & (time < 8.5 + seconds)
    rpm[lost] = 0.0
    (found,) = find_excursions(time, rpm, ENGINE)
    assert found.where == Interval(int(np.flatnonzero(lost)[0]), int(np.flatnonzero(lost)[-1]) + 1)


def test_a_burst_of_noise_is_covered():
    time, rpm = engine(500.0)
    burst = slice(3600, 3620)
    rpm[burst] *= np.random.default_rng(1).choice([0.4, 0.6, 1.6, 2.0], 20)
    marked = np.zeros(rpm.size, dtype=bool)
    for found in find_excursions(time, rpm, ENGINE):
        marked[found.where.start : found.where.stop] = True
    assert marked[burst].all() and marked.sum() <= 22


def test_a_held_copy_steps_further_and_is_healthy():
    time, rpm = engine(100.0)
    copy = np.round(rpm[(np.arange(rpm.size) // 5) * 5], -1)
    assert find_excursions(time, copy, ENGINE, hold_s=0.05) == []


def test_an_engine_that_is_switched_off_is_no_excursion():
    time, rpm = engine(100.0)
    rpm[time > 11.9] = 0.0
    assert find_excursions(time, rpm, ENGINE) == []


def test_a_contact_that_opens():
    time = np.arange(500) / 100.0
    oil = 400e3 + 3e3 * np.random.default_rng(2).standard_normal(500)
    oil[[100, 300, 301]] = 0.0
    found = find_rail_spikes(time, oil, longest_s=0.06, least_step=60e3)
    assert found == [Interval(100, 101), Interval(300, 302)]


def test_a_pressure_that_truly_fails_stays():
    time = np.arange(500) / 100.0
    oil = np.where(time > 3.0, 0.0, 400e3)
    assert find_rail_spikes(time, oil, longest_s=0.06, least_step=60e3) == []


WHEEL = Gate(
    floor=1.5, share=0.05, fall_per_s=400.0, rise_per_s=400.0, most_fall=0.6, most_rise=0.6, longest_s=0.12,
    longest_flat_s=0.3, least=12.0, longest_share_s=2.0,
)  # fmt: skip
"""A wheel: a spinning tire gains 20 m/s in 0.1 s, by far more than any car. [m/s]"""


def wheel(*, share, start_s=3.0, stop_s=3.5, rate_hz=100.0):
    """10 m/s2 from rest; between two moments the counter reads a share of it, 0.1 m/s of noise on all."""
    time = np.arange(int(8 * rate_hz)) / rate_hz
    lost = (time >= start_s) & (time < stop_s)
    noise = 0.1 * np.random.default_rng(4).standard_normal(time.size)
    return time, np.where(lost, share, 1.0) * 10.0 * time + noise


@pytest.mark.parametrize("share", [0.33, 0.5, 0.66])
@pytest.mark.parametrize("stop_s", [3.25, 3.5, 4.5])
def test_a_counter_that_loses_pulses_is_found_by_both_its_edges(share, stop_s):
    # Planted: half, a third or two thirds of the pulses for as long as a second and a half
    (one,) = find_excursions(*wheel(share=share, stop_s=stop_s), WHEEL)
    assert one.where == Interval(300, round(100 * stop_s)) and not one.to_zero


def test_a_wheel_that_locks_and_comes_back_as_tires_do_is_no_lost_pulse():
    # Planted: brakes take it to half within 0.1 s, it comes back within 0.2 s
    time, speed = wheel(share=1.0)
    speed *= np.interp(time, [5.0, 5.1, 5.5, 5.7], [1.0, 0.5, 0.5, 1.0])
    assert find_excursions(time, speed, WHEEL) == []


def test_half_the_pulses_that_never_come_back_are_left():
    assert find_excursions(*wheel(share=0.5, stop_s=9.0), WHEEL) == []


@pytest.mark.parametrize("rate_hz", [100.0, 200.0, 500.0])
def test_a_shaft_let_go_by_a_cut_swings_past_its_level_and_a_lost_pulse_does_not(rate_hz):
    # Planted: a swing at 9 Hz that dies away in 60 ms, about a shaft that pulls; beside it a pulse lost for as long
    time_s = np.arange(int(4 * rate_hz)) / rate_hz
    since = np.maximum(time_s - 2.0, 0.0)
    pulls = 3000.0 + 400.0 * time_s
    swings = pulls - 2500.0 * np.sin(2 * np.pi * 9.0 * since) * np.exp(-since / 0.06)
    low = np.flatnonzero(swings < pulls - 600.0)
    where = Interval(int(low[0]), int(low[-1]) + 1)
    lost = np.where((time_s >= time_s[low[0]]) & (time_s <= time_s[low[-1]]), 0.5 * pulls, pulls)
    assert swings_past(time_s, swings, where) and not swings_past(time_s, lost, where)
