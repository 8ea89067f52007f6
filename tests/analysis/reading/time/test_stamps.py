"""Stamps on their way to rising, and those that stand out far or stand still."""

import numpy as np
import pytest

from passband.analysis.reading.time.clock_jumps import close_jumps, mend_rows_away
from passband.analysis.reading.time.equal_stamps import set_apart
from passband.analysis.reading.time.parted_recordings import part_recordings
from passband.analysis.reading.time.stamps import Stamps, count_of_rows
from passband.analysis.results.findings import Finding

EVEN = np.arange(200) * 0.01
SAID = Finding("time-filled", "note", "before")


def told(stamps):
    return [finding.code for finding in stamps.findings]


def test_a_place_is_told_by_row_and_time_since_the_first_stamp():
    # Hand: the first stamp known is 5.02, the last before row 5 (from 1) is 5.03
    stamps = Stamps(np.array([np.nan, np.nan, 5.02, 5.03, np.nan, 5.05]), 0.01)
    assert stamps.place(4) == "row 5, 0.010 s" and stamps.place(0) == "row 1"


def test_a_piece_counts_rows_of_the_whole_and_has_nothing_said_of_it():
    piece = Stamps(EVEN, 0.01, 10, (SAID,)).piece(20, 30)
    assert (piece.first_row, piece.time_s.size, piece.findings) == (30, 10, ())


@pytest.mark.parametrize(("number", "words"), [(0, "0 rows"), (1, "1 row"), (2, "2 rows")])
def test_rows_are_counted_in_words(number, words):
    assert count_of_rows(number) == words


def test_rows_far_away_come_back_between_their_neighbours():
    # Planted: 70 rows on a clock 4000 s ahead
    time = EVEN.copy()
    time[100:170] += 4000.0
    mended = mend_rows_away(Stamps(time, 0.01, findings=(SAID,)))
    np.testing.assert_allclose(mended.time_s, EVEN, atol=1e-9)
    assert told(mended) == ["time-filled", "time-stamps-mended"] and "70 rows" in mended.findings[1].text


@pytest.mark.parametrize("goes_on", [True, False])
def test_a_jump_is_closed_only_where_the_values_go_on(goes_on):
    time = np.where(np.arange(200) < 120, EVEN, EVEN + 500.0)
    mended = close_jumps(Stamps(time, 0.01), lambda before, after: goes_on)
    np.testing.assert_allclose(mended.time_s, EVEN if goes_on else time, atol=1e-9)
    assert told(mended) == ["clock-jumped-ahead"] * goes_on


def test_repeated_rows_are_set_aside_at_their_place_in_the_table():
    time = EVEN.copy()
    time[50] = time[49]
    apart = set_apart(Stamps(time, 0.01, 1000))
    assert np.flatnonzero(np.isnan(apart.time_s)).tolist() == [50]
    assert [(finding.code, finding.where) for finding in apart.findings] == [("repeated-time-stamps", "row 1051")]


def test_coarse_stamps_are_spread_evenly():
    apart = set_apart(Stamps(np.floor(EVEN * 20) / 20, 0.05))
    np.testing.assert_allclose(np.diff(apart.time_s), 0.01, rtol=1e-3)  # a line through 40 stairs
    assert float(np.ptp(np.diff(apart.time_s))) < 1e-12
    assert told(apart) == ["coarse-time-stamps"]


def test_even_stamps_are_one_recording():
    stamps = Stamps(EVEN, 0.01)
    assert set_apart(stamps) is stamps and mend_rows_away(stamps) is stamps
    assert (part_recordings(stamps).pieces, part_recordings(stamps).findings) == (((0, 200),), ())


def test_a_clock_that_stands_gives_no_recording():
    parted = part_recordings(Stamps(np.full(50, 3.0), 0.01))
    assert parted.pieces == () and told(parted) == ["clock-stands-still"]
