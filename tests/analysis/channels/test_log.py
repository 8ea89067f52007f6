"""A log that is mended: one channel in place of another, and what is said of it."""

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log, TextFacts, TimeFacts
from passband.analysis.results.findings import Finding

TIME = np.arange(5) / 10.0
SPEED = Channel("gps_speed", "GPS", "m/s", "km/h", TIME, TIME, 10.0)
REV = Channel("engine_speed", "RPM", "rpm", "rpm", TIME, TIME, 10.0)
READ, MENDED = (Finding(code, "note", code) for code in ("read", "mended"))
LOG = Log("a", (SPEED, REV), TextFacts("utf-8", ",", ".", 1, None, 2, 5), TimeFacts("Time", 0.0, 0.4, 10.0), (READ,))


def test_one_channel_takes_the_place_of_another_and_its_finding_follows_the_logs_own():
    turned = replace(REV, name="driveshaft_speed")
    log = LOG.with_channel(REV, turned, MENDED)
    assert log.channels[0] is SPEED and log.channels[1] is turned
    assert log.findings == (READ, MENDED) and LOG.findings == (READ,)


def test_a_channel_that_the_log_does_not_hold_changes_none():
    stranger = replace(REV, values=TIME + 1.0)
    assert all(a is b for a, b in zip(LOG.with_channel(stranger, SPEED).channels, LOG.channels, strict=True))


def test_nothing_said_leaves_the_log_itself():
    assert LOG.with_findings() is LOG
