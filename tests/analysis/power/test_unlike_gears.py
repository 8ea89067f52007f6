"""What lets the gears of a sound car pull unlike."""

import numpy as np
import pytest

from passband.analysis.power.unlike_gears import power_astray


def test_each_is_what_it_takes_of_power():
    # Hand: at 55 m/s 100 N roll half as hard again, 50 N; a tenth of 200 kW is lost, all of it by turning, a quarter
    # of that at half the speed; the engine is 2 % off at the end, half of it half-way
    turning, rolling, drifting = power_astray(
        np.array([200e3, 200e3, 200e3]), np.array([0.0, 27.5, 55.0]), lost_share=0.1, rolling_n=100.0
    )
    assert turning == pytest.approx([0.0, 5000.0, 20000.0])
    assert rolling == pytest.approx([0.0, 12.5 * 27.5, 50.0 * 55.0])
    assert drifting == pytest.approx([0.0, 2000.0, 4000.0])


def test_what_is_not_known_stays_so():
    nothing = np.full(3, np.nan)
    assert all(np.isnan(one).all() for one in power_astray(nothing, np.ones(3), lost_share=0.1, rolling_n=100.0))
    some = power_astray(np.array([np.nan, 1e5, 1e5]), np.ones(3), lost_share=0.1, rolling_n=100.0)
    assert np.isnan(some[2][0]) and some[2][1] == 0.0
