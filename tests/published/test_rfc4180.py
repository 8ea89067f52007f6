"""RFC 4180 (October 2005, informational), section 2: its seven rules, each on a log.

The rules' wording is paraphrased; the examples of rules 5 to 7 are the RFC's, from memory, with numbers put beside them
so that they are a log. Where the reader goes further than a rule the test says so.
"""

import csv
import io

import numpy as np
import pytest

from passband.analysis.reading import read_log

ROWS = [f"{i * 0.01:.2f},{1000 + 7 * i},{20 + i % 5}" for i in range(40)]
HEADER = "Time,RPM,TPS"


def read(text: str):
    (log,) = read_log(text.encode(), name="x.csv")
    return log


def engine(text: str):
    return read(text).get("engine_speed").values


EXPECTED = 1000.0 + 7 * np.arange(40)


def test_rule_1_each_record_is_on_a_line_of_its_own_ended_by_crlf():
    assert np.array_equal(engine("\r\n".join([HEADER, *ROWS]) + "\r\n"), EXPECTED)


def test_rule_2_the_last_record_may_or_may_not_have_a_line_end():
    whole = "\r\n".join([HEADER, *ROWS])
    assert np.array_equal(engine(whole), engine(whole + "\r\n"))


def test_rule_3_a_header_line_is_optional():
    assert read("\r\n".join([HEADER, *ROWS])).text.header_line == 1
    bare = read("\r\n".join(ROWS))
    assert bare.text.header_line is None and np.array_equal(bare.channels[0].values, EXPECTED)


def test_rule_4_fields_are_parted_by_commas_and_spaces_are_part_of_a_field():
    # Further than the rule: blanks around a number are not part of the number.
    assert np.array_equal(engine("\n".join([HEADER, *(row.replace(",", ", ") for row in ROWS)])), EXPECTED)


def test_rule_4_each_line_should_hold_the_same_number_of_fields():
    # One that does not is set aside and told.
    log = read("\r\n".join([HEADER, *ROWS[:20], "0.20,1,2,3,4", *ROWS[20:]]))
    assert log.text.rows == 40 and "damaged-lines" in [finding.code for finding in log.findings]


def test_rule_5_fields_may_be_in_double_quotes():
    quoted = [",".join(f'"{cell}"' for cell in row.split(",")) for row in [HEADER, *ROWS]]
    assert np.array_equal(engine("\r\n".join(quoted)), EXPECTED)


def test_rule_6_fields_with_line_breaks_quotes_and_commas_are_quoted():
    # The RFC's "aaa","b CRLF bb","ccc", here as names of channels
    log = read("\r\n".join(['"Time","b\r\nbb","c,cc"', *ROWS]))
    # Further than the rule: which line end it was is not kept.
    assert [" ".join(channel.header.split()) for channel in log.channels] == ["b bb", "c,cc"]


def test_rule_7_a_quote_inside_a_quoted_field_is_doubled():
    # The RFC's "aaa","b""bb","ccc"
    log = read("\r\n".join(['"Time","b""bb","ccc"', *ROWS]))
    assert [channel.header for channel in log.channels] == ['b"bb', "ccc"]


@pytest.mark.parametrize("quoting", [csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC])
def test_what_pythons_csv_module_writes_reads_back(quoting):
    # Outside: the csv module of Python's standard library writes RFC 4180 by default
    out = io.StringIO()
    writer = csv.writer(out, quoting=quoting)
    writer.writerow(["Time, s", 'say "RPM"', "Engine Speed"])
    for i in range(40):
        writer.writerow([i * 0.01, i * 1.5, 1000.25 + 7 * i])
    log = read(out.getvalue())
    assert np.array_equal(log.get("engine_speed").values, 1000.25 + 7 * np.arange(40))
    assert log.channels[0].header == 'say "RPM"'
