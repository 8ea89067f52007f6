"""Whether a charge that changed is told beside the power it was taken out of."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.runs.cells import read_cells
from passband.analysis.runs.charge_changed import tell_charge
from passband.analysis.runs.two_groups import TwoGroups
from tests.analysis.runs.planted_engine import engine_run


def told(*, manifold, pressure=(101_000.0, 101_000.0), runs=3):
    rng = np.random.default_rng(3)
    made = [
        engine_run(f"{side} {n}", rng, manifold_pa=charge, pressure_pa=at)
        for side, (charge, at) in enumerate(zip(manifold, pressure, strict=True))
        for n in range(runs)
    ]
    return tell_charge(TwoGroups(tuple(made), runs), read_cells(made))


def test_an_unchanged_charge_and_one_not_logged_say_nothing():
    assert told(manifold=(200e3, 200e3)) == []
    assert told(manifold=(None, None)) == []


@pytest.mark.parametrize(("share", "codes"), [(1.009, []), (1.02, ["charge-changed-too"]), (0.98, ["charge-changed-too"])])
def test_a_charge_that_changed_is_told_from_a_hundredth_on(share, codes):
    assert [one.code for one in told(manifold=(200e3, share * 200e3))] == codes


def test_what_was_taken_out_stands_beside_power_as_run():
    # Hand: 2 % more pressure to the power 1.1 is 2.2 %
    text = told(manifold=(200e3, 204e3))[0].text
    assert "2.0 +- 0.0 % higher" in text
    assert "+2.2 % of power" in text


def test_a_charge_that_goes_with_the_barometer_is_the_air():
    assert told(manifold=(98e3, 94.08e3), pressure=(101_000.0, 96_960.0)) == []
