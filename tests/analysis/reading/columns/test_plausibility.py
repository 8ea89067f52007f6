"""What unit and values say of a column."""

import numpy as np
import pytest

from passband.analysis.reading import read_log

N = 300
RISE = np.linspace(0, 1, N)


def read(**columns):
    """A log of columns, header to values."""
    names = ["Time [s]", *columns]
    cells = [[f"{i * 0.01:.2f}" for i in range(N)], *[[f"{v:.6g}" for v in values] for values in columns.values()]]
    text = "\t".join(names) + "\n" + "\n".join("\t".join(row) for row in zip(*cells, strict=True)) + "\n"
    (log,) = read_log(text.encode(), name="x")
    return log


def only(name, header, values):
    log = read(**{header: values})
    channel = log.get(name)
    assert channel is not None, [one.name for one in log.channels]
    return channel, [finding.code for finding in log.findings]


@pytest.mark.parametrize(
    ("header", "low", "high", "channel", "top_pa"),
    [
        ("MAP [kPa]", 33, 280, "manifold_pressure", 280e3),
        ("MAP [psi]", -9.5, 30, "boost", 206842.7),
        ("MAP", -9.5, 30, "boost", 206842.7),
        ("Boost [kPa]", 33, 280, "manifold_pressure", 280e3),
        ("Boost [kPa]", -66, 180, "boost", 180e3),
        ("Boost [bar(a)]", 0.4, 2.8, "manifold_pressure", 280e3),
        ("Manifold Pressure [psig]", 0, 30, "boost", 206842.7),
        ("MAP", 0.35, 2.8, "manifold_pressure", 280e3),
        ("MAP", 33, 280, "manifold_pressure", 280e3),
    ],
)
def test_gauge_or_absolute_by_unit_and_values(header, low, high, channel, top_pa):
    found, _ = only(channel, header, low + (high - low) * RISE)
    assert found.values[-1] == pytest.approx(top_pa, rel=1e-3)


def test_a_name_that_says_otherwise_is_told():
    _, codes = only("boost", "MAP [psi]", -9.5 + 40 * RISE)
    assert "gauge-or-absolute" in codes


@pytest.mark.parametrize(
    ("header", "top", "si"),
    [("Coolant Temp", 95, 368.15), ("Coolant Temp", 200, 366.483), ("TPS", 100, 1.0), ("TPS", 1.0, 1.0)],
)
def test_a_unit_nowhere_is_taken_from_the_values_and_told(header, top, si):
    log = read(**{header: top * (0.9 + 0.1 * RISE) if top > 1 else RISE})
    assert log.channels[0].values[-1] == pytest.approx(si, rel=1e-3)
    assert [finding.code for finding in log.findings] == ["unit-assumed"]
    assert log.channels[0].confidence < 0.9


def test_speeds_without_a_unit_follow_an_american_log():
    log = read(**{"RPM": 3000 + 3000 * RISE, "Water Temp [F]": 180 + RISE, "Ground Speed": 100 * RISE})
    assert log.get("ground_speed").values[-1] == pytest.approx(44.704)


@pytest.mark.parametrize("header", ["AFR", "Lambda", "Lambda [AFR]"])
def test_air_to_fuel_ratios_become_lambda(header):
    found, codes = only("lambda", header, 14.7 - 2.9 * RISE)
    assert found.values[-1] == pytest.approx(11.8 / 14.7, rel=1e-3) and codes == ["afr-taken-as-lambda"]


def test_a_lambda_is_not_divided_by_the_stoichiometric_ratio():
    found, codes = only("lambda_1", "Lambda 1", 1.0 - 0.2 * RISE)
    assert found.values[-1] == pytest.approx(0.8) and codes == []


@pytest.mark.parametrize(
    "header", ["Throttle [V]", "Oil Pressure [V]", "Launch RPM [rpm]", "Clutch Temp [C]", "Lambda [V]"]
)
def test_a_unit_of_something_else_keeps_the_column_its_own_name(header):
    log = read(**{header: 1 + RISE})
    assert [channel.name for channel in log.channels] == [header]


@pytest.mark.parametrize(
    ("header", "values", "si"),
    [
        ("Coolant Temp [C]", 185 + RISE, 358.706),
        ("Oil Pressure [bar]", 350 + RISE, 351e3),
        ("Fuel Press [kPa]", 0.3, 0),
    ],
)
def test_a_written_unit_that_cannot_be_is_doubted(header, values, si):
    log = read(**{header: values + 0 * RISE})
    doubted = [finding for finding in log.findings if finding.code == "unit-doubted"]
    assert bool(doubted) == bool(si)
    if si:
        assert log.channels[0].values[-1] == pytest.approx(si, rel=1e-3) and doubted[0].level == "caution"


def test_a_speed_without_a_unit_is_a_caution():
    log = read(**{"Ground Speed": 100 * RISE})
    assert [(finding.code, finding.level) for finding in log.findings] == [("speed-unit-assumed", "caution")]


