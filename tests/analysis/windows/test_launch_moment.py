"""The moment of first motion from each thing that shows it, alone and together: planted launches, rates, noise, liars.

Planted: a car at rest whose push comes up within 60 ms of the release, sensors late in their own ways. First motion is
taken to be 5 cm/s, a twentieth of a walking pace: 25 ms after the release, with half a millimetre gone. (Of a push that
comes up this softly two millimetres take 42 ms: by that reading the answers here would be 20 ms early.)
"""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.windows import launch_moment
from passband.analysis.windows.launch_moment import find_launch_moment
from passband.analysis.windows.two_step import ripple_end

TIME_S = np.arange(0.0, 9.0, 0.001)
RELEASE_S, BITE_S, PULL_MPS2 = 4.0, 0.060, 10.0
PUSH = PULL_MPS2 * np.clip((TIME_S - RELEASE_S) / BITE_S, 0.0, 1.0)
SPEED = np.concatenate(([0.0], np.cumsum((PUSH[1:] + PUSH[:-1]) / 2) * 0.001))
TRUTH_S = float(TIME_S[np.flatnonzero(SPEED > 0.05)[0]])
TWO_STEP_RPM = 6000.0
SINKS = TWO_STEP_RPM - 900.0 * np.clip((TIME_S - RELEASE_S - 0.05) / 0.25, 0.0, 1.0)
CLIMBS = 3000.0 + 2500.0 * np.clip((TIME_S - RELEASE_S - 0.05) / 0.6, 0.0, 1.0)


def seen(name, unit, signal, *, rate_hz=100.0, late_s=0.0, noise=0.0, log=0, floor=0.0, phase=0.3, seed=1):
    """A channel that samples a signal late, with noise, blind below a floor."""
    at = np.arange(phase / rate_hz, TIME_S[-1], 1 / rate_hz)
    values = np.interp(at - late_s, TIME_S, signal)
    values = np.where(np.abs(values) < floor, 0.0, values) + np.random.default_rng(seed).normal(0, noise, at.size)
    return Channel(name, name, unit, unit, at, values, rate_hz, 1.0, log, 0.0)


def push(**how):
    return seen("acceleration", "m/s^2", PUSH, **{"late_s": 0.019, "noise": 0.08, **how})


def wheel(**how):
    return seen("wheel_speed_fl", "m/s", SPEED, **{"late_s": 0.025, "noise": 0.01, "floor": 0.8, **how})


def gps(**how):
    return seen("gps_speed", "m/s", SPEED, **{"late_s": 0.15, "noise": 0.02, "rate_hz": 10.0, **how})


def engine(signal=SINKS, **how):
    return seen("engine_speed", "rpm", signal, **{"late_s": 0.014, "noise": 6.0, **how})


def tire(**how):
    return seen("wheel_speed_driven", "m/s", 1.05 * SPEED, **{"late_s": 0.025, "noise": 0.02, "floor": 0.5, **how})


def found(*channels, near_s=RELEASE_S + 0.2, **how):
    return find_launch_moment(
        Traces(channels), near_s=near_s, undriven=("wheel_speed_fl", "gps_speed"),
        driven=("wheel_speed_driven",), **how,
    )  # fmt: skip


@pytest.mark.parametrize(
    "sign, sure_s",
    [(push, 0.03), (wheel, 0.08), (gps, 0.13), (engine, 0.10)],
    ids=["push", "wheel", "gps", "engine"],
)
@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.75])
def test_each_sign_alone_finds_it_within_its_plus_minus(sign, sure_s, phase):
    got = found(sign(phase=phase))
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s < sure_s
    assert got.evidence == (sign().name,)


def on_the_limiter(*, period_s=0.18, swing_rpm=220.0, late_s=0.5):
    """A two-step that saws until the clutch takes hold; the engine leaves its level only long after, as it slips."""
    saw = swing_rpm * (0.5 - ((TIME_S - RELEASE_S) / period_s) % 1.0)
    leaves = 1200.0 * np.clip((TIME_S - RELEASE_S - late_s) / 0.4, 0.0, 1.0)
    return np.where(TIME_S < RELEASE_S + 0.02, 3600.0 + saw, 3650.0 - leaves)


