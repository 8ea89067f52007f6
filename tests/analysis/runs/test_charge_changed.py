"""Whether a charge that changed is told beside the power it was taken out of."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.runs.cells import read_cells
from passband.analysis.runs.change import compare_groups
from passband.analysis.runs.charge_changed import CHARGED, find_charge_change
from passband.analysis.runs.two_groups import TwoGroups
from tests.analysis.runs.planted_engine import engine_run


def told(*, manifold, pressure=(101_000.0, 101_000.0), runs=3):
    rng = np.random.default_rng(3)
    made = [
        engine_run(f"{side} {n}", rng, manifold_pa=charge, pressure_pa=at)
        for side, (charge, at) in enumerate(zip(manifold, pressure, strict=True))
        for n in range(runs)
    ]
    return find_charge_change(TwoGroups(tuple(made), runs), read_cells(made))


def test_an_unchanged_charge_and_one_not_logged_say_nothing():
    assert told(manifold=(200e3, 200e3)) is None
    assert told(manifold=(None, None)) is None


@pytest.mark.parametrize(("share", "found"), [(1.009, False), (1.02, True), (0.98, True)])
def test_a_charge_that_changed_is_told_from_a_hundredth_on(share, found):
    got = told(manifold=(200e3, share * 200e3))
    assert (got is not None) == found
    if got is not None:
        assert got.beyond == pytest.approx(np.log(share))


def test_what_was_taken_out_stands_beside_power_as_run():
    # Hand: 2 % more pressure to the power 1.1 is 2.2 %
    text = told(manifold=(200e3, 204e3)).tell().text
    assert "2.0 % higher" in text
    assert "+2.2 % of power" in text


@pytest.mark.parametrize("boost_pa", [0.0, 50e3, 100e3])
def test_a_charge_that_goes_with_the_barometer_is_the_air(boost_pa):
    # Planted: 4 % less at the strip; no boost, and gauge boost held; then an absolute pressure held
    at_pa = 101_000.0, 96_960.0
    assert told(manifold=tuple(boost_pa + one for one in at_pa), pressure=at_pa) is None
    assert told(manifold=(200e3, 200e3), pressure=at_pa) is None


def test_power_at_one_charge_is_open_by_what_no_air_explains():
    rng = np.random.default_rng(4)
    before, after = ([engine_run(f"{pa} {n}", rng, manifold_pa=pa) for n in range(3)] for pa in (200e3, 204e3))
    got = compare_groups(before, after)
    for one in got.power_ratio:
        assert {part.cause: part.effect for part in one.ratio.shared}[CHARGED] == pytest.approx(
            1.1 * np.log(1.02) * one.ratio.value
        )
    assert all(part.cause != CHARGED for part in got.average_w.raw.shared)
    # one strip, one air: nothing of the charge is taken out of what the car did
    assert all(part.cause != CHARGED for part in got.average_w.same_air.shared)
    assert got.average_w.same_air.value == pytest.approx(got.average_w.raw.value, abs=1e-9)
    # by hand: 2.2 % of power would be 0.06 s; what is left is the wind that noise makes of the gears
    assert got.elapsed_time_s.same_air.value == pytest.approx(got.elapsed_time_s.raw.value, abs=0.012)
    assert "charge-changed-too" in [one.code for one in got.findings]


def test_what_no_air_explains_is_counted_from_the_far_end_of_what_air_may_do():
    # Hand: 3 % more in the manifold, 1 % more at the strip: told from 2 % on, open by 3; 1 % less at the strip: by 4
    for strip, most in ((1.01, np.log(1.03)), (0.99, np.log(1.03 / 0.99))):
        got = told(manifold=(200e3, 206e3), pressure=(101_000.0, strip * 101_000.0))
        assert got.beyond == pytest.approx(most)
    assert told(manifold=(200e3, 203e3), pressure=(101_000.0, 102_010.0)) is None
