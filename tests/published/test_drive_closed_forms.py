"""The drive of a model against closed forms: constant force, constant power, shift points of equal tractive effort.

Constant power: v^3 = v0^3 + 3 P x / m, the elementary integral that G. T. Fox builds on (Am. J. Phys. 41, 1973, 311;
its tables not at hand). Equal tractive effort at the shift point: J. Y. Wong, *Theory of Ground Vehicles*, ch. 3 (from
memory).
"""

import math

import numpy as np
import pytest

from passband.analysis.whatif.drive import drive
from tests.analysis.whatif.planted_model import FOOT_M, MASS_KG, planted_model, power_torque

QUARTER_M = 1320 * FOOT_M


def test_constant_force_then_constant_power():
    force, power, turns, rollout = 6000.0, 240e3, 20.0, 0.3
    lock_mps = 5000.0 * math.pi / 30.0 / turns
    driven = drive(planted_model(power_torque(power), turns=(turns,), launch_force_n=force, rollout_m=rollout))
    assert driven is not None
    # from rest at one force to the lock, whose place and time are elementary
    lock_s, lock_m = MASS_KG * lock_mps / force, MASS_KG * lock_mps**2 / (2.0 * force)
    beam_s = math.sqrt(2.0 * rollout * MASS_KG / force)
    way = QUARTER_M + rollout - lock_m
    last_mps = (lock_mps**3 + 3.0 * power * way / MASS_KG) ** (1.0 / 3.0)
    whole_s = lock_s + MASS_KG * (last_mps**2 - lock_mps**2) / (2.0 * power) - beam_s
    assert driven.elapsed_s == pytest.approx(whole_s, abs=0.002)
    before_mps = (lock_mps**3 + 3.0 * power * (way - 66 * FOOT_M) / MASS_KG) ** (1.0 / 3.0)
    trap_s = MASS_KG * (last_mps**2 - before_mps**2) / (2.0 * power)
    assert driven.trap_mps == pytest.approx(66 * FOOT_M / trap_s, rel=5e-4)


def test_more_power_by_a_share_is_worth_what_the_cube_law_says():
    # At constant power from rest t ~ P^(-1/3): one per cent more is 0.33 per cent of the time after the lock, less what
    # the lock keeps. Held to a tenth against the elementary forms for both powers.
    def elapsed(power):
        driven = drive(planted_model(power_torque(power), turns=(20.0,)))
        assert driven is not None
        return driven.elapsed_s

    def by_hand(power):
        lock_mps = 5000.0 * math.pi / 30.0 / 20.0
        way = QUARTER_M + 0.3 - MASS_KG * lock_mps**2 / 12000.0
        last = (lock_mps**3 + 3.0 * power * way / MASS_KG) ** (1.0 / 3.0)
        return MASS_KG * (last**2 - lock_mps**2) / (2.0 * power)

    assert elapsed(240e3) - elapsed(247.2e3) == pytest.approx(by_hand(240e3) - by_hand(247.2e3), rel=0.02)


def test_the_best_shift_point_is_where_both_gears_pull_alike():
    # A torque that falls straight: gears of 20 and 14 rad/m pull alike where 20 T(n) = 14 T(0.7 n)
    def torque(rpm):
        return 500.0 - 0.035 * rpm

    alike_rpm = (20.0 - 14.0) * 500.0 / (0.035 * (20.0 - 14.0 * 0.7))
    points = np.arange(alike_rpm - 900.0, alike_rpm + 901.0, 150.0)
    elapsed = []
    for point in points:
        driven = drive(planted_model(torque, turns=(20.0, 14.0), shifts=(float(point),)))
        assert driven is not None
        elapsed.append(driven.elapsed_s)
    best = points[int(np.argmin(elapsed))]
    assert best == pytest.approx(alike_rpm, abs=200.0)