@pytest.mark.parametrize("period_s", [0.07, 0.12, 0.18, 0.25])
@pytest.mark.parametrize("phase", [0.0, 0.5])
def test_beside_a_gps_of_one_hertz_the_end_of_the_two_steps_ripple_tells(period_s, phase):
    # Planted: a receiver of 1 Hz, 0.4 s late, that finds the launch 1.4 s late; the engine shows it plainly
    dash = gps(rate_hz=1.0, late_s=0.4, phase=phase)
    got = found(dash, engine(on_the_limiter(period_s=period_s), rate_hz=50.0), near_s=RELEASE_S + 1.4)
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s < 0.2
    assert "engine_speed" in got.evidence


def test_an_engine_held_without_a_ripple_shows_no_end_of_one():
    assert ripple_end(engine(), first_s=2.0, last_s=5.0) is None
    assert ripple_end(engine(on_the_limiter()), first_s=2.0, last_s=3.9) is None


def test_the_end_of_a_ripple_lies_between_its_last_peak_and_the_one_that_failed():
    end = ripple_end(engine(on_the_limiter(), noise=0.0), first_s=2.0, last_s=5.0)
    assert end is not None and abs(end.time_s - RELEASE_S - 0.014) < 0.18 / 2 + 0.02


@pytest.mark.parametrize("rate_hz", [25.0, 50.0, 200.0, 500.0])
@pytest.mark.parametrize("noise", [0.0, 0.05, 0.2])
def test_the_push_finds_it_at_every_rate_through_noise(rate_hz, noise):
    got = found(push(rate_hz=rate_hz, noise=noise))
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s


def test_an_engine_that_climbs_from_its_stall_is_a_launch_behind_a_converter():
    got = found(engine(CLIMBS), converter=True)
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s


def test_more_signs_make_it_surer():
    alone, all_of_them = found(wheel()), found(wheel(), push(), engine(), gps())
    assert all_of_them.plus_minus_s < alone.plus_minus_s
    assert set(all_of_them.evidence) == {"acceleration", "engine_speed", "wheel_speed_fl", "gps_speed"}
    assert abs(all_of_them.time_s - TRUTH_S) < all_of_them.plus_minus_s


def test_the_plus_minus_holds_the_truth_in_more_than_nine_draws_of_ten():
    # Planted: lateness drawn as devices lie (accelerometers 10 to 30 ms, wheels 10 to 40 ms), any phase and rate. Of
    # 60 at 90 % fewer than 47 are met with once in two hundred trials (binomial).
    rng, inside = np.random.default_rng(3), 0
    for seed in range(60):
        rate_hz = float(rng.choice([25.0, 50.0, 100.0]))
        drawn = {"rate_hz": rate_hz, "phase": float(rng.random()), "seed": seed}
        got = found(push(late_s=rng.uniform(0.010, 0.030), **drawn), wheel(late_s=rng.uniform(0.010, 0.040), **drawn))
        inside += abs(got.time_s - TRUTH_S) < got.plus_minus_s
    assert inside >= 47


@pytest.mark.parametrize("near_s", [-0.35, 0.0, 0.35])
def test_where_it_is_thought_to_be_does_not_matter(near_s):
    first, second = found(push(), wheel()), found(push(), wheel(), near_s=RELEASE_S + near_s)
    assert second.time_s == pytest.approx(first.time_s, abs=0.003)


def test_one_liar_among_many_is_left_out():
    # Planted: a wheel half a second late
    honest, told = found(push(), engine(), gps()), found(push(), engine(), gps(), wheel(late_s=0.5))
    assert "wheel_speed_fl" not in told.evidence
    assert told.time_s == pytest.approx(honest.time_s, abs=1e-6)


def test_speeds_that_wake_late_together_do_not_outvote_the_push_that_came_before_them():
    # Planted: the wheel 0.15 s later than such wheels are, the receiver as late again; both agree, and both slept
    got = found(push(), wheel(late_s=0.175), gps(late_s=0.3))
    assert abs(got.time_s - TRUTH_S) <= got.plus_minus_s
    assert "acceleration" in got.evidence


