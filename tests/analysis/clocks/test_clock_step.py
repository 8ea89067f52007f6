"""A dash whose clock was set on amid the recording, laid on the ECU's log without the step. Truth is planted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.clocks.clock_step import steps_taken_out, without_a_step_seen
from passband.analysis.clocks.gather import gather_logs
from passband.analysis.clocks.match import ClocksDoNotMatch
from tests.analysis.two_loggers import CAR, dash_log, ecu_log, visit

RUN = visit(burnout=True)
ECU, DASH = ecu_log(RUN), dash_log(RUN, rate_ppm=0.0)
OFFSET_S = 3.0
AT_S = RUN.launches_s[0] - OFFSET_S + 3.0


def set_on(log, by_s, at_s=AT_S):
    return log.with_channels(
        replace(one, time_s=one.time_s + np.where(one.time_s > at_s, by_s, 0.0)) for one in log.channels
    )


@pytest.mark.parametrize("by_s", [0.06, 0.1, 0.2, 0.6, 1.0, 2.5])
def test_a_dash_whose_clock_was_set_on_in_the_run_is_laid_without_the_step(by_s):
    plain = gather_logs(ECU, [[DASH]], CAR)
    gathered = gather_logs(ECU, [[set_on(DASH, by_s)]], CAR)
    assert gathered.matches[0].offset_s.value == pytest.approx(plain.matches[0].offset_s.value, abs=0.005)
    (told,) = [one for one in gathered.others[0].findings if one.code == "clock-jumped-ahead"]
    assert f"{by_s:.3g} s" in told.text
    was, now = DASH.get("engine_speed"), gathered.others[0].get("engine_speed")
    assert np.abs(was.time_s - now.time_s).max() < 1e-6


def test_rows_that_are_missing_are_no_step():
    def lost(one):
        keep = (one.time_s < AT_S) | (one.time_s > AT_S + 0.1)
        return replace(one, time_s=one.time_s[keep], values=one.values[keep])

    holed = DASH.with_channels(lost(one) for one in DASH.channels)
    assert without_a_step_seen(ECU, holed) is holed


def test_a_log_that_is_not_of_the_run_is_refused_with_a_gap_too():
    engine = DASH.get("engine_speed")
    turned = DASH.with_channel(engine, replace(engine, values=engine.values[::-1].copy()))
    with pytest.raises(ClocksDoNotMatch, match="not of the same run"):
        gather_logs(ECU, [[set_on(turned, 0.6)]], CAR)


def test_without_a_gap_or_with_many_there_is_no_step():
    assert list(steps_taken_out(DASH)) == []
    many = DASH
    for at_s in (2.0, 4.0, 6.0, 8.0):
        many = set_on(many, 0.5, at_s)
    assert list(steps_taken_out(many)) == []


def test_each_gap_is_tried_and_times_go_on_rising():
    twice = set_on(set_on(DASH, 0.5, 2.0), 0.7, 6.0)
    tried = list(steps_taken_out(twice))
    assert len(tried) == 2
    assert all(np.all(np.diff(one.time_s) >= 0) for log in tried for one in log.channels)
