"""Two runs side by side: differences at places, and losses that add up."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.compare import Change, Track, compare_tracks, elapsed_time_difference

FOOT_M = 0.3048  # international foot, exact

MARKS_FT = (60, 330, 660, 1000, 1320)


def constant_acceleration(mps2: float, *, late_s: float = 0.0, rate_hz: float = 200.0) -> Track:
    """Closed form: s = a t^2 / 2, split times are the roots."""
    time_s = np.arange(-2.0, 14.0, 1.0 / rate_hz)
    pull_s = np.clip(time_s - late_s, 0.0, None)
    splits = {ft: Estimate(late_s + (2 * ft * FOOT_M / mps2) ** 0.5, 0.003) for ft in MARKS_FT}
    return Track(time_s, 0.5 * mps2 * pull_s**2, splits)


def test_a_run_loses_nothing_to_itself():
    run = constant_acceleration(8.0)
    got = compare_tracks(run, run)
    np.testing.assert_allclose(got.difference_s, 0.0, atol=1e-12)
    assert got.total_s.value == 0.0
    assert got.total_s.plus_minus == pytest.approx(0.003 * 2**0.5)


def test_the_difference_is_that_of_the_closed_form():
    # Hand: t = sqrt(2 s / a), so the difference grows as the root of the distance
    got = compare_tracks(constant_acceleration(8.0), constant_acceleration(7.0))
    wanted = np.sqrt(2 * got.distance_m / 7.0) - np.sqrt(2 * got.distance_m / 8.0)
    np.testing.assert_allclose(got.difference_s[2:], wanted[2:], atol=2e-4)
    assert got.distance_m[-1] == pytest.approx(402.0)


def test_the_parts_add_up_to_the_whole():
    got = compare_tracks(constant_acceleration(8.0), constant_acceleration(7.3))
    assert [(part.from_ft, part.to_ft) for part in got.stretches] == [
        (0, 60),
        (60, 330),
        (330, 660),
        (660, 1000),
        (1000, 1320),
    ]
    assert sum(part.lost_s.value for part in got.stretches) == pytest.approx(got.total_s.value, abs=1e-12)


def test_the_other_way_round_turns_every_sign():
    a, b = constant_acceleration(8.0), constant_acceleration(7.0)
    there, back = compare_tracks(a, b), compare_tracks(b, a)
    assert [part.lost_s.value for part in there.stretches] == [-part.lost_s.value for part in back.stretches]
    np.testing.assert_allclose(there.difference_s, -back.difference_s, atol=1e-12)


def test_time_lost_at_the_start_stays_lost_and_shows_there():
    late = constant_acceleration(8.0, late_s=0.25)
    got = compare_tracks(constant_acceleration(8.0), late)
    np.testing.assert_allclose(got.difference_s[1:], 0.25, atol=1e-3)
    assert [round(part.lost_s.value, 9) for part in got.stretches] == [0.25, 0.0, 0.0, 0.0, 0.0]


def test_only_marks_and_track_that_both_reached_count():
    short = constant_acceleration(8.0)
    short = Track(short.time_s[:1400], short.distance_m[:1400], {ft: short.splits[ft] for ft in (60, 330)})
    got = compare_tracks(constant_acceleration(8.0), short)
    assert [part.to_ft for part in got.stretches] == [60, 330]
    assert got.distance_m[-1] <= 330 * FOOT_M


def test_what_shares_no_track_compares_to_nothing():
    nowhere = Track(np.empty(0), np.empty(0), {})
    got = compare_tracks(constant_acceleration(8.0), nowhere)
    assert got.distance_m.size == 0 and got.stretches == () and got.total_s is None


def test_unknown_places_give_nan():
    run = constant_acceleration(8.0)
    got = elapsed_time_difference(run, run, at_m=np.array([100.0, 5000.0]))
    assert got[0] == 0.0 and np.isnan(got[1])


def shifting(track: Track, *changes: Change) -> Track:
    return Track(track.time_s, track.distance_m, track.splits, changes)


def test_gears_and_shifts_add_up_to_the_same():
    first = shifting(constant_acceleration(8.0), Change(1, 2, 2.0, 2.2), Change(2, 3, 5.0, 5.1))
    other = shifting(constant_acceleration(7.3), Change(1, 2, 2.4, 2.6), Change(2, 3, 5.2, 5.5))
    got = compare_tracks(first, other)
    assert [part.name for part in got.parts] == ["gear 1", "shift 1-2", "gear 2", "shift 2-3", "gear 3"]
    assert sum(part.lost_s for part in got.parts) == pytest.approx(got.total_s.value, abs=1e-9)
    assert got.parts[0].from_m == 0.0 and got.parts[-1].to_m == pytest.approx(402.336)
    assert all(a.to_m == b.from_m for a, b in pairwise(got.parts))


def test_a_shifts_part_reaches_over_both_runs():
    # Hand: s = a t^2 / 2 at 2.0 and 2.6 s
    first = shifting(constant_acceleration(8.0), Change(1, 2, 2.0, 2.2))
    other = shifting(constant_acceleration(8.0), Change(1, 2, 2.4, 2.6))
    part = next(one for one in compare_tracks(first, other).parts if one.kind == "shift")
    assert (part.from_m, part.to_m) == pytest.approx((16.0, 27.04), abs=0.01)


def test_shifts_too_close_to_tell_apart_are_one_part():
    first = shifting(constant_acceleration(8.0), Change(1, 2, 2.0, 2.2), Change(2, 3, 2.5, 2.6))
    other = shifting(constant_acceleration(8.0), Change(1, 2, 2.3, 2.55), Change(2, 3, 2.9, 3.0))
    assert [part.name for part in compare_tracks(first, other).parts] == ["gear 1", "shifts 1-2, 2-3", "gear 3"]


def test_without_shifts_there_are_no_parts():
    assert compare_tracks(constant_acceleration(8.0), constant_acceleration(7.0)).parts == ()


def test_the_difference_passes_through_the_splits():
    # Planted: the second run's splits lie 10 ms later than its motion says
    first, other = constant_acceleration(8.0), constant_acceleration(8.0)
    late = {ft: Estimate(split.value + 0.010, 0.003) for ft, split in other.splits.items()}
    got = elapsed_time_difference(first, Track(other.time_s, other.distance_m, late), at_m=np.array([1320 * FOOT_M]))
    assert got[0] == pytest.approx(0.010, abs=1e-6)
