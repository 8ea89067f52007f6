"""Stretches outside: planted lengths, edges of the record, samples that do not count."""

import numpy as np
import pytest

from passband.analysis.engine.excursions import find_excursions, share_known, sustained_margin

TIME = np.arange(0.0, 10.0, 0.1)
ALL = np.ones(TIME.size, dtype=bool)
WHOLE = [(0.0, 9.9)]


def notch(at_s, width_s):
    """Margin 1, and -1 within a square notch."""
    return np.where(np.abs(TIME - at_s) < width_s / 2, -1.0, 1.0)


def test_a_clean_record_has_none():
    got = find_excursions(TIME, np.ones(TIME.size), ALL, WHOLE)
    assert (got.count, got.time_s, got.worst) == (0, 0.0, -1)


@pytest.mark.parametrize("at_s", [0.0, 5.0, 9.9])
def test_at_the_ends_of_the_record_as_in_its_middle(at_s):
    got = find_excursions(TIME, notch(at_s, 0.5), ALL, WHOLE)
    assert got.count == 1
    assert got.time_s == pytest.approx(0.5 if at_s == 5.0 else 0.25, abs=0.051)


def test_two_are_counted_and_only_the_long_one_kept():
    margin = np.minimum(notch(3.0, 0.5), notch(7.0, 1.5))
    assert find_excursions(TIME, margin, ALL, WHOLE).count == 2
    got = find_excursions(TIME, margin, ALL, WHOLE, longer_than_s=0.8)
    assert got.count == 1 and TIME[got.worst] == pytest.approx(6.3, abs=0.11)


def test_what_does_not_count_ends_a_stretch():
    got = find_excursions(TIME, notch(5.0, 2.0), np.abs(TIME - 5.0) > 0.45, WHOLE)
    assert got.count == 2


def test_the_level_held_for_a_time():
    # Hand: the margin |t - 5| is below 0.5 for 1.0 s
    level, sample = sustained_margin(TIME, np.abs(TIME - 5.0), ALL, WHOLE, longer_than_s=1.0)
    assert level == pytest.approx(0.5, abs=1e-6)
    assert TIME[sample] == pytest.approx(5.0)


def test_the_share_known_of_a_record():
    assert share_known(TIME, ALL, WHOLE) == 1.0
    assert share_known(TIME, TIME < 5.0, WHOLE) == pytest.approx(0.5, abs=0.03)
    assert share_known(TIME, ~ALL, WHOLE) == 0.0
