"""Gauge taken for absolute, told at rest and by open throttle."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.reading.columns.pressure_reference import mend_pressure_reference
from passband.analysis.results.findings import Finding
from tests.analysis.reading.health.test_speed_scale import TIME, a_log

RUNNING = TIME > 2.0
RPM = np.where(RUNNING, 3000.0, 0.0)
GAUGE = np.where(RUNNING, -50e3 + 20e3 * (TIME - 2), 0.0)


def log_with(**pressures):
    log = a_log(engine_speed=RPM)
    made = tuple(Channel(name, name, "Pa", "kPa", TIME, values, 100.0, 0.9) for name, values in pressures.items())
    return replace(log, channels=log.channels + made)


def names(log):
    return [channel.name for channel in log.channels[1:]]


def test_a_pressure_of_zero_while_the_engine_stands_is_a_gauges():
    log = mend_pressure_reference(log_with(manifold_pressure=GAUGE))
    (finding,) = log.findings
    assert names(log) == ["boost"] and finding.code == "gauge-or-absolute"


def test_the_air_outside_while_the_engine_stands_is_absolute():
    log = mend_pressure_reference(log_with(boost=GAUGE + 98e3))
    (finding,) = log.findings
    assert names(log) == ["manifold_pressure"] and "98 kPa" in finding.text


def test_sound_pressures_are_left_alone():
    log = mend_pressure_reference(log_with(manifold_pressure=GAUGE + 98e3, boost=GAUGE))
    assert names(log) == ["manifold_pressure", "boost"] and log.findings == ()


def test_the_logs_own_barometer_is_the_measure():
    given = log_with(boost=GAUGE + 98e3, barometer=np.full(TIME.size, 80e3))
    assert names(mend_pressure_reference(given))[0] == "boost"  # 98 kPa is not the air outside here


def test_two_that_read_the_same_cannot_both_be_right():
    log = mend_pressure_reference(log_with(manifold_pressure=GAUGE + 98e3, boost=GAUGE + 98e3))
    (finding,) = log.findings
    assert names(log) == ["manifold_pressure", "boost"] or "read the same" in finding.text
    assert finding.level == "caution"


def test_two_that_differ_by_what_is_no_air_are_doubted():
    log = mend_pressure_reference(log_with(manifold_pressure=GAUGE + 98e3, boost=GAUGE * 0.1))
    assert [finding.code for finding in log.findings] == ["pressures-disagree"]


def test_too_little_at_open_throttle_is_told():
    log = log_with(manifold_pressure=(GAUGE + 98e3) / 10)
    throttle = Channel("throttle", "TPS", "", "%", TIME, np.ones(TIME.size), 100.0, 0.9)
    log = mend_pressure_reference(replace(log, channels=(*log.channels, throttle)))
    assert "manifold-pressure-scale" in [finding.code for finding in log.findings]


def test_a_unit_that_nobody_wrote_is_psi_where_kpa_cannot_be():
    # Planted: 98 kPa and boost on it, written as psi without saying so and read as kPa
    log = log_with(manifold_pressure=(GAUGE + 98e3) / 6.894757)
    channels = tuple(replace(channel, unit_written="") for channel in log.channels)
    throttle = Channel("throttle", "TPS", "", "%", TIME, np.ones(TIME.size), 100.0, 0.9)
    taken = Finding("unit-assumed", "note", "taken as kPa", "manifold_pressure")
    mended = mend_pressure_reference(replace(log, channels=(*channels, throttle), findings=(taken,)))
    assert [finding.code for finding in mended.findings] == ["manifold-pressure-unit"]  # what was taken first is gone
    assert mended.get("manifold_pressure").values == pytest.approx(GAUGE + 98e3, rel=1e-6)


def test_the_users_own_mapping_keeps_its_name():
    log = log_with(manifold_pressure=GAUGE)
    mapped = replace(log, channels=(log.channels[0], replace(log.channels[1], confidence=1.0)))
    assert names(mend_pressure_reference(mapped)) == ["manifold_pressure"]