@pytest.mark.parametrize(
    ("header", "value", "channel", "si"),
    [
        ("Oil psi", 60, "oil_pressure", 413685),
        ("Oil [bar]", 4, "oil_pressure", 4e5),
        ("Fuel (psi)", 60, "fuel_pressure", 413685),
        ("Coolant psi", 16, "coolant_pressure", 110316),
        ("Water °F", 180, "coolant_temperature", 355.37),
        ("Oil °C", 96, "oil_temperature", 369.15),
        ("Exhaust [kPa]", 150, "back_pressure", 15e4),
        ("MPH", 100, "ground_speed", 44.704),
        ("GPS km/h", 90, "gps_speed", 25.0),
        ("GPS MPH", 100, "gps_speed", 44.704),
        ("Launch G", 1, "acceleration", 9.80665),
        ("Timing (Degrees BTDC)", 24, "ignition_advance", 24.0),
        ("Spark Deg", 24, "ignition_advance", 24.0),
        ("Lat", 48.137, "latitude", 48.137),
        ("Long", 11.575, "longitude", 11.575),
    ],
)
def test_the_unit_says_what_the_name_leaves_out(header, value, channel, si):
    # Hand: 1 psi = 6894.757 Pa, 1 mph = 0.44704 m/s, 1 g = 9.80665 m/s2.
    found, _ = only(channel, header, value + 0.001 * RISE)
    assert found.values[0] == pytest.approx(si, rel=1e-4)


@pytest.mark.parametrize("header", ["Clutch RPM", "Launch RPM", "Brake [C]", "Fan [rpm]", "TPS Volts", "Trans [psi]"])
def test_a_unit_makes_no_channel_of_another_thing(header):
    assert read(**{header: 3 + RISE}).channels[0].name == header


def test_what_moves_as_no_position_does_is_an_acceleration():
    log = read(Lat=0.6 * np.sin(9 * RISE), Long=1.9 * np.sin(3 * RISE) - 0.2)
    assert [channel.name for channel in log.channels] == ["acceleration_lateral", "acceleration"]


def test_lateral_and_latitude_by_unit():
    assert read(**{"Lat [g]": 0.1 * RISE}).get("acceleration_lateral") is not None
    assert read(**{"Lat [deg]": 48 + 0.01 * RISE}).get("latitude") is not None


def test_a_turning_speed_of_a_wheel_waits_for_the_tire():
    found, _ = only("wheel_speed_fl", "Wheel Speed FL [Hz]", 10 * RISE)
    assert (found.unit, found.values[-1]) == ("rpm", 600.0)


def test_a_cut_in_per_cent_is_no_shift_cut():
    assert read(**{"Cut": 100 * RISE}).get("shift_cut") is None
    assert read(**{"Cut": np.round(RISE)}).get("shift_cut") is not None


@pytest.mark.parametrize("unit", ["L/min", "cc/min", "l/h", "gal/h", "gph", "lpm", "ml/min", "US gal/min"])
@pytest.mark.parametrize("told", [{}, {"Fuel Flow": "fuel_flow"}])
def test_a_fuel_flow_by_volume_is_no_mass_even_where_it_is_mapped(unit, told):
    (log,) = read_log(f"Time [s],Fuel Flow [{unit}]\n".encode() + b"0.0,30\n0.1,31\n0.2,33\n", name="x", mapping=told)
    assert [(channel.name, channel.unit) for channel in log.channels] == [(f"Fuel Flow [{unit}]", unit)]
    (found,) = log.findings
    assert found.code == ("unit-against-mapping" if told else "fuel-flow-by-volume")
    assert "by mass" in found.text or "cannot become kg/s" in found.text


@pytest.mark.parametrize(("unit", "kg_s"), [("kg/h", 1 / 3600), ("lb/h", 0.45359237 / 3600), ("g/s", 1e-3)])
def test_a_fuel_flow_by_mass(unit, kg_s):
    # Hand: international pound 0.45359237 kg.
    found, codes = only("fuel_flow", f"Fuel Flow [{unit}]", 30 + RISE)
    assert found.values[-1] == pytest.approx(31 * kg_s) and codes == []


def test_a_fuel_flow_without_a_unit_is_a_caution():
    log = read(**{"Fuel Flow": 60 + RISE})
    assert [(finding.code, finding.level) for finding in log.findings] == [("flow-unit-assumed", "caution")]


def test_a_mapping_that_the_unit_speaks_against_is_told_and_not_followed():
    data = b"Time [s],Sensor 4 [V]\n0.0,2.5\n0.1,2.6\n0.2,2.7\n"
    (log,) = read_log(data, name="x", mapping={"Sensor 4": "oil_pressure"})
    assert [channel.name for channel in log.channels] == ["Sensor 4 [V]"]
    assert [(finding.code, finding.level) for finding in log.findings] == [("unit-against-mapping", "caution")]


@pytest.mark.parametrize(("top", "volts"), [(13.8, 13.8), (395.0, 395.0), (820.0, 820.0), (13800.0, 13.8)])
def test_a_battery_may_be_an_electric_drives_pack(top, volts):
    # Hand: packs of electric drives stand at 400 or 800 V; 13,800 is a supply in mV whatever the header says
    channel, codes = only("battery", "Battery Voltage [V]", top * (0.95 + 0.05 * RISE))
    assert channel.values[-1] == pytest.approx(volts, rel=1e-3)
    assert bool(codes) == (top > 1000)
