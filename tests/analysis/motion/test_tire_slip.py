"""What a driven tire slips: by its run's greatest pull and all it pushes against."""

import numpy as np
import pytest

from passband.analysis.given.car import Car
from passband.analysis.motion.tire_slip import expected_slip

TIME_S = np.arange(0.0, 8.0, 0.05)


def run_at(pull_mps2):
    """From rest at a pull that halves after 2 s."""
    return pull_mps2 * (np.minimum(TIME_S, 2.0) + 0.5 * np.maximum(TIME_S - 2.0, 0.0))


def test_tires_that_hold_more_slip_less_for_each_newton():
    # Hand: 0.035 at the greatest pull, here 8 and 16 m/s2
    slow, quick = (expected_slip(TIME_S, run_at(pull), Car(name="x")).per_mps2 for pull in (8.0, 16.0))
    assert slow == pytest.approx(0.035 / 8.0, rel=0.01)
    assert quick == pytest.approx(0.035 / 16.0, rel=0.01)


def test_air_takes_what_the_cars_own_drag_and_mass_say():
    # Hand: 1.2 * 0.6 / (2 * 900) = 4e-4 1/m; without them 0.6 m2 on 1,100 kg make 3.3e-4
    given = Car(name="x", mass="900 kg", drag_area="0.6 m^2")
    assert expected_slip(TIME_S, run_at(8.0), given).drag_per_m == pytest.approx(4e-4)
    assert expected_slip(TIME_S, run_at(8.0), Car(name="x")).drag_per_m == pytest.approx(3.3e-4)


def test_a_pull_that_nothing_shows_counts_as_the_least():
    # Hand: 0.035 / 4
    assert expected_slip(TIME_S[:2], run_at(8.0)[:2], Car(name="x")).per_mps2 == pytest.approx(0.00875)
