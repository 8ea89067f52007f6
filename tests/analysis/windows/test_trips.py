"""Movements of the car, tires that only spin, and pulls of an engine alone."""

import numpy as np
import pytest

from passband.analysis.windows.movement import Movement
from passband.analysis.windows.other_events import name_other_events
from passband.analysis.windows.trips import choose_runs, find_pulls, find_trips, speed_of_car

STEP_S = 0.02


def movement(seconds, *, ground=None, tire=None, rpm=None, throttle=None):
    """Traces from lists of (second, value), straight between them."""
    time = np.arange(0.0, seconds, STEP_S)

    def trace(points):
        if points is None:
            return np.full(time.size, np.nan)
        return np.interp(time, *np.array(points, dtype=float).T)

    return Movement(
        time, trace(ground), trace(tire), trace(rpm), trace(throttle), "gps_speed" if ground else "",
        "wheel_speed_driven" if tire else "",
    )  # fmt: skip


def trips_of(traces):
    return find_trips(traces, speed_of_car(traces)[0])


PULL = [(0, 0), (5, 0), (9, 32), (14, 55), (24, 0), (30, 0)]


def test_a_pull_from_rest_is_one_trip_and_a_run():
    # Hand: 8 m/s2 from 5 s
    (trip,) = trips_of(movement(30, ground=PULL))
    assert trip.start * STEP_S == pytest.approx(5.1, abs=0.1)
    assert trip.peak_mps == pytest.approx(55, abs=0.5)
    assert trip.start_mps2 == pytest.approx(8.0, abs=0.4)
    assert choose_runs([trip]) == [trip]


def test_creep_is_no_trip():
    assert trips_of(movement(10, ground=[(0, 0), (2, 3.5), (8, 3.5), (10, 0)])) == []


@pytest.mark.parametrize("mps2, runs", [(2.2, 0), (2.8, 1)])
def test_a_gentle_departure_is_no_run(mps2, runs):
    # Just below and above the threshold of 2.5 m/s2
    top = 20.0
    trips = trips_of(movement(60, ground=[(0, 0), (5, 0), (5 + top / mps2, top), (40, top), (55, 0)]))
    assert len(trips) == 1 and len(choose_runs(trips)) == runs


@pytest.mark.parametrize("throttle, runs", [(0.5, 0), (0.9, 1)])
def test_a_brisk_drive_back_without_full_throttle_is_no_run(throttle, runs):
    # Planted: 3.5 m/s2 up to 13 m/s; the throttle swings its whole way elsewhere in the log
    ground = [(0, 0), (5, 0), (8.7, 13), (14, 13), (20, 0), (40, 0)]
    pedal = [(0, 0), (4.9, 0), (5, throttle), (8.7, throttle), (8.8, 0), (30, 0), (30.1, 1), (32, 1), (32.1, 0)]
    trips = trips_of(movement(40, ground=ground, throttle=pedal))
    assert len(trips) == 1 and len(choose_runs(trips)) == runs


def test_a_short_hop_is_a_run_only_where_nothing_else_is():
    hop = [(0, 0), (5, 0), (6, 8), (8, 0), (20, 0)]
    trips = trips_of(movement(20, ground=hop))
    assert choose_runs(trips) == trips
    later = [(t + 20, v) for t, v in PULL]
    both = trips_of(movement(50, ground=hop + later))
    assert choose_runs(both) == both[1:]


def test_a_record_that_begins_on_the_move_is_no_run():
    trips = trips_of(movement(20, ground=[(0, 30), (3, 50), (12, 0), (20, 0)]))
    assert not trips[0].from_rest and choose_runs(trips) == []


@pytest.mark.parametrize("fall_s, counts", [(0.5, False), (4.0, True)])
def test_driven_tires_that_stop_as_no_car_can_were_spinning(fall_s, counts):
    spin = movement(20, tire=[(0, 0), (3, 0), (5, 20), (8, 20), (8 + fall_s, 0), (20, 0)])
    assert (len(trips_of(spin)) == 1) is counts


