"""Times of day and dates in words."""

import numpy as np
import polars as pl
import pytest

from passband.analysis.reading.time.timestamps import seconds_of_clock


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("0:00:01.25", 1.25),
        ("01:25,4", 85.4),
        ("12:00:01:250", 43201.25),
        ("12:00:00 AM", 0.0),
        ("01:00:00.5 pm", 46800.5),
        ("1985-04-12T23:20:50.52Z", 482196050.52),  # published (RFC 3339 section 5.8)
        ("1996-12-19T16:39:57-08:00", 851042397.0),  # published (RFC 3339): 1996-12-20T00:39:57Z
        ("1990-12-31T23:59:60Z", 662688000.0),  # published (RFC 3339): a leap second counts on
        ("20260501 00:00:01", 1777593601.0),
        ("1.5.2026 00:00:00", 1777593600.0),
        ("5/13/2026 00:00:00", 1778630400.0),
        ("0000-05-01T00:00:01", -719407 * 86400.0 + 1.0),  # damaged, but no error
        ("half past nine", np.nan),
        ("", np.nan),
    ],
)
def test_a_time_of_day_or_date_is_seconds_and_words_are_none(text, seconds):
    assert seconds_of_clock(pl.Series([text]))[0] == pytest.approx(seconds, nan_ok=True)


def test_a_blank_cell_is_nan():
    assert np.isnan(seconds_of_clock(pl.Series(["0:00:01", None]))[1])
