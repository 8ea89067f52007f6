"""Is it the same engine: planted losses told with their size and place, and none where none is."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import orjson
import pytest

from passband.analysis.results.unknown import known
from passband.analysis.runs.cells import VALUES
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.digest import RunDigest, digest_run
from passband.analysis.runs.kept_digest import keep_digest, read_digest
from passband.analysis.runs.same_engine import hold_against_own, hold_all_against_own
from tests.analysis.runs.planted_engine import engine_run

PLENUM_PA, LOST_PA = 180e3, 164e3
"""Boost of 79 kPa over the planted day's 101, and of 63: 0.797 of it."""


def quiet(label: str, rng: np.random.Generator, **planted: Any) -> ComparedRun:
    """Scatter as small as the planted plus-minus says, in still air."""
    return engine_run(label, rng, noise=0.0018, wind=0.0, **planted)


def usual(count: int, rng: np.random.Generator) -> list[RunDigest]:
    return [digest_run(quiet(f"Q{number}", rng)) for number in range(1, count + 1)]


def blown(label: str, rng: np.random.Generator, plenum_pa: float, gain: float = 1.0) -> RunDigest:
    """A run whose plenum stood at a pressure, its power as planted."""
    run = quiet(label, rng, gain=lambda rpm: gain)
    power = known(run.review.power)
    curves = tuple(replace(one, manifold_pa=(plenum_pa,) * len(one.rpm)) for one in power.curves)
    laid = replace(run, review=replace(run.review, power=replace(power, curves=curves)))
    digest = digest_run(laid)
    return replace(digest, air=replace(digest.air, boosted=True))


def faded(digest: RunDigest, from_gear: int, gain: float) -> RunDigest:
    values = digest.cells.values.copy()
    values[VALUES.index("power_w"), digest.cells.gear >= from_gear] *= gain
    return replace(digest, cells=replace(digest.cells, values=values))


def test_the_first_run_has_nothing_to_be_held_against():
    assert hold_all_against_own(usual(1, np.random.default_rng(1))) == (None,)


def test_an_engine_as_before_is_told_with_its_bound():
    # Planted: runs alike to 0.2 %
    *_, last = hold_all_against_own(usual(6, np.random.default_rng(2)))
    assert last.as_before and last.from_gear is None
    assert last.line.startswith("Engine as before within ") and "against 5 earlier runs" in last.line


def test_no_more_than_one_in_a_hundred_is_called_unlike_by_chance():
    # Planted: 40 seasons of five runs without a change
    alarms = 0
    for seed in range(40):
        found = hold_all_against_own(usual(5, np.random.default_rng(seed)))
        alarms += sum(one is not None and not one.as_before for one in found)
    assert alarms <= 3


def test_lost_boost_is_told_with_where_to_look():
    # Planted: boost 0.80 of usual, and power with manifold pressure to the 1.1
    rng = np.random.default_rng(3)
    own = [blown(f"Q{number}", rng, PLENUM_PA) for number in range(4)]
    found = hold_against_own(blown("hurt", rng, LOST_PA, (LOST_PA / PLENUM_PA) ** 1.1), own)
    assert not found.as_before and found.from_gear is None
    assert found.boost == pytest.approx(63 / 79, abs=0.002)
    assert found.power.value == pytest.approx((LOST_PA / PLENUM_PA) ** 1.1, abs=0.015)
    assert abs(found.left.value - 1) < 0.015
    assert found.line.startswith("All gears down ") and "of usual from the hit: look at plumbing" in found.line


def test_power_lost_at_the_usual_boost_points_at_the_tune():
    rng = np.random.default_rng(4)
    own = [blown(f"Q{number}", rng, PLENUM_PA) for number in range(4)]
    found = hold_against_own(blown("weak", rng, PLENUM_PA, 0.93), own)
    assert "boost as usual: look at fuel, spark and tune" in found.line


def test_a_loss_says_from_which_gear_it_began():
    # Planted: 6 % less from third gear on
    rng = np.random.default_rng(5)
    own = usual(5, rng)
    found = hold_against_own(faded(digest_run(quiet("fading", rng)), 3, 0.94), own)
    assert (found.from_gear, found.as_before) == (3, False)
    assert found.line.startswith("From gear 3 on")
    assert found.gears[0].power.value == pytest.approx(1.0, abs=0.02)
    assert found.gears[-1].power.value == pytest.approx(0.94, abs=0.02)


def test_a_run_that_was_unlike_is_no_reference():
    rng = np.random.default_rng(6)
    runs = [*usual(4, rng), faded(digest_run(quiet("weak", rng)), 1, 0.9), digest_run(quiet("last", rng))]
    found = hold_all_against_own(runs)
    assert not found[4].as_before
    assert "weak" not in found[5].against and found[5].as_before


def test_sides_of_a_change_are_held_against_themselves():
    rng = np.random.default_rng(7)
    runs = usual(4, rng)
    assert [one is None for one in hold_all_against_own(runs, ["a", "a", "b", "b"])] == [True, False, True, False]


def test_a_digest_comes_back_to_the_digit():
    digest = digest_run(quiet("Q1", np.random.default_rng(8)))
    kept = keep_digest(digest)
    again = read_digest(orjson.loads(kept.figures), kept.arrays)
    assert again.before_shifts == digest.before_shifts and again.shifts == digest.shifts
    assert (again.air, again.use, again.after_shifts) == (digest.air, digest.use, digest.after_shifts)
    for name in ("gear", "low_rpm", "values"):
        assert np.array_equal(getattr(again.cells, name), getattr(digest.cells, name), equal_nan=True)


@pytest.mark.parametrize("arrays", [b"", b"12345678", bytes(8), bytes(9)])
@pytest.mark.parametrize("told", [{}, {"form": 1}, {"use": None}])
def test_what_is_no_digest_is_made_anew(told, arrays):
    assert read_digest(told, arrays) is None
