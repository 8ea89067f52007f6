"""Columns that a log does not tell: asked about, answered once for a layout, and never asked about again."""

from __future__ import annotations

import pytest

from passband.analysis.reading import describe, doubts_of, read_log

WITHOUT_UNITS = ("Time", "RPM", "Speed", "Wheel Speed Left", "Wheel Speed Right")


def log_of(names: tuple[str, ...], *, rows: int = 400, slope: float = 0.4) -> bytes:
    """A log whose columns follow their names, in whatever order they come."""
    made = {"Time": 0.01, "RPM": 12.0, "Speed": slope, "Wheel Speed Left": 0.41, "Wheel Speed Right": 0.42}
    base = {"RPM": 2000.0}
    lines = [",".join(names)]
    for row in range(rows):
        lines.append(",".join(f"{base.get(n.split(' [')[0], 0.0) + row * made[n.split(' [')[0]]:.2f}" for n in names))
    return "\n".join(lines).encode()


def test_columns_that_are_not_sure_are_asked_about_with_what_they_may_be():  # planted
    asked = {doubt.column: doubt for doubt in doubts_of(read_log(log_of(WITHOUT_UNITS), name="a.csv"))}
    assert set(asked) == {"Speed", "Wheel Speed Left", "Wheel Speed Right"}
    speed = asked["Speed"]
    assert (speed.taken_for, speed.unit) == ("wheel_speed_driven", "km/h") or speed.taken_for == "ground_speed"
    assert {"ground_speed", "wheel_speed_driven", "gps_speed", "as logged"} <= set(speed.channels)
    assert {"km/h", "mph"} <= set(speed.units)
    assert asked["Wheel Speed Right"].taken_for == "as logged" and "axle" in asked["Wheel Speed Right"].why


def test_a_layout_is_its_names_and_units_in_any_order_and_no_value():  # planted
    def layout(data: bytes) -> set[str]:
        return {doubt.layout for doubt in doubts_of(read_log(data, name="a.csv"))}

    first = layout(log_of(WITHOUT_UNITS))
    assert len(first) == 1
    assert layout(log_of(("Time", *reversed(WITHOUT_UNITS[1:])), slope=0.3)) == first
    assert layout(log_of(("Time", "RPM", "Speed", "Wheel Speed Left"))) != first
    assert layout(log_of(("Time", "RPM [rpm]", *WITHOUT_UNITS[2:]))) != first


def test_an_answer_is_taken_for_its_layout_alone_and_nothing_is_asked_twice():  # planted; 1 mph = 0.44704 m/s
    data = log_of(WITHOUT_UNITS)
    layout = doubts_of(read_log(data, name="a.csv"))[0].layout
    said = {"Speed": "ground_speed [mph]", "Wheel Speed Left": "wheel_speed_rl [mph]", "Wheel Speed Right": "ignore"}
    (log,) = read_log(data, name="a.csv", layouts={layout: said})
    assert log.doubts == ()
    speed = log.get("ground_speed")
    assert speed is not None and speed.confidence == 1.0
    assert speed.values[-1] == pytest.approx(399 * 0.4 * 0.44704, rel=1e-6)
    assert log.get("wheel_speed_rl") is not None
    assert "Wheel Speed Right" not in {channel.header for channel in log.channels}
    (other,) = read_log(log_of(WITHOUT_UNITS[:4]), name="b.csv", layouts={layout: said})
    assert other.get("ground_speed") is None or other.get("ground_speed").confidence < 1.0


def test_right_as_it_is_can_be_said_of_each_and_ends_the_asking():  # planted
    data = log_of(WITHOUT_UNITS)
    before = read_log(data, name="a.csv")
    doubts = doubts_of(before)
    said = {
        one.column: f"{one.taken_for} [{one.unit}]" if one.taken_for != "as logged" else "as logged" for one in doubts
    }
    (after,) = read_log(data, name="a.csv", layouts={doubts[0].layout: said})
    assert after.doubts == ()
    assert {one.header: one.name for one in after.channels} == {one.header: one.name for one in before[0].channels}


def test_an_answer_for_the_layout_wins_over_what_goes_for_all_logs_of_the_car():  # planted
    data = log_of(WITHOUT_UNITS)
    layout = doubts_of(read_log(data, name="a.csv"))[0].layout
    (log,) = read_log(
        data, name="a.csv", mapping={"Speed": "gps_speed"}, layouts={layout: {"Speed": "ground_speed [km/h]"}}
    )
    assert log.get("ground_speed") is not None and log.get("gps_speed") is None


def test_values_are_described_as_the_log_writes_them():  # hand: 212 degF is 373.15 K
    rows = "\n".join(f"{row * 0.1:.1f},{1000 + row},{150 + row * 0.5:.1f}" for row in range(125))
    told = describe(read_log(f"Time [s],RPM,Coolant Temp [degF]\n{rows}\n".encode(), name="a.csv"))
    coolant = next(one for one in told.channels if one.channel == "coolant_temperature")
    assert (coolant.unit_read, coolant.least_logged) == ("degF", pytest.approx(150.0))
    assert coolant.greatest_logged == pytest.approx(212.0) and coolant.greatest == pytest.approx(373.15)


def test_a_word_cut_short_that_may_be_another_things_is_asked_about():  # planted: intake, interior or internal
    rows = "\n".join(f"{row * 0.01:.2f},{3000 + row},{30 + row % 5}" for row in range(300))
    (log,) = read_log(f"Time [s],RPM,Int. temp [degC]\n{rows}\n".encode(), name="a.csv")
    (doubt,) = log.doubts
    assert (doubt.column, doubt.taken_for) == ("Int. temp [degC]", "intake_temperature")
    assert "interior" in doubt.why and {"intake_temperature", "as logged"} <= set(doubt.channels)
    (log,) = read_log(f"Time [s],RPM,Intak. temp [degC]\n{rows}\n".encode(), name="a.csv")
    assert log.doubts == () and log.get("intake_temperature") is not None
