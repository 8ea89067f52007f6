"""What of an engine's lead lasts: planted clutches that slip to half of the run, beside ratios given wrong."""

import numpy as np
import pytest

from passband.analysis.driveline.lasting_lead import lasting_lead, settled_samples

TIME = np.arange(0.0, 6.0, 0.01)
EASES = np.maximum(0.6 * (1.0 - TIME / 3.5), 0.0)
ALL = np.ones(TIME.size, dtype=bool)


@pytest.mark.parametrize("wrong", [-0.05, 0.0, 0.04])
@pytest.mark.parametrize("noise", [0.0, 0.002])
def test_a_clutch_that_slips_over_half_of_the_run_leaves_the_setups_error(wrong, noise):
    # Planted
    lead = EASES + wrong + np.random.default_rng(1).normal(0.0, noise, TIME.size)
    assert lasting_lead(lead, ALL, step_s=0.01) == pytest.approx(wrong, abs=0.003)


def test_a_clutch_that_slips_all_the_way_says_nothing_of_the_setup():
    assert lasting_lead(0.6 - 0.1 * TIME, ALL, step_s=0.01) is None


def test_tires_that_grow_are_settled():
    assert settled_samples(-0.005 * TIME, step_s=0.01).all()


def test_unknown_samples_are_not_settled():
    lead = np.where(TIME < 3.0, np.nan, 0.0)
    settled = settled_samples(lead, step_s=0.01)
    assert not settled[TIME < 3.0].any() and settled[TIME > 3.2].all()
