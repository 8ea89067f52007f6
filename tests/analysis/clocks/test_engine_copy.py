"""A copy of engine speed laid over the ECU's own: planted places, rates and ages found; no copy, no answer."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.clocks.engine_copy import fit_engine_copy
from tests.analysis.two_loggers import dash_log, ecu_log, visit

RUN = visit(burnout=True)
OFFSET_S, RATE_PPM, COPY_AGE_S = 3.0, 50.0, 0.055
ECU_AGE_S = 0.014
"""Planted in the ECU's log: 6 ms of delay, 8 ms of filter."""


def own(**how):
    return ecu_log(RUN, **how).get("engine_speed")


def copied(run=RUN, **how):
    return dash_log(run, **how).get("engine_speed")


def true_place(fit, *, offset_s=OFFSET_S, rate_ppm=RATE_PPM, age_s=COPY_AGE_S):
    """By hand: the clocks' offset at the pivot, less what the copy is older than the ECU's own."""
    return offset_s + fit.pivot_s * rate_ppm * 1e-6 - (age_s - ECU_AGE_S)


@pytest.mark.parametrize("ecu_hz, dash_hz", [(25.0, 25.0), (50.0, 100.0), (100.0, 50.0), (500.0, 200.0)])
@pytest.mark.parametrize("noise", [0.0, 1.0, 4.0])
def test_the_planted_place_is_found(ecu_hz, dash_hz, noise):
    # Planted: offset 3 s, 50 ppm, 41 ms older; a copy held at 20 Hz does not say to better than some ms
    fit = fit_engine_copy(own(rate_hz=ecu_hz, noise_rpm=8.0 * noise), copied(rate_hz=dash_hz, noise=noise))
    assert fit.offset_s == pytest.approx(true_place(fit), abs=0.010)
    assert abs(fit.rate_ppm - RATE_PPM) < 3.0 * fit.rate_sigma_ppm
    assert fit.factor == 1.0 and fit.unlike_share < 0.01 and fit.residual_rpm < 100.0


@pytest.mark.parametrize("age_s", [0.015, 0.03, 0.09])
def test_an_older_copy_lies_earlier_by_as_much(age_s):
    fit = fit_engine_copy(own(), copied(age_s=age_s))
    assert fit.offset_s == pytest.approx(true_place(fit, age_s=age_s), abs=0.010)


@pytest.mark.parametrize("offset_s", [-150.0, -8.0, 12.0])
def test_logs_that_begin_far_apart_are_laid_where_they_belong(offset_s):
    fit = fit_engine_copy(own(), copied(offset_s=offset_s, rate_ppm=0.0))
    assert fit.offset_s == pytest.approx(true_place(fit, offset_s=offset_s, rate_ppm=0.0), abs=0.015)


def test_an_hour_of_idling_before_the_run_changes_nothing():
    # Planted: each log idles for most of an hour with a noise of its own; the run alone says how the clocks lie
    def after_an_hour(channel, seed):
        idle_s = np.arange(-3300.0, 0.0, 0.04)
        idle = 1200.0 + np.random.default_rng(seed).normal(0.0, 60.0, idle_s.size)
        time_s, values = np.concatenate((idle_s, channel.time_s)), np.concatenate((idle, channel.values))
        return replace(channel, time_s=time_s, values=values)

    short, long = fit_engine_copy(own(), copied()), fit_engine_copy(after_an_hour(own(), 1), after_an_hour(copied(), 2))
    assert long.offset_s == pytest.approx(short.offset_s, abs=0.002)


def test_the_answer_moves_with_the_copys_clock():
    # Time shifted: five seconds on the other clock are five seconds less of offset, and five more of pivot
    copy = copied()
    first, second = (fit_engine_copy(own(), each) for each in (copy, replace(copy, time_s=copy.time_s + 5.0)))
    assert second.pivot_s - first.pivot_s == pytest.approx(5.0, abs=0.01)
    assert second.offset_s - first.offset_s == pytest.approx(-5.0, abs=0.001)


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_a_copy_that_counts_other_pulses_is_brought_to_the_ecus(factor):
    copy = copied()
    plain = fit_engine_copy(own(), copy)
    fit = fit_engine_copy(own(), replace(copy, values=factor * copy.values))
    assert fit.factor == factor
    assert fit.offset_s == pytest.approx(plain.offset_s, abs=0.005)


