"""An axle that breaks in a pull, planted; a missed shift and a lift are none."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.drive_lost import tell_drive_lost
from passband.analysis.results.distance import SpeedBasis
from tests.analysis.planted_run import plant_run
from tests.analysis.stages import evidence_of

RUN = plant_run()
BREAKS_S = 5.6


def told(motion=None, rpm=None, throttle=None):
    engine = RUN.traces.get("engine_speed")
    if rpm is not None:
        engine = replace(engine, values=rpm(engine.time_s, engine.values))
    pedal = np.ones(engine.time_s.size) if throttle is None else throttle(engine.time_s)
    plate = Channel("throttle", "TPS", "", "%", engine.time_s, pedal, 100.0)
    traces = Traces((engine, plate))
    return tell_drive_lost(motion or RUN.motion, evidence_of(RUN.motion, traces, RUN.car, end_s=RUN.end_s))


def coasting(from_s, to_s=99.0):
    motion = RUN.motion
    lost = (motion.time_s > from_s) & (motion.time_s < to_s)
    return replace(motion, acceleration_mps2=np.where(lost, -0.9, motion.acceleration_mps2))


def run_off(time_s, rpm):
    return np.where(time_s > BREAKS_S, np.minimum(rpm + 30000.0 * (time_s - BREAKS_S), 11000.0), rpm)


def test_a_sound_run_loses_no_drive():
    assert told() == []


def test_an_axle_that_breaks_is_told_with_its_moment():
    (found,) = told(coasting(BREAKS_S), run_off)
    assert (found.code, found.level) == ("drive-lost", "stop")
    assert float(found.where.split()[0]) == pytest.approx(BREAKS_S, abs=0.15)


def test_a_gear_that_is_found_again_is_no_lost_drive():
    assert told(coasting(BREAKS_S, BREAKS_S + 0.8), run_off) == []


def test_a_lift_is_no_lost_drive():
    assert told(coasting(BREAKS_S), throttle=lambda t: np.where(t > BREAKS_S, 0.0, 1.0)) == []


def test_an_engine_that_dies_ran_nowhere():
    assert told(coasting(BREAKS_S), lambda t, rpm: np.where(t > BREAKS_S, 0.6 * rpm, rpm)) == []


def test_speed_made_from_the_drive_shows_nothing_of_it():
    assert told(replace(coasting(BREAKS_S), basis=SpeedBasis.ENGINE_SPEED), run_off) == []
