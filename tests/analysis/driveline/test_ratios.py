"""Engine turns for the way covered: which speed serves, where it is steady, known and found levels."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.driveline.ratios import (
    drift_of,
    find_falls,
    find_gear_levels,
    find_steady,
    known_gear_levels,
    measure_turn_ratio,
)
from passband.analysis.sensors.engine_speed import read_engine_speed
from tests.analysis.planted_run import CIRCUMFERENCE_M, FINAL_DRIVE, RATIOS, Logger, plant_run
from tests.analysis.stages import evidence_of

PER_MPS = np.log(60.0 * np.array(RATIOS) * FINAL_DRIVE / CIRCUMFERENCE_M)


def turned(run):
    engine = read_engine_speed(run.traces)
    return measure_turn_ratio(engine, run.motion, evidence_of(run.motion, run.traces, run.car, end_s=run.end_s))


def test_ground_speed_serves_where_nothing_driven_is_logged():
    turn = turned(plant_run())
    at = np.searchsorted(turn.time_s, 3.0)
    # hand: second gear at 3.0 s with 1.02 - 0.0025 * 3 of slip
    assert turn.source == "ground speed"
    assert turn.log_ratio[at] == pytest.approx(PER_MPS[1] + np.log(1.0125), abs=0.003)


def test_a_driveshaft_serves_first_and_knows_no_tire():
    turn = turned(plant_run(logger=Logger(driveshaft=True)))
    assert turn.source == "driveshaft"
    assert np.median(turn.log_ratio[turn.time_s > 7.5]) == pytest.approx(np.log(RATIOS[4]), abs=0.01)


def test_a_frozen_shaft_is_passed_over():
    run = plant_run(logger=Logger(driveshaft=True))
    shaft = run.traces.get("driveshaft_speed")
    dead = replace(shaft, values=np.full(shaft.values.size, 3000.0))
    traces = replace(run.traces, channels=(run.traces.channels[0], dead))
    assert turned(replace(run, traces=traces)).source == "ground speed"


def test_a_shaft_that_ends_early_is_carried_on_by_the_ground():
    run = plant_run(logger=Logger(driveshaft=True))
    channels = tuple(c.within(-1.0, 8.2) if c.name == "driveshaft_speed" else c for c in run.traces.channels)
    turn = turned(replace(run, traces=replace(run.traces, channels=channels)))
    assert np.median(turn.log_ratio[turn.time_s > 8.4]) == pytest.approx(np.log(RATIOS[4]), abs=0.015)


def test_a_slow_car_has_no_ratio():
    turn = turned(plant_run())
    assert np.isnan(turn.log_ratio[turn.time_s < 0.1]).all()


def test_a_gear_that_carries_is_steady_and_a_slipping_clutch_is_not():
    turn = turned(plant_run())
    steady = find_steady(turn)
    assert steady[(turn.time_s > 2.6) & (turn.time_s < 3.4)].all()
    assert not steady[(turn.time_s > 0.3) & (turn.time_s < 0.8)].any()


def test_drift_is_a_slope():
    # hand: planted slip falls by 0.0025 a second
    turn = turned(plant_run(logger=Logger(noise_rpm=0.0)))
    inside = (turn.time_s > 7.6) & (turn.time_s < 8.8)
    assert np.median(drift_of(turn)[inside]) == pytest.approx(-0.0025, abs=0.003)
    assert drift_of(turn).size == turn.time_s.size


@pytest.mark.parametrize("off", [-0.1, 0.0, 0.08])
def test_a_common_offset_is_found(off):
    run = plant_run()
    told = run.car.model_copy(update={"tire_circumference": CIRCUMFERENCE_M * float(np.exp(off))})
    assert known_gear_levels(turned(run), told).offset == pytest.approx(off + 0.008, abs=0.01)


def test_ratios_alone_find_their_own_level():
    run = plant_run()
    car = run.car.model_copy(update={"final_drive": None})
    gear_levels = known_gear_levels(turned(run), car)
    assert gear_levels.level == pytest.approx(PER_MPS, abs=0.03)


def test_without_ratios_none_are_known():
    run = plant_run()
    assert known_gear_levels(turned(run), run.car.model_copy(update={"gear_ratios": None})) is None


def test_levels_are_found_first_gear_first():
    gear_levels = find_gear_levels(turned(plant_run()), slips=False)
    assert gear_levels.level == pytest.approx(PER_MPS + np.log(1.01), abs=0.02)


def test_a_converter_that_locks_up_is_no_gear():
    # planted: the engine falls by 9 % in the last gear and stays
    turn = turned(plant_run(style="converter"))
    locked = np.where(turn.time_s > 8.2, turn.log_ratio - 0.09, turn.log_ratio)
    assert find_gear_levels(replace(turn, log_ratio=locked), slips=True).level.size == 5


def test_spin_in_a_gear_does_not_make_two_of_it():
    turn = turned(plant_run())
    bump = 0.15 * np.clip(np.minimum(turn.time_s - 4.0, 4.8 - turn.time_s) / 0.1, 0, 1)
    gear_levels = find_gear_levels(replace(turn, log_ratio=turn.log_ratio + bump), slips=False)
    assert gear_levels.level == pytest.approx(PER_MPS + np.log(1.01), abs=0.03)


def test_a_skipped_gear_leaves_a_wide_step():
    run = plant_run(ratios=(2.30, 1.36, 1.12), shift_at_s=(2.0, 5.0))
    assert find_gear_levels(turned(run), slips=False).level.size == 3


def test_each_shift_is_a_fall():
    run = plant_run()
    falls = find_falls(turned(run), least=0.07)
    assert falls == pytest.approx([shift.end_s for shift in run.shifts], abs=0.12)


def test_the_grid_covers_the_run():
    turn = turned(plant_run())
    assert (turn.time_s[0], turn.time_s[-1]) == (pytest.approx(-0.1), pytest.approx(9.0, abs=0.011))


def glide(run, start_s, level_rpm=6500.0):
    """The planted run with its engine held at one speed from a moment on, as a belt does, the car gaining as before."""
    turn = turned(run)
    rpm = np.where(turn.time_s > start_s, level_rpm, turn.rpm)
    return replace(turn, rpm=rpm, log_ratio=np.log(rpm / turn.driven))


def test_an_engine_that_stands_while_the_car_gains_is_in_no_gear():
    # Planted: from 1.5 s on the ratio glides; the car gains speed by more than double
    found = find_gear_levels(glide(plant_run(), 1.5), slips=False)
    assert found.basis == "no fixed ratio" and found.level.size == 0


def test_a_belt_that_comes_to_its_stop_is_no_clutch_that_slipped_until_then():
    # Planted: the engine stands from 1 s to 7.6 s, then goes with the car at the ratio it has come to
    turn = glide(plant_run(), 1.0)
    last = int(np.searchsorted(turn.time_s, 7.6))
    stopped = np.where(turn.time_s < 7.6, turn.rpm, 6500.0 * turn.driven / turn.driven[last])
    belt = replace(turn, rpm=stopped, log_ratio=np.log(stopped / turn.driven))
    assert find_gear_levels(belt, slips=False).basis == "no fixed ratio"


def test_a_belt_that_lets_its_engine_wander_is_no_gear():
    # Planted: the same, the engine straying by 4 % either way in seven seconds: where the ratio lies lowest it may
    # climb with the car by chance
    for phase in np.arange(0.0, 2.0 * np.pi, 0.7):
        turn = glide(plant_run(), 1.5)
        rpm = np.where(turn.time_s > 1.5, turn.rpm * (1.0 + 0.04 * np.sin(0.9 * turn.time_s + phase)), turn.rpm)
        found = find_gear_levels(replace(turn, rpm=rpm, log_ratio=np.log(rpm / turn.driven)), slips=False)
        assert found.basis == "no fixed ratio"


def test_a_short_stand_in_the_last_gear_takes_no_gear_away():
    assert find_gear_levels(glide(plant_run(), 8.3), slips=False).level.size >= 4


def test_behind_a_converter_nothing_is_said_of_gliding():
    assert find_gear_levels(glide(plant_run(), 1.5), slips=True).basis == "ratios found in the data"


AUTO = (3.2, 1.9, 1.45, 1.0)


def locks_in_third(final_drive=FINAL_DRIVE):
    """By hand: a short first, a second in which the converter stays open, third and fourth locked; a car's gearing."""
    run = plant_run(style="converter")
    turn = turned(run)
    level = np.log(60.0 * np.array(AUTO) * FINAL_DRIVE / CIRCUMFERENCE_M)
    time_s = turn.time_s
    opened = np.where(time_s < 0.6, level[0] + 1.1 - 1.5 * time_s, level[1] + 0.15 + 0.2 * np.exp(0.6 - time_s))
    held = np.select([time_s < 2.4, time_s < 3.6], [opened, level[2] + 0.01], level[3] + 0.01)
    noise = np.random.default_rng(5).normal(0.0, 0.001, time_s.size)
    car = run.car.model_copy(update={"gear_ratios": list(AUTO), "final_drive": final_drive})
    return replace(turn, log_ratio=held + noise), car


def test_an_open_converter_does_not_move_gears_that_stand_locked_where_they_were_given():
    # Planted: a lead of a fifth in second lies a gear's step below first: levels moved by a step fit it better
    assert known_gear_levels(*locks_in_third()).offset == pytest.approx(0.01, abs=0.012)


def test_a_final_drive_given_wrong_behind_a_converter_is_still_an_offset():
    # Hand: ln(1 / 1.13)
    assert known_gear_levels(*locks_in_third(1.13 * FINAL_DRIVE)).offset == pytest.approx(0.01 - np.log(1.13), abs=0.02)
