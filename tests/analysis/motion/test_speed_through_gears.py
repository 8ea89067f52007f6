"""A car's speed by its engine's: on a planted run whose shifts, locking clutch and speed are known."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Traces
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


@pytest.mark.parametrize("bites_until_s", [0.5, 0.75, 0.95])
def test_a_clutch_that_bites_for_long_makes_no_shift(bites_until_s):
    # Planted: the engine held, then pulled down by half, by far more than a gear's step, until after the usual bite
    (engine,) = (one for one in RUN.traces if one.name == "engine_speed")
    bitten = 0.97 * float(np.interp(1.35, engine.time_s, engine.values))
    since = np.clip((engine.time_s - bites_until_s + 0.35) / 0.35, 0.0, 1.0)
    pulled = np.where(since < 1.0, 2.0 * bitten * (1.0 - 0.5 * since), bitten)
    held = np.where(engine.time_s < 1.3, pulled, engine.values)
    traces = Traces(tuple(replace(one, values=held) if one is engine else one for one in RUN.traces))
    found = speed_through_gears(traces, RUN.car, WINDOW)
    assert found.speed is not None and "4 shifts" in found.findings[0].text


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


def _engine_log(points):
    """A log of engine speed alone from (second, rpm), 20 times a second."""
    (engine,) = (one for one in RUN.traces if one.name == "engine_speed")
    time = np.arange(-1.0, 12.0, 0.05)
    return Traces(
        (replace(engine, time_s=time, values=np.interp(time, *np.array(points, dtype=float).T), rate_hz=20.0),)
    )


def test_a_foots_slow_shift_with_a_rise_between_lift_and_bite_is_found():
    # Hand: from 7,000 down to 6,400 as the throttle shuts, up to 6,700 as the clutch opens, in the next gear 0.55 s on
    first, second = RUN.car.overall_ratios[:2]
    after = 7000.0 * second / first
    points = [(-1, 4000), (0, 4000), (0.5, 3000), (3, 7000), (3.1, 6400), (3.2, 6700), (3.55, after), (6, after + 1500)]
    engine = read_engine_speed(_engine_log(points), start_s=-0.5, stop_s=6.0)
    (shift,) = find_upshifts(engine, RUN.car.overall_ratios, start_s=0.7, stop_s=6.0)
    assert shift.gears == 1
    assert shift.start_s == pytest.approx(3.0, abs=0.1)
    assert shift.end_s == pytest.approx(3.55, abs=0.1)


def test_a_speed_that_falls_under_power_is_none_of_the_cars():
    # Hand: engine speed ebbs to two thirds over 2 s and stays there: no shift is so slow, no car under power does so
    points = [(-1, 4000), (0, 4000), (0.5, 1150), (3, 6900), (5, 4400), (12, 5400)]
    found = speed_through_gears(_engine_log(points), RUN.car, RunWindow(0.0, 0.02, 11.0, None, (), ()))
    assert found.speed is None
    assert [finding.code for finding in found.findings] == ["gears-not-followed"]


def test_a_car_that_slows_behind_its_run_has_its_gears_all_the_same():
    # Planted: behind the run the engine brakes the car for 2 s, by a fifth each; no throttle is logged
    (engine,) = (one for one in RUN.traces if one.name == "engine_speed")
    end_s = float(engine.time_s[-1])
    slows = np.arange(end_s + 0.01, end_s + 2.0, 0.01)
    brakes = engine.values[-1] * (1.0 - 0.2 * (slows - end_s))
    log = replace(engine, time_s=np.append(engine.time_s, slows), values=np.append(engine.values, brakes))
    found = speed_through_gears(Traces((log,)), RUN.car, RunWindow(0.0, 0.02, end_s + 1.9, None, (), ()))
    assert found.speed is not None