def test_of_two_speeds_that_disagree_the_later_one_slept():
    # Planted: a wheel in the air for 0.7 s after the launch, beside a receiver
    got = found(gps(), wheel(late_s=0.725))
    assert "wheel_speed_fl" not in got.evidence
    assert abs(got.time_s - TRUTH_S) <= got.plus_minus_s


def test_a_push_that_comes_after_the_speeds_may_still_be_the_liar():
    # Planted: an accelerometer a quarter of a second late
    got = found(push(late_s=0.27), wheel(), gps(), engine())
    assert "acceleration" not in got.evidence
    assert abs(got.time_s - TRUTH_S) <= got.plus_minus_s


def counted(name, teeth, *, phase=0.5, rate_hz=100.0):
    """A wheel of few teeth on 1.9 m: one pitch over the time between the last two, zero before the second."""
    pitch, way = 1.9 / teeth, np.cumsum(SPEED) * 0.001
    moving = SPEED > 0
    edges = np.interp((np.arange(1, int(way[-1] / pitch)) - phase) * pitch, way[moving], TIME_S[moving])
    at = np.arange(0.0, TIME_S[-1], 1 / rate_hz)
    last = np.searchsorted(edges, at, side="right") - 1
    values = np.where(last >= 1, pitch / np.diff(edges, prepend=-np.inf)[np.maximum(last, 1)], 0.0)
    return Channel(name, name, "m/s", "m/s", at, values, rate_hz, 1.0, 0, 0.0)


@pytest.mark.parametrize("teeth", [4, 5, 8])
@pytest.mark.parametrize("phase", [0.1, 0.5, 0.9])
def test_two_wheels_that_few_teeth_make_late_do_not_outvote_the_push(teeth, phase):
    # Planted: both show nothing for the first quarter to half metre, a quarter of a second and more
    wheels = [counted(f"wheel_speed_{side}", teeth, phase=phase) for side in ("fl", "fr")]
    got = find_launch_moment(
        Traces((push(), engine(), *wheels)), near_s=RELEASE_S + 0.35,
        undriven=("wheel_speed_fl", "wheel_speed_fr", "gps_speed"), driven=(),
    )  # fmt: skip
    assert abs(got.time_s - TRUTH_S) < 0.02
    assert "acceleration" in got.evidence


@pytest.mark.parametrize("teeth", [4, 5, 8])
@pytest.mark.parametrize("phase", [0.1, 0.5, 0.9])
def test_a_wheel_of_few_teeth_alone_tells_within_its_plus_minus(teeth, phase):
    got = found(counted("wheel_speed_fl", teeth, phase=phase))
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s < 0.2


def test_the_engine_is_looked_for_where_the_first_teeth_say_that_the_car_began_to_move(monkeypatch):
    # Planted: a wheel that found the launch when its teeth had passed, the engine's departure out of reach from there
    monkeypatch.setattr(launch_moment, "ENGINE_REACH_S", 0.2)
    late = counted("wheel_speed_fl", 3, phase=0.1)
    got = find_launch_moment(
        Traces((engine(), late)), near_s=RELEASE_S + 0.45, undriven=("wheel_speed_fl",), driven=(),
    )  # fmt: skip
    assert "engine_speed" in got.evidence
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s


def test_both_wheels_are_named_though_they_have_one_voice():
    got = find_launch_moment(
        Traces((wheel(), seen("wheel_speed_fr", "m/s", SPEED, late_s=0.025, floor=0.8))), near_s=RELEASE_S + 0.2,
        undriven=("wheel_speed_fl", "wheel_speed_fr"), driven=(),
    )  # fmt: skip
    assert set(got.evidence) == {"wheel_speed_fl", "wheel_speed_fr"}
    assert got.plus_minus_s < found(wheel()).plus_minus_s


def test_a_jerk_before_the_launch_is_not_the_launch():
    # Planted: a knock of 3 m/s2 for 40 ms, 0.3 s before
    knocked = PUSH + 3.0 * ((TIME_S > RELEASE_S - 0.3) & (TIME_S < RELEASE_S - 0.26))
    got = found(seen("acceleration", "m/s^2", knocked, late_s=0.019, noise=0.08))
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s


def test_a_slope_or_a_bias_of_the_accelerometer_moves_nothing():
    plain, leaning = found(push()), found(seen("acceleration", "m/s^2", PUSH + 1.2, late_s=0.019, noise=0.08))
    assert leaning.time_s == pytest.approx(plain.time_s, abs=1e-6)


