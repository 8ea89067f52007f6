"""Delimiter, decimal mark and the first row of data."""

import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.text.encoding import read_text
from passband.analysis.reading.text.layout import find_layout


def layout_of(text: str):
    return find_layout(read_text(text.encode(), name="x"), name="x")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_each_delimiter_is_told_from_the_rows(delimiter):
    rows = "\n".join(delimiter.join([f"{i}.5", f"{i}", "7"]) for i in range(9))
    layout = layout_of(delimiter.join("abc") + "\n" + rows)
    assert (layout.delimiter, layout.decimal, layout.width, layout.first_data.number) == (delimiter, ".", 3, 2)


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_decimal_comma_is_not_taken_for_a_delimiter(delimiter):
    layout = layout_of("\n".join(delimiter.join([f"{i},5", "3,25", "7"]) for i in range(9)))
    assert (layout.delimiter, layout.decimal) == (delimiter, ",")


def test_preamble_with_as_many_delimiters_as_data_is_passed_over():
    preamble = "Fuel,methanol,cold\nRate,500,Hz\nTire,soft,new\n"
    assert layout_of(preamble + "Time,RPM,TPS\n" + "0.1,1000,5\n" * 6).first_data.number == 5


def test_sixty_preamble_lines_are_passed_over():
    layout = layout_of("key: value, and more\n" * 60 + "Time,RPM\ns,rpm\n" + "0.1,1000\n" * 9)
    assert layout.first_data.number == 63


def test_what_each_column_holds():
    layout = layout_of("t,rpm,cut,note,egt\n" + "\n".join(f"0:00:0{i},{i},on,{'ok'},---" for i in range(9)))
    assert layout.column_kinds == ("clock", "number", "flag", "words", "no value")


def test_a_damaged_first_row_does_not_hide_the_rest():
    assert layout_of("Time,RPM\n0.1,xx\n" + "0.2,1000\n" * 9).first_data.number in (2, 3)


def test_numbers_in_prose_are_no_table():
    with pytest.raises(NotALog, match="none in 2 lines"):
        layout_of("We ran 9.1 at 150, then stopped.\nIt was 24 degrees.\n")
