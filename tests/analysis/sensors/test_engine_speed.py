"""Engine speed: ignition noise planted and taken out, gaps bridged, the pick-up's lag undone."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.sensors.engine_speed import (
    find_ignition_noise,
    local_line,
    read_engine_speed,
)
from passband.analysis.statistics.filters import delayed
from tests.analysis.planted_run import Logger, plant_run


def traced(time_s, rpm, rate_hz):
    return Traces((Channel("engine_speed", "RPM", "rpm", "rpm", time_s, rpm, rate_hz),))


@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 100.0, 200.0, 500.0])
@pytest.mark.parametrize("style", ["cut", "clutch", "converter"])
def test_a_clean_run_has_no_noise_not_even_in_its_shifts(rate_hz, style):
    channel = plant_run(style=style, logger=Logger(rate_hz=rate_hz)).traces.get("engine_speed")
    assert not find_ignition_noise(channel.time_s, channel.values).any()


@pytest.mark.parametrize("factor", [2.0, 0.5, 1.5, 0.0])
def test_doubles_halves_and_dropouts_are_found_to_the_sample(factor):
    # planted: forty single samples anywhere in the run but within a shift's fall, where it may be a neighbour
    run = plant_run(logger=Logger(rate_hz=100.0))
    channel = run.traces.get("engine_speed")
    apart = [abs(channel.time_s - shift.end_s) > 0.15 for shift in run.shifts]
    places = np.flatnonzero(np.all(apart, axis=0) & (channel.time_s > 0.3) & (channel.time_s < 8.8))
    hit = np.random.default_rng(1).choice(places[::3], 40, replace=False)
    values = channel.values.copy()
    values[hit] *= factor
    assert np.flatnonzero(find_ignition_noise(channel.time_s, values)).tolist() == sorted(hit)


def test_a_burst_inside_a_shift_is_found():
    run = plant_run(logger=Logger(rate_hz=200.0))
    channel = run.traces.get("engine_speed")
    burst = (channel.time_s > run.shifts[1].start_s + 0.02) & (channel.time_s < run.shifts[1].start_s + 0.07)
    values = np.where(burst, 2.0 * channel.values, channel.values)
    assert (find_ignition_noise(channel.time_s, values) & burst).sum() == burst.sum()


def test_a_blip_too_quick_to_be_believed_does_not_cost_the_run_after_minutes_of_idling():
    # planted: 60 s at idle, up to 4,000 rpm within two samples, 10 s of pull
    time_s = np.arange(0.0, 70.0, 0.02)
    rpm = np.where(time_s < 60.0, 1000.0, 4000.0 + 400.0 * (time_s - 60.0))
    rpm[3000] = 2000.0
    assert find_ignition_noise(time_s, rpm).sum() <= 0.7 / 0.02


def test_what_noise_left_is_bridged_straight():
    time_s = np.arange(0.0, 1.0, 0.01)
    rpm = 6000.0 + 1000.0 * time_s
    spoiled = np.where((time_s > 0.495) & (time_s < 0.535), 0.0, rpm)
    engine = read_engine_speed(traced(time_s, spoiled, 100.0))
    assert engine.rpm == pytest.approx(rpm, abs=1e-6)
    assert engine.noisy.sum() == 4


def test_missing_samples_are_put_in_and_marked():
    time_s = np.delete(np.arange(0.0, 1.0, 0.01), slice(40, 45))
    engine = read_engine_speed(traced(time_s, 6000.0 + 1000.0 * time_s, 100.0))
    assert engine.time_s.size == 100
    assert np.flatnonzero(engine.noisy).tolist() == [40, 41, 42, 43, 44]


def test_held_values_are_thinned_to_the_true_updates():
    time_s = np.arange(0.0, 2.0, 0.01)
    held = np.repeat(6000.0 + 20.0 * np.arange(50), 4)
    assert read_engine_speed(traced(time_s, held, 25.0)).step_s == pytest.approx(0.04)


def test_rows_that_repeat_a_value_are_no_missing_samples():
    # Planted: renewed each 10 ms, printed each 5 ms; from the third second each row has its own value
    time_s = np.arange(0.0, 6.0, 0.005)
    held_s = np.where(time_s < 3.0, np.floor(time_s / 0.01 + 1e-6) * 0.01, time_s)
    engine = read_engine_speed(traced(time_s, 4000.0 + 500.0 * held_s, 200.0))
    assert not engine.noisy.any()
    gap = np.abs(time_s - 1.5) > 0.05
    assert read_engine_speed(traced(time_s[gap], 4000.0 + 500.0 * held_s[gap], 200.0)).noisy.sum() == pytest.approx(
        19, abs=2
    )


def test_no_engine_speed_is_none():
    assert read_engine_speed(Traces(())) is None


def test_engine_speed_that_is_mostly_noise_is_none():
    time_s = np.arange(0.0, 1.0, 0.01)
    assert read_engine_speed(traced(time_s, np.zeros(100), 100.0)) is None


@pytest.mark.parametrize("rate_hz", [100.0, 200.0, 500.0])
@pytest.mark.parametrize("lag_s", [0.006, 0.0075, 0.009])
def test_sharpening_gives_back_what_the_lag_took(rate_hz, lag_s):
    # inverse: a dip of 100 ms, through the delay and lag of a pick-up (planted), and back
    fine = np.arange(0.0, 1.0, 0.00025)
    true = 7000.0 - 1500.0 * np.exp(-(((fine - 0.5) / 0.04) ** 2))
    late = delayed(fine, true, latency_s=0.006, lag_s=lag_s)
    rows = np.arange(0.0, 1.0, 1.0 / rate_hz)
    sharp = read_engine_speed(traced(rows, np.interp(rows, fine, late), rate_hz)).sharpened()
    blunt = np.interp(rows, fine, late).min() - true.min()
    assert abs(sharp.rpm.min() - true.min()) < min(0.6 * blunt, 40.0)


def test_a_line_needs_two_samples():
    assert local_line(np.array([0.0, 1.0]), np.array([1.0, 2.0]), start_s=0.5, stop_s=2.0, at_s=1.0) is None


def test_a_line_passes_nan_over():
    line = local_line(np.arange(4.0), np.array([0.0, np.nan, 2.0, 3.0]), start_s=0.0, stop_s=3.0, at_s=4.0)
    assert (line.value, line.slope, line.samples) == (pytest.approx(4.0), pytest.approx(1.0), 3)


def test_another_device_goes_on_where_the_log_ends():
    run = plant_run(logger=Logger(rate_hz=100.0))
    whole = run.traces.get("engine_speed")
    copy = replace(whole.within(-1.0, 9.5), time_s=whole.within(-1.0, 9.5).time_s + 0.06, log=1)
    engine = read_engine_speed(Traces((whole.within(-1.0, 6.0), copy)), start_s=-1.0, stop_s=9.0)
    assert engine.copied_from_s == pytest.approx(6.0, abs=0.02)
    assert engine.time_s[-1] > 8.9
    later = engine.time_s > 6.1
    assert engine.rpm[later] == pytest.approx(np.interp(engine.time_s[later], whole.time_s, whole.values), abs=60.0)


def test_a_copy_that_does_not_agree_is_not_taken():
    run = plant_run(logger=Logger(rate_hz=100.0))
    whole = run.traces.get("engine_speed")
    other = replace(whole, values=whole.values[::-1].copy(), log=1)
    engine = read_engine_speed(Traces((whole.within(-1.0, 6.0), other)), start_s=-1.0, stop_s=9.0)
    assert engine.copied_from_s == float("inf")


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
def test_a_throttle_that_opens_before_the_clutch_bites_is_no_noise(rate_hz):
    # Hand: 1000 N m over 0.2 kg m2 turn an engine up by 47,700 rpm/s; from 2,700 to 6,700 rpm in 84 ms
    time_s = np.arange(0.0, 3.0, 1.0 / rate_hz)
    rpm = np.interp(time_s, [0.0, 1.5, 1.584, 3.0], [2700.0, 2700.0, 6700.0, 7700.0])
    assert not find_ignition_noise(time_s, rpm).any()


def from_rest(time_s, launch_s=1.0, per_s=3000.0):
    """An electric motor geared to its wheels: it stands until the launch."""
    return np.maximum(per_s * (time_s - launch_s), 0.0)


@pytest.mark.parametrize("rate_hz", [20.0, 50.0, 200.0])
def test_a_motor_that_stands_until_the_launch_is_no_noise(rate_hz):
    # Planted: it reads 0 for a second, then turns up with the car; a little noise about the least
    time_s = np.arange(0.0, 4.0, 1.0 / rate_hz)
    rpm = np.round(from_rest(time_s) + np.random.default_rng(2).normal(0.0, 4.0, time_s.size))
    assert not find_ignition_noise(time_s, rpm).any()
    engine = read_engine_speed(traced(time_s, rpm, rate_hz))
    assert np.median(engine.rpm[time_s < 0.9]) == pytest.approx(0.0, abs=4.0)


def test_a_signal_lost_for_long_is_no_engine_that_stands():
    # Planted: half a second of nothing from running speed to running speed, and at the start of the record
    time_s = np.arange(0.0, 3.0, 0.01)
    for first, last in ((1.0, 1.5), (-1.0, 0.5)):
        lost = (time_s > first) & (time_s < last)
        rpm = np.where(lost, 0.0, 4000.0 + 300.0 * time_s)
        assert find_ignition_noise(time_s, rpm)[lost].all()


def test_a_motor_that_swings_in_its_shafts_after_a_long_rest_is_no_noise():
    # Planted: 20 Hz, at rest for two seconds, 616 rpm by the next sample, down to 28 and up again
    time_s = np.arange(0.0, 5.0, 0.05)
    rpm = np.interp(time_s, [2.05, 2.1, 2.15, 2.2, 2.25, 2.3, 5.0], [0.0, 616.0, 747.0, 64.0, 28.0, 534.0, 5000.0])
    assert not find_ignition_noise(time_s, rpm).any()


def test_a_motor_whose_lash_throws_it_about_as_it_takes_hold_is_no_noise():
    # Planted, regression: 25 Hz, swings of 400 rpm about what it turns up to; without the rest they are noise
    time_s = np.arange(0.0, 6.0, 0.04)
    swings = [440.0, 409.0, 137.0, 89.0, 189.0, 907.0, 854.0, 603.0, 434.0, 589.0, 1105.0, 1185.0, 1085.0, 1080.0]
    rpm = np.where(time_s < 3.0, 0.0, 1080.0 + 2500.0 * (time_s - 3.5))
    rpm[75 : 75 + len(swings)] = swings
    assert not find_ignition_noise(time_s, rpm).any()
    spiked = rpm.copy()
    spiked[[80, 110]] = 9000.0
    assert np.flatnonzero(find_ignition_noise(time_s, spiked)).tolist() == [80, 110]