def test_signs_of_another_log_share_its_clock():
    here, there = found(push(log=0)), found(push(log=1))
    assert there.time_s == pytest.approx(here.time_s, abs=1e-9)
    assert there.plus_minus_s > here.plus_minus_s


def test_the_driven_tire_is_asked_only_where_nothing_surer_is_there():
    alone, beside = found(tire()), found(tire(), push())
    assert alone.evidence == ("wheel_speed_driven",) and abs(alone.time_s - TRUTH_S) < alone.plus_minus_s
    assert beside.evidence == ("acceleration",)


def test_time_shifted_the_answer_moves_with_it():
    plain = found(push(), wheel())
    later = [
        Channel(c.name, c.name, c.unit, c.unit, c.time_s + 100.0, c.values, c.rate_hz, 1.0, c.log, 0.0)
        for c in (push(), wheel())
    ]
    assert found(*later, near_s=RELEASE_S + 100.2).time_s == pytest.approx(plain.time_s + 100.0, abs=1e-6)


def test_a_gap_in_the_push_just_there_leaves_it_to_the_others():
    holed = push()
    values = np.where(np.abs(holed.time_s - RELEASE_S) < 0.5, np.nan, holed.values)
    hole = Channel("acceleration", "a", "m/s^2", "m/s^2", holed.time_s, values, 100.0, 1.0, 0, 0.0)
    got = found(hole, wheel())
    assert "wheel_speed_fl" in got.evidence and abs(got.time_s - TRUTH_S) < got.plus_minus_s


def still(signal):
    return np.full_like(signal, signal[0])


@pytest.mark.parametrize(
    "channels",
    [
        (),
        (seen("acceleration", "m/s^2", still(PUSH), noise=0.1),),
        (engine(still(SINKS)),),
        (seen("wheel_speed_fl", "m/s", still(SPEED)),),
        (seen("wheel_speed_fl", "m/s", SPEED + 5.0),),
        (seen("acceleration", "m/s^2", np.full_like(PUSH, np.nan)),),
    ],
    ids=["nothing", "no push", "a steady engine", "a wheel that stands", "a car that rolls", "no value"],
)
def test_where_nothing_shows_it_it_is_left_where_it_was_thought_to_be(channels):
    got = found(*channels)
    assert (got.time_s, got.plus_minus_s, got.evidence) == (RELEASE_S + 0.2, 0.3, ())


def test_a_log_that_begins_with_the_launch_shows_no_rise():
    # Edge: the first sample is already under way
    late = push()
    cut = late.time_s > RELEASE_S + 0.05
    begun = Channel("acceleration", "a", "m/s^2", "m/s^2", late.time_s[cut], late.values[cut], 100.0, 1.0, 0, 0.0)
    assert found(begun).evidence == ()


def deaf(until_s, **how):
    """An undriven wheel that reads nothing until a moment, as one of few teeth does in its first part of a turn."""
    return wheel(floor=float(np.interp(until_s, TIME_S, SPEED)), **how)


@pytest.mark.parametrize("engine_too", [False, True])
def test_tires_that_turn_show_a_launch_that_the_wheels_slept_through(engine_too):
    # Planted: the undriven wheel wakes half a second late, the driven tires as they turn
    channels = [deaf(RELEASE_S + 0.5), tire(), *([engine()] if engine_too else [])]
    got = found(*channels, near_s=RELEASE_S + 0.55)
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s < 0.15
    assert "wheel_speed_driven" in got.evidence and "wheel_speed_fl" not in got.evidence


def test_tires_that_spin_for_longer_against_the_brakes_show_none():
    # Planted: a burnout until the very launch
    spun = seen("wheel_speed_driven", "m/s", np.where(TIME_S > RELEASE_S - 3.0, 15.0, 0.0), late_s=0.025, noise=0.02)
    got = found(wheel(), spun)
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s and got.evidence == ("wheel_speed_fl",)


