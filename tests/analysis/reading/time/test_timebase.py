"""Which column is the time, and in which unit."""

import numpy as np
import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading import read_log
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.time.candidates import time_candidates
from passband.analysis.reading.time.timebase import stated_rate_hz

N = 120


def time_of(header: str, first: list[str], preamble: str = ""):
    rows = "\n".join(f"{cell},{1000 + i},{i % 9}" for i, cell in enumerate(first))
    (log,) = read_log(f"{preamble}{header},RPM,TPS\n{rows}\n".encode(), name="x")
    return log


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("Time", [f"{i * 0.01:.2f}" for i in range(N)]),
        ("Time", [f"{5210.5 + i * 0.01:.2f}" for i in range(N)]),
        ("Time", [f"{i * 10}" for i in range(N)]),  # no unit: milliseconds by their size
        ("Time (ms)", [f"{i * 10}" for i in range(N)]),
        ("Timestamp", [f"{1777000000000 + i * 10}" for i in range(N)]),
        ("Time [us]", [f"{i * 10000}" for i in range(N)]),
        ("time_s", [f"{i * 0.01:.2f}" for i in range(N)]),
        ("Zeit [s]", [f"{i * 0.01:.2f}" for i in range(N)]),
        ("Time", [f"0:00:0{i / 100:.2f}" for i in range(N)]),
        ("Time [s]", [f"{i * 10}" for i in range(N)]),  # written as seconds, which cannot be
    ],
)
def test_a_hundred_rows_a_second_however_written(header, cells):
    log = time_of(header, cells)
    assert log.time.rate_hz == pytest.approx(100.0, rel=1e-3)
    np.testing.assert_allclose(log.channels[0].time_s, np.arange(N) / 100.0, atol=1e-3)


def test_a_unit_that_cannot_be_is_told():
    log = time_of("Time [s]", [f"{i * 10}" for i in range(N)])
    assert [(f.code, f.level) for f in log.findings if f.code.startswith("time")] == [("time-unit-assumed", "caution")]


@pytest.mark.parametrize("preamble", ["Rate,100\n", "Sample Rate: 100 Hz\n", "Logging interval,10 ms\n"])
def test_a_sample_counter_goes_by_the_stated_rate(preamble):
    log = time_of("Sample", [str(i) for i in range(N)], preamble)
    assert log.time.rate_hz == pytest.approx(100.0)


def test_rows_without_a_time_go_by_the_stated_rate():
    rows = "\n".join(f"{1000 + i},{i % 9}" for i in range(N))
    (log,) = read_log(f"Rate,50\nRPM,TPS\n{rows}\n".encode(), name="x")
    assert log.time.basis == "stated rate 50 Hz" and log.channels[0].time_s[-1] == pytest.approx((N - 1) / 50)


def test_each_group_of_columns_has_its_own_time():
    slow = [f"{i * 0.05:.2f},{400 + i}" if i < 24 else "," for i in range(N)]
    rows = "\n".join(f"{i * 0.01:.2f},{1000 + i},{cells}" for i, cells in enumerate(slow))
    (log,) = read_log(f"Time,RPM,Time,EGT 1\n{rows}\n".encode(), name="x")
    hot = log.get("exhaust_temperature_1")
    assert hot is not None and hot.values.size == 24
    np.testing.assert_allclose(hot.time_s, np.arange(24) * 0.05, atol=1e-9)
    assert log.get("engine_speed").values.size == N
    assert [f.code for f in log.findings if f.code != "unit-assumed"] == []


def test_a_date_beside_the_time_of_day_is_no_time_base():
    rows = "\n".join(f"2026-05-01,12:00:0{i / 100:.2f},{1000 + i}" for i in range(N))
    (log,) = read_log(f"Date,Time,RPM\n{rows}\n".encode(), name="x")
    assert log.time.rate_hz == pytest.approx(100.0)


def test_lap_times_and_pulse_times_are_channels():
    rows = "\n".join(f"{i * 0.01:.2f},{i * 0.02:.2f},{3 + i % 5}" for i in range(N))
    (log,) = read_log(f"Time,Lap Time,Dwell Time [ms]\n{rows}\n".encode(), name="x")
    assert [channel.name for channel in log.channels] == ["Lap Time", "Dwell Time [ms]"]


def test_no_time_is_refused_with_the_columns_it_has():
    with pytest.raises(NotALog, match=r'stated sample rate, found neither among the columns "RPM", "TPS"'):
        read_log(b"RPM,TPS\n" + b"1000,20\n1010,21\n" * 20, name="x")


@pytest.mark.parametrize(
    ("line", "rate"),
    [
        (("Rate", "500"), 500.0),
        (("Sample Rate", "50 Hz"), 50.0),
        (("Frequency", "1 kHz"), 1000.0),
        (("Sample interval (ms)", "20"), 50.0),
        (("", "Logged at sample rate 25"), None),
        (("", "Sample rate = 25 Hz"), 25.0),
        (("Fuel rate", "30"), None),
        (("Heart Rate", "90"), None),
        (("Time", "12:00"), None),
    ],
)
def test_a_rate_is_taken_from_a_line_that_states_one_and_no_other(line, rate):
    assert stated_rate_hz((line,)) == rate


def test_the_plainer_line_wins():
    assert stated_rate_hz((("Rate", "3"), ("Sample Rate", "200 Hz"))) == 200.0


def test_a_time_that_does_not_rise_is_named_in_the_refusal():
    with pytest.raises(NotALog, match=r'only "Time \[s\]", which does not rise'):
        read_log(b"Time [s],RPM\n" + b"0.1,1000\n0.3,1001\n0.2,1002\n" * 20, name="x")


def test_a_column_of_one_value_among_cells_that_are_none_is_looked_at_without_a_warning():
    # Regression: its steps are none, and their median was asked for
    columns = (Column(np.array([np.nan, 7.0, np.nan]), None), Column(np.array([1.0, 1.0, 1.0]), None))
    header = Header(("Clock", "B"), ("", ""), ("Clock", "B"), 1, None, (), 0, 2)
    assert time_candidates(Table(columns, 3, ()), header, besides=set()) == [0]
