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


def _stretches_one_by_one(time_s, margin, counts, spans):
    """Slow twin: sample after sample, each end worked out by itself."""
    found = []
    for start, stop in spans:
        mine = counts & (time_s >= start) & (time_s <= stop)
        outside = [bool(mine[at] and margin[at] < 0) for at in range(time_s.size)]
        for at in range(time_s.size):
            if outside[at] and not (at and outside[at - 1]):
                last = next((to for to in range(at, time_s.size) if not outside[to]), time_s.size) - 1
                found.append((_end(time_s, margin, mine, at, -1, start), _end(time_s, margin, mine, last, 1, stop)))
    return tuple(found)


def _end(time_s, margin, mine, inner, step, bound_s):
    outer = inner + step
    if not 0 <= outer < time_s.size:
        return time_s[inner]
    if mine[outer]:
        share = margin[inner] / (margin[inner] - margin[outer])
        return time_s[inner] + share * (time_s[outer] - time_s[inner])
    return bound_s if (time_s[outer] - bound_s) * step > 0 and np.isfinite(margin[outer]) else time_s[inner]


def test_stretches_are_those_of_the_slow_twin():
    # slow twin: to the last digit, with holes, samples that do not count, and spans of any kind
    draw, seen = np.random.default_rng(2), 0
    for case in range(400):
        size = int(draw.integers(1, 80))
        time_s, margin = np.cumsum(draw.uniform(0.001, 0.05, size)), np.cumsum(draw.normal(0, 1, size))
        margin[draw.random(size) < draw.choice([0.0, 0.1])] = np.nan
        counts = np.isfinite(margin) & (draw.random(size) < draw.choice([0.7, 1.0]))
        edges = np.sort(draw.choice(np.concatenate((time_s, [-1.0, 0.0, 9.0])), 2, replace=False))
        spans = [(-np.inf, np.inf)] if case % 5 == 0 else [tuple(edges)]
        got = find_excursions(time_s, margin, counts, spans)
        assert got.stretches == _stretches_one_by_one(time_s, margin, counts, spans)
        seen += got.count
    assert seen > 500


def test_of_a_long_record_only_the_span_is_looked_at():
    # planted: a day about the span changes neither what is found nor which sample it is, counted from the start
    long_s = np.concatenate((np.arange(-5000.0, 0.0, 0.1), TIME, np.arange(10.0, 5000.0, 0.1)))
    margin = np.full(long_s.size, -5.0)
    margin[50_000 : 50_000 + TIME.size] = notch(5.0, 0.5)
    got = find_excursions(long_s, margin, np.ones(long_s.size, dtype=bool), [(0.05, 9.85)])
    alone = find_excursions(TIME, notch(5.0, 0.5), ALL, [(0.05, 9.85)])
    assert (got.count, got.time_s, got.worst) == (alone.count, alone.time_s, alone.worst + 50_000)
