"""Torque cuts laid on each other: likelihood of a place, opinions brought together. Planted and by hand."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.clocks.cut_match import match_by_cuts, read_torque_cuts
from passband.analysis.clocks.opinions import Opinion, settle
from tests.analysis.two_loggers import dash_log, ecu_log, visit, without

RUN = visit(burnout=True)
CUTS = read_torque_cuts(ecu_log(RUN), dash_log(RUN, rate_ppm=0.0))


@pytest.mark.parametrize("near_s", [2.75, 2.9, 3.0, 3.15])
def test_cuts_are_found_from_a_start_a_quarter_of_a_second_off(near_s):
    # Planted: 3 s
    trials = (0.0, -0.08, 0.08, -0.16, 0.16, -0.24, 0.24)
    match = match_by_cuts(CUTS, Opinion(near_s, 0.12), 0.0, trials_s=trials)
    assert match.lag.events >= 3
    assert abs(match.opinion.value - 3.0) < min(0.015, 2 * match.opinion.sigma)


def test_the_deviation_carries_what_sensors_differ_by():
    match = match_by_cuts(CUTS, Opinion(3.0, 0.03), 0.0)
    assert 0.008 < match.opinion.sigma < 0.015


def test_a_log_without_an_accelerometer_has_no_cuts():
    assert read_torque_cuts(ecu_log(RUN), without(dash_log(RUN), "acceleration")) is None
    assert match_by_cuts(None, Opinion(3.0, 0.03), 0.0) is None


def test_ten_rows_a_second_of_engine_speed_speak_neither_for_cuts_nor_against_them():
    # Planted, regression: three rows never lie within the 0.18 s that a departure is looked for in
    every = round(0.1 * CUTS.engine_hz)
    slow = replace(CUTS, engine_time_s=CUTS.engine_time_s[::every], engine_rpm=CUTS.engine_rpm[::every], engine_hz=10.0)
    assert match_by_cuts(slow, Opinion(3.0, 0.12), 0.0) is None


def test_opinions_that_agree_narrow_and_opinions_that_do_not_widen():
    # Hand: weights 1 and 1/4 give 0.8 * 0 + 0.2 * 5 = 1; chi^2 = 1 + (4/2)^2 = 5, so 0.894 * sqrt(5) = 2
    apart = settle([Opinion(0.0, 1.0), Opinion(5.0, 2.0)])
    assert (apart.value, apart.sigma) == (pytest.approx(1.0), pytest.approx(2.0))
    together = settle([Opinion(0.0, 1.0), Opinion(0.5, 1.0)])
    assert (together.value, together.sigma) == (pytest.approx(0.25), pytest.approx(np.sqrt(0.5)))
