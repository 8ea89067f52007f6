"""One cell: number, time, switch, nothing, words."""

import pytest

from passband.analysis.reading.text.cells import kind_of_cell, number_of, split_line, unit_in_cell


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("1.5", ".", 1.5),
        ("-.5", ".", -0.5),
        ("1e-3", ".", 0.001),
        ("1,5", ",", 1.5),
        ("1.5", ",", None),
        ("1,5", ".", None),
        ("8,400", ".", 8400.0),
        ("8.400,5", ",", 8400.5),
        ("1 200", ".", 1200.0),
        ("45 %", ".", 45.0),
        ("88,1 mph", ",", 88.1),
        ("12-5", ".", None),
        ("", ".", None),
    ],
)
def test_a_number_is_read_by_the_decimal_mark_in_use(cell, decimal, value):
    assert number_of(cell, decimal) == value


@pytest.mark.parametrize(
    ("cell", "kind"),
    [
        ("", "blank"),
        ("---", "no value"),
        ("#N/A", "no value"),
        ("Inf", "no value"),
        ("ON", "flag"),
        ("0:00:01.5", "clock"),
        ("2026-05-01T12:00:00Z", "clock"),
        ("2026-05-01", "clock"),
        ("rpm", "words"),
        ("1/min", "words"),
    ],
)
def test_a_cell_is_of_the_kind_that_it_looks(cell, kind):
    assert kind_of_cell(cell, ".") == kind


def test_quotes_come_off_and_keep_delimiters():
    assert split_line('"a,b", "c ""d""",e', ",") == ["a,b", 'c "d"', "e"]


def test_a_stray_quote_swallows_nothing_beyond_its_line():
    assert split_line('1,"2,3', ",")[0] == "1"


def test_a_unit_is_found_behind_a_number_only():
    assert (unit_in_cell("13.8V"), unit_in_cell("13.8"), unit_in_cell("V")) == ("V", "", "")
