"""A speed of a vague name that wanders at rest."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.reading.columns.receiver_speed import speed_of_receiver
from tests.analysis.reading.health.test_speed_scale import TIME, a_log

SPEED = np.maximum(9.0 * (TIME - 4.0), 0.0)
NOISE = 0.03 * np.abs(np.random.default_rng(4).standard_normal(TIME.size))


def log_of(values, confidence=0.7, **others):
    log = a_log(ground_speed=values, **others)
    return replace(log, channels=tuple(replace(one, confidence=confidence) for one in log.channels))


def test_one_that_wanders_about_zero_is_a_receivers():
    # Planted: 4 s of standing, hundredths of a metre a second
    got = speed_of_receiver(log_of(SPEED + NOISE))
    assert got.get("ground_speed") is None and got.get("gps_speed") is not None
    assert [one.code for one in got.findings] == ["speed-of-receiver"]


@pytest.mark.parametrize(
    "log",
    [
        log_of(SPEED),
        log_of(np.maximum(SPEED + 0.3, 0.3)),
        log_of(SPEED + NOISE, confidence=0.95),
        log_of(SPEED + NOISE, gps_speed=SPEED),
        log_of(SPEED + 20.0 + NOISE),
    ],
    ids=["counted", "an offset", "named so", "beside a receiver", "never at rest"],
)
def test_else_it_stays_a_ground_speed(log):
    assert speed_of_receiver(log) is log
