"""What a shift was: pairs just inside and outside of what makes it so."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.shifts import ShiftKind
from passband.analysis.sensors.engine_speed import read_engine_speed
from passband.analysis.shifts.interruptions import Interruption
from passband.analysis.shifts.kinds import name_shifts, tell_lifted, with_band
from tests.analysis.planted_run import Logger, plant_run
from tests.analysis.stages import find_shifts, label_gears

RUN = plant_run(logger=Logger(cut_flag=True, throttle=False))
ENGINE = read_engine_speed(RUN.traces)
GEARS = label_gears(RUN.motion, RUN.traces, RUN.car, launch_s=0.0, end_s=9.0)
FOUND = find_shifts(RUN.motion, RUN.traces, GEARS, RUN.car, launch_s=0.0, end_s=9.0).shifts
# all made at 8,000 rpm, and the car gained no speed meanwhile, as with no gear in
SHIFTS = [replace(shift, rpm_before=Estimate(8000.0, 10.0), speed_lost_mps=4.0) for shift in FOUND]


def kinds(shifts, car=RUN.car, limiter=(), traces=RUN.traces):
    return [shift.kind for shift in name_shifts(shifts, ENGINE, traces, car, limiter=limiter)]


def changed(place, **more):
    return [replace(shift, **more) if at == place else shift for at, shift in enumerate(SHIFTS)]


def test_like_shifts_are_normal():
    assert kinds(SHIFTS) == ["normal"] * 4


def test_behind_a_converter_they_are_its_own():
    assert kinds(SHIFTS, car=RUN.car.model_copy(update={"transmission": "converter"})) == ["converter"] * 4


@pytest.mark.parametrize(("rpm", "kind"), [(7600.0, "normal"), (7450.0, "short")])
def test_well_under_the_others_is_short(rpm, kind):
    assert kinds(changed(1, rpm_before=Estimate(rpm, 10.0)))[1] == kind


@pytest.mark.parametrize(("rpm", "kind"), [(9050.0, "normal"), (9150.0, "late")])
def test_over_the_band_is_late(rpm, kind):
    named = name_shifts(changed(2, rpm_before=Estimate(rpm, 10.0)), ENGINE, RUN.traces, RUN.car, limiter=())
    assert with_band(named, RUN.car.rpm_band)[2].kind == kind


@pytest.mark.parametrize(
    ("kind", "by_band"), [("missed", "missed"), ("double", "double"), ("lifted", "lifted"), ("short", "late")]
)
def test_what_went_wrong_in_a_shift_goes_before_what_the_band_says(kind, by_band):
    # Hand: 9,200 rpm before and 7,000 after, against a band of 7,100 to 9,000
    shift = replace(SHIFTS[1], kind=ShiftKind(kind), rpm_before=Estimate(9200.0, 9.0), rpm_after=Estimate(7000.0, 9.0))
    (held,) = with_band([shift], (7100.0, 9000.0))
    assert (held.kind, held.margin_to_band_low_rpm, held.margin_to_band_high_rpm) == (by_band, -100.0, -200.0)
    (bare,) = with_band([shift], None)
    assert bare.kind == kind and bare.margin_to_band_low_rpm.reason.code == "band-not-given"


def test_off_the_limiter_is_late():
    held = Interruption("limiter", SHIFTS[1].time_s - 0.3, SHIFTS[1].time_s - 0.02)
    assert kinds(SHIFTS, limiter=[held]) == ["normal", "late", "normal", "normal"]


@pytest.mark.parametrize(("lasts", "loose", "kind"), [
    (0.2, 1.03, "normal"), (0.4, 1.03, "missed"), (0.4, 0.95, "missed"), (0.4, 1.0, "normal"),
])  # fmt: skip
def test_far_longer_than_the_others_and_let_loose_was_missed(lasts, loose, kind):
    # Planted: it flares; it sinks under where the next gear takes it; it is drawn down by a slipping clutch
    shift = SHIFTS[1]
    start, stop = shift.time_s, shift.time_s + lasts
    drawn = np.interp(ENGINE.true_time_s, [start, stop], [8000.0, 6000.0])
    middle = (ENGINE.true_time_s > start + 0.1) & (ENGINE.true_time_s < start + 0.15)
    odd = np.where(middle, 8000.0 * loose if loose > 1 else 6000.0 * loose if loose < 1 else drawn, drawn)
    engine = replace(ENGINE, rpm=np.where((ENGINE.true_time_s > start) & (ENGINE.true_time_s < stop), odd, ENGINE.rpm))
    named = name_shifts(changed(1, duration_s=lasts, end_s=stop), engine, RUN.traces, RUN.car, limiter=())
    assert named[1].kind == kind


@pytest.mark.parametrize(("held_s", "kind"), [(0.1, "normal"), (0.3, "missed")])
def test_an_engine_held_high_between_the_gears_was_in_neutral(held_s, kind):
    # Planted: all shifts take 0.4 s; in one the engine stands 7 % above where it was let go, as on its limiter
    slow = [replace(shift, duration_s=0.4, end_s=shift.time_s + 0.4) for shift in SHIFTS]
    start = slow[1].time_s
    high = (ENGINE.true_time_s > start + 0.05) & (ENGINE.true_time_s < start + 0.05 + held_s)
    engine = replace(ENGINE, rpm=np.where(high, 1.07 * 8000.0, np.minimum(ENGINE.rpm, 8000.0)))
    named = name_shifts(slow, engine, RUN.traces, RUN.car, limiter=())
    assert [shift.kind for shift in named] == ["normal", kind, "normal", "normal"]


@pytest.mark.parametrize(("feet", "lasts", "kind"), [(4, 0.55, "normal"), (4, 0.7, "missed"), (1, 0.4, "missed")])
def test_an_engine_that_leaps_up_in_a_shift_like_the_others_was_not_in_neutral(feet, lasts, kind):
    # Planted: the engine stands 9 % up in a shift with the foot, as spinning tires or a lazy lift let it; the others
    # take 0.4 s, and a second reach for the gear 0.25 s and more
    slow = [replace(shift, duration_s=0.4, end_s=shift.time_s + 0.4) for shift in SHIFTS]
    slow[1] = replace(slow[1], duration_s=lasts, end_s=slow[1].time_s + lasts)
    start = slow[1].time_s
    high = (ENGINE.true_time_s > start + 0.05) & (ENGINE.true_time_s < start + 0.35)
    engine = replace(ENGINE, rpm=np.where(high, 1.09 * 8000.0, np.minimum(ENGINE.rpm, 8000.0)))
    time_s = np.arange(-1.0, 9.0, 0.01)
    shut = np.zeros(time_s.size, dtype=bool)
    for shift in slow if feet == 4 else slow[1:2]:
        shut |= (time_s > shift.time_s) & (time_s < shift.end_s)
    throttle = Channel("throttle", "TPS", "", "", time_s, np.where(shut, 0.1, 1.0), 100.0)
    assert name_shifts(slow, engine, Traces((throttle,)), RUN.car, limiter=())[1].kind == kind


@pytest.mark.parametrize(("flare_in", "lasts", "kind"), [
    ((0, 1, 2, 3), 0.42, "normal"), ((1,), 0.42, "missed"), ((0, 1, 2, 3), 0.8, "missed"),
])  # fmt: skip
def test_a_foot_that_stays_down_in_every_shift_flares_in_all_and_missed_none(flare_in, lasts, kind):
    # Planted: shifts of 0.36 s, the engine 12 % up in some of them or all, no throttle logged to have lifted
    slow = [replace(shift, duration_s=0.36, end_s=shift.time_s + 0.36) for shift in SHIFTS]
    slow[1] = replace(slow[1], duration_s=lasts, end_s=slow[1].time_s + lasts)
    rpm = np.minimum(ENGINE.rpm, 8000.0)
    for shift in (slow[at] for at in flare_in):
        high = (ENGINE.true_time_s > shift.time_s + 0.05) & (ENGINE.true_time_s < shift.time_s + 0.2)
        rpm = np.where(high, 1.12 * 8000.0, rpm)
    named = name_shifts(slow, replace(ENGINE, rpm=rpm), RUN.traces, RUN.car, limiter=())
    assert named[1].kind == kind


@pytest.mark.parametrize(("lost_mps", "speed_seen", "kind"), [
    (2.0, True, "missed"), (0.2, True, "normal"), (0.2, False, "missed"),
])  # fmt: skip
def test_a_car_that_pulled_on_missed_no_gear(lost_mps, speed_seen, kind):
    # Planted: half a second with the engine a fifth over where it was, as with tires that leap up in the next gear
    shift = SHIFTS[1]
    between = (ENGINE.true_time_s > shift.time_s) & (ENGINE.true_time_s < shift.time_s + 0.5)
    engine = replace(ENGINE, rpm=np.where(between, 9600.0, ENGINE.rpm))
    long = changed(1, duration_s=0.5, end_s=shift.time_s + 0.5, speed_lost_mps=lost_mps)
    named = name_shifts(long, engine, RUN.traces, RUN.car, limiter=(), speed_seen=speed_seen)
    assert named[1].kind == kind


@pytest.mark.parametrize(("others_s", "kind"), [(0.65, "normal"), (0.4, "missed")])
def test_a_hand_that_is_as_slow_in_every_shift_missed_none(others_s, kind):
    # Planted: one of 0.7 s in which the engine flares by 3 %
    slow = [replace(shift, duration_s=others_s, end_s=shift.time_s + others_s) for shift in SHIFTS]
    slow[1] = replace(slow[1], duration_s=0.7, end_s=slow[1].time_s + 0.7)
    start = slow[1].time_s
    high = (ENGINE.true_time_s > start + 0.1) & (ENGINE.true_time_s < start + 0.3)
    engine = replace(ENGINE, rpm=np.where(high, 1.03 * 8000.0, np.minimum(ENGINE.rpm, 8000.0)))
    assert name_shifts(slow, engine, RUN.traces, RUN.car, limiter=())[1].kind == kind


def test_a_shift_that_the_line_cuts_short_has_no_length_to_judge():
    # Planted: 0.9 s long, the engine let loose, which is a missed gear unless the run ends in it
    shift = SHIFTS[3]
    late = changed(3, duration_s=0.9, end_s=shift.time_s + 0.9)
    loose = (ENGINE.true_time_s > shift.time_s) & (ENGINE.true_time_s < shift.time_s + 0.3)
    engine = replace(ENGINE, rpm=np.where(loose, 1.05 * 8000.0, ENGINE.rpm))
    told = [
        name_shifts(late, engine, RUN.traces, RUN.car, limiter=(), finish_s=shift.time_s + ends)[3].kind
        for ends in (0.5, 2.0)
    ]
    assert told == ["normal", "missed"]


def test_two_gears_at_once_is_double():
    assert kinds(changed(1, to_gear=4))[1] == "double"


def test_a_lone_lift_among_full_throttle_shifts_is_lifted():
    time_s = np.arange(-1.0, 9.0, 0.01)
    closed = (time_s > SHIFTS[2].time_s) & (time_s < SHIFTS[2].end_s)
    throttle = Channel("throttle", "TPS", "", "", time_s, np.where(closed, 0.1, 1.0), 100.0)
    assert kinds(SHIFTS, traces=Traces((throttle,))) == ["normal", "normal", "lifted", "normal"]


def test_a_foot_that_lifts_every_time_is_normal():
    run = plant_run(style="clutch")
    gears = label_gears(run.motion, run.traces, run.car, launch_s=0.0, end_s=9.0)
    shifts = find_shifts(run.motion, run.traces, gears, run.car, launch_s=0.0, end_s=9.0).shifts
    assert [shift.kind for shift in shifts] == ["normal"] * 4


def test_no_shifts_no_names():
    assert kinds([]) == []


@pytest.mark.parametrize(("lost", "kind"), [(0.4, "missed"), (0.7, "normal")])
def test_of_a_shift_that_noise_hid_no_gear_is_said_to_be_missed(lost, kind):
    # Hand: 0.4 s long and 20 % over its speed, which is all that samples bridged across say
    start = SHIFTS[1].time_s
    inside = (ENGINE.true_time_s > start) & (ENGINE.true_time_s < start + 0.4)
    hidden = inside & (ENGINE.true_time_s < start + 0.4 * lost)
    engine = replace(ENGINE, rpm=np.where(inside, 9600.0, ENGINE.rpm), noisy=hidden)
    shifts = changed(1, end_s=start + 0.4, duration_s=0.4)
    assert name_shifts(shifts, engine, RUN.traces, RUN.car, limiter=())[1].kind == kind


@pytest.mark.parametrize(("again", "kind"), [(False, "normal"), (True, "missed")])
def test_a_foot_that_stabs_the_throttle_within_a_shift_missed_its_gear(again, kind):
    # Planted: all with the foot, the others in 0.5 s, one in 0.7 s with the engine 5 % up; in it the throttle is back
    # for a tenth of a second and shuts again
    slow = [replace(shift, duration_s=0.5, end_s=shift.time_s + 0.5) for shift in SHIFTS]
    slow[1] = replace(slow[1], duration_s=0.7, end_s=slow[1].time_s + 0.7)
    start = slow[1].time_s
    high = (ENGINE.true_time_s > start + 0.05) & (ENGINE.true_time_s < start + 0.35)
    engine = replace(ENGINE, rpm=np.where(high, 1.05 * 8000.0, np.minimum(ENGINE.rpm, 8000.0)))
    time_s = np.arange(-1.0, 9.0, 0.01)
    shut = np.zeros(time_s.size, dtype=bool)
    for shift in slow:
        shut |= (time_s > shift.time_s) & (time_s < shift.end_s)
    stab = again & (time_s > start + 0.3) & (time_s < start + 0.4)
    throttle = Channel("throttle", "TPS", "", "", time_s, np.where(shut & ~stab, 0.1, 1.0), 100.0)
    assert name_shifts(slow, engine, Traces((throttle,)), RUN.car, limiter=())[1].kind == kind


def test_a_lone_lift_is_told():
    (told,) = tell_lifted(changed(1, kind=ShiftKind.LIFTED))
    assert told.level == "note" and f"2-3 at {SHIFTS[1].time_s:.2f} s and in no other" in told.text
    assert tell_lifted(SHIFTS) == []
