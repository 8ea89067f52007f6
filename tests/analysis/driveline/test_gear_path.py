"""The path through the gears on planted log ratios."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.gear_path import (
    GearPath,
    follow_gears,
    read_gear_signs,
    settle_levels,
    with_drawn_down,
)
from passband.analysis.driveline.ratios import TurnRatio, TurnSource

RATE_HZ = 100.0
LEVEL = np.array([5.8, 5.4, 5.1])
TIME = np.arange(0.0, 6.0, 1.0 / RATE_HZ)


def record(log_ratio, doubtful=None):
    speed = 10.0 + 5.0 * TIME
    rpm = np.exp(np.nan_to_num(log_ratio, nan=6.0)) * speed
    spin = np.zeros(TIME.size, dtype=np.bool_) if doubtful is None else doubtful
    return TurnRatio(TIME, log_ratio, TurnSource.GROUND_SPEED, spin, rpm, speed)


def three_gears(noise=0.003):
    steps = np.select([TIME < 2.0, TIME < 4.0], [LEVEL[0], LEVEL[1]], LEVEL[2])
    return steps + np.random.default_rng(0).normal(0, noise, TIME.size)


def followed(turn, traces=None, *, slips=False):
    return follow_gears(turn, LEVEL, read_gear_signs(turn, traces or Traces(())), slips=slips)


def named(log_ratio, traces=None, **more):
    return followed(record(log_ratio, **more), traces)


@pytest.mark.parametrize("noise", [0.0, 0.003, 0.01])
def test_three_planted_gears_are_followed(noise):
    gear = named(three_gears(noise)).gear
    assert [int(np.median(gear[(TIME > a) & (TIME < b)])) for a, b in ((0, 1.9), (2.1, 3.9), (4.1, 6))] == [1, 2, 3]


def test_a_slipping_clutch_is_first_gear_and_does_not_carry():
    x = three_gears() + np.where(TIME < 1.5, 0.8 * (1.5 - TIME), 0.0)
    path = named(x)
    assert (path.gear[TIME < 1.9] == 1).all()
    assert not path.carries[TIME < 1.2].any()


def test_a_tire_that_sweeps_past_lower_gears_is_no_change_down():
    # planted: spin in third sweeps from first gear's level down for a second
    x = np.where((TIME > 4.5) & (TIME < 5.5), LEVEL[2] + 0.75 * (5.5 - TIME), three_gears())
    assert not np.isin(named(x).gear[TIME > 4.2], [1, 2]).any()


@pytest.mark.parametrize("pedalled_s", [0.7, 1.1])
def test_of_two_lifts_under_wheelspin_the_one_that_takes_the_ratio_down_is_the_change(pedalled_s):
    # Planted: tires spin by a fifth in first, pedalled for 0.3 s, and by a fifth in second, changed to at 2 s in as
    # long; second spinning by three fifths would explain the ratio from the first lift on as well
    spun = np.where(TIME < 3.0, 0.2, 0.0)
    x = np.select([TIME < 2.0, TIME < 4.0], [LEVEL[0], LEVEL[1]], LEVEL[2]) + spun
    x += np.random.default_rng(2).normal(0, 0.003, TIME.size)
    lifted = np.zeros(TIME.size, dtype=np.bool_)
    for at_s in (pedalled_s, 1.9):
        lifted |= (TIME > at_s) & (TIME < at_s + 0.3)
    foot = Traces((Channel("throttle", "TPS", "", "", TIME, np.where(lifted, 0.1, 1.0), RATE_HZ),))
    gear = named(x, foot).gear
    assert (gear[(TIME > pedalled_s + 0.4) & (TIME < 1.85)] == 1).all()
    assert (gear[(TIME > 2.3) & (TIME < 3.9)] == 2).all()


def test_a_limiter_that_has_the_ratio_swing_about_its_level_is_no_higher_gear():
    # Planted: bounces at 14 Hz, engine and wheels logged unequally late: 3 % either way about first for a second
    swing = np.where(TIME < 1.2, 0.03 * np.sin(2 * np.pi * 14.0 * TIME), 0.0)
    gear = named(three_gears() + swing).gear
    assert (gear[(TIME > 0.2) & (TIME < 1.8)] == 1).all()


def test_missing_evidence_keeps_the_gear():
    x = np.where((TIME > 2.5) & (TIME < 3.5), np.nan, three_gears())
    assert (named(x).gear[(TIME > 2.2) & (TIME < 3.8)] == 2).all()


def test_a_steady_ratio_overrules_a_gear_channel():
    stuck = Traces((Channel("gear", "Gear", "", "", TIME, np.full(TIME.size, 3.0), RATE_HZ),))
    gear = named(three_gears(), stuck).gear
    assert (gear[(TIME > 0.2) & (TIME < 1.8)] == 1).all()


def test_a_converter_may_run_ahead_of_its_gear():
    x = three_gears() + 0.12 * np.exp(-np.mod(TIME, 2.0))
    gear = followed(record(x), slips=True).gear
    assert [int(gear[np.searchsorted(TIME, t)]) for t in (1.0, 3.0, 5.0)] == [1, 2, 3]


def test_levels_settle_where_the_gears_were_carried():
    x = three_gears() + 0.02
    turn = record(x)
    path = followed(turn)
    assert settle_levels(turn, path, LEVEL) == pytest.approx(LEVEL + 0.02, abs=0.005)


def test_a_gear_hardly_used_keeps_its_level():
    x = np.full(TIME.size, LEVEL[0])
    turn = record(x)
    path = followed(turn)
    assert settle_levels(turn, path, LEVEL)[1:] == pytest.approx(LEVEL[1:])


@pytest.mark.parametrize(("rises_in_s", "gear_then"), [(0.5, 3), (0.05, 2)])
def test_an_engine_that_slides_up_to_a_lower_gears_ratio_slips_on_in_its_own(rises_in_s, gear_then):
    # Planted: from 4.8 s the engine comes up to second's ratio and stands there for a second; pulled up at once by a
    # wrong gear, or slowly through a clutch that slips until the limiter holds it
    risen = LEVEL[2] + (LEVEL[1] - LEVEL[2]) * np.clip((TIME - 4.8) / rises_in_s, 0.0, 1.0)
    noise = np.random.default_rng(1).normal(0, 0.003, TIME.size)
    path = named(np.where(TIME > 4.8, risen + noise, three_gears()))
    late = TIME > 5.4
    assert (path.gear[late] == gear_then).mean() > 0.95
    assert path.carries[late].mean() == pytest.approx(0.0 if gear_then == 3 else 1.0, abs=0.1)


def drawn_down(foot_lifts_s=None, source=TurnSource.DRIVESHAFT):
    """By hand, behind a converter: second gear draws the engine down at 2.0 s; then the tires take hold.

    The turbine slows, and the ratio stands above first gear's until 4 s; only then it sinks to second gear's own.
    """
    x = np.interp(TIME, [0.0, 2.0, 2.12, 2.4, 4.0, 6.0], [5.85, 5.82, 5.6, 5.95, 5.8, 5.42])
    speed = 10.0 + 5.0 * TIME
    rpm = np.interp(TIME, [0.0, 2.0, 2.12, 6.0], [4000.0, 8000.0, 5800.0, 7000.0])
    turn = TurnRatio(TIME, x, source, np.zeros(TIME.size, dtype=np.bool_), rpm, speed)
    foot = np.where((TIME > (foot_lifts_s or 9.0)) & (TIME < 2.3), 0.1, 1.0)
    traces = Traces((Channel("throttle", "TPS", "", "", TIME, foot, RATE_HZ),))
    before = GearPath(np.where(TIME < 4.0, 1, 2), TIME < 9.0)
    return with_drawn_down(turn, before, np.array([5.8, 5.3]), traces).gear


def test_a_converter_engine_drawn_below_its_gear_has_changed_it():
    gear = drawn_down()
    assert (gear[TIME < 1.95] == 1).all()
    assert (gear[(TIME > 2.12) & (TIME < 6.0)] == 2).all()


@pytest.mark.parametrize("more", [{"foot_lifts_s": 1.9}, {"source": TurnSource.GROUND_SPEED}])
def test_one_whose_foot_lifted_or_whose_tires_may_spin_has_not(more):
    gear = drawn_down(**more)
    assert (gear[TIME < 4.0] == 1).all()
