"""Samples far from their neighbours. Evidence: hand, slow twin."""

import numpy as np

from passband.analysis.sensors.despiking import despike


def _every_middle(values, half, share):
    """Slow twin: the middle of each neighbourhood, whether or not anything in it lies far off."""
    known = np.flatnonzero(np.isfinite(values))
    padded = np.pad(values[known], half, mode="edge")
    out = values.copy()
    for place, at in enumerate(known):
        middle = np.median(padded[place : place + 2 * half + 1][:: max(half // 15, 1)])
        if abs(values[at] - middle) > share * abs(middle):
            out[at] = np.nan
    return out


def test_what_is_taken_out_is_what_every_middle_takes_out():
    # slow twin: same samples, whatever the noise, with zeros, misses and false peaks
    draw, taken = np.random.default_rng(1), 0
    for case in range(60):
        size, half = int(draw.integers(40, 300)), int(draw.choice([1, 3, 15, 40]))
        values = np.abs(1500.0 + np.cumsum(draw.normal(0, draw.choice([1.0, 60.0, 500.0]), size)))
        values[draw.random(size) < 0.05] = draw.choice([0.0, np.nan, 9000.0])
        time_s, share = np.arange(size) * 0.01, float(draw.choice([0.05, 0.3, 0.9]))
        got = despike(time_s, values, span_s=0.02 * half, share=share)
        np.testing.assert_array_equal(got, _every_middle(values, half, share), err_msg=str(case))
        taken += int(np.isnan(got).sum() - np.isnan(values).sum())
    assert taken > 200


def test_a_quiet_signal_keeps_every_sample_and_one_peak_goes():
    # hand
    rpm = 1300.0 + 60.0 * np.sin(np.arange(5000) / 70)
    assert np.array_equal(despike(np.arange(5000) * 0.01, rpm), rpm)
    rpm[2500] = 4000.0
    assert np.flatnonzero(np.isnan(despike(np.arange(5000) * 0.01, rpm))).tolist() == [2500]
