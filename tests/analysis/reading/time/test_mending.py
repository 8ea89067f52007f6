"""Time stamps that do not rise evenly."""

import numpy as np
import pytest

from passband.analysis.reading.time.mending import mend_time

EVEN = np.arange(200) * 0.01


def codes(mended):
    return [finding.code for finding in mended.findings]


def test_an_even_time_is_left_alone():
    mended = mend_time(EVEN)
    assert np.array_equal(mended.time_s, EVEN)
    assert (mended.pieces, codes(mended)) == (((0, 200),), [])


def test_jitter_is_healthy():
    time = EVEN + 0.002 * np.random.default_rng(1).random(200)
    assert codes(mend_time(time)) == []


@pytest.mark.parametrize("wrong", [0.2, 90.0, -3.0])
@pytest.mark.parametrize("width", [1, 3])
def test_stamps_that_stand_out_are_put_between_their_neighbours(wrong, width):
    time = EVEN.copy()
    time[50 : 50 + width] = wrong
    mended = mend_time(time)
    np.testing.assert_allclose(mended.time_s, EVEN, atol=1e-9)
    assert codes(mended) == ["time-stamps-mended"]
    assert mended.findings[0].where == "row 51, 0.500 s" and mended.findings[0].text.startswith(str(width))


@pytest.mark.parametrize("wrong", [np.inf, -np.inf, np.nan])
@pytest.mark.parametrize("width", [1, 4])
def test_stamps_that_are_infinite_are_put_between_their_neighbours(wrong, width):  # planted
    time = EVEN.copy()
    time[50 : 50 + width] = wrong
    mended = mend_time(time)
    np.testing.assert_allclose(mended.time_s, EVEN, atol=1e-9)
    assert mended.pieces == ((0, 200),)


@pytest.mark.parametrize(("size", "unit_s"), [(65536, 1e-3), (2**32, 1e-6), (1e5, 1e-3)])
def test_a_counter_that_runs_over_is_counted_on(size, unit_s):
    start = size * unit_s - 1.0
    mended = mend_time((start + EVEN) % (size * unit_s), unit_s=unit_s)
    np.testing.assert_allclose(mended.time_s - mended.time_s[0], EVEN, atol=1e-6)
    assert codes(mended) == ["time-counter-ran-over"]


@pytest.mark.parametrize("rows", [500, 501])
def test_a_restart_after_a_round_time_is_no_counter_that_ran_over(rows):
    # Planted: stamps in ms that begin again at zero after 9980 or 10000, which a counter of four digits never shows.
    time = np.concatenate((np.arange(rows) * 0.02, np.arange(900) * 0.02))
    mended = mend_time(time, unit_s=1e-3)
    assert mended.pieces == ((0, rows), (rows, rows + 900))
    assert codes(mended) == ["clock-restarted"]


def test_a_counter_of_four_digits_that_runs_over_again_and_again_is_counted_on():
    true = np.arange(1600) * 0.02
    mended = mend_time(true % 10.0, unit_s=1e-3)
    np.testing.assert_allclose(mended.time_s, true, atol=1e-9)
    assert codes(mended) == ["time-counter-ran-over"] and "3 times" in mended.findings[0].text


def test_midnight_on_a_clock_face_is_counted_on():
    mended = mend_time((86399.0 + EVEN) % 86400.0, clock_face=True)
    np.testing.assert_allclose(np.diff(mended.time_s), 0.01, atol=1e-6)


def test_a_clock_that_starts_again_is_cut():
    mended = mend_time(np.concatenate((EVEN, EVEN[:50])))
    assert mended.pieces == ((0, 200), (200, 250))
    assert codes(mended) == ["clock-restarted"]


def test_a_clock_set_back_a_little_while_the_rows_go_on_is_closed():
    time = np.concatenate((EVEN, EVEN[-1] - 0.3 + EVEN))
    mended = mend_time(time)
    np.testing.assert_allclose(np.diff(mended.time_s), 0.01, atol=1e-9)
    assert codes(mended) == ["clock-set-back"] and "backward once by 0.3 s" in mended.findings[0].text


def test_coarse_stamps_are_spread_evenly():
    true = np.arange(400) * 0.005
    mended = mend_time(np.floor(true * 100) / 100)
    np.testing.assert_allclose(np.diff(mended.time_s), 0.005, rtol=0.01)
    assert codes(mended) == ["coarse-time-stamps"]


def test_whole_seconds_are_spread_over_their_rows():
    mended = mend_time(np.repeat(np.arange(20.0), 25))
    np.testing.assert_allclose(np.diff(mended.time_s), 0.04, rtol=0.01)


def test_repeated_rows_are_set_aside():
    mended = mend_time(np.insert(EVEN, [50, 90], [EVEN[49], EVEN[89]]))
    assert codes(mended) == ["repeated-time-stamps"]
    assert np.isnan(mended.time_s).sum() == 2
    assert np.all(np.diff(mended.time_s[np.isfinite(mended.time_s)]) > 0)


def test_a_gap_is_kept_and_told():
    mended = mend_time(np.concatenate((EVEN, EVEN + 3.0)))
    assert codes(mended) == ["time-gaps"]
    assert "1.01 s" in mended.findings[0].text and mended.pieces == ((0, 400),)


def test_one_lost_row_is_no_gap():
    assert codes(mend_time(np.delete(EVEN, 70))) == []


def test_unreadable_stamps_are_filled_only_where_the_rows_tell():
    time = EVEN.copy()
    time[[0, 80, 81]] = np.nan
    mended = mend_time(time)
    np.testing.assert_allclose(mended.time_s[80:82], EVEN[80:82], atol=1e-9)
    assert np.isnan(mended.time_s[0])
    assert sorted(codes(mended)) == ["rows-without-time", "time-filled"]


def test_no_time_at_all():
    assert mend_time(np.full(5, np.nan)).pieces == ()


def test_rows_that_stand_away_and_come_back_are_put_between():
    # Planted: 40 rows a million seconds off, the rest as the rows count.
    time = EVEN.copy()
    time[60:100] += 1e6
    mended = mend_time(time)
    np.testing.assert_allclose(mended.time_s, EVEN, atol=1e-9)
    assert codes(mended) == ["time-stamps-mended"] and "40 rows" in mended.findings[0].text


@pytest.mark.parametrize(("by", "pieces"), [(50.0, 1), (100.0, 2), (1e10, 2)])
def test_a_jump_far_ahead_parts_two_recordings_unless_the_values_go_on(by, pieces):
    time = EVEN + by * (np.arange(200) >= 120)
    mended = mend_time(time)
    assert len(mended.pieces) == pieces
    assert codes(mended)[0] == ("time-gaps" if pieces == 1 else "clock-jumped")
    closed = mend_time(time, goes_on=lambda before, after, **_: (before, after) == (119, 120))
    assert len(closed.pieces) == 1
    if pieces == 2:
        np.testing.assert_allclose(closed.time_s, EVEN, atol=1e-5)
        assert codes(closed) == ["clock-jumped-ahead"]


def test_rows_a_minute_apart_for_days_are_no_recording():
    mended = mend_time(np.arange(2000) * 59.0)
    assert mended.pieces == () and codes(mended) == ["recording-too-long"]


def test_a_clock_that_stands_still_for_good_places_nothing():
    time = np.concatenate((EVEN, np.full(50, 0.5)))
    mended = mend_time(time)
    assert mended.pieces == ((0, 200),) and "clock-stands-still" in codes(mended)
