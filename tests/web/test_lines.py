"""A run's channels as the page draws them: cut to the run, rising, no peak lost, written small."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from passband.web.drawn.lines import BoundLine, ChannelLine, ShiftLine, Steps, run_lines
from tests.analysis.sparse_review import read

RUN = {"label": "Q1"}
WINDOW = {"log_clock_start_s": 10.0, "log_finish_s": 18.0, "outcome": "quarter", "distance_m": 402.336}


def values(one: Steps | ChannelLine) -> np.ndarray:
    """Steps back to values: a slow twin of what the page's script does."""
    whole, found = 0, []
    for step in one.steps:
        whole += step or 0
        found.append(np.nan if step is None else whole / 10**one.digits)
    return np.array(found)


@pytest.fixture
def table() -> pl.DataFrame:
    """An hour's stand, a run of 8 s at 500 Hz that rolls back a little before it leaves, and the way back."""
    time_s = np.arange(-600.0, 60.0, 0.002)
    way = np.where(time_s < 0, 0.1 * np.sin(time_s), 6.3 * np.clip(time_s, 0, None) ** 2)
    rpm = np.full(time_s.size, 6000.0)
    rpm[np.searchsorted(time_s, 3.0)] = 8123.0  # one sample only
    rpm[np.searchsorted(time_s, 5.0) : np.searchsorted(time_s, 5.5)] = np.nan
    return pl.DataFrame({"time_s": time_s, "distance_m": way, "engine_speed": rpm, "boost": rpm * 10})


def test_a_line_is_the_run_alone_and_rises(table):
    # Planted
    drawn = run_lines(read({"run": RUN, "window": WINDOW}), table, ["engine_speed"])
    time, feet = values(drawn.time), values(drawn.feet)
    assert (time[0], time[-1]) == (pytest.approx(-0.5, abs=0.0041), pytest.approx(8.0, abs=0.0041))
    assert (np.diff(time) > 0).all()
    assert (np.diff(feet) >= 0).all()
    assert time.size < 1250


def test_a_peak_of_one_sample_is_kept_and_a_hole_stays_one(table):
    # Planted
    drawn = run_lines(read({"run": RUN, "window": WINDOW}), table, ["engine_speed", "nowhere"])
    assert set(drawn.channels) == {"engine_speed"}
    rpm, time = values(drawn.channels["engine_speed"]), values(drawn.time)
    assert np.nanmax(rpm) == 8123
    assert np.isnan(rpm[(time > 5.01) & (time < 5.49)]).all()


@pytest.mark.parametrize(("units", "unit", "shown"), [("metric", "kPa", 60.0), ("us", "psi", 8.7)])
def test_values_are_in_the_readers_units(table, units, unit, shown):
    # Hand: 60,000 Pa is 8.70 psi
    boost = run_lines(read({"run": RUN, "window": WINDOW}), table, ["boost"], units=units).channels["boost"]
    assert boost.unit == unit
    assert values(boost)[0] == pytest.approx(shown, abs=0.06)


def test_limits_threshold_band_and_shifts_go_along(table):
    # Hand
    told = {
        "run": RUN,
        "window": WINDOW,
        "limits": [{"name": "Rev limit", "channel": "engine_speed", "limit": 8000.0, "verdict": "outside",
                    "outside": [[3.0, 3.1]]}],
        "band": {"low_rpm": 5000.0, "high_rpm": 7800.0},
        "shifts": [{"from_gear": 1, "to_gear": 2, "time_s": 2.0, "end_s": 2.2, "kind": "missed"}],
    }  # fmt: skip
    drawn = run_lines(read(told), table, ["engine_speed"])
    assert drawn.channels["engine_speed"].bounds == [BoundLine(8000.0, "Rev limit", ((3.0, 3.1),))]
    assert drawn.band == (5000.0, 7800.0)
    assert drawn.shifts == [ShiftLine("1-2", 2.0, 2.2, "missed")]


def test_a_run_whose_distance_nothing_shows_is_drawn_by_time_alone(table):
    # Planted: every place a hole, and with them the car's speed
    holes = pl.lit(float("nan"))
    table = table.with_columns(distance_m=holes, speed_mps=holes)
    drawn = run_lines(read({"run": RUN, "window": WINDOW}), table, ["engine_speed", "speed_mps"])
    assert set(drawn.channels) == {"engine_speed"}
    assert set(drawn.feet.steps) == {None}
    assert (values(drawn.time)[0], values(drawn.time)[-1]) == (pytest.approx(-0.5, abs=0.0041), 8.0)
    assert np.nanmax(values(drawn.channels["engine_speed"])) == 8123
