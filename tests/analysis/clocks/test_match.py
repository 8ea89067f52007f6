"""The dash's clock on the ECU's: planted offsets found, other runs refused, hardship survived."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import NoRunInLog
from passband.analysis.clocks.cut_match import EventLag
from passband.analysis.clocks.match import ClocksDoNotMatch, _settles, match_clocks, on_one_clock
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.unknown import Unknown
from tests.analysis.two_loggers import CAR, between, channel, dash_log, ecu_log, visit, without

RUN = visit(burnout=True)
ECU = ecu_log(RUN)


def off(match, offset_s):
    return match.offset_s.value - offset_s


def with_values(log, name, change):
    """The log with one channel's values changed."""
    return replace(
        log,
        channels=tuple(
            replace(one, values=change(one.time_s, one.values.copy())) if one.name == name else one
            for one in log.channels
        ),
    )


@pytest.mark.parametrize("ecu_hz, dash_hz", [(25.0, 25.0), (50.0, 100.0), (100.0, 50.0), (200.0, 25.0), (500.0, 100.0)])
@pytest.mark.parametrize("noise_rpm", [0.0, 20.0])
def test_the_planted_offset_is_found_within_its_plus_minus(ecu_hz, dash_hz, noise_rpm):
    # Planted: offset 3 s, rate 50 ppm, a copy 55 ms old; laying copy on channel alone would be 41 ms out
    ecu = ecu_log(RUN, rate_hz=ecu_hz, noise_rpm=noise_rpm)
    match = match_clocks(ecu, dash_log(RUN, rate_hz=dash_hz), car=CAR)
    assert abs(off(match, 3.0)) < min(0.015, match.offset_s.plus_minus)
    assert abs(match.rate_ppm.value - 50.0) < min(150.0, match.rate_ppm.plus_minus)
    assert match.matched_on == ("engine_speed", "acceleration")
    assert match.findings == ()


@pytest.mark.parametrize("age_s", [0.03, 0.055, 0.09])
def test_torque_cuts_tell_a_copys_age_from_the_offset(age_s):
    # Planted: the age changes by 60 ms, the answer by a quarter of that at most
    match = match_clocks(ECU, dash_log(RUN, age_s=age_s), car=CAR)
    assert abs(off(match, 3.0)) < 0.015


def test_without_an_accelerometer_the_plus_minus_says_that_the_age_is_not_known():
    match = match_clocks(ECU, without(dash_log(RUN), "acceleration", "wheel_speed_fl", "gps_speed"), car=CAR)
    assert 0.04 < match.offset_s.plus_minus < 0.06
    assert abs(off(match, 3.0)) < match.offset_s.plus_minus
    assert match.matched_on == ("engine_speed",)


PROMPT_S = 0.014  # no later than the ECU's own engine speed


@pytest.mark.parametrize("copy_hz", [10.0, 25.0, 100.0])
@pytest.mark.parametrize("age_s", [PROMPT_S, 0.10])
def test_torque_cuts_settle_the_clock_whether_a_copy_is_prompt_late_or_held(age_s, copy_hz):
    # Planted: 3 s; a late bus copy taken for granted would be 40 ms out either way
    match = match_clocks(ECU, dash_log(RUN, age_s=age_s, copy_hz=copy_hz), car=CAR)
    assert abs(off(match, 3.0)) < min(0.015, match.offset_s.plus_minus)


@pytest.mark.parametrize("missing", [("acceleration",), ("acceleration", "wheel_speed_fl", "gps_speed")])
@pytest.mark.parametrize("copy_hz", [10.0, 25.0, 100.0])
@pytest.mark.parametrize("age_s", [PROMPT_S, 0.055, 0.10])
def test_where_nothing_settles_a_copys_age_the_plus_minus_holds_for_prompt_and_late(age_s, copy_hz, missing):
    # Planted: 3 s
    dash = without(dash_log(RUN, age_s=age_s, copy_hz=copy_hz), *missing)
    match = match_clocks(ECU, dash, car=CAR)
    assert abs(off(match, 3.0)) < match.offset_s.plus_minus < 0.07


def test_speed_narrows_a_copys_age_where_no_cut_is_felt():
    dash = without(dash_log(RUN), "acceleration")
    by_both, by_copy = (match_clocks(ECU, one, car=CAR) for one in (dash, without(dash, "wheel_speed_fl", "gps_speed")))
    assert by_both.matched_on == ("engine_speed", "wheel_speed_fl")
    assert by_both.offset_s.plus_minus < 0.9 * by_copy.offset_s.plus_minus