def test_ground_speed_may_stop_hard():
    (trip,) = trips_of(movement(20, ground=[(0, 0), (3, 0), (6, 30), (7.6, 0), (20, 0)]))
    assert trip.peak_mps == pytest.approx(30, abs=0.5)


def engine(plateau_s=2.0, ripple=0.0):
    start = 4.0
    launch = start + 0.6 + plateau_s
    rpm = [
        (0, 1000), (start, 1000), (start + 0.6, 6000), (launch, 6000), (launch + 0.15, 5300), (launch + 1.2, 5200),
        (launch + 2.5, 8500), (launch + 2.6, 6300), (launch + 4.5, 8500), (launch + 4.6, 6600), (launch + 7.5, 8400),
        (launch + 12, 2000),
    ]  # fmt: skip
    throttle = [(0, 0), (start, 0), (start + 0.1, 1), (launch + 7.5, 1), (launch + 7.55, 0)]
    return launch, movement(launch + 14, rpm=rpm, throttle=throttle)


@pytest.mark.parametrize("plateau_s", [0.6, 2.0, 4.0])
def test_an_engine_alone_shows_its_launch_as_it_leaves_the_two_step(plateau_s):
    launch, traces = engine(plateau_s)
    (pull,) = find_pulls(traces)
    assert pull.start * STEP_S == pytest.approx(launch, abs=0.15)


def test_an_idling_engine_pulls_nowhere():
    assert find_pulls(movement(20, rpm=[(0, 1000), (20, 1000)], throttle=[(0, 0), (20, 0)])) == []


def test_revving_without_a_shift_is_no_pull():
    assert find_pulls(movement(20, rpm=[(0, 1000), (5, 6000), (9, 6000), (10, 1000)], throttle=[(0, 1), (9, 1)])) == []


def test_bumps_and_creep_before_a_run_are_named():
    ground = [(0, 0), (2, 0), (3, 1), (6, 1), (7, 0), (9, 0), (9.2, 0.8), (9.5, 0), (12, 0)]
    traces = movement(45, ground=ground + [(t + 10, v) for t, v in PULL if t >= 5])
    speed, _ = speed_of_car(traces)
    runs = choose_runs(find_trips(traces, speed))
    assert [other_event.kind for other_event in name_other_events(traces, speed, runs, [])] == [
        "staging creep",
        "bump-in",
    ]


def test_a_trip_open_at_the_logs_end_is_closed_there():
    (trip,) = trips_of(movement(12, ground=[(0, 0), (2, 0), (12, 80)]))
    assert trip.start < trip.peak < trip.stop == round(12 / STEP_S)


def test_a_level_that_the_engine_is_held_at_after_an_upshift_is_not_the_launchs():
    # Hand: on the brakes at 1,500 of 6,500 rpm, the throttle opens at 10.0 s; after the shift it hangs at 4,700
    rpm = [(0, 900), (8, 900), (8.5, 1500), (10, 1500), (12, 6500), (12.3, 4700), (12.8, 4700), (14.5, 6500), (15, 900)]
    (pull,) = find_pulls(movement(20, rpm=rpm, throttle=[(0, 0), (10, 0), (10.01, 1), (14.5, 1), (14.51, 0)]))
    assert pull.start * STEP_S == pytest.approx(10.0, abs=0.1)


def test_a_clutch_that_bites_is_no_upshift_that_hides_the_hold_before_it():
    # Hand: held at 4,800 rpm until 9.1 s, caught at 4,900 and pulled down to 2,700 by 9.9 s, then pulling again
    rpm = [(0, 900), (6, 900), (6.4, 4800), (9.1, 4800), (9.15, 5100), (9.4, 4800), (9.95, 2700), (11.7, 7200)]
    rpm += [(11.9, 5300), (13.4, 7200), (14, 900)]
    (pull,) = find_pulls(movement(20, rpm=rpm, throttle=[(0, 0), (7.2, 0), (7.21, 1), (13.4, 1), (13.41, 0)]))
    assert pull.start * STEP_S == pytest.approx(9.1, abs=0.1)


