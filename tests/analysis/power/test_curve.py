"""Power against engine speed: classes, peaks, and the band they show."""

import numpy as np
import pytest

from passband.analysis.power.curve import find_power_band, measure_peak, smooth_pulls
from passband.analysis.power.pistons import brake_mean_effective_pressure, mean_piston_speed
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.power import GearCurve

RPM = np.arange(5125.0, 9000.0, 250.0)


def curve(power, gear=2):
    return GearCurve(gear, RPM, np.asarray(power, dtype=float), np.zeros(RPM.size))


def test_the_band_shown_is_where_power_holds():
    # Hand: a parabola of 100 at 7125, 10 less at 750 either side
    got = find_power_band([curve(100 - 10 * ((RPM - 7125) / 750) ** 2)])
    assert got == (6250.0, 8000.0)


def test_a_dip_ends_the_band():
    power = np.where(RPM == 6625.0, 50.0, 100.0)
    power[RPM == 7625.0] = 101.0
    assert find_power_band([curve(power)])[0] == 6750.0


def test_two_gears_are_taken_together_and_none_is_none():
    assert find_power_band([curve(np.full(RPM.size, 90.0)), curve(np.full(RPM.size, 110.0), 3)]) == (5000.0, 9000.0)
    assert find_power_band([]) is None


def test_smoothing_stays_within_a_pull_and_drops_short_ones():
    power = np.where(np.arange(400) < 200, 100.0, 300.0)
    pulling = np.ones(400, dtype=bool)
    pulling[[199, 200]] = False
    pulling[360:] = False
    pulling[340:360] = False
    got = smooth_pulls(power, pulling, step_s=0.005)
    np.testing.assert_allclose(got[:199], 100.0)
    np.testing.assert_allclose(got[201:340], 300.0)
    assert np.isnan(got[340:]).all()


@pytest.mark.parametrize("step_s", [0.001, 0.005])
def test_the_peak_is_a_mean_over_50_ms(step_s):
    time = np.arange(0.0, 2.0, step_s)
    got = measure_peak(
        100.0 - 10.0 * np.abs(time - 1.0), np.zeros(time.size), step_s=step_s, average=Estimate(100.0, 2.0)
    )
    # Hand: the mean of 10 |t| over 25 ms either side is 0.125
    assert got.value == pytest.approx(99.875, abs=0.03) and got.plus_minus == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize(
    ("spun", "value", "half_width"), [(101.0, 100.0, 2.0), (130.0, 130.0, 30.07), (90.0, 100.0, 2.0)]
)
def test_an_engine_that_made_more_while_the_tires_spun_has_its_peak_there(spun, value, half_width):
    # Hand: 30 and 2 in quadrature
    pull, while_spun = np.full(400, np.nan), np.full(400, np.nan)
    pull[200:], while_spun[50:150] = 100.0, spun
    got = measure_peak(pull, np.zeros(400), step_s=0.005, average=Estimate(100.0, 2.0), spun_w=while_spun)
    assert (got.value, got.plus_minus) == pytest.approx((value, half_width), abs=0.01)


def test_no_pull_no_peak():
    peak = measure_peak(np.full(100, np.nan), np.zeros(100), step_s=0.005, average=Estimate(100.0, 1.0))
    assert peak.reason.code == "no-pull-for-peak"


def test_piston_figures_by_hand():
    assert mean_piston_speed(0.085, 6000.0) == pytest.approx(17.0)
    assert brake_mean_effective_pressure(300e3, 2e-3, 8000.0) == pytest.approx(2.25e6)
