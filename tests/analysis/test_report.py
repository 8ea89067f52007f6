"""What leaves the analysis: plain values with nothing that JSON cannot say, and an even table that invents nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Log, TextFacts, TimeFacts, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.report import as_table, log_as_table
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import Gears
from passband.analysis.results.review import CarFacts, RunFacts
from passband.analysis.results.unknown import Unknown
from passband.analysis.results.window import Outcome, Window
from passband.analysis.review import FullReview, Setup

START_S, FINISH_S = 20.0, 10.0
LACKING = Unknown(Finding("no-ground-speed", "stop", "Nothing of it was planted."))


def channel(name, time_s, values, *, log=0, header="", unit=""):
    return Channel(name, header or name, unit, "", np.asarray(time_s, float), np.asarray(values, float), 100.0, log=log)


def review(*channels: Channel, motion: Motion | None = None, gears: Gears | None = None) -> FullReview:
    return FullReview(
        run=RunFacts(("ecu.csv",), "", "", ""),
        window=Window(19.8, START_S, 0.01, START_S + FINISH_S, 402.3, Outcome.QUARTER, ()),
        clocks=(), distance=LACKING, gears=gears or LACKING, launch=LACKING, shifts=(), boost=LACKING,
        power=LACKING, band=LACKING, limits=(),
        air=None, findings=(), car=CarFacts("Heron"), version="1", setup=Setup(Car(name="Heron", mass=1000.0)),
        traces=Traces(channels), motion=motion,
    )  # fmt: skip


def test_the_table_has_one_even_grid_at_the_highest_rate_with_zero_on_it():
    fast, slow = np.arange(-100, 1200) / 100.0 + 0.003, np.arange(-10, 120) / 10.0
    table = as_table(review(channel("engine_speed", fast, fast), channel("Bottle", slow, slow, unit="kg")))
    time_s = table.frame["time_s"].to_numpy()
    assert table.rate_hz == 100.0
    np.testing.assert_allclose(np.diff(time_s), 0.01, atol=1e-12)
    assert 0.0 in time_s
    inside = table.frame.filter(table.frame["engine_speed"].is_not_null())
    np.testing.assert_allclose(inside["engine_speed"], inside["time_s"], atol=1e-9)


@pytest.mark.parametrize(("rate_hz", "kept_hz"), [(10.0, 50.0), (200.0, 200.0), (1000.0, 500.0)])
def test_the_tables_rate_is_bounded(rate_hz, kept_hz):
    time_s = np.arange(0, 5 * rate_hz) / rate_hz
    assert as_table(review(channel("engine_speed", time_s, time_s))).rate_hz == kept_hz


def test_a_long_log_is_cut_to_the_run_and_what_led_to_it():
    time_s = np.arange(-3000, 3000) / 10.0
    kept = as_table(review(channel("engine_speed", time_s, time_s))).frame["time_s"]
    assert (kept[0], kept[-1]) == (-60.0, FINISH_S + 30.0)


def test_a_short_gap_is_a_straight_line_and_a_long_one_a_hole():
    time_s = np.concatenate((np.arange(0, 100), np.arange(103, 200), np.arange(300, 400))) / 100.0
    frame = as_table(review(channel("engine_speed", time_s, 2 * time_s))).frame
    at = dict(zip(np.round(frame["time_s"].to_numpy(), 3).tolist(), frame["engine_speed"].to_list(), strict=True))
    assert at[1.01] == pytest.approx(2.02)
    assert at[1.99] == pytest.approx(3.98) and at[2.5] is None and at[3.0] == pytest.approx(6.0)


def test_a_state_holds_and_a_measure_slopes():
    time_s = np.array([0.0, 0.1, 0.2])
    frame = as_table(review(channel("shift_cut", time_s, [0, 1, 1]), channel("boost", time_s, [0, 1, 1]))).frame
    row = frame.filter((frame["time_s"] - 0.06).abs() < 1e-9)
    assert row["shift_cut"].item() == 0.0 and row["boost"].item() == pytest.approx(0.6)


def test_a_nan_sample_stays_unknown():
    time_s = np.arange(0, 100) / 100.0
    values = np.where(np.arange(100) == 50, np.nan, 1.0)
    assert as_table(review(channel("boost", time_s, values))).frame["boost"][50] is None


def test_names_are_never_shared():
    time_s = np.arange(0, 100) / 100.0
    names = ["gear", "engine_speed", "engine_speed"]
    channels = [channel(name, time_s, time_s, log=log) for log in (0, 1) for name in names]
    table = as_table(review(*channels))
    assert table.frame.columns[5:] == [
        "gear.0", "engine_speed", "engine_speed.0", "gear.1", "engine_speed.1", "engine_speed.1.2",
    ]  # fmt: skip
    assert [column.name for column in table.columns] == table.frame.columns


def test_columns_tell_title_and_units_of_the_catalogue():
    time_s = np.arange(0, 100) / 100.0
    table = as_table(
        review(channel("exhaust_temperature_3", time_s, time_s, unit="K"), channel("Bottle", time_s, time_s))
    )
    egt, bottle = table.columns[5:]
    assert (egt.title, egt.unit, egt.shown_unit) == ("Exhaust temperature 3", "K", "degC")
    assert (bottle.title, bottle.unit) == ("Bottle", "")


def test_boost_is_made_from_absolute_pressure_where_the_air_is_known():
    time_s = np.arange(0, 1000) / 100.0
    absolute = channel("manifold_pressure", time_s, np.full(1000, 250e3), unit="Pa")
    barometer = channel("barometer", time_s, np.full(1000, 100e3), unit="Pa")
    frame = as_table(review(absolute, barometer)).frame
    assert frame["boost"].drop_nulls().unique().to_list() == [150e3]
    assert "boost" not in as_table(review(absolute)).frame.columns


def test_the_spread_of_exhaust_temperatures_is_made_where_two_are_logged():
    # Hand: 1000 less 940
    time_s = np.arange(0, 100) / 100.0
    hot, cold = (
        channel(f"exhaust_temperature_{n}", time_s, np.full(100, level), unit="K")
        for n, level in ((1, 1000.0), (2, 940.0))
    )
    table = as_table(review(hot, cold))
    made = table.columns[5]
    assert (made.name, made.unit, made.shown_unit) == ("exhaust_temperature_spread", "delta_K", "K")
    assert (made.title, made.log) == ("Exhaust temperature spread", None)
    assert table.frame["exhaust_temperature_spread"].drop_nulls().unique().to_list() == [60.0]
    assert "exhaust_temperature_spread" not in as_table(review(hot)).frame.columns


def test_without_channels_the_table_is_empty_and_whole():
    table = as_table(review())
    assert table.frame.columns == ["time_s", "distance_m", "speed_mps", "acceleration_mps2", "gear"]


def a_log(*channels: Channel) -> Log:
    return Log(
        "ecu.csv", channels, TextFacts("utf-8", ",", ".", 1, None, 2, 3), TimeFacts("column Time", 0.0, 1.0, 50.0)
    )


def test_a_log_as_a_table_holds_every_sample_at_its_own_time():
    a, b = channel("boost", [0.0, 0.02, 0.04], [1, 2, 3]), channel("lambda_1", [0.01, 0.04], [0.8, 0.9])
    frame = log_as_table([a_log(a, b)]).frame
    assert frame["time_s"].to_list() == [0.0, 0.01, 0.02, 0.04]
    assert frame["boost"].to_list() == [1.0, None, 2.0, 3.0]
    assert frame["lambda_1"].to_list() == [None, 0.8, None, 0.9]


def test_a_log_of_several_recordings_counts_them():
    one = a_log(channel("boost", [0.0, 1.0], [1, 2]))
    other = replace(one, channels=(channel("boost", [0.0], [3]), channel("battery", [0.0], [12])))
    table = log_as_table([one, other])
    assert table.frame.rows() == [(0.0, 0.0, 1.0, None), (0.0, 1.0, 2.0, None), (1.0, 0.0, 3.0, 12.0)]
    assert [column.name for column in table.columns] == ["recording", "time_s", "boost", "battery"]