def test_an_engine_that_leaves_its_stall_after_the_wheel_shows_the_car_under_way_is_no_sign():
    # Planted: the engine leaves its stall 0.5 s after the car began to move, when that does 4.7 m/s
    late = np.interp(TIME_S - 0.5, TIME_S, CLIMBS)
    got = found(tire(), engine(late), converter=True)
    assert "engine_speed" not in got.evidence
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s


def test_a_driveshaft_is_a_sign_as_a_driven_wheel_is():
    # Hand: 1 m/s of tires at 4.1 : 1 on 2.0 m is 123 rpm
    shaft = seen("driveshaft_speed", "rpm", 123.0 * SPEED, late_s=0.02, noise=1.0)
    got = found(shaft)
    assert got.evidence == ("driveshaft_speed",)
    assert abs(got.time_s - TRUTH_S) < got.plus_minus_s


def test_signs_that_contradict_each_other_leave_more_open():
    # Planted: the engine's clock is off by 0.2 s
    agree = found(engine(), wheel())
    apart = found(engine(np.interp(TIME_S + 0.2, TIME_S, SINKS)), wheel())
    assert apart.plus_minus_s > 1.5 * agree.plus_minus_s
    assert abs(apart.time_s - TRUTH_S) < apart.plus_minus_s


def test_what_an_engine_and_a_wheel_did_in_the_creep_before_is_no_sign_of_the_launch(monkeypatch):
    crept = [
        launch_moment._Sign("engine_speed", RELEASE_S - 3.0, 0.05, 0),
        launch_moment._Sign("wheel_speed_fl", RELEASE_S - 2.8, 0.9, 0),
    ]
    monkeypatch.setattr(launch_moment, "_signs", lambda *_, **__: crept)
    moment = found(push())
    assert moment.evidence == ("acceleration",)
    assert moment.time_s == pytest.approx(TRUTH_S, abs=moment.plus_minus_s)


@pytest.mark.parametrize("cut_s", [None, 1.4])
def test_a_wheel_that_the_launch_lifts_off_the_ground_does_not_find_the_launch_as_it_lands(cut_s):
    # Planted, regression: it turns at a walking pace until it lands 2.4 s later, through a shift's cut too
    lands_s = RELEASE_S + 2.4
    aloft = np.where(TIME_S < lands_s, np.minimum(SPEED, 1.4), SPEED)
    felt = PUSH if cut_s is None else np.where(np.abs(TIME_S - RELEASE_S - cut_s) < 0.12, -1.0, PUSH)
    front = seen("wheel_speed_fl", "m/s", aloft, late_s=0.025, noise=0.01)
    pushed = seen("acceleration", "m/s^2", felt, late_s=0.019, noise=0.08)
    moment = found(pushed, front, engine(), near_s=lands_s)
    assert abs(moment.time_s - TRUTH_S) < 0.03 and moment.plus_minus_s < 0.1


def test_a_push_that_ended_long_before_is_another_one():
    # Planted: a dry hop 3 s before the launch, braked off
    hop = np.where(np.abs(TIME_S - 1.2) < 0.3, 9.0, 0.0) - np.where(np.abs(TIME_S - 1.9) < 0.3, 9.0, 0.0)
    felt = seen("acceleration", "m/s^2", PUSH + hop, late_s=0.019, noise=0.08)
    assert abs(found(felt, wheel(), engine()).time_s - TRUTH_S) < 0.03


@pytest.mark.parametrize(("fed_s", "within_s"), [(0.06, 0.04), (0.6, 0.08), (1.0, 0.09)])
def test_a_wheel_tells_when_a_car_left_whose_clutch_was_fed_in(fed_s, within_s):
    # Planted: the pull comes up evenly over so long; the line through 1.5 and 3.75 m/s had it up to 0.3 s late
    pull = PULL_MPS2 * np.clip((TIME_S - RELEASE_S) / fed_s, 0.0, 1.0)
    speed = np.concatenate(([0.0], np.cumsum((pull[1:] + pull[:-1]) / 2) * 0.001))
    moved_s = float(TIME_S[np.flatnonzero(speed > 0.05)[0]])
    got = found(seen("wheel_speed_fl", "m/s", speed, late_s=0.025, noise=0.01, floor=0.8), near_s=RELEASE_S + 0.4)
    assert abs(got.time_s - moved_s) < within_s and abs(got.time_s - moved_s) < got.plus_minus_s
