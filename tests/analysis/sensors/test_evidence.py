"""What a run's logs show, prepared once."""

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.sensors.evidence import prepare_evidence
from tests.analysis.planted_run import plant_run

RUN = plant_run()


def test_engine_speed_reaches_from_the_two_step_to_past_the_end():
    # Planted: a log that begins before the launch and ends after the run
    evidence = prepare_evidence(RUN.traces, RUN.car, launch_s=0.0, end_s=5.0)
    logged = RUN.traces.get("engine_speed").time_s
    assert evidence.engine.time_s[0] == pytest.approx(max(-2.0, logged[0]), abs=0.02)
    assert evidence.engine.time_s[-1] == pytest.approx(min(6.0, logged[-1]), abs=0.02)


def test_the_roll_out_is_read_too_where_the_motion_is_known():
    evidence = prepare_evidence(RUN.traces, RUN.car, launch_s=0.0, end_s=5.0, record_end_s=7.0)
    assert evidence.engine.time_s[-1] == pytest.approx(min(7.0, RUN.traces.get("engine_speed").time_s[-1]), abs=0.02)


def test_what_no_log_holds_is_none():
    evidence = prepare_evidence(Traces(()), Car(name="x"), launch_s=0.0, end_s=5.0)
    assert (evidence.engine, evidence.tires, evidence.throttle) == (None, None, None)
    assert evidence.boost.reason.code == "boost-not-logged" and evidence.band.reason.code == "band-not-given"
    assert evidence.commands_s.size == 0 and not evidence.converter and np.isfinite(evidence.end_s)
