"""A log that ends before its run: told, and only then."""

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.results.window import Outcome
from passband.analysis.windows.log_ends import tell_log_end
from tests.analysis.two_loggers import channel


def traces(ecu_ends_s, dash_ends_s=20.0):
    times = [np.arange(-5.0, ends_s, 0.01) for ends_s in (ecu_ends_s, dash_ends_s)]
    ecu = channel("engine_speed", "rpm", times[0], 5000.0 + 0.0 * times[0], rate_hz=100.0, log=0)
    return Traces((ecu, channel("ground_speed", "m/s", times[1], 0.0 * times[1], rate_hz=100.0, log=1)))


@pytest.mark.parametrize(("ecu_ends_s", "told"), [(8.6, True), (9.85, True), (9.95, False), (15.0, False)])
def test_an_ecu_log_that_ends_before_the_finish_is_told(ecu_ends_s, told):
    found = tell_log_end(traces(ecu_ends_s), Outcome.QUARTER, end_s=10.0)
    assert [one.code for one in found] == (["log-ends-early"] if told else [])


def test_it_says_by_how_much():
    # hand: 10.0 - 8.59
    (one,) = tell_log_end(traces(8.6), Outcome.QUARTER, end_s=10.0)
    assert "ends 1.4 s before the finish" in one.text and one.level == "caution"


def test_a_run_whose_every_log_ends_under_power_is_told():
    (one,) = tell_log_end(traces(7.0, 7.0), Outcome.LOG_ENDS, end_s=7.0)
    assert "log ends before the finish" in one.text
