"""A car's speed by its engine's: on a planted run whose shifts, locking clutch and speed are known."""

import numpy as np
import pytest

from passband.analysis.motion.speed_through_gears import (
    SpeedThroughGears,
    clutch_locks,
    find_upshifts,
    speed_through_gears,
)
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.windows.window import RunWindow
from tests.analysis.planted_run import Logger, plant_run

RUN = plant_run(logger=Logger(rate_hz=100.0))
ENGINE = read_engine_speed(RUN.traces, start_s=-0.5, stop_s=RUN.end_s)
WINDOW = RunWindow(0.0, 0.02, RUN.end_s, None, (), ())


def test_every_shift_is_found_and_none_invented():
    found = find_upshifts(ENGINE, RUN.car.overall_ratios, start_s=0.6, stop_s=RUN.end_s)
    assert [shift.gears for shift in found] == [1, 1, 1, 1]
    assert [shift.start_s for shift in found] == pytest.approx([shift.start_s for shift in RUN.shifts], abs=0.05)


def test_the_clutch_locks_about_when_it_did():
    assert clutch_locks(ENGINE, launch_s=0.0, stop_s=2.2) == pytest.approx(RUN.locked_s, abs=0.3)


def test_where_a_gear_carries_the_engine_gives_the_speed():
    found = speed_through_gears(RUN.traces, RUN.car, WINDOW)
    known, (finding,) = found.speed.known, found.findings
    true = np.interp(known.time_s, RUN.motion.time_s, RUN.motion.speed_mps)
    assert np.median(np.abs(known.values / true - 1.0)) < 0.01
    assert np.max(np.abs(known.values / true - 1.0)) < 0.02
    assert known.time_s.size > 0.6 * RUN.end_s * 100
    assert finding.code == "ground-speed-from-engine" and "4 shifts" in finding.text


def test_without_gearing_it_is_not_guessed():
    car = RUN.car.model_copy(update={"tire_circumference": None})
    found = speed_through_gears(RUN.traces, car, WINDOW)
    assert found.speed is None and [finding.code for finding in found.findings] == ["speed-needs-gearing"]


def test_behind_a_converter_engine_speed_is_no_speed():
    car = RUN.car.model_copy(update={"transmission": "converter"})
    assert speed_through_gears(RUN.traces, car, WINDOW) == SpeedThroughGears()
