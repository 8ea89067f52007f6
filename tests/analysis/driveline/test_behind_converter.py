"""What shows of a converter, planted by hand: a lead that eases, a lock-up, tires that slide and take hold."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.behind_converter import spin_behind_converter, tell_converter
from passband.analysis.driveline.gears import label_gears
from passband.analysis.driveline.ratios import find_gear_levels, measure_turn_ratio
from passband.analysis.driveline.state import read_driveline
from passband.analysis.driveline.transmission import with_transmission
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from tests.analysis.stages import evidence_of

GEARS, FINAL, CIRCUMFERENCE_M = (2.6, 1.6, 1.0), 3.5, 2.2
SHIFTS_S, END_S = (3.0, 6.5), 11.0
CAR = Car(
    name="by hand", gear_ratios=list(GEARS), final_drive=FINAL, tire_circumference=CIRCUMFERENCE_M,
    transmission="converter",
)  # fmt: skip
UNTOLD = CAR.model_copy(update={"transmission": None})


def eased(since_s, opened, kept, in_s):
    """By hand: a lead that opens and falls towards what a converter keeps."""
    return np.where(since_s >= 0, kept + opened * np.exp(-np.maximum(since_s, 0) / in_s), 0.0)


def driven(*, locks_s=99.0, slides_until_s=-1.0, slips=True, seed=3):
    """Motion, and traces of its engine at 100 Hz: three gears behind a converter, or a clutch that locks at 1 s."""
    time_s = np.arange(-1.0, END_S + 1.5, 0.005)
    pull = np.where(time_s > 0, 9.0 * np.exp(-np.maximum(time_s, 0) / 7.0), 0.0)
    pull = np.where((time_s > 0) & (time_s < slides_until_s), 5.0, pull)
    speed = np.maximum(np.cumsum(pull) * 0.005, 1e-3)
    gear = np.searchsorted(SHIFTS_S, time_s)
    share = np.clip((time_s - np.array([0.0, *SHIFTS_S])[gear]) / 0.2, 0.0, 1.0)
    geared = 60.0 * FINAL / CIRCUMFERENCE_M * speed
    ratio = np.log(np.asarray(GEARS))
    into = np.where(gear > 0, ratio[np.maximum(gear - 1, 0)] + (ratio[gear] - ratio[gear - 1]) * share, ratio[0])
    if slips:
        lead = np.select(
            [gear == 0, gear == 1], [eased(time_s, 1.6, 0.06, 1.2), eased(time_s - 3.0, 0.12, 0.06, 1.6)],
            eased(time_s - 6.5, 0.08, 0.06, 1.6),
        )  # fmt: skip
        lead = lead * np.clip(1.0 - (time_s - locks_s) / 0.3, 0.0, 1.0)
    else:
        lead = np.where(gear == 0, np.clip(1.4 - 1.4 * time_s, 0.0, 1.4), 0.0)
    rpm = np.maximum(geared * np.exp(into + lead), 3200.0 if slips else 2500.0)
    if slides_until_s > 0:
        rpm = np.where((time_s > 0.1) & (time_s < slides_until_s - 0.2), 4800.0, rpm)
        rpm = np.where((time_s >= slides_until_s - 0.2) & (time_s < slides_until_s + 0.3), 4500.0, rpm)
    zero = np.zeros_like(time_s)
    motion = Motion(
        time_s=time_s, speed_mps=speed, speed_plus_minus_mps=zero + 0.02, acceleration_mps2=pull,
        acceleration_plus_minus_mps2=zero + 0.1, distance_m=np.cumsum(speed) * 0.005, distance_plus_minus_m=zero + 0.1,
        tire_speed_mps=zero * np.nan, spinning=zero > 0, basis=SpeedBasis.UNDRIVEN_WHEEL, scale=None, wheelspin=(),
    )  # fmt: skip
    at = np.arange(-1.0, END_S + 1.2, 0.01)
    noise = np.random.default_rng(seed).normal(0, 5.0, at.size)
    seen = np.interp(at - 0.0135, time_s, rpm) + noise
    return motion, Traces((channel("engine_speed", at, seen), channel("throttle", at, np.ones(at.size))))


def channel(name, at, values):
    return Channel(name, name, "", "", at, values, 100.0, 1.0, 0, 0.003)


def read(motion, traces, car=CAR):
    evidence = evidence_of(motion, traces, car, end_s=END_S)
    state = read_driveline(motion, evidence)
    return evidence, state, label_gears(state, motion, evidence)


def codes(motion, traces):
    evidence, state, gears = read(motion, traces)
    return [found.code for found in tell_converter(motion, evidence, state, gears)]


def test_tires_that_no_log_shows_are_told_and_no_lock_up_is_invented():
    assert codes(*driven()) == ["wheelspin-not-seen"]


@pytest.mark.parametrize("locks_s", [8.0, 9.5])
def test_a_lock_up_in_top_gear_is_told_with_its_moment_and_is_no_shift(locks_s):
    motion, traces = driven(locks_s=locks_s)
    evidence, state, gears = read(motion, traces)
    _, locked = tell_converter(motion, evidence, state, gears)
    assert locked.code == "converter-locked"
    assert float(locked.where.split()[0]) == pytest.approx(locks_s, abs=0.1)
    assert [piece.gear for piece in gears.intervals] == [1, 2, 3]


def test_found_levels_take_a_lock_up_for_no_gear():
    motion, traces = driven(locks_s=9.0)
    deep = replace(traces.get("engine_speed"), values=traces.get("engine_speed").values.copy())
    late = deep.time_s > 6.7  # it slips by some 15 % until it locks
    slips = 0.07 + 0.01 * np.maximum(9.0 - deep.time_s, 0.0)
    deep.values[late] *= np.exp(slips * np.clip((9.3 - deep.time_s) / 0.3, 0.0, 1.0))[late]
    evidence = evidence_of(motion, Traces((deep, traces.get("throttle"))), CAR, end_s=END_S)
    turn = measure_turn_ratio(evidence.engine, motion, evidence)
    assert find_gear_levels(turn, slips=True).level.size == 3


def test_a_converter_that_nobody_told_of_is_seen():
    motion, traces = driven()
    shown = with_transmission(evidence_of(motion, traces, UNTOLD, end_s=END_S), motion)
    assert shown.evidence.converter
    assert [found.code for found in shown.findings] == ["converter-seen"]


@pytest.mark.parametrize("car", [UNTOLD, CAR.model_copy(update={"transmission": "clutch"})])
def test_a_clutch_is_none_nor_is_what_is_told_overruled(car):
    motion, traces = driven(slips=car.transmission is not None)
    shown = with_transmission(evidence_of(motion, traces, car, end_s=END_S), motion)
    assert not shown.evidence.converter
    assert shown.findings == ()


def test_tires_that_take_hold_while_the_engine_sinks_had_spun():
    motion, traces = driven(slides_until_s=1.2)
    evidence, _, gears = read(motion, traces)
    (spin,) = spin_behind_converter(motion, evidence, gears)
    assert spin.start_s < 0.3
    assert spin.end_s == pytest.approx(1.2, abs=0.2)
    assert spin.peak_slip is None


def test_more_torque_is_no_grip():
    # The push rises as before, but the engine does not sink: boost, nitrous
    motion, traces = driven(slides_until_s=1.2)
    engine = traces.get("engine_speed")
    held = np.where((engine.time_s > 0.1) & (engine.time_s < 1.55), 4800.0, engine.values)
    evidence, _, gears = read(motion, Traces((replace(engine, values=held), traces.get("throttle"))))
    assert spin_behind_converter(motion, evidence, gears) == ()


def test_a_lift_is_no_spin():
    motion, traces = driven(slides_until_s=1.2)
    pedal = traces.get("throttle")
    lifted = np.where((pedal.time_s > 0.5) & (pedal.time_s < 1.2), 0.6, 1.0)
    evidence, _, gears = read(motion, Traces((traces.get("engine_speed"), replace(pedal, values=lifted))))
    assert spin_behind_converter(motion, evidence, gears) == ()


def test_a_converter_that_pulls_evenly_shows_no_spin():
    motion, traces = driven()
    evidence, _, gears = read(motion, traces)
    assert spin_behind_converter(motion, evidence, gears) == ()


def test_wheels_that_race_ahead_at_the_launch_are_no_gear():
    # By hand: against the driven wheel the ratio stands, falls by a quarter as the wheels let go, and stands again
    motion, traces = driven()
    evidence = evidence_of(motion, traces, CAR, end_s=END_S)
    turn = measure_turn_ratio(evidence.engine, motion, evidence)
    early = turn.time_s < 1.4
    raced = replace(turn, log_ratio=np.where(early, turn.log_ratio[~early][0] + 0.3, turn.log_ratio))
    assert find_gear_levels(raced, slips=True).level.size == 3
