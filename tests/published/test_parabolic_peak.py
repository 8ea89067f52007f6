"""The top between samples against the textbook's formula and a lag known in closed form."""

import numpy as np
import pytest

from passband.analysis.statistics.correlation import correlate_at_lags, find_peak_between_samples


@pytest.mark.parametrize(
    "left, centre, right, at, height", [(3.62, 6.82, 6.02, 0.3, 7.0), (3.0, 5.0, 4.5, 0.3, 5.1125)]
)
def test_a_parabola_is_met_exactly(left, centre, right, at, height):
    # Published: J. O. Smith, Spectral Audio Signal Processing, "Quadratic Interpolation of Spectral Peaks", and hand
    peak = find_peak_between_samples(left, centre, right)
    assert (peak.at, peak.height) == pytest.approx((at, height), abs=1e-9)


def test_three_equal_samples_have_their_top_in_the_middle():
    peak = find_peak_between_samples(1.0, 1.0, 1.0)
    assert (peak.at, peak.height) == (0.0, 1.0)


def test_two_bells_a_part_of_a_sample_apart_are_told_apart():
    # Closed form: the correlation of two bells is a bell; a parabola through samples 10 ms apart is off by 0.007 ms
    time = np.arange(0.0, 2.0, 0.01)
    early, late = (np.exp(-(((time - at) / 0.08) ** 2)) for at in (1.0, 1.0137))
    found = correlate_at_lags(late, early, min_overlap=100)
    top = int(np.nanargmax(found.score))
    peak = find_peak_between_samples(*found.score[top - 1 : top + 2])
    assert 0.01 * (found.lag[top] + peak.at) == pytest.approx(0.0137, abs=2e-5)