@pytest.mark.parametrize("age_s", [PROMPT_S, 0.10])
def test_the_ecus_own_cut_flag_tells_of_cuts_too(age_s):
    # Planted: a flag 3 ms late; engine speed is seen too seldom to tell well by itself
    ecu = ecu_log(RUN, rate_hz=25.0)
    time = np.arange(0.0, RUN.time_s[-1], 0.01)
    cut = np.isclose(time[:, None], np.array(RUN.cuts_s)[None, :] + 0.035, atol=0.035).any(axis=1)
    flag = channel("shift_cut", "", time + 0.003, cut.astype(float), rate_hz=100.0, log=0)
    flagged = replace(ecu, channels=(*ecu.channels, flag))
    dash = dash_log(RUN, age_s=age_s)
    alone, told = (match_clocks(log, dash, car=CAR) for log in (ecu, flagged))
    assert abs(off(told, 3.0)) < told.offset_s.plus_minus
    assert told.offset_s.plus_minus < alone.offset_s.plus_minus


@pytest.mark.parametrize("latency_s", [0.05, 0.2, 0.37])
@pytest.mark.parametrize("missing", [(), ("acceleration",)])
def test_a_receivers_latency_is_not_taken_for_the_clock(missing, latency_s):
    # Planted: a receiver 50 to 370 ms late is all that a dash without engine speed has besides its accelerometer
    dash = without(dash_log(RUN, copy=False), "wheel_speed_fl", *missing)
    dash = replace(
        dash,
        channels=tuple(
            replace(one, time_s=one.time_s + latency_s - 0.15) if one.name == "gps_speed" else one
            for one in dash.channels
        ),
    )
    match = match_clocks(ecu_log(RUN), dash, car=CAR)
    assert abs(off(match, 3.0)) < match.offset_s.plus_minus
    assert missing or abs(off(match, 3.0)) < 0.02


@pytest.mark.parametrize("offset_s", [-150.0, -8.0, 11.0])
def test_logs_that_begin_far_apart_are_matched(offset_s):
    match = match_clocks(ECU, dash_log(RUN, offset_s=offset_s, rate_ppm=0.0), car=CAR)
    assert abs(off(match, offset_s)) < 0.03


def test_the_same_log_later_moves_the_offset_by_as_much():
    # Time shifted: the answer moves with it
    dash = dash_log(RUN, rate_ppm=0.0)
    later = replace(dash, channels=tuple(replace(one, time_s=one.time_s + 5.0) for one in dash.channels))
    first, second = (match_clocks(ECU, log, car=CAR) for log in (dash, later))
    assert second.offset_s.value == pytest.approx(first.offset_s.value - 5.0, abs=0.002)


def test_an_early_clock_start_widens_the_offset_but_not_the_runs_own_plus_minus():
    match = match_clocks(ECU, dash_log(RUN, offset_s=-150.0), car=CAR)
    assert match.run_plus_minus_s < 0.023 < match.offset_s.plus_minus


def dropouts(time_s, rpm):
    rpm[(time_s % 1.7) < 0.035] = 0.0
    rpm[(time_s % 2.3) < 0.02] *= 2.0
    return rpm


def gap(time_s, rpm):
    rpm[(time_s > 17.5) & (time_s < 19.0)] = np.nan
    return rpm


def wild(time_s, rpm):
    return rpm + np.random.default_rng(5).normal(0, 60.0, rpm.size)


@pytest.mark.parametrize("trouble", [dropouts, gap, wild])
@pytest.mark.parametrize("where", ["ecu", "dash"])
def test_logs_of_one_run_are_never_refused_for_their_noise(trouble, where):
    ecu, dash = ECU, dash_log(RUN)
    if where == "ecu":
        ecu = with_values(ecu, "engine_speed", trouble)
    else:
        dash = with_values(dash, "engine_speed", trouble)
    match = match_clocks(ecu, dash, car=CAR)
    assert abs(off(match, 3.0)) < 0.03


@pytest.mark.parametrize("factor, word", [(0.5, "half"), (2.0, "twice")])
def test_a_copy_that_counts_other_pulses_is_matched_and_told(factor, word):
    dash = with_values(dash_log(RUN), "engine_speed", lambda _, rpm: factor * rpm)
    match = match_clocks(ECU, dash, car=CAR)
    assert abs(off(match, 3.0)) < 0.015
    assert word in match.findings[0].text


@pytest.mark.parametrize(("factor", "told"), [(0.97, "3.0% lower"), (1.06, "6.0% higher")])
def test_a_copy_in_another_scale_is_matched_and_told(factor, told):
    # Planted: one device counts slow or fast throughout
    dash = with_values(dash_log(RUN), "engine_speed", lambda _, rpm: factor * rpm)
    match = match_clocks(ECU, dash, car=CAR)
    assert abs(off(match, 3.0)) < 0.015
    (finding,) = match.findings
    assert finding.code == "engine-speeds-differ" and finding.level == "caution"
    number, word = told.split("% ")
    said = finding.text.split(" reads ")[1].split("% ")
    assert float(said[0]) == pytest.approx(float(number), abs=0.5) and said[1].startswith(word)


