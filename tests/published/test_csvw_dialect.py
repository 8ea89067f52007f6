"""W3C CSV on the Web: the terms of a dialect, one by one, each found out without being told.

Source: W3C Recommendation "Metadata Vocabulary for Tabular Data", 17 December 2015, dialect descriptions (terms and
defaults from memory). A dialect description tells a reader these things; a logger's file comes without one.
"""

import numpy as np
import pytest

from passband.analysis.reading import read_log

N = 40
EXPECTED = 1000.0 + 7 * np.arange(N)


def rows(delimiter=",", quote="", gap=""):
    cells = [[f"{i * 0.01:.2f}", f"{1000 + 7 * i}", f"{20 + i % 5}"] for i in range(N)]
    return [delimiter.join(gap + quote + cell + quote for cell in row) for row in cells]


def read(lines, *, encoding="utf-8", end="\n"):
    (log,) = read_log(end.join(lines).encode(encoding), name="x.csv")
    return log


def check(log):
    assert np.array_equal(log.get("engine_speed").values, EXPECTED)
    return log


def test_comment_prefix():
    log = check(read(["# exported in the pits", "# Crew: three", "Time,RPM,TPS", *rows()]))
    assert log.text.preamble == (("", "exported in the pits"), ("Crew", "three"))


def test_a_comment_between_rows_is_set_aside_and_told():
    log = check(read(["Time,RPM,TPS", *rows()[:20], "# second half", *rows()[20:]]))
    assert [f.code for f in log.findings if f.code != "unit-assumed"] == ["remarks-amid-the-rows"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiter(delimiter):
    assert check(read([delimiter.join(["Time", "RPM", "TPS"]), *rows(delimiter)])).text.delimiter == delimiter


def test_double_quote():
    log = check(read(['Time,RPM,"a ""b"" c"', *rows()]))
    assert log.channels[-1].header == 'a "b" c'


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252"])
def test_encoding(encoding):
    check(read(["Time,RPM,Öl [°C]", *rows()], encoding=encoding))


def test_header_absent():
    log = read(rows())
    assert log.text.header_line is None and np.array_equal(log.channels[0].values, EXPECTED)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_header_row_count(count):
    above = [["Time,RPM,TPS"], ["Time,RPM,TPS", "s,rpm,%"], ["Group,Engine,Driver", "Time,RPM,TPS", "s,rpm,%"]]
    assert check(read([*above[count - 1], *rows()])).text.first_data_line == count + 1


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
def test_line_terminators(end):
    check(read(["Time,RPM,TPS", *rows()], end=end))


def test_quote_char():
    check(read(['"Time","RPM","TPS"', *rows(quote='"')]))


def test_skip_blank_rows():
    lines = ["Time,RPM,TPS", *rows()]
    assert check(read([*lines[:9], "", *lines[9:], "", ""])).text.rows == N


def test_skip_columns():
    # A leading column of row titles is no number: it becomes no channel and is told
    lines = ["Row,Time,RPM,TPS", *(f"row {at},{row}" for at, row in enumerate(rows()))]
    assert "columns-of-words" in [finding.code for finding in check(read(lines)).findings]


def test_skip_initial_space():
    check(read(["Time, RPM, TPS", *rows(gap=" ")]))


def test_skip_rows():
    log = check(read(["Logger 7", "run 3, second round", "Time,RPM,TPS", *rows()]))
    assert log.text.header_line == 3


def test_trim():
    check(read(["Time , RPM , TPS", *(row.replace(",", " , ") for row in rows())]))
