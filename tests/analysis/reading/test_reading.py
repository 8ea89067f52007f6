"""The whole line: a run written in any dialect reads back equal, channel by channel, bit for bit."""

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from passband.analysis.channels.log import LogError, NotALog
from passband.analysis.reading import describe, read_log
from tests.analysis.reading.dialects import Dialect, a_run, with_blanks, write

# Planted: channel, scale and offset from what is printed to SI, for each name of the run.
CHANNELS = {
    "Engine Speed": ("engine_speed", 1.0, 0.0),
    "Throttle": ("throttle", 0.01, 0.0),
    "Manifold Pressure": ("manifold_pressure", 1000.0, 0.0),
    "Coolant Temp": ("coolant_temperature", 1.0, 273.15),
    "Driven Wheel Speed": ("wheel_speed_driven", 1 / 3.6, 0.0),
}
PREAMBLES = (
    "Title{d}afternoon session",
    "Fuel{d}methanol blend{d} cold",
    "Comment: soft, new; hot | dry",
    "",
    '# free text with a stray " quote',
    "Date: 2026-05-01 12:00:00",
    "1.5{d}2",
    "Rate of fuel 3",
    'Tire{d}"soft, new"',
)


@st.composite
def dialects(draw):
    delimiter = draw(st.sampled_from(",;\t|"))
    quoted_cells = draw(st.booleans())
    comma_fits = delimiter != "," or quoted_cells
    return Dialect(
        delimiter=delimiter,
        decimal=draw(st.sampled_from(".,")) if comma_fits else ".",
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16-le", "utf-16-be", "latin-1", "cp1252"])),
        line_end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        units=draw(
            st.sampled_from(
                ["brackets", "parentheses", "comma", "slash", "row", "row in brackets", "preamble", "nowhere"]
            )
        ),
        preamble=tuple(draw(st.lists(st.sampled_from(PREAMBLES), max_size=50))),
        quoted_header=draw(st.booleans()),
        quoted_cells=quoted_cells,
        trailing=draw(st.booleans()),
        time=draw(st.sampled_from(["s", "ms", "us", "ns", "h:m:s", "iso", "iso zone", "counter", "none"])),
        rate_hz=draw(st.sampled_from([25.0, 50.0, 100.0, 200.0, 500.0])),
        start_s=draw(st.sampled_from([0.0, 5210.5])),
        compression=draw(st.sampled_from(["", "gzip", "zip"])),
        last_line_end=draw(st.booleans()),
        padded=draw(st.booleans()),
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(dialect=dialects(), seed=st.integers(0, 99), every=st.integers(1, 5))
def test_a_run_in_any_dialect_reads_back_equal(dialect, seed, every):
    sheet = with_blanks(a_run(160, seed=seed, rate_hz=dialect.rate_hz), "Coolant Temp", every)
    written = write(sheet, dialect)
    (log,) = read_log(written.data, name="run.csv")
    assert (log.text.delimiter, log.text.decimal) == (dialect.delimiter, dialect.decimal)
    assert (log.text.header_line, log.text.units_line) == (written.header_line, written.units_line)
    for name, (channel, scale, offset) in CHANNELS.items():
        read = log.get(channel)
        assert read is not None, name
        np.testing.assert_allclose(read.values, sheet.column(name) * scale + offset, rtol=1e-12)
    bottle = next(channel for channel in log.channels if channel.header.startswith("Nitrous"))
    assert np.array_equal(bottle.values, sheet.column("Nitrous Bottle"))  # bit for bit: nothing converts it
    np.testing.assert_allclose(bottle.time_s, written.times_s, atol=6e-4)  # times are printed to the millisecond
    assert [f for f in log.findings if f.code not in ("unit-assumed", "speed-unit-assumed", "time-unit-assumed")] == []


def test_each_channel_of_a_multi_rate_log_keeps_its_own_times():
    sheet = with_blanks(a_run(100), "Coolant Temp", 4)
    (log,) = read_log(write(sheet, Dialect()).data, name="run.csv")
    coolant = log.get("coolant_temperature")
    assert coolant is not None and coolant.values.size == 25
    np.testing.assert_allclose(coolant.time_s, np.arange(25) * 0.04, atol=1e-9)
    assert coolant.rate_hz == pytest.approx(25.0)


def test_what_the_user_says_of_a_column_wins():
    data = write(a_run(60), Dialect()).data
    mapping = {"Nitrous Bottle": "fuel_pressure", "Throttle [%]": "ignore", "Coolant Temp": "Head Temp"}
    (log,) = read_log(data, name="run.csv", mapping=mapping, index=1)
    fuel = log.get("fuel_pressure")
    assert fuel is not None and (fuel.confidence, fuel.log) == (1.0, 1)
    assert fuel.values[0] == pytest.approx(60e5, rel=0.01)
    assert log.get("throttle") is None and log.get("Head Temp") is not None


def test_a_restarted_logger_gives_one_log_for_each_recording():
    first, second = write(a_run(120), Dialect()).data, write(a_run(80, seed=2), Dialect()).data
    logs = read_log(first + second, name="run.csv")
    assert [log.text.rows for log in logs] == [120, 80]
    assert [log.channels[0].time_s[0] for log in logs] == [0.0, 0.0]
    # Each may be the one that holds the run, and is reviewed without the other.
    assert all("logger-restarted" in [finding.code for finding in log.findings] for log in logs)


def test_a_restart_with_its_own_preamble_loses_no_row():
    dialect = Dialect(preamble=("Title{d}x", "", "Rate{d}100"))
    data = write(a_run(120), dialect).data + b"\n" + write(a_run(80, seed=2), dialect).data
    assert [log.text.rows for log in read_log(data, name="run.csv")] == [120, 80]


def test_a_clock_that_starts_again_without_a_header_is_cut():
    rows = write(a_run(90), Dialect()).data.split(b"\n", 1)[1]
    logs = read_log(write(a_run(120), Dialect()).data + rows, name="run.csv")
    assert [log.channels[0].values.size for log in logs] == [120, 90]
    # Each may be the one that holds the run, and is reviewed without the other.
    assert all("clock-restarted" in [finding.code for finding in log.findings] for log in logs)
    told = [finding.code for finding in describe(logs).findings]
    assert told.count("clock-restarted") == 1


def test_each_part_of_a_restarted_log_tells_what_was_set_aside_and_its_own_gaps_only():
    first, second = (write(a_run(rows), Dialect()).data.splitlines(keepends=True) for rows in (120, 90))
    data = b"".join([*first[:30], *first[60:], b"1.2,3\n", *second[1:]])
    logs = read_log(data, name="run.csv")
    codes = [{finding.code for finding in log.findings} for log in logs]
    assert [log.text.rows for log in logs] == [90, 90]
    assert all({"damaged-lines", "clock-restarted"} <= told for told in codes)
    assert ["time-gaps" in told for told in codes] == [True, False]


def test_a_header_on_every_page_is_no_restart():
    lines = write(a_run(100), Dialect()).data.splitlines(keepends=True)
    (log,) = read_log(b"".join([*lines[:51], lines[0], *lines[51:]]), name="run.csv")
    assert log.text.rows == 100
    np.testing.assert_allclose(log.channels[0].time_s, np.arange(100) / 100.0, atol=1e-9)
    assert [finding.code for finding in log.findings] == ["header-repeats"]


def test_no_header_keeps_the_columns_by_number():
    data = write(a_run(60), Dialect()).data.split(b"\n", 1)[1]
    (log,) = read_log(data, name="run.csv", mapping={"Column 2": "engine_speed"})
    assert log.text.header_line is None
    assert log.get("engine_speed") is not None
    assert "time-column-assumed" in [finding.code for finding in log.findings]


def test_a_reading_tells_of_its_own_file_only():
    data = write(a_run(60), Dialect()).data
    assert read_log(data, name="a.csv") is not read_log(data, name="a.csv")
    first, second = read_log(data, name="a.csv")[0], read_log(data, name="a.csv")[0]
    assert np.array_equal(first.channels[0].values, second.channels[0].values)


REFUSED = [
    (b"", "empty file"),
    (b"\r\n \r\n", "empty file"),
    (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "PNG image"),
    (bytes(range(256)) * 20, "no text"),
    (b"Dear all,\nplease find the log below.\n", "none in 2 lines"),
    (b"Time,Engine Speed,MAP\ns,rpm,kPa\n", "column names but no rows"),
    (b"RPM,TPS\n" + b"1000,20\n" * 20, "column of time or a stated sample rate"),
    (b"Time,RPM\n0.00,1000\n", "too few to be a log"),
    (b"1,2,3," * 300_000, "one line without end"),
    (b"Time," + b"x," * 6000 + b"y\n" + b"1," * 6001 + b"2\n", "6002 columns"),
]


@pytest.mark.parametrize(("data", "why"), REFUSED)
def test_what_is_no_log_is_refused_in_one_sentence(data, why):
    with pytest.raises(NotALog, match=why) as refusal:
        read_log(data, name="odd.csv")
    text = str(refusal.value)
    assert text.startswith("odd.csv: ") and "\n" not in text and len(text) < 600


def test_a_refusal_quotes_the_file_escaped_and_cut():
    with pytest.raises(NotALog, match="looked for") as refusal:
        read_log(b"<script>\talert(1)</script> " * 20, name="odd.csv")
    assert "\\t" in str(refusal.value) and "..." in str(refusal.value)


def test_refusals_are_of_one_family():
    assert issubclass(NotALog, LogError)


def test_a_log_without_engine_speed_is_read():
    sheet = a_run(80)
    sheet = replace(sheet, names=("Yaw", *sheet.names[1:]), units=("", *sheet.units[1:]))
    (log,) = read_log(write(sheet, Dialect()).data, name="dash.csv")
    assert log.get("engine_speed") is None and log.get("wheel_speed_driven") is not None


def test_a_usual_log_is_read_without_the_registry_of_all_units():
    # Regression: asking it of units in the table, and of columns that are no channel, cost a cold start 0.4 s.
    names = "Time [s],RPM [rpm],Speed [km/h],AFR [lambda],Bottle [bar],Distance [m],Boost Target [kPa],Foo [psi]"
    rows = "".join(f"{at / 100:.2f},{3000 + at},{at},0.9,60,{at},50,7\\n" for at in range(60))
    code = f"""import sys
from passband.analysis.reading import read_log
read_log({names!r}.encode() + b"\\n" + b"{rows}", name="x.csv")
sys.exit("pint" in sys.modules)"""
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
