"""When a run was: with its motion, without one, with its slip alone. All by hand."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.given.car import Slip
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.motion.run_window import tell_early_lift, window_of_run, window_of_unseen_run
from passband.analysis.motion.slip_alone import read_slip_alone
from passband.analysis.motion.timed import Timed
from passband.analysis.results.distance import Distance, SpeedBasis, Split, Trap
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.windows.window import RunWindow

GRID = np.arange(0.0, 8.0, 0.005)
ZERO = np.zeros(GRID.size)
MOTION = Motion(GRID, ZERO + 30, ZERO, ZERO, ZERO, 30 * GRID, ZERO, ZERO * np.nan, ZERO > 1, SpeedBasis.GPS, None, ())
SURE, ABOUT = Estimate(7.0, 0.01), Estimate(30.0, 0.3)
SPLITS = (Split(660, Estimate(6.7, 0.01), ABOUT), Split(1000, SURE, ABOUT))
DISTANCE = Distance("GPS", Estimate(0.3, 0.1), None, SPLITS, (Trap(660, ABOUT),), ())
TIMED = Timed(Estimate(12.0, 0.03), DISTANCE, MOTION, 7.0, 7.0)
WINDOW = RunWindow(11.7, 0.05, 25.0, 20.0, (), ("engine_speed",))
WHY = Unknown(Finding("no-speed", "caution", "No log holds a speed."))


def test_a_run_that_reached_its_line_ends_there():
    got = window_of_run(WINDOW, TIMED, 0.0, finish_ft=1000)
    assert (got.log_launch_s, got.log_clock_start_s, got.log_finish_s) == (11.7, 12.0, 19.0)
    assert got.outcome == "thousand" and got.distance_m == pytest.approx(210.0)
    assert got.clock_start_plus_minus_s == pytest.approx(0.03)


def test_what_a_dash_leaves_open_the_clock_start_leaves_open():
    assert window_of_run(WINDOW, TIMED, 0.04, finish_ft=1000).clock_start_plus_minus_s == pytest.approx(0.05)


def test_a_run_that_did_not_was_lifted_or_cut():
    short = replace(TIMED, finish_s=None)
    assert window_of_run(WINDOW, short, 0.0, finish_ft=1320).outcome == "aborted"
    assert (
        window_of_run(replace(WINDOW, lift_s=None), short, 0.0, finish_ft=1320).outcome == "log ends before the finish"
    )


def test_a_finish_rolled_through_is_told_with_its_place():
    # By hand: clock start at 12.0 s, off the throttle at 18.0 s, 6.0 s and 180 m into the run; finish at 7.0 s
    (told,) = tell_early_lift(replace(WINDOW, lift_s=18.0), TIMED)
    assert (told.code, told.level) == ("lifted-before-finish", "caution")
    assert "at 6.00 s, after 180 m," in told.text and "1.00 s later" in told.text


def test_a_lift_no_sooner_than_the_finish_is_known_to_is_a_note():
    # By hand: off the throttle 0.5 s before a finish known to 0.6 s
    open_finish = Split(1000, Estimate(7.0, 0.6), ABOUT)
    timed = replace(TIMED, distance=replace(DISTANCE, splits=(SPLITS[0], open_finish)))
    (told,) = tell_early_lift(replace(WINDOW, lift_s=18.5), timed)
    assert (told.code, told.level) == ("lifted-before-finish", "note") and "known to 0.60 s" in told.text


@pytest.mark.parametrize("lift_s", [None, 18.8, 19.4])
def test_a_foot_that_stays_until_the_line_is_not_told(lift_s):
    # By hand: the line is at 19.0 s; 0.2 s before it is at it
    assert tell_early_lift(replace(WINDOW, lift_s=lift_s), TIMED) == ()


def test_a_run_that_ends_with_its_lift_is_told_by_a_note():
    # By hand: clock start at 12.0 s, off the throttle at 18.0 s, 180 m into the run
    (told,) = tell_early_lift(replace(WINDOW, lift_s=18.0), replace(TIMED, finish_s=None))
    assert (told.code, told.level) == ("lifted-for-good", "note") and "at 6.00 s, after 180 m," in told.text
    assert tell_early_lift(replace(WINDOW, lift_s=None), replace(TIMED, finish_s=None)) == ()


def test_a_speed_of_the_engine_is_no_surer_of_the_start_than_the_launch():
    through = replace(TIMED, motion=replace(MOTION, basis=SpeedBasis.ENGINE_SPEED))
    got = window_of_run(WINDOW, through, 0.0, finish_ft=1000)
    assert got.clock_start_plus_minus_s == pytest.approx(np.hypot(0.03, 0.05))


def test_without_motion_a_run_goes_from_its_launch_to_its_lift():
    got = window_of_unseen_run(WINDOW, WHY, None, finish_ft=1320)
    assert (got.window.log_clock_start_s, got.window.log_finish_s) == (11.7, pytest.approx(20.0))
    assert got.window.distance_m == WHY and got.window.outcome == "not known"


def test_with_a_slip_alone_it_ends_at_the_slips_last_mark():
    slip = read_slip_alone(Slip(t60_s=1.5, t330_s=4.2, t660_s=6.5), rollout_m=0.3, finish_ft=660)
    got = window_of_unseen_run(WINDOW, WHY, slip, finish_ft=660)
    assert got.end_s == 6.5 and got.window.outcome == "eighth"
    assert got.window.distance_m == pytest.approx(660 * 0.3048, abs=0.25)  # its way is laid out in steps of 0.25 m
    assert window_of_unseen_run(WINDOW, WHY, slip, finish_ft=1320).window.outcome == "not known"


def test_a_trap_before_the_end_says_nothing_of_the_speed_there():
    assert TIMED.last_trap is None
    assert replace(TIMED, distance=replace(DISTANCE, traps=(Trap(1000, ABOUT),))).last_trap == ABOUT
