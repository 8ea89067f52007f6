"""Stamps taken when a buffer was written out."""

import numpy as np
import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.time.flushed_stamps import find_flushes, spread_flushes


def bunched(flushes, rows, *, every=0.16, within=0.001):
    return np.add.outer(np.arange(1, flushes + 1) * every, np.arange(rows) * within).ravel()


def engine(time_s, noise=0.0):
    """Idle, then pulls with shifts."""
    rng = np.random.default_rng(7)
    pull = 3000.0 + 2500.0 * ((time_s - 3.0) % 2.0)
    return np.where(time_s < 3.0, 1000.0, pull) + noise * rng.standard_normal(time_s.size)


@pytest.mark.parametrize("rows", [3, 8, 25])
@pytest.mark.parametrize("noise", [0.3, 10.0])
def test_rows_of_full_buffers_are_spread_to_when_they_were_measured(rows, noise):
    # Planted: rows every 20 ms, stamped a millisecond apart once `rows` of them are there
    stamps = bunched(60 * 8 // rows, rows, every=0.02 * rows)
    true_s = 0.02 * (1 + np.arange(stamps.size))
    got = spread_flushes(stamps, find_flushes(stamps), [engine(true_s, noise)])
    np.testing.assert_allclose(got, true_s, atol=1e-9)


def test_rows_that_truly_come_in_bunches_stay():
    # Planted: the same stamps, and values measured at them
    stamps = bunched(60, 8)
    noise = np.random.default_rng(8).standard_normal(stamps.size)
    assert spread_flushes(stamps, find_flushes(stamps), [engine(stamps, 1.0), noise]) is None


def test_noise_alone_shows_no_buffer():
    stamps = bunched(60, 8)
    noise = np.random.default_rng(9).standard_normal(stamps.size)
    assert spread_flushes(stamps, find_flushes(stamps), [noise]) is None


def test_channels_sent_once_a_bunch_show_no_buffer():
    # Planted: each row holds all channels' last values, each sent once in eight rows
    stamps = bunched(60, 8)
    held = [np.repeat(engine(stamps[at::8]), 8)[: stamps.size] for at in range(3)]
    assert spread_flushes(stamps, find_flushes(stamps), held) is None


def test_a_lost_buffer_leaves_its_gap_and_a_short_last_one_follows_on():
    stamps = np.delete(bunched(60, 8), [*range(240, 248), *range(475, 480)])
    true_s = np.delete(0.02 * (1 + np.arange(480)), [*range(240, 248), *range(475, 480)])
    got = spread_flushes(stamps, find_flushes(stamps), [engine(true_s, 1.0)])
    np.testing.assert_allclose(got, true_s, atol=1e-9)


@pytest.mark.parametrize(
    "stamps",
    [
        np.arange(400) * 0.02,
        np.arange(400) * 0.02 + 0.004 * np.random.default_rng(1).random(400),
        np.delete(np.arange(400) * 0.02, slice(None, None, 10)),
        bunched(60, 2),
        np.full(400, np.nan),
    ],
    ids=["even", "jitter", "a lost row in ten", "two rows", "blank"],
)
def test_rows_that_come_evenly_are_no_bunches(stamps):
    assert find_flushes(stamps) is None


def test_a_log_so_stamped_is_read_in_seconds_and_told():
    # Planted: 50 rows a second; judged by their usual step of 1 ms, an engine would move as none can
    stamps = bunched(230, 8)
    rpm = engine(0.02 * (1 + np.arange(stamps.size)), 8.0)
    lines = ["Time (s),RPM (rpm)", *(f"{t:.3f},{n:.0f}" for t, n in zip(stamps, rpm, strict=True))]
    (log,) = read_log("\n".join(lines).encode(), name="dash.csv")
    assert log.time.rate_hz == pytest.approx(50.0, rel=1e-6)
    assert log.time.last_s - log.time.first_s == pytest.approx(0.02 * (stamps.size - 1), abs=1e-6)
    assert [one.code for one in log.findings if "time" in one.code] == ["bunched-time-stamps"]
