"""Tire shake: planted swings found, and what is none left alone."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.sensors.evidence import prepare_evidence
from passband.analysis.shifts.shake import find_shake, tell_shake
from tests.analysis.planted_run import plant_run
from tests.analysis.stages import find_shifts, label_gears

RUN = plant_run()
GEARS = label_gears(RUN.motion, RUN.traces, RUN.car, launch_s=0.0, end_s=9.0)
A_SHIFT = find_shifts(RUN.motion, RUN.traces, GEARS, RUN.car, launch_s=0.0, end_s=9.0).shifts[0]


def engine(rate_hz=200.0, *, swing_rpm=0.0, level=False, noise_rpm=8.0, fall=False):
    """A pull from 5500 rpm that swings at 11 Hz from 1.5 to 2.0 s, sits on a limiter, or falls as in a shift."""
    time = np.arange(-0.5, 5.0, 1.0 / rate_hz)
    rpm = np.full(time.size, 8200.0) if level else 5500.0 + 600.0 * time
    if fall:
        rpm = np.where(time > 2.5, rpm - 2200.0, rpm)
    inside = (time > 1.5) & (time < 2.0)
    rpm = rpm + np.where(inside, swing_rpm * np.sin(2 * np.pi * 11.0 * (time - 1.5)), 0.0)
    rpm = rpm + np.random.default_rng(3).normal(0, noise_rpm, time.size)
    return Channel("engine_speed", "RPM", "rpm", "rpm", time, rpm, rate_hz)


def evidence_of(channel):
    return prepare_evidence(Traces((channel,)), Car(name="x"), launch_s=-0.25, end_s=4.8)


def shakes(channel):
    return find_shake(channel, (), evidence_of(channel))


@pytest.mark.parametrize("rate_hz", [50.0, 100.0, 200.0, 500.0])
def test_the_planted_shake_is_found_at_its_place_and_rate(rate_hz):
    (shake,) = shakes(engine(rate_hz, swing_rpm=250.0))
    assert (shake.start_s, shake.end_s) == pytest.approx((1.5, 2.0), abs=0.15)
    assert shake.rate_hz == pytest.approx(11.0, abs=2.5)


@pytest.mark.parametrize(
    "channel",
    [
        engine(),
        engine(noise_rpm=20.0),
        engine(fall=True),
        engine(level=True, swing_rpm=250.0),
        engine(25.0, swing_rpm=250.0),
    ],
    ids=["clean pull", "noise", "one fall of a shift", "limiter's chop on a level", "too slow to show it"],
)
def test_what_is_no_shake_is_left_alone(channel):
    assert shakes(channel) == ()


def test_a_shake_is_told_as_no_shift():
    (finding,) = tell_shake(evidence_of(engine(swing_rpm=250.0)), ())
    assert "2" in finding.text.split("up to ")[1][:3] and "e+" not in finding.text
    assert "shake" in finding.text and "no shift" in finding.text and finding.level == "caution"


@pytest.mark.parametrize(("swing_rpm", "told"), [(60.0, 1), (0.0, 0)])
def test_a_wheel_that_swings_alone_counts_few_teeth(swing_rpm, told):
    # By hand: the wheel swings by a twentieth; through a clutch that holds the engine must swing too
    wheel = engine(swing_rpm=400.0)
    swings = Channel("wheel_speed_driven", "Wheel", "m/s", "m/s", wheel.time_s, wheel.values / 200.0, wheel.rate_hz)
    traces = Traces((engine(swing_rpm=swing_rpm), swings))
    held = prepare_evidence(traces, Car(name="x"), launch_s=-0.25, end_s=4.8)
    assert len(tell_shake(held, ())) == told


def test_a_shake_that_goes_on_until_the_shift_is_told():
    # Planted: 11 Hz from 1.5 to 2.0 s, and engine speed falls by 2,200 rpm at 1.95 s
    channel = engine(swing_rpm=250.0)
    fallen = replace(channel, values=np.where(channel.time_s > 1.95, channel.values - 2200.0, channel.values))
    shift = replace(A_SHIFT, time_s=1.95, end_s=2.0)
    (shake,) = find_shake(fallen, (shift,), evidence_of(fallen))
    assert (shake.start_s, shake.end_s) == pytest.approx((1.5, 1.92), abs=0.15)
    still = engine()
    still = replace(still, values=np.where(still.time_s > 1.95, still.values - 2200.0, still.values))
    assert find_shake(still, (shift,), evidence_of(still)) == ()


@pytest.mark.parametrize(("swing_rpm", "told"), [(1400.0, 1), (500.0, 0)])
def test_a_log_too_slow_to_count_shows_that_tires_shake_and_not_how_often(swing_rpm, told):
    # By hand: 11 Hz at 25 samples a second; 1,400 rpm of some 6,500 are 15 % rms, 500 are 5
    found = tell_shake(evidence_of(engine(25.0, swing_rpm=swing_rpm)), ())
    assert [finding.code for finding in found] == ["tire-shake"] * told
    assert all("faster than 25 samples a second can count" in finding.text for finding in found)


@pytest.mark.parametrize("locked_s, code", [(2.2, "clutch-judder"), (1.6, "tire-shake"), (None, "tire-shake")])
def test_what_swings_while_the_clutch_slips_may_be_its_own_judder(locked_s, code):
    # Planted from 1.5 to 2.0 s, 1.7 % rms
    (finding,) = tell_shake(evidence_of(engine(swing_rpm=150.0)), (), locked_s=locked_s)
    assert (finding.code, finding.level) == (code, "note" if code == "clutch-judder" else "caution")
    assert "shake" in finding.text


@pytest.mark.parametrize("locked_s, code", [(1.92, "clutch-judder"), (1.7, "tire-shake")])
def test_shafts_ring_on_for_a_swing_once_the_clutch_has_locked(locked_s, code):
    # Planted until 2.0 s: a swing at 11 Hz takes 0.09 s
    (finding,) = tell_shake(evidence_of(engine(swing_rpm=150.0)), (), locked_s=locked_s)
    assert finding.code == code


def test_a_swing_too_large_for_a_clutch_is_the_tires_though_it_slips():
    # By hand: 1,600 rpm of some 7,000 are 16 % rms, more than facings that grip and let go make of it
    (finding,) = tell_shake(evidence_of(engine(swing_rpm=1600.0)), (), locked_s=2.2)
    assert (finding.code, finding.level) == ("tire-shake", "caution")


@pytest.mark.parametrize(("pull_mps2", "told"), [(9.0, 1), (4.0, 0)])
def test_what_swings_far_from_the_most_that_tires_held_is_no_shake_of_theirs(pull_mps2, told):
    # Planted: 10 m/s2 from 0.5 to 1.4 s, and another pull through the swing at 1.5 to 2.0 s
    time_s = np.arange(-0.5, 5.0, 0.01)
    pull = np.where((time_s > 0.5) & (time_s < 1.4), 10.0, np.where(time_s < 2.5, pull_mps2, 3.0))
    one = np.ones(time_s.size)
    motion = replace(
        RUN.motion, time_s=time_s, speed_mps=20.0 * one, speed_plus_minus_mps=one, acceleration_mps2=pull,
        acceleration_plus_minus_mps2=one, distance_m=20.0 * time_s, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=one < 0.0,
    )  # fmt: skip
    assert len(tell_shake(evidence_of(engine(swing_rpm=250.0)), (), motion=motion)) == told
