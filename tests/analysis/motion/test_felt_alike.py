"""What a late accelerometer makes of when cancels in the clock that its falls laid. Truth is planted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.factors import COMMON
from passband.analysis.motion.felt_alike import lay_on_clock
from passband.analysis.motion.fusion import Accelerometer, SpeedSensor, fuse_speed
from passband.analysis.motion.ground_speed import GroundSpeed
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import Estimate

AT_S = np.arange(0.0, 6.0, 0.02)
LATE_S = 0.03


def ground(**changed):
    """A car that leaves at 1 s with 8 m/s2; its accelerometer is 30 ms later than the wheel would have it."""
    wheel = SpeedSensor("wheel_speed_fl", AT_S, 8.0 * np.maximum(AT_S - 1.0, 0.0), 0.01, 0.0, 0.001, 0.0)
    felt = Accelerometer(AT_S, np.where(AT_S > 1.0 + LATE_S, 8.0, 0.0), 0.05, delay_s=0.0, delay_sd_s=0.011)
    fitted = fuse_speed([wheel], felt, span_s=(0.0, 5.8), rest_until_s=0.95, extra={"clock start": (1.3, 1.0)})
    made = GroundSpeed(fitted, SpeedBasis.UNDRIVEN_WHEEL, ("wheel_speed_fl",), 1, felt_log=1, felt_sd_s=0.011)
    return replace(made, **changed)


def traces():
    return Traces(tuple(Channel(name, name, "", "", AT_S, AT_S, 50.0, log=log) for log, name in enumerate(("a", "b"))))


def clock(felt_share):
    return ClockMatch("dash.csv", Estimate(0.0, 0.04), Estimate(0.0, 1.0), ("acceleration",), 0.04, felt_share)


def test_what_sampling_makes_of_the_lateness_cancels_where_falls_alone_laid_the_clock():
    # Hand: of 11 ms open 5.5 are sampling's, a quarter of the variance: a quarter of 30 ms; 40 ms less twice 5.5
    laid, before = lay_on_clock(ground(), traces(), [clock(1.0)]), ground()
    moved_s = laid.ground.posterior.time_s - before.posterior.time_s
    assert moved_s == pytest.approx(0.25 * LATE_S, abs=0.002)
    assert laid.ground.late_share == pytest.approx(0.75**0.5)
    assert laid.ground.posterior.modes[COMMON] == pytest.approx(0.75**0.5 * before.posterior.modes[COMMON])
    assert laid.open_s == pytest.approx((0.04**2 - 0.011**2) ** 0.5)


def test_what_did_not_rest_on_falls_stays():
    laid = lay_on_clock(ground(), traces(), [clock(0.0)])
    assert laid.open_s == 0.04 and laid.ground.late_share == 1.0
    assert laid.ground.posterior.time_s == pytest.approx(ground().posterior.time_s)


@pytest.mark.parametrize("changed", [{"felt_log": None}, {"log": 0}, {"felt_log": 0}])
def test_sensors_of_several_logs_share_nothing_with_one_clock(changed):
    laid = lay_on_clock(ground(**changed), traces(), [clock(1.0)])
    assert laid.open_s == 0.04 and laid.ground.late_share == 1.0


def test_without_a_further_log_nothing_is_open():
    assert lay_on_clock(ground(log=0, felt_log=0), traces(), []).open_s == 0.0
