"""A change of gear under spinning tires that engine speed does not bear out."""

import numpy as np
import pytest

from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.gear_unseen import first_unseen_change, with_gear_left
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from tests.analysis.planted_pull import Setup, plant

PULL = plant(Setup())
RATIOS = (9.0, 6.0, 4.5)
GEARS = Gears(
    GearBasis.GIVEN,
    tuple(Estimate(ratio, 0.01) for ratio in RATIOS),
    (GearInterval(1, 0.0, 1.0), GearInterval(2, 1.0, 2.0), GearInterval(3, 2.0, 4.0)),
)
TIME_S = np.arange(0.0, 4.0, 0.01)
NEVER = np.zeros(TIME_S.size, dtype=np.bool_)


def series_that_spins(spinning):
    gear = np.minimum(1 + TIME_S // 1.0, 3).astype(np.int64)
    turns = np.array([np.nan, *RATIOS])[gear] * np.pi  # two metres a turn
    engine = np.full(TIME_S.size, 600.0)
    return DrivelineSeries(
        TIME_S, 10.0 + TIME_S, np.ones(TIME_S.size), gear, turns, engine, np.zeros(TIME_S.size), NEVER, NEVER, NEVER,
        spinning, engine / turns, converter=False, step_s=0.01, end_s=3.9,
    )  # fmt: skip


def test_a_change_up_without_its_shift_is_found():
    # Planted: every change has its shift; one is taken away
    assert first_unseen_change(PULL.gears, PULL.shifts) is None
    gone = PULL.shifts[1]
    since_s = first_unseen_change(PULL.gears, (*PULL.shifts[:1], *PULL.shifts[2:]))
    assert since_s == pytest.approx(gone.end_s, abs=0.15)


def test_while_the_tires_spin_the_gear_below_may_be_in():
    # Hand: engine over a gear with half as many turns again is two thirds of the surface's speed
    spinning = (TIME_S > 0.4) & (TIME_S < 2.5) & ((TIME_S < 1.9) | (TIME_S > 2.1))
    named = series_that_spins(spinning)
    left = with_gear_left(named, GEARS, 1.0)
    moved = (TIME_S >= 1.0) & (TIME_S < 2.5)
    np.testing.assert_array_equal(left.gear, np.where(moved, named.gear - 1, named.gear))
    second = (TIME_S > 1.1) & (TIME_S < 1.8)
    np.testing.assert_allclose(left.surface_mps[second], named.surface_mps[second] * 6.0 / 9.0)
    np.testing.assert_allclose(left.surface_mps, left.engine_rad_per_s / left.turns_rad_per_m)


def test_tires_that_grip_show_their_gear():
    # Limit
    named = series_that_spins(NEVER)
    np.testing.assert_array_equal(with_gear_left(named, GEARS, 1.0).gear, named.gear)
