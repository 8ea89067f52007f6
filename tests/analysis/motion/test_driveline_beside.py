"""A GPS speed that stands alone, and engine speed through the gears beside it."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.motion.driveline_beside import disagrees
from passband.analysis.motion.fusion import SpeedSensor, fuse_speed
from passband.analysis.motion.speed_through_gears import SpeedKnown
from passband.analysis.quantities import FloatArray

LATE_S, LAUNCH_S = 0.31, 1.0


def _speed(time_s: FloatArray) -> FloatArray:
    """Planted: pulls at 9 m/s2, falling off with speed, from a standing start."""
    return np.asarray(45.0 * (1.0 - np.exp(-np.maximum(time_s - LAUNCH_S, 0.0) / 5.0)))


def _sensors() -> tuple[SpeedSensor, SpeedSensor]:
    rng = np.random.default_rng(4)
    gps_s, engine_s = np.arange(1.7, 10.0, 0.5), np.arange(2.2, 10.0, 0.04)
    gps = SpeedSensor("gps", gps_s, _speed(gps_s - LATE_S) + rng.normal(0.0, 0.03, gps_s.size), 0.03, 0.16, 0.09, 0.0)
    tires = 1.02 * _speed(engine_s) + rng.normal(0.0, 0.1, engine_s.size)
    driveline = SpeedSensor("driveline", engine_s, tires, 0.15, 0.0, 0.008, 0.02, drift_change=0.004)
    return gps, driveline


def test_the_driveline_shows_how_late_gps_is() -> None:
    # Planted: 0.31 s late where 0.16 are usual; the tires turn 2 % faster than the ground.
    gps, driveline = _sensors()
    both = fuse_speed([driveline, gps], None, span_s=(0.0, 10.0), rest_until_s=LAUNCH_S)
    assert both.parameter("delay gps") == pytest.approx(LATE_S, abs=0.03)
    at = both.time_s > 3.0
    assert np.abs(both.speed - _speed(both.time_s))[at].max() < 0.4
    assert not disagrees(gps, both)


def test_a_driveline_of_another_speed_is_seen() -> None:
    # Planted: tires that spin by half for as long as GPS shows the car.
    gps, _ = _sensors()
    alone = fuse_speed([gps], None, span_s=(0.0, 10.0), rest_until_s=LAUNCH_S, rest_sd_s=0.05)
    alone.mean[: alone.time_s.size] *= 1.5
    assert disagrees(gps, alone)


def test_a_stretch_is_taken_or_left_whole() -> None:
    # Hand: 3 % off grips, 40 % off spins; at 20 m/s give or take 0.2 6 % and twice 0.2 are let pass, 1.6 m/s.
    time_s = np.linspace(0.0, 1.0, 11)
    known = SpeedKnown(time_s, np.full(11, 20.0), np.full(11, 0.2))
    assert known.agrees(time_s, np.full(11, 20.6))
    assert not known.agrees(time_s, np.full(11, 28.0))
    assert not known.agrees(time_s[:0], np.zeros(0))
    assert known.reaches(time_s, np.full(11, 19.0)) == 0.0
    assert known.reaches(time_s, np.full(11, 21.0)) == 1.0