@pytest.mark.parametrize(
    "other", [{"shift_rpm": 8250.0}, {"pull_mps2": 10.4}, {"pull_mps2": 11.4, "lift_after_s": 8.5}]
)
def test_another_run_of_the_same_car_is_refused_in_words(other):
    dash = dash_log(visit(burnout=True, idle_s=3.8, **other))
    with pytest.raises(ClocksDoNotMatch, match=r"do not match.*not of the same run"):
        match_clocks(ECU, dash, car=CAR)


def test_a_refusal_is_a_log_without_a_run():
    assert issubclass(ClocksDoNotMatch, NoRunInLog)


def test_a_dash_that_holds_only_the_second_of_two_runs_is_laid_on_the_second():
    both = visit(runs=2)
    later = both.launches_s[1] - 6.0
    dash = between(dash_log(both, rate_ppm=0.0), later - 3.0, later + 12.0)
    match = match_clocks(ecu_log(both), dash, car=CAR)
    assert abs(off(match, later)) < 0.02


@pytest.mark.parametrize("tire", [True, False])
@pytest.mark.parametrize("missing", [(), ("wheel_speed_fl",)])
def test_a_dash_without_engine_speed_is_matched_by_speed_and_torque_cuts(tire, missing):
    dash = without(dash_log(RUN, copy=False), *missing)
    match = match_clocks(ecu_log(RUN, tire=tire), dash, car=CAR)
    assert abs(off(match, 3.0)) < min(0.02, match.offset_s.plus_minus)
    assert [finding.code for finding in match.findings] == ["clock-matched-by-speed"]


def test_speed_alone_is_less_sure_and_says_so():
    dash = without(dash_log(RUN, copy=False), "acceleration")
    match = match_clocks(ecu_log(RUN), dash, car=CAR)
    assert abs(off(match, 3.0)) < match.offset_s.plus_minus
    assert match.offset_s.plus_minus > 0.04


@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_an_accelerometer_turned_about_is_read_the_right_way(turned):
    dash = with_values(dash_log(RUN), "acceleration", lambda _, push: turned * push)
    match = match_clocks(ECU, dash, car=CAR)
    assert abs(off(match, 3.0)) < 0.015


def test_torque_cuts_that_do_not_meet_leave_the_log_out():
    dash = dash_log(visit(burnout=True, shift_rpm=7600.0, lift_after_s=7.0), copy=False)
    match = match_clocks(ECU, dash, car=CAR)
    assert isinstance(match, Unknown)
    assert match.findings[0].level == "caution" and "not be of the same run" in match.findings[0].text


@pytest.mark.parametrize(("met", "amiss", "settled"), [(3, 3, False), (1, 0, False), (2, 1, True), (5, 2, True)])
def test_cuts_choose_a_place_only_where_more_meet_than_do_not(met, amiss, settled):
    # By hand: three of six meet anywhere by chance
    lag = EventLag(0.0, 0.01, events=met, outlying=0, unmatched=amiss, scatter_s=0.005)
    assert _settles(lag) is settled


def test_a_log_that_shares_nothing_is_left_out_and_told():
    dash = without(dash_log(RUN, copy=False), "wheel_speed_fl", "gps_speed")
    match = match_clocks(ECU, dash, car=CAR)
    assert isinstance(match, Unknown)
    assert (match.findings[0].code, match.findings[0].level) == ("clocks-not-matched", "caution")


def test_further_channels_are_carried_onto_the_ecus_clock():
    # Hand: 2 s of dash time at offset 3 s and 100 ppm is 5.0002 s
    dash = dash_log(RUN)
    match = ClockMatch("dash.csv", Estimate(3.0, 0.01), Estimate(100.0, 50.0), ("engine_speed",))
    traces = on_one_clock([ECU, dash], [match])
    push = traces.get("acceleration")
    assert push.time_s[dash.get("acceleration").time_s.searchsorted(2.0)] == pytest.approx(5.0002, abs=1e-6)
    assert traces.get("engine_speed") is ECU.channels[0]


def test_a_log_without_a_match_is_left_out_of_the_traces():
    assert len(on_one_clock([ECU, dash_log(RUN)], [None]).channels) == len(ECU.channels)


def test_one_match_is_wanted_for_each_further_log():
    with pytest.raises(ValueError, match="one match for each further log"):
        on_one_clock([ECU, dash_log(RUN)], [])
