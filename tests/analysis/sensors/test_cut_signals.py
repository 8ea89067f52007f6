"""Signals of a torque cut: edges found between samples, limiters and earlier cuts left alone."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.sensors.cut_signals import Edge, find_commanded_cut, find_commands, torque_is_cut
from passband.analysis.statistics.filters import delayed

CUT_S = 2.0037


def channel(name, values, time_s, resolution=0.0):
    return Channel(name, name, "", "", time_s, values, 1.0 / (time_s[1] - time_s[0]), resolution=resolution)


def rows(rate_hz):
    return np.arange(0.0, 3.0, 1.0 / rate_hz)


def flag(time_s):
    return channel("shift_cut", np.where((time_s >= CUT_S + 0.003) & (time_s < CUT_S + 0.07), 1.0, 0.0), time_s)


def ignition(time_s, rest=22.0, cut=10.0):
    fine = np.arange(0.0, 3.0, 0.0005)
    angle = np.where((fine >= CUT_S) & (fine < CUT_S + 0.08), cut, rest)
    return channel("ignition_advance", np.interp(time_s, fine, delayed(fine, angle, lag_s=0.004)), time_s)


def throttle(time_s):
    fine = np.arange(0.0, 3.0, 0.0005)
    open_share = np.where(fine < CUT_S, 1.0, np.exp(-np.maximum(fine - CUT_S, 0) / 0.02))
    return channel("throttle", np.interp(time_s, fine, delayed(fine, open_share, latency_s=0.003, lag_s=0.002)), time_s)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 500.0])
@pytest.mark.parametrize("make", [flag, ignition, throttle])
def test_each_signal_tells_the_cut_within_a_sample_and_what_it_claims(rate_hz, make):
    # planted
    traces = Traces((make(rows(rate_hz)),))
    edge = find_commanded_cut(traces, fall_s=CUT_S + 0.05, earliest_s=0.5)
    assert edge.time_s == pytest.approx(CUT_S, abs=min(edge.plus_minus_s, max(0.010, 1.0 / rate_hz)))


def foot(time_s, cut_s):
    """A pedal let up within 14 ms, its plate's and sensor's lag behind it."""
    fine = np.arange(0.0, 3.0, 0.0005)
    pedal = 1.0 - np.interp(fine, [cut_s, cut_s + 0.014], [0.0, 1.0])
    return channel("throttle", np.interp(time_s, fine, delayed(fine, pedal, latency_s=0.003, lag_s=0.008)), time_s)


def angle(time_s, cut_s):
    """Ignition taken out at once, logged through a lag."""
    fine = np.arange(0.0, 3.0, 0.0005)
    stepped = np.where((fine >= cut_s) & (fine < cut_s + 0.1), 5.0, 20.0)
    seen = delayed(fine, stepped, latency_s=0.0015, lag_s=0.004)
    return channel("ignition_advance", np.interp(time_s, fine, seen), time_s)


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0])
@pytest.mark.parametrize("make", [foot, angle])
def test_wherever_the_samples_fall_the_start_is_known_to_what_is_told(rate_hz, make):
    # planted at forty phases of the sampling
    off, told = [], []
    for cut_s in CUT_S + np.linspace(0.0, 1.0 / rate_hz, 40, endpoint=False):
        traces = Traces((make(rows(rate_hz), float(cut_s)),))
        edge = find_commanded_cut(traces, fall_s=float(cut_s) + 0.06, earliest_s=0.5)
        off.append(edge.time_s - cut_s)
        told.append(edge.plus_minus_s)
    assert np.mean(np.abs(off) <= told) >= 0.9
    assert np.median(told) < 0.0105


def test_a_flag_beats_the_throttle():
    traces = Traces((throttle(rows(100.0)), flag(rows(100.0))))
    assert find_commanded_cut(traces, fall_s=CUT_S + 0.05, earliest_s=0.5).evidence == "shift_cut"


def test_a_foot_that_lifts_before_the_ecu_retards_is_the_start():
    time_s = rows(200.0)
    late = np.where((time_s > CUT_S + 0.06) & (time_s < CUT_S + 0.2), 5.0, 20.0)
    traces = Traces((throttle(time_s), channel("ignition_advance", late, time_s)))
    assert find_commanded_cut(traces, fall_s=CUT_S + 0.15, earliest_s=0.5).evidence == "throttle"


def test_a_retard_that_stands_for_long_is_no_cut():
    time_s = rows(200.0)
    angle = np.where((time_s > CUT_S - 0.4) & (time_s < CUT_S + 0.1), 8.0, 20.0)
    traces = Traces((channel("ignition_advance", angle, time_s),))
    assert find_commanded_cut(traces, fall_s=CUT_S, earliest_s=0.5) is None


def test_a_limiter_before_the_cut_is_not_taken_for_it():
    time_s = rows(500.0)
    chop = (time_s > CUT_S - 0.25) & (time_s < CUT_S - 0.05) & (np.sin(2 * np.pi * 12.0 * time_s) > 0)
    angle = np.where(chop | ((time_s > CUT_S) & (time_s < CUT_S + 0.1)), 5.0, 20.0)
    traces = Traces((channel("ignition_advance", angle, time_s),))
    assert find_commanded_cut(traces, fall_s=CUT_S + 0.06, earliest_s=0.5).time_s == pytest.approx(CUT_S, abs=0.01)


@pytest.mark.parametrize("lit_s", [0.012, 0.02])
def test_a_cut_off_the_limiter_is_the_chop_that_does_not_come_back(lit_s):
    # planted: a limiter that cuts the ignition every 40 ms for 1 s; the shift's cut follows 10 ms after it let go
    time_s, fine = rows(200.0), np.arange(0.0, 3.0, 0.0005)
    since = (fine - (CUT_S - lit_s)) % 0.04
    on_limiter = (fine > CUT_S - 1.0) & (fine < CUT_S)
    angle = np.where(on_limiter & (since >= lit_s), -10.0, 20.0)
    angle = np.where((fine >= CUT_S) & (fine < CUT_S + 0.06), -10.0, angle)
    traces = Traces((channel("ignition_advance", np.interp(time_s, fine, delayed(fine, angle, lag_s=0.002)), time_s),))
    edge = find_commanded_cut(traces, fall_s=CUT_S + 0.05, earliest_s=0.5)
    assert edge.time_s == pytest.approx(CUT_S, abs=min(edge.plus_minus_s, 0.01))


def test_a_throttle_wide_open_tells_nothing():
    time_s = rows(100.0)
    traces = Traces((channel("throttle", np.full(time_s.size, 0.99), time_s),))
    assert find_commanded_cut(traces, fall_s=2.0, earliest_s=0.5) is None


def test_manifold_pressure_serves_where_nothing_else_is_logged():
    time_s = rows(100.0)
    pressure = 2.3e5 - 1.9e5 * (1 - np.exp(-np.maximum(time_s - CUT_S - 0.025, 0) / 0.03))
    traces = Traces((channel("manifold_pressure", pressure, time_s),))
    edge = find_commanded_cut(traces, fall_s=CUT_S + 0.2, earliest_s=0.5)
    assert (edge.evidence, edge.time_s) == ("manifold_pressure", pytest.approx(CUT_S, abs=0.012))


@pytest.mark.parametrize("rate_hz", [50.0, 100.0])
@pytest.mark.parametrize("eased", [0.0, 0.03, 0.08])
def test_a_throttle_that_was_eased_before_its_lift_tells_the_lift(rate_hz, eased):
    # planted: eased off straight over the last 0.25 s before the foot lets go
    time_s = rows(rate_hz)
    lifted = throttle(time_s)
    gently = 0.7 * (1.0 - eased * np.interp(time_s, [CUT_S - 0.25, CUT_S], [0.0, 1.0]))
    edge = find_commanded_cut(
        Traces((replace(lifted, values=gently * lifted.values),)), fall_s=CUT_S + 0.2, earliest_s=0.5
    )
    assert edge.time_s == pytest.approx(CUT_S, abs=min(edge.plus_minus_s, 1.0 / rate_hz))


def test_no_signal_no_edge():
    assert find_commanded_cut(Traces(()), fall_s=2.0, earliest_s=0.5) is None


def test_torque_is_cut_where_a_flag_or_the_foot_says_so():
    time_s = rows(100.0)
    cut = torque_is_cut(Traces((flag(time_s),)), time_s)
    assert (time_s[cut][0], time_s[cut][-1]) == (pytest.approx(2.01), pytest.approx(2.07))
    assert torque_is_cut(Traces((throttle(time_s),)), time_s)[215]
    assert not torque_is_cut(Traces(()), time_s).any()


@pytest.mark.parametrize("make", [flag, ignition])
def test_a_moments_cut_is_a_command(make):
    assert find_commands(Traces((make(rows(100.0)),)), start_s=0.0, stop_s=3.0) == pytest.approx([CUT_S], abs=0.012)


def test_neither_a_limiters_chops_nor_a_lasting_retard_command_anything():
    time_s = rows(200.0)
    chopped = np.where((time_s > 1.0) & (time_s < 2.0) & (time_s % 0.1 < 0.05), 5.0, 20.0)
    lasting = np.where((time_s > 1.0) & (time_s < 1.4), 5.0, 20.0)
    for angle_deg in (chopped, lasting):
        traces = Traces((channel("ignition_advance", angle_deg, time_s),))
        assert find_commands(traces, start_s=0.0, stop_s=3.0).size == 0
    assert find_commands(Traces((throttle(time_s),)), start_s=0.0, stop_s=3.0).size == 0


@pytest.mark.parametrize("late_s", [0.003, 0.014])
def test_a_flag_that_comes_after_the_spark_was_cut_is_late(late_s):
    # Planted: the same cut by the ignition's angle and by a flag that the logger shows late
    time_s = rows(200.0)
    late = channel("shift_cut", ((time_s >= CUT_S + late_s) & (time_s < CUT_S + 0.09)).astype(float), time_s)
    edge = find_commanded_cut(Traces((late, ignition(time_s))), fall_s=CUT_S + 0.05, earliest_s=0.5)
    assert edge.evidence == ("shift_cut" if late_s < 0.005 else "ignition_advance")
    assert edge.time_s == pytest.approx(CUT_S, abs=edge.plus_minus_s)


def test_a_spark_cut_long_before_the_flag_was_another_cut():
    # Planted: a limiter's retard 60 ms before the flag
    time_s = rows(200.0)
    late = channel("shift_cut", ((time_s >= CUT_S + 0.06) & (time_s < CUT_S + 0.12)).astype(float), time_s)
    edge = find_commanded_cut(Traces((late, ignition(time_s))), fall_s=CUT_S + 0.09, earliest_s=0.5)
    assert edge.evidence == "shift_cut"


@pytest.mark.parametrize(("latency_s", "lag_s"), [(0.001, 0.002), (0.004, 0.012), (0.008, 0.008), (0.003, 0.018)])
@pytest.mark.parametrize("rate_hz", [100.0, 200.0])
def test_a_foot_is_covered_however_late_its_sensor_shows_it(rate_hz, latency_s, lag_s):
    # planted at ten phases of the sampling
    fine, off, told = np.arange(0.0, 3.0, 0.0005), [], []
    for cut_s in CUT_S + np.linspace(0.0, 1.0 / rate_hz, 10, endpoint=False):
        pedal = 1.0 - np.interp(fine, [cut_s, cut_s + 0.014], [0.0, 1.0])
        seen = np.interp(rows(rate_hz), fine, delayed(fine, pedal, latency_s=latency_s, lag_s=lag_s))
        traces = Traces((channel("throttle", seen, rows(rate_hz)),))
        edge = find_commanded_cut(traces, fall_s=float(cut_s) + 0.06, earliest_s=0.5)
        off.append(edge.time_s - cut_s)
        told.append(edge.plus_minus_s)
    assert np.mean(np.abs(off) <= told) >= 0.9


@pytest.mark.parametrize(("rows_hz", "own_hz"), [(40.0, 20.0), (50.0, 25.0), (100.0, 25.0), (20.0, 10.0)])
@pytest.mark.parametrize("lag_s", [0.012, 0.030])
def test_a_lift_whose_throttle_the_log_holds_is_told_by_its_own_values(rows_hz, own_hz, lag_s):
    # planted: a plate let go shuts along its own lag; each value stands for the rows until the next; twenty phases
    fine, time_s = np.arange(0.0, 3.0, 0.0005), rows(rows_hz)
    own_s = time_s[:: round(rows_hz / own_hz)]
    held_at = np.searchsorted(own_s, time_s + 1e-9) - 1
    off, told = [], []
    for cut_s in CUT_S + np.linspace(0.0, 1.0 / own_hz, 20, endpoint=False):
        plate = np.exp(-np.maximum(fine - cut_s, 0.0) / lag_s)
        own = np.interp(own_s, fine, delayed(fine, plate, latency_s=0.002, lag_s=0.004))
        own += np.random.default_rng(3).normal(0.0, 0.0015, own.size)
        traces = Traces((replace(channel("throttle", own[held_at], time_s), rate_hz=own_hz),))
        edge = find_commanded_cut(traces, fall_s=float(cut_s) + 0.12, earliest_s=0.5)
        off.append(edge.time_s - cut_s)
        told.append(edge.plus_minus_s)
    assert np.mean(np.abs(off) <= told) >= 0.9
    assert np.median(np.abs(off)) < 0.3 / own_hz


@pytest.mark.parametrize("lag_s", [0.002, 0.004, 0.006])
@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 100.0, 200.0])
def test_a_stepped_angle_is_covered_whatever_its_lag(rate_hz, lag_s):
    # planted at ten phases of the sampling; a tenth of the fall goes on for 40 ms more
    fine, off, told = np.arange(0.0, 3.0, 0.0005), [], []
    for cut_s in CUT_S + np.linspace(0.0, 1.0 / rate_hz, 10, endpoint=False):
        stepped = np.interp(fine, [0.0, cut_s, cut_s + 5e-4, cut_s + 0.04, 3.0], [18.0, 18.0, -5.5, -8.0, -8.0])
        seen = np.interp(rows(rate_hz), fine, delayed(fine, stepped, latency_s=0.0, lag_s=lag_s))
        traces = Traces((channel("ignition_advance", seen, rows(rate_hz)),))
        edge = find_commanded_cut(traces, fall_s=float(cut_s) + 0.06, earliest_s=0.5)
        off.append(edge.time_s - cut_s)
        told.append(edge.plus_minus_s)
    assert np.mean(np.abs(off) <= told) >= 0.8


def test_an_end_before_its_start_is_told_at_the_start_and_open_by_what_was_wrong():
    # Hand: 40 ms and 30 ms at right angles are 50
    start, early, late = Edge(1.0, 0.01, "shift_cut"), Edge(0.96, 0.03, "engine_speed"), Edge(1.1, 0.03, "engine_speed")
    assert late.not_before(start) == late
    assert early.not_before(start).time_s == pytest.approx(1.0)
    assert early.not_before(start).plus_minus_s == pytest.approx(0.05)


def test_a_plate_that_stays_shut_stays_shut_though_its_rows_repeat_it():
    # Planted: 25 Hz held on rows of 50 Hz; shut at 2 s, where it reads the same four times in a row, reopened at 2.32 s
    own = np.array([1.0] * 50 + [0.6, 0.1, 0.02, 0.001, 0.001, 0.001, -0.001, -0.001] + [0.3] + [1.0] * 16)
    time_s = np.arange(2 * own.size) / 50.0
    plate = replace(channel("throttle", np.repeat(own, 2), time_s), rate_hz=25.0)
    edge = find_commanded_cut(Traces((plate,)), fall_s=2.3, earliest_s=0.5)
    assert edge.time_s == pytest.approx(1.98, abs=0.02)
