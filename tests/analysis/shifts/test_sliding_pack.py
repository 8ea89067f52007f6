"""Second falls of engine speed behind a converter: the pack that slid, or the converter that locks (by hand)."""

import numpy as np
import pytest

from passband.analysis.sensors.cut_signals import Edge
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.shifts.sliding_pack import TakenOver, find_later_fall, settle_takeovers

STEP_S = 0.02
NEVER = np.array([99.0])


def engine_of(*corners: tuple[float, float]) -> EngineSpeed:
    """Engine speed through corners (s, rpm), quiet."""
    time_s = np.arange(0.0, 4.0, STEP_S)
    at_s, rpm = zip(*corners, strict=True)
    return EngineSpeed(
        time_s + 0.0135, np.interp(time_s, at_s, rpm), STEP_S, 1.0, np.zeros(time_s.size, dtype=np.bool_)
    )


def shift_of(engine: EngineSpeed, *, turbine_at_1: float, rises: float, let_up_s: float = 1.1) -> TakenOver:
    """A shift whose ratio began to change at 1.0 s; the next gear asks that turbine speed then, rising so."""
    turbine = turbine_at_1 + rises * (engine.true_time_s - 1.0)
    return TakenOver(1.0, Edge(let_up_s, 0.04, "engine_speed"), turbine)


def end_of(engine: EngineSpeed, *shifts: TakenOver, by_shaft: bool = False, lifts_s=NEVER) -> Edge:
    """Where the first shift ends."""
    return settle_takeovers(shifts, engine, by_shaft=by_shaft, lifts_s=lifts_s)[0]


SHELF = (
    (0.0, 3500.0), (1.0, 4100.0), (1.03, 4030.0), (1.06, 3985.0), (1.1, 3945.0), (1.16, 3917.0), (1.25, 3903.0),
    (1.35, 3900.0), (1.6, 3900.0),
)  # fmt: skip
"""Down by a little, more and more slowly, then a shelf."""


def test_a_pack_that_slid_holds_where_the_second_fall_ends_if_the_converter_stays_open():
    # By hand: after the second fall the engine leads by a quarter and comes down: no clutch has locked it
    engine = engine_of(*SHELF, (1.8, 3650.0), (4.0, 4700.0))
    end = end_of(engine, shift_of(engine, turbine_at_1=2200.0, rises=800.0))
    assert end.time_s == pytest.approx(1.8 - 0.03, abs=0.03)
    assert end.plus_minus_s < 0.06


def test_what_nothing_tells_is_open_over_what_is_left_of_the_fall():
    # By hand: the engine comes down to the turbine's speed, by the pack or by the lock-up
    engine = engine_of(*SHELF, (1.9, 3100.0), (4.0, 3800.0))
    end = end_of(engine, shift_of(engine, turbine_at_1=2800.0, rises=330.0))
    assert end.time_s - end.plus_minus_s < 1.12
    assert end.time_s + end.plus_minus_s > 1.85


def test_a_first_fall_that_ends_sharply_has_the_gear_in():
    # By hand: at an even rate onto the same shelf, the engine a fifth ahead of a loose converter; half a second later
    # that locks
    engine = engine_of((0.0, 3500.0), (1.0, 4100.0), (1.1, 3900.0), (1.6, 3900.0), (1.9, 3100.0), (4.0, 3800.0))
    shift = shift_of(engine, turbine_at_1=2800.0, rises=330.0)
    assert end_of(engine, shift) == shift.end


def test_a_lock_up_of_a_gear_that_carries_is_no_part_of_the_shift():
    # By hand: by 1.2 s the engine leads the next gear by 6 %, half a second later the converter locks
    engine = engine_of((0.0, 3500.0), (1.0, 4100.0), (1.2, 3100.0), (1.7, 3180.0), (1.85, 3060.0), (4.0, 3700.0))
    shift = shift_of(engine, turbine_at_1=2900.0, rises=150.0, let_up_s=1.17)
    assert end_of(engine, shift) == shift.end


@pytest.mark.parametrize(("by_shaft", "held_s"), [(True, 1.57), (False, 1.335)])
def test_an_engine_that_runs_away_from_the_road_is_held_by_no_gear(by_shaft, held_s):
    # By hand: it rises by a tenth between two falls; by the ground tires that spin look alike, and that stays open
    engine = engine_of((0.0, 6000.0), (1.0, 7300.0), (1.12, 6700.0), (1.4, 7300.0), (1.6, 6100.0), (4.0, 7000.0))
    end = end_of(engine, shift_of(engine, turbine_at_1=5700.0, rises=400.0), by_shaft=by_shaft)
    assert end.time_s == pytest.approx(held_s, abs=0.04)
    assert (end.plus_minus_s > 0.2) is not by_shaft


def test_an_engine_that_falls_as_the_foot_lifts_falls_with_its_torque():
    engine = engine_of(*SHELF, (1.9, 3100.0), (4.0, 3800.0))
    shift = shift_of(engine, turbine_at_1=2800.0, rises=330.0)
    assert end_of(engine, shift, lifts_s=np.array([1.6, 99.0])) == shift.end


def test_an_engine_that_goes_on_has_no_second_fall():
    engine = engine_of(*SHELF[:-1], (4.0, 4700.0))
    assert find_later_fall(engine, start_s=1.0, taken_s=1.1, until_s=3.0) is None


def test_a_fall_that_comes_too_late_is_no_packs():
    engine = engine_of(*SHELF[:-1], (2.2, 3900.0), (2.4, 3100.0), (4.0, 3800.0))
    assert find_later_fall(engine, start_s=1.0, taken_s=1.1, until_s=3.5) is None
