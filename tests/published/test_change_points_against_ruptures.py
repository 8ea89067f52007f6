"""Where a run changes gear: our falls and path against a general change-point library on the same signal.

Source: ruptures 1.1 (BSD-2), Pelt with the l2 cost, penalty 0.05 and jump 1, on ln(engine speed / speed).
"""

import numpy as np
import pytest
import ruptures

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.gear_path import follow_gears, read_gear_signs
from passband.analysis.driveline.ratios import TurnRatio, TurnSource, find_falls, known_gear_levels, measure_turn_ratio
from passband.analysis.sensors.engine_speed import read_engine_speed
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.stages import evidence_of

SHIFTS_S = [1.20, 2.35, 3.70, 5.30]


def five_gears():
    """A five-gear run at 100 Hz with 15 rpm of noise and shifts in no time."""
    rng = np.random.default_rng(7)
    time_s = np.arange(0.0, 7.0, 0.01)
    level = np.log(np.array([260.0, 195.0, 154.0, 127.0, 107.0]))
    gear = np.searchsorted(SHIFTS_S, time_s, side="right")
    x = level[gear] + rng.normal(0, 15.0 / 7000.0, time_s.size)
    speed = np.full(time_s.size, 30.0)
    turn = TurnRatio(time_s, x, TurnSource.GROUND_SPEED, np.zeros(time_s.size, dtype=np.bool_), 30.0 * np.exp(x), speed)
    return turn, level


def test_the_path_changes_gear_where_ruptures_does():
    # published (ruptures): both find the planted moments, ours within the 60 ms over which drift is taken
    turn, level = five_gears()
    theirs = ruptures.Pelt(model="l2", jump=1).fit(turn.log_ratio).predict(pen=0.05)[:-1]
    assert turn.time_s[theirs] == pytest.approx(SHIFTS_S, abs=1e-9)
    gear = follow_gears(turn, level, read_gear_signs(turn, Traces(())), slips=False).gear
    first = [turn.time_s[np.argmax(gear == number)] for number in (2, 3, 4, 5)]
    assert first == pytest.approx(SHIFTS_S, abs=0.07)


def test_a_planted_run_is_cut_where_ruptures_cuts_it():
    # published (ruptures): a run with dips, rings and a slipping launch, from where the clutch has locked
    run = plant_run(logger=Logger(rate_hz=100.0))
    turn = measure_turn_ratio(
        read_engine_speed(run.traces), run.motion, evidence_of(run.motion, run.traces, run.car, end_s=run.end_s)
    )
    locked = turn.time_s > 1.6
    theirs = ruptures.Pelt(model="l2", jump=1).fit(turn.log_ratio[locked]).predict(pen=0.05)[:-1]
    ours = find_falls(turn, least=0.07)
    assert len(known_gear_levels(turn, run.car).level) == len(theirs) + 1
    assert ours == pytest.approx(turn.time_s[locked][theirs], abs=0.1)
