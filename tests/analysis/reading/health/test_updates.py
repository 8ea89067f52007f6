"""How often a signal updates and how finely it is printed."""

import numpy as np
import pytest

from passband.analysis.reading.health.updates import _low_count, printed_step, update_rate_hz

RNG = np.random.default_rng(7)


def held(row_hz: float, update_hz: float, *, seconds: float = 20.0, decimals: int = 2):
    """A speed that rises and falls, sampled at one rate and held on a faster grid."""
    time = np.arange(int(seconds * row_hz)) / row_hz
    at = np.floor(time * update_hz + 1e-9) / update_hz
    return time, np.round(60 * np.sin(0.3 * at) ** 2 + 0.05 * np.sin(40 * at), decimals)


@pytest.mark.parametrize("row_hz", [25.0, 50.0, 100.0, 500.0])
@pytest.mark.parametrize("update_hz", [1.0, 5.0, 10.0, 20.0, 25.0])
def test_a_held_signal_gives_its_own_rate(row_hz, update_hz):
    # Planted; where the grid is no multiple of the rate, rows tell it less exactly
    if update_hz > row_hz:
        return
    time, values = held(row_hz, update_hz)
    assert update_rate_hz(time, values, step=0.01) == pytest.approx(update_hz, rel=0.06)


def test_jittery_updates_are_averaged():
    row = np.arange(3000)
    waits = RNG.integers(9, 12, 400)
    at = np.searchsorted(np.cumsum(waits), row, side="right")
    assert update_rate_hz(row / 100.0, np.round(at * 0.37, 2), step=0.01) == pytest.approx(10.0, rel=0.03)


def test_a_receiver_of_one_hertz_whose_rows_come_a_row_early_or_late_is_held():
    # Planted: a short log holds 20 updates, one of which never came through; their mean wait is no whole row
    waits = np.array([21, 20, 20, 19, 61, 20, 20, 20, 20, 20, 20, 19, 20, 21, 19, 20, 21, 20, 19])
    speeds = np.concatenate(([0.0], np.cumsum(np.linspace(9.0, 1.0, 20))))
    values = np.repeat(speeds, [158, *waits, 20])
    assert update_rate_hz(np.arange(values.size) / 20.0, values, step=0.01) == pytest.approx(1.0, rel=0.06)


def test_a_slow_quantised_signal_is_not_taken_for_a_held_one():
    time = np.arange(3000) / 100.0
    coolant = np.round(74 + 0.05 * time + 0.03 * RNG.standard_normal(3000), 1)
    assert update_rate_hz(time, coolant, step=0.1) == pytest.approx(100.0)


def test_a_receiver_of_one_hertz_is_held_though_a_run_holds_few_of_its_values():
    # Planted: nine values in a log of 13 s, two of which never came through
    waits = np.array([10, 10, 20, 10, 10, 10, 20, 10])
    speeds = np.cumsum(np.linspace(9.0, 3.0, waits.size))
    values = np.repeat([0.0, *speeds], [30, *waits])
    assert update_rate_hz(np.arange(values.size) / 10.0, values, step=0.1) == pytest.approx(1.0, rel=0.06)


def test_few_changes_of_a_step_or_two_are_no_lattice():
    # Planted: a temperature that climbs by a tenth once a second
    values = np.repeat(70.0 + 0.1 * np.arange(12), 10)
    assert update_rate_hz(np.arange(values.size) / 10.0, values, step=0.1) == pytest.approx(10.0)


def test_switches_gears_and_constants_have_the_rate_of_their_rows():
    time = np.arange(3000) / 100.0
    for values in (np.zeros(3000), (time % 1 < 0.5).astype(float), np.floor(time / 6)):
        assert update_rate_hz(time, values, step=1.0) == pytest.approx(100.0)


def test_noise_that_repeats_a_printed_value_is_an_update():
    time = np.arange(3000) / 100.0
    assert update_rate_hz(time, np.round(950 + 4 * RNG.standard_normal(3000))) == pytest.approx(100.0)


def test_too_little_to_tell():
    assert update_rate_hz(np.array([0.0]), np.array([1.0])) == 0.0


@pytest.mark.parametrize(
    ("values", "step"),
    [
        ([950.0, 960.0, 990.0], 10.0),
        ([0.1, 0.25, 0.3], 0.05),
        ([22.0, 22.5, 24.0], 0.5),
        ([1.001, 1.002, 1.004], 0.001),
        ([1.0, 1.0, 2.0], 0.0),
        ([np.nan, np.nan], 0.0),
    ],
)
def test_the_printed_step_is_the_coarsest_that_all_values_share(values, step):
    assert printed_step(np.array(values)) == pytest.approx(step)


@pytest.mark.parametrize("greatest", [1, 2, 9, 400])
def test_the_low_wait_is_the_quantile(greatest):
    # Slow twin: numpy.quantile sorts the waits themselves
    for size in (1, 2, 19, 20, 21, 500):
        waits = RNG.integers(1, greatest + 1, size)
        assert _low_count(waits, 0.05) == np.quantile(waits, 0.05, method="lower")
