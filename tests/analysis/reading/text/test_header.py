"""Names, units and preamble above the data."""

import pytest

from passband.analysis.reading.text.encoding import read_text
from passband.analysis.reading.text.header import read_header, tell_apart
from passband.analysis.reading.text.layout import find_layout
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.reading.text.preamble import units_from_preamble

ROWS = "0.01,1000,20\n" * 9


def header_of(above: str):
    return read_header(find_layout(read_text((above + ROWS).encode(), name="x"), name="x"))


@pytest.mark.parametrize(
    ("header", "name", "unit"),
    [
        ("Engine Speed [rpm]", "Engine Speed", "rpm"),
        ("Oil Temp (°C)", "Oil Temp", "°C"),
        ("Boost {bar}", "Boost", "bar"),
        ("Boost <psi(g)>", "Boost", "psi(g)"),
        ("Speed, km/h", "Speed", "km/h"),
        ("Speed / km/h", "Speed", "km/h"),
        ("Time in ms", "Time", "ms"),
        ("Speed in km/h", "Speed", "km/h"),
        ("Speed - km/h", "Speed", "km/h"),
        ("Vehicle Speed (driven) (km/h)", "Vehicle Speed (driven)", "km/h"),
        ("Vehicle Speed (driven)", "Vehicle Speed (driven)", ""),
        ("MAP_kPa", "MAP", "kPa"),
        ("Water Temp C", "Water Temp", "C"),
        ("Engine RPM", "Engine RPM", ""),
        ("Battery Volts", "Battery", "Volts"),
        ("Air In", "Air In", ""),
        ("A/F", "A/F", ""),
        ("Vehicle Speed km/h", "Vehicle Speed", "km/h"),
        ("Speed_km/h", "Speed", "km/h"),
        ("Engine Speed 1/min", "Engine Speed", "1/min"),
        ("Fuel Flow L/min", "Fuel Flow", "L/min"),
        ("Fuel Flow (US gal/min)", "Fuel Flow", "US gal/min"),
        ("Intake (per/min)", "Intake (per/min)", ""),
        ("Speed [km/h] (driven)", "Speed (driven)", "km/h"),
        ("Oil Pressure (bar) 2", "Oil Pressure 2", "bar"),
        ("EGT [1] degC", "EGT [1]", "degC"),
        ("Custom [counts]", "Custom", "counts"),
        ("", "", ""),
    ],
)
def test_unit_in_the_header(header, name, unit):
    assert split_name_and_unit(header) == (name, unit)


def test_units_in_a_row_of_their_own():
    header = header_of("Time,RPM,TPS\ns,1/min,%\n")
    assert (header.names, header.units) == (("Time", "RPM", "TPS"), ("s", "1/min", "%"))
    assert (header.header_line, header.units_line) == (1, 2)


def test_units_row_above_the_names_and_a_blank_line_below():
    header = header_of("s,1/min,%\nTime,RPM,TPS\n\n")
    assert (header.header_line, header.units_line, header.units) == (2, 1, ("s", "1/min", "%"))


def test_units_in_brackets_in_a_row_and_gaps():
    assert header_of("Time,RPM,TPS\n[s],,[%]\n").units == ("s", "", "%")


def test_the_row_with_the_known_names_is_the_header():
    header = header_of("Group A,,Group B\nTime,RPM,TPS\nElapsed,Crank,Blade\ns,rpm,%\n")
    assert (header.header_line, header.units_line) == (2, 4)
    assert ("Group A", "Group B") in header.preamble


def test_a_quoted_name_may_hold_a_line_break_and_the_delimiter():
    header = header_of('"Time","Engine\nSpeed","TPS, main"\n')
    assert header.names == ("Time", "Engine\nSpeed", "TPS, main")


def test_preamble_lines_keep_key_and_value():
    header = header_of('Fuel,methanol blend, cold\nTire,"soft, new"\nnote: one; two\nfree text\n\nTime,RPM,TPS\n')
    assert header.preamble == (
        ("Fuel", "methanol blend, cold"),
        ("Tire", "soft, new"),
        ("note", "one; two"),
        ("", "free text"),
    )


def test_no_header_numbers_the_columns():
    header = header_of("")
    assert (header.header_line, header.names) == (None, ("Column 1", "Column 2", "Column 3"))


def test_duplicates_get_one_suffix_and_stay_apart_from_real_ones():
    assert tell_apart(["T", "T", "T (2)", "T", ""]) == ["T", "T (3)", "T (2)", "T (4)", "Column 5"]


def test_units_in_the_preamble_by_channel_and_in_one_line():
    names = ["Time", "RPM", "MAP"]
    assert units_from_preamble((("MAP", "kPa"), ("RPM unit", "rpm"), ("Crew", "three")), names) == ["", "rpm", "kPa"]
    assert units_from_preamble((("Units", "s, rpm, bar"),), names) == ["s", "rpm", "bar"]


def test_a_text_longer_than_any_name_is_parted_into_nothing():
    prose = "speed / km, in bar: " * 500  # at each of its 2000 marks a unit was looked for, for seconds
    assert split_name_and_unit(prose) == (prose, "")
