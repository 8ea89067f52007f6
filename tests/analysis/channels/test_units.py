"""Units as loggers write them."""

import pytest

from passband.analysis.channels.units import conversion_for, is_unit, plain_unit, read_unit, time_scale_s


@pytest.mark.parametrize(
    ("written", "kept", "value", "si"),
    [
        # Hand, from the definitions of the units
        ("[KPA]", "Pa", 100.0, 1e5),
        ("psi(g)", "Pa", 1.0, 6894.757293168361),
        ("bar abs", "Pa", 1.0, 1e5),
        ("deg F", "K", 212.0, 373.15),
        ("° C", "K", 0.0, 273.15),
        ("Â°C", "K", 0.0, 273.15),
        ("\ufffdC", "K", 0.0, 273.15),
        ("MPH", "m/s", 100.0, 44.704),
        ("km/hr", "m/s", 3.6, 1.0),
        ("Hz", "rpm", 10.0, 600.0),
        ("rpm x1000", "rpm", 7.2, 7200.0),
        ("m/s²", "m/s^2", 1.0, 1.0),
        ("G", "m/s^2", 1.0, 9.80665),
        ("pct", "", 50.0, 0.5),
        ("-", "", 1.0, 1.0),
        ("lb/hr", "kg/s", 3600.0, 0.45359237),
    ],
)
def test_written_units_become_si(written, kept, value, si):
    conversion = conversion_for(written, kept=kept)
    assert conversion is not None
    assert value * conversion.scale + conversion.offset == pytest.approx(si, rel=1e-9)


@pytest.mark.parametrize(("written", "kept"), [("V", "Pa"), ("rpm", "K"), ("counts", "Pa"), ("nonsense", "m/s")])
def test_a_unit_of_something_else_is_none(written, kept):
    assert conversion_for(written, kept=kept) is None


@pytest.mark.parametrize(
    ("written", "reference"),
    [("psig", "gauge"), ("kPa(a)", "absolute"), ("bar gauge", "gauge"), ("kPa", ""), ("g", "")],
)
def test_gauge_and_absolute_are_told_where_the_unit_says(written, reference):
    assert read_unit(written).reference == reference


@pytest.mark.parametrize("text", ["driven", "Throttle", "front left", "x y", ""])
def test_words_are_no_units(text):
    assert not is_unit(text)


def test_a_unit_is_known_in_any_case_and_spacing():
    assert plain_unit(" Deg  C ") == "deg c"


def test_units_of_time_are_seconds_and_a_pressure_is_none():
    assert [time_scale_s(text) for text in ("s", "MS", "µs", "ns", "min", "bar")] == [1.0, 1e-3, 1e-6, 1e-9, 60.0, None]


@pytest.mark.parametrize(
    ("written", "rpm"),
    [
        ("[min^-1]", 1.0), ("1/min", 1.0), ("r.p.m.", 1.0), ("rot/min", 1.0), ("об/мин", 1.0), ("obr/min", 1.0),
        ("ot/min", 1.0), ("varv/min", 1.0), ("RPM/10", 10.0), ("rpm/1000", 1000.0),
    ],
)  # fmt: skip
def test_turning_speeds_are_read_as_they_are_written(written, rpm):
    # Hand: one turn a minute in each way of writing it; a divided one is multiplied back.
    found = conversion_for(written, kept="rpm")
    assert is_unit(written.strip("[]")) and found is not None and found.scale == pytest.approx(rpm)