def test_a_converters_top_gear_pulls_slowly_and_its_upshift_is_one():
    # Hand: on the two-step at 4,900 rpm until 10 s, a stall of 5,100 for 2 s, the one shift at 14.5 s, 5,450 by 14.9 s
    rpm = [(0, 1000), (9, 1000), (9.4, 4900), (10, 4900), (10.2, 5100), (12, 5100), (14.5, 7200), (14.7, 5750)]
    rpm += [(14.9, 5450), (15.3, 5420), (21, 6600), (21.3, 5700), (25, 4000)]
    (pull,) = find_pulls(movement(30, rpm=rpm, throttle=[(0, 0), (9, 0), (9.05, 1), (21, 1), (21.05, 0)]))
    assert pull.start * STEP_S == pytest.approx(10.0, abs=0.2)


def test_a_throttle_feathered_through_first_gear_belongs_to_the_pull():
    # Hand: on the two-step at 3,650 rpm from 5 to 7 s, then at half throttle through first gear for 3 s, a lift, open
    rpm = [
        (0, 900), (4.5, 900), (5, 3650), (7, 3650), (7.3, 5200), (7.8, 2600), (10, 6500), (10.3, 4600), (12.5, 6500),
        (12.8, 5000), (15.5, 6500), (19, 2000),
    ]  # fmt: skip
    foot = [(0, 0), (4.5, 0), (4.6, 1), (7, 1), (7.1, 0.49), (10, 0.49), (10.01, 0), (10.3, 0), (10.31, 1), (15.5, 1)]
    (pull,) = find_pulls(movement(20, rpm=rpm, throttle=[*foot, (15.51, 0), (20, 0)]))
    assert pull.start * STEP_S == pytest.approx(7.0, abs=0.15)


def test_an_engine_dragged_off_its_stall_by_the_launch_was_on_its_level_until_then():
    # Planted, regression: the fall off the level is as sharp as a shift's, and the run began where it was raised to it
    raised = [(0, 900), (7.0, 900), (7.3, 3328), (9.68, 3331), (9.72, 3213), (9.76, 3018), (9.8, 2741), (9.84, 2485)]
    raised += [(9.88, 2289), (9.92, 2227), (9.96, 2273), (10.08, 2445)]
    rpm = [*raised, (12.0, 7000), (12.3, 4200), (15.0, 7000), (15.3, 4400), (18.0, 7000), (20, 2000)]
    foot = [(0, 0), (7.0, 0), (7.2, 0.62), (9.68, 0.62), (9.7, 1), (18.0, 1), (18.01, 0), (20, 0)]
    (pull,) = find_pulls(movement(20, rpm=rpm, throttle=foot))
    assert abs(pull.start * 0.02 - 9.7) < 0.1


def test_a_stall_below_half_of_where_the_engine_is_shifted_is_the_level_it_leaves():
    # Planted, regression: raised to 3,170 rpm, held for 1.2 s, shifted at 7,000; the run began at the raise
    rpm = [(0, 900), (7.0, 900), (7.3, 3170), (8.4, 3172), (8.6, 2400), (11.0, 7000), (11.3, 4200), (15.0, 7000)]
    rpm += [(15.3, 4400), (18.0, 7000), (20, 2000)]
    foot = [(0, 0), (7.0, 0), (7.2, 0.62), (8.38, 0.62), (8.4, 1), (18.0, 1), (18.01, 0), (20, 0)]
    (pull,) = find_pulls(movement(20, rpm=rpm, throttle=foot))
    assert pull.start * STEP_S == pytest.approx(8.4, abs=0.1)
