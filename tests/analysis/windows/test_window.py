"""Runs told from burnouts, creep, false starts and idling; launches found by whatever shows them."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.clocks.match import on_one_clock
from passband.analysis.given.car import Car
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.estimate import Estimate
from passband.analysis.windows.window import FoundRuns, find_runs
from tests.analysis.two_loggers import CAR, channel, dash_log, ecu_log, visit, without

RUN = visit()
ENGINE_ONLY = ("wheel_speed_driven",)


def traces_of(run, *, ecu_hz=100.0, dash_hz=100.0, ecu_without=(), dash_without=()):
    """Both logs on the true clock."""
    logs = [without(ecu_log(run, rate_hz=ecu_hz), *ecu_without), without(dash_log(run, rate_hz=dash_hz), *dash_without)]
    return on_one_clock(logs, [ClockMatch("dash.csv", Estimate(3.0, 0.0), Estimate(50.0, 0.0), ())])


def ecu_alone(run, *missing, **how):
    return on_one_clock([without(ecu_log(run, **how), *missing)], [])


def kinds(window):
    return [event.kind for event in window.other_events]


def late(windows, run):
    return [window.launch_s - launch for window, launch in zip(windows, run.launches_s, strict=True)]


@pytest.mark.parametrize("ecu_hz, dash_hz", [(25.0, 25.0), (50.0, 50.0), (100.0, 100.0), (500.0, 100.0)])
def test_the_planted_launch_is_found(ecu_hz, dash_hz):
    found = find_runs(traces_of(RUN, ecu_hz=ecu_hz, dash_hz=dash_hz), CAR)
    # The car is let go at the planted moment and has moved two millimetres 20 ms later
    assert -0.01 < late(found.windows, RUN)[0] < 0.04
    assert found.windows[0].launch_plus_minus_s < 0.05
    assert found.windows[0].lift_s == pytest.approx(RUN.lifts_s[0], abs=0.03)
    assert found.windows[0].stop_s > RUN.lifts_s[0]
    assert found.findings == ()


def test_the_plain_visit_holds_no_burnout():
    windows = find_runs(traces_of(RUN), CAR).windows
    assert "burnout" not in kinds(windows[0]) and "false start" not in kinds(windows[0])


@pytest.mark.parametrize(
    "ecu_without, dash_without",
    [((), ()), (ENGINE_ONLY, ()), ((), ("wheel_speed_fl",)), (ENGINE_ONLY, ("acceleration",))],
)
def test_a_burnout_is_told_from_the_run_by_whatever_is_there(ecu_without, dash_without):
    run = visit(burnout=True)
    windows = find_runs(traces_of(run, ecu_without=ecu_without, dash_without=dash_without), CAR).windows
    assert late(windows, run)[0] == pytest.approx(0.02, abs=0.05)
    burnout = next(event for event in windows[0].other_events if event.kind == "burnout")
    assert (burnout.log_start_s, burnout.log_end_s) == pytest.approx((3.0, 7.0), abs=0.8)


@pytest.mark.parametrize("missing", [(), ENGINE_ONLY])
def test_an_ecu_log_alone_shows_burnout_and_run(missing):
    run = visit(burnout=True)
    found = find_runs(ecu_alone(run, *missing), CAR)
    # An engine that sinks from its two-step shows its launch to 0.08 s
    assert abs(late(found.windows, run)[0] - 0.02) < found.windows[0].launch_plus_minus_s < 0.1
    assert kinds(found.windows[0]).count("burnout") == 1
    assert found.findings[0].code == ("run-found-by-engine" if missing else "run-found-by-driven-wheel")


def test_two_runs_in_one_log_are_two():
    run = visit(runs=2, burnout=True)
    windows = find_runs(traces_of(run), CAR).windows
    assert late(windows, run) == pytest.approx([0.02, 0.02], abs=0.03)
    assert windows[0].stop_s < windows[1].launch_s
    assert kinds(windows[0]).count("burnout") == 2


def test_two_runs_are_two_for_an_engine_alone():
    run = visit(runs=2)
    windows = find_runs(ecu_alone(run, *ENGINE_ONLY), CAR).windows
    assert late(windows, run) == pytest.approx([0.02, 0.02], abs=0.09)


def test_a_false_start_that_is_rolled_back_is_told():
    run = visit(false_start=True)
    found = find_runs(traces_of(run), CAR)
    assert late(found.windows, run)[0] == pytest.approx(0.02, abs=0.03)
    assert [kind for kind in kinds(found.windows[0]) if kind != "staging creep"] == ["false start", "rolled back"]
    assert "false start" in found.findings[0].text.lower() and found.findings[0].level == "note"


def test_a_roll_back_below_what_the_other_sensors_see_is_told_by_the_driven_tires():
    # Planted: nothing but the driven wheel turns up below 1.5 m/s
    run = visit(false_start=True)
    log = dash_log(run, rate_hz=100.0)
    deaf = [
        replace(one, values=np.where(one.values > 1.5, one.values, 0.0)) if "speed" in one.name else one
        for one in log.channels
        if one.name not in ("engine_speed", "acceleration")
    ]
    dash = replace(log, channels=tuple(deaf))
    traces = on_one_clock(
        [ecu_log(run, rate_hz=100.0), dash], [ClockMatch("dash.csv", Estimate(3.0, 0.0), Estimate(50.0, 0.0), ())]
    )
    windows = find_runs(traces, CAR).windows
    assert [kind for kind in kinds(windows[0]) if kind != "staging creep"] == ["false start", "rolled back"]


@pytest.mark.parametrize("lift_after_s", [1.6, 3.0])
def test_an_aborted_run_ends_with_its_lift(lift_after_s):
    run = visit(lift_after_s=lift_after_s)
    windows = find_runs(traces_of(run), CAR).windows
    assert windows[0].lift_s == pytest.approx(run.lifts_s[0], abs=0.03)


def test_a_shift_shortly_before_the_line_is_no_lift_for_good():
    # Planted: the foot off for 0.4 s, a moment before it comes off for good
    lifts_s = RUN.lifts_s[0]

    def shifting(one):
        shut = (one.time_s > lifts_s - 0.55) & (one.time_s < lifts_s - 0.15) & (one.name == "throttle")
        return replace(one, values=np.where(shut, 0.0, one.values))

    windows = find_runs(Traces(tuple(shifting(one) for one in traces_of(RUN))), CAR).windows
    assert windows[0].lift_s == pytest.approx(lifts_s, abs=0.03)


def test_a_log_that_ends_under_power_has_no_lift():
    traces = traces_of(RUN).within(0.0, RUN.launches_s[0] + 6.0)
    windows = find_runs(traces, CAR).windows
    assert windows[0].lift_s is None
    assert windows[0].stop_s == pytest.approx(RUN.launches_s[0] + 6.0, abs=0.05)


def test_an_ecu_log_that_ends_before_the_run_does_is_no_lift():
    # The dash goes on: nobody knows what the foot did, and the car is still at it
    traces = traces_of(RUN)
    ends_s = RUN.lifts_s[0] - 0.6
    cut = [one.within(-np.inf, ends_s) if one.log == 0 else one for one in traces]
    windows = find_runs(Traces(tuple(cut)), CAR).windows
    assert windows[0].lift_s is None and windows[0].stop_s > ends_s + 0.5


def test_ten_minutes_of_idling_around_the_run_change_nothing():
    run = visit(idle_s=300.0)
    windows = find_runs(traces_of(run, ecu_hz=50.0, dash_hz=25.0), CAR).windows
    assert late(windows, run)[0] == pytest.approx(0.02, abs=0.03)


def test_idling_holds_no_run():
    found = find_runs(traces_of(RUN).within(0.0, 2.5), CAR)
    assert found == FoundRuns()


def test_nothing_holds_no_run():
    assert find_runs(Traces(()), CAR) == FoundRuns()


def test_the_return_road_is_no_run():
    # Planted: a gentle drive at 12 m/s, no full throttle, after the run
    time = np.arange(0.0, 90.0, 0.02)
    back = np.interp(time, [0, 50, 62, 80, 90], [0, 0, 12, 12, 0.0])
    speed = np.interp(time, RUN.time_s, RUN.speed_mps, right=0.0) + back
    wheel = channel("wheel_speed_fl", "m/s", time, speed, rate_hz=50.0, log=1)
    windows = find_runs(Traces((*ecu_log(RUN).channels, wheel)), CAR).windows
    assert len(windows) == 1
    assert kinds(windows[0])[-1] == "return road"


def test_a_launch_before_the_logs_begin_is_told():
    start = RUN.launches_s[0] + 2.0
    found = find_runs(traces_of(RUN).within(start, 99.0), CAR)
    assert found.windows == ()
    assert found.findings[0].code == "launch-not-in-log"


def test_gps_missing_for_two_seconds_does_not_end_a_run():
    traces = traces_of(RUN, dash_without=("wheel_speed_fl",), ecu_without=ENGINE_ONLY)
    hole = RUN.launches_s[0] + 3.0
    gps = traces.get("gps_speed")
    values = np.where((gps.time_s > hole) & (gps.time_s < hole + 2.0), np.nan, gps.values)
    torn = Traces(tuple(replace(one, values=values) if one is gps else one for one in traces))
    windows = find_runs(torn, CAR).windows
    assert len(windows) == 1
    assert windows[0].stop_s > RUN.lifts_s[0]


def test_a_wheel_that_never_turns_is_left_out():
    traces = traces_of(RUN)
    wheel = traces.get("wheel_speed_fl")
    dead = replace(wheel, name="wheel_speed_fr", values=np.zeros_like(wheel.values))
    windows = find_runs(Traces((dead, *traces.channels)), CAR).windows
    assert late(windows, RUN)[0] == pytest.approx(0.02, abs=0.03)


@pytest.mark.parametrize("axle", ["front", "all", None])
def test_a_car_whose_axle_is_told_wrong_or_not_at_all_still_has_its_run(axle):
    windows = find_runs(traces_of(RUN), Car(name="unknown", driven_axle=axle)).windows
    assert late(windows, RUN)[0] == pytest.approx(0.02, abs=0.04)


def test_a_run_that_the_ecu_did_not_record_is_none():
    run = visit(runs=2)
    traces = traces_of(run)
    cut = Traces(tuple(one.within(0.0, run.launches_s[1] - 3.0) if one.log == 0 else one for one in traces))
    windows = find_runs(cut, CAR).windows
    assert len(windows) == 1


def test_throttle_that_is_not_logged_is_read_off_the_engine():
    windows = find_runs(traces_of(RUN, ecu_without=("throttle",)), CAR).windows
    assert late(windows, RUN)[0] == pytest.approx(0.02, abs=0.03)


def test_the_evidence_names_the_channels():
    windows = find_runs(traces_of(RUN), CAR).windows
    assert windows[0].evidence[:2] == ("acceleration", "engine_speed")


def test_a_sure_sign_is_not_outvoted_by_unsure_ones():
    # Regression: engine and GPS, both late by guess, once threw the accelerometer out
    windows = find_runs(traces_of(RUN), Car(name="unknown", driven_axle="front")).windows
    assert windows[0].evidence[0] == "acceleration"


def test_a_brisk_roll_out_of_a_burnout_is_part_of_it():
    # Planted: tires spin for 4 s from 3 s on; in the last of it the car rolls out and stops within 1.2 s
    run = visit(burnout=True)
    speed = np.array(run.speed_mps)
    rolls = np.interp(run.time_s, [6.2, 6.9, 7.2, 7.5], [0.0, 2.4, 2.4, 0.0], left=0.0, right=0.0)
    rolled = replace(run, speed_mps=np.maximum(speed, rolls), tire_mps=np.maximum(run.tire_mps, rolls))
    found = find_runs(traces_of(rolled), CAR)
    named = [kind for kind in kinds(found.windows[0]) if kind != "staging creep"]
    assert named == ["burnout"] and found.findings == ()


def test_a_hop_before_the_beams_is_no_false_start():
    # Planted: 2.45 m forward, then 0.5 m of creep: another way than it had come
    run = visit(false_start=True)
    lasted = find_runs(traces_of(run), CAR).windows[0].other_events
    back = next(event for event in lasted if event.kind == "rolled back")
    later = (run.time_s > back.log_start_s - 0.6) & (run.time_s < back.log_end_s + 0.6)
    creep = np.interp(run.time_s - back.log_start_s, [0.0, 0.3, 0.6, 0.9], [0.0, 0.9, 0.9, 0.0])
    short = replace(run, speed_mps=np.where(later, creep, run.speed_mps), tire_mps=np.where(later, creep, run.tire_mps))
    found = find_runs(traces_of(short), CAR)
    assert "false start" not in kinds(found.windows[0]) and "rolled back" not in kinds(found.windows[0])
    assert "dry hop" in kinds(found.windows[0]) and "false-start" not in [one.code for one in found.findings]