@pytest.mark.parametrize("factor", [0.75, 1.5])
def test_a_scale_that_no_pulse_count_makes_is_left_and_seen_as_unlike(factor):
    copy = copied()
    fit = fit_engine_copy(own(), replace(copy, values=factor * copy.values))
    assert fit.factor == 1.0 and fit.unlike_share > 0.3


def test_two_runs_are_far_less_alike_than_one():
    # Planted: another pull of the same car
    same = fit_engine_copy(own(), copied())
    other = fit_engine_copy(own(), copied(visit(burnout=True, idle_s=3.8, pull_mps2=10.4)))
    assert same.unlike_share < 0.01 and other.unlike_share > 0.05


def test_dropouts_and_a_gap_do_not_move_it():
    copy = copied()
    values = copy.values.copy()
    values[(copy.time_s % 1.7) < 0.035] = 0.0
    values[(copy.time_s > 17.5) & (copy.time_s < 19.0)] = np.nan
    fit = fit_engine_copy(own(), replace(copy, values=values))
    assert fit.offset_s == pytest.approx(true_place(fit), abs=0.012)
    assert fit.unlike_share < 0.03


@pytest.mark.parametrize("seed", range(4))
def test_the_standard_deviation_covers_what_noise_alone_does(seed):
    # Planted: the same run twice with other noise; the two places are no further apart than three deviations
    fits = [fit_engine_copy(own(seed=each + 10), copied(seed=each + 20)) for each in (seed, seed + 4)]
    first, second = (fit.offset_s - true_place(fit) for fit in fits)
    assert abs(first - second) < 3.0 * np.hypot(*(fit.offset_sigma_s for fit in fits))


def test_what_it_is_given_is_left_as_it_was():
    engine, copy = own(), copied()
    before = engine.values.copy(), copy.values.copy(), copy.time_s.copy()
    fit_engine_copy(engine, copy)
    for then, now in zip(before, (engine.values, copy.values, copy.time_s), strict=True):
        np.testing.assert_array_equal(then, now)


def cut(channel, start_s, stop_s):
    part = channel.within(start_s, stop_s)
    return replace(part, time_s=part.time_s - start_s)


@pytest.mark.parametrize(
    "change",
    [
        lambda copy: cut(copy, 0.0, 0.15),  # fewer than twenty samples
        lambda copy: replace(copy, values=np.full_like(copy.values, np.nan)),
        lambda copy: cut(copy, 0.0, 2.5),  # less than the three seconds that logs must share
    ],
    ids=["too short", "empty", "too little in common"],
)
def test_too_little_to_go_by_is_no_answer(change):
    assert fit_engine_copy(own(), change(copied(offset_s=0.0))) is None


def test_an_ecu_without_engine_speed_is_no_answer():
    engine = own()
    assert fit_engine_copy(replace(engine, values=np.full_like(engine.values, np.nan)), copied()) is None


def test_an_engine_that_only_idles_is_no_answer():
    engine, copy = own(), copied()
    flat = [replace(each, values=np.full_like(each.values, 1000.0)) for each in (engine, copy)]
    assert fit_engine_copy(*flat) is None


def test_lateness_that_goes_with_a_turn_is_no_clock_that_runs_fast():
    # Planted: the copy is counted over whole turns, so it is half a turn late: 25 ms at idle, 3 ms on top
    prompt = copied(rate_ppm=0.0)
    early_s = prompt.time_s - 30.0 / np.maximum(prompt.values, 600.0)
    fit = fit_engine_copy(own(), replace(prompt, values=np.interp(early_s, prompt.time_s, prompt.values)))
    assert abs(fit.rate_ppm) < 2.0 * fit.rate_sigma_ppm
    assert fit.unlike_share < 0.01
