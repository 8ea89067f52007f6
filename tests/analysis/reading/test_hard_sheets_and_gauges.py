"""Vacuums, gauges of two units, numbers taken for dates, buses stamped in nanoseconds, clocks set amid a recording.

All *planted*: each log is one run (`hard_run`) written as somebody would.
"""

from __future__ import annotations

import datetime
import functools

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from tests.analysis.reading.hard_logs import assert_holds_run, read_one, read_table
from tests.analysis.reading.hard_run import Cells, hard_run, printed, table, usual

RUN = hard_run(rate_hz=50.0)
STAMPS = printed(RUN.time_s, 2)
read_columns = functools.partial(read_table, RUN, digits=2)
assert_reads = functools.partial(assert_holds_run, RUN)
PSI_PA, INHG_PA, G_MPS2 = 6894.757293168, 3386.389, 9.80665


def levels(log: Log) -> dict[str, str]:
    """But for the run's own leap of engine speed off the line."""
    return {one.code: one.level for one in log.findings if one.code != "engine-speed-leaps"}


def test_a_vacuum_is_a_pressure_below_the_airs_with_its_sign_turned():
    pan = np.full(RUN.time_s.size, 4000.0) + 200.0 * RUN.throttle
    log = read_columns({**usual(RUN), "Pan Vacuum [inHg]": printed(pan / INHG_PA, 2)})
    found = log.get("crankcase_pressure")
    assert found is not None and found.values == pytest.approx(-pan, abs=40.0)
    assert levels(log)["sign-turned"] == "note"


def test_a_vacuum_that_runs_into_boost_so_far_that_both_signs_fit_is_not_read():
    mixed = RUN.of("boost") / INHG_PA * 0.8
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Manifold Vacuum [inHg]": printed(mixed, 1)})
    assert log.get("boost") is None


def test_a_gauge_counts_in_inches_below_zero_and_in_psi_above():
    boost = RUN.of("boost")
    mixed = np.where(boost < 0.0, boost / INHG_PA, boost / PSI_PA)
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Vac/Boost (-inHg/+psi)": printed(mixed, 2)})
    assert_reads(log, "boost")


def test_an_angle_after_dead_centre_is_an_advance_with_its_sign_turned():
    after = -20.0 + 8.0 * RUN.throttle
    log = read_columns({**usual(RUN), "Timing (deg ATDC)": printed(after, 1), "MAT": printed(after + 60.0, 1)})
    found = log.get("ignition_advance")
    assert found is not None and found.values == pytest.approx(-after, abs=0.06)


def test_a_row_of_units_says_more_than_the_last_word_of_a_name():  # "Long G" is no longitude, nor in g
    columns = {"Time": ["s", *STAMPS], "RPM": ["rpm", *printed(RUN.engine_speed, 0)],
               "Long G": ["mG", *printed(1000.0 * RUN.acceleration / G_MPS2, 0)]}  # fmt: skip
    log = read_one(table(columns))
    assert_reads(log, "acceleration")
    assert log.get("longitude") is None and "caution" not in levels(log).values()


MONTHS = ("Jan", "Feb", "Mrz", "Apr", "Mai", "Jun", "Jul", "Aug", "Sep", "Okt", "Nov", "Dez")


def test_numbers_that_a_sheet_took_for_dates_are_numbers_again():
    def as_kept(cell: str) -> str:
        day, _, month = cell.partition(".")
        dated = 1 <= int(day) <= 28 and 1 <= int(month) <= 12
        return f"{int(day):02d}. {MONTHS[int(month) - 1]}" if dated else cell

    boost = printed(RUN.of("boost") / PSI_PA, 1)
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Boost (psi)": [as_kept(cell) for cell in boost]})
    assert_reads(log, "boost")
    assert levels(log)["numbers-written-otherwise"] == "caution"


def test_a_bus_stamped_in_nanoseconds_whose_messages_come_close_together():
    lines = ["timestamp_ns;message;signal;value;unit"]
    for at, second in enumerate(RUN.time_s):
        stamp = 1_716_042_725_123_456_789 + round(1e9 * float(second))
        lines.append(f"{stamp};E1;EngineSpeed;{RUN.engine_speed[at]:.1f};rpm")
        lines.append(f"{stamp + 112_000};E1;ThrottlePosition;{100 * RUN.throttle[at]:.1f};%")
        lines.append(f"{stamp + 700_000};B2;VehicleSpeed;{3.6 * RUN.ground_speed[at]:.2f};km/h")
    log = read_one(("\n".join(lines) + "\n").encode())
    assert_reads(log, "engine_speed", "throttle", "ground_speed")
    assert log.time.last_s - log.time.first_s == pytest.approx(RUN.time_s[-1], abs=0.01)


def test_a_clock_set_amid_a_recording_parts_no_run():  # only engine speed moves at the jump
    since = [datetime.datetime(2000, 1, 1, 0, 0, 12) + datetime.timedelta(seconds=float(at)) for at in RUN.time_s]
    at_gps = datetime.datetime(2024, 5, 18, 14, 32, 5) - since[200]
    stamps = [str(one if at < 200 else one + at_gps)[:23] for at, one in enumerate(since)]
    log = read_one(table({"Timestamp": stamps, "RPM": printed(RUN.engine_speed, 0), "Lambda": printed(RUN.lambda_, 3)}))
    assert_reads(log, "engine_speed", "lambda")
    assert levels(log)["clock-jumped-ahead"] == "caution"


def test_what_a_driver_wrote_down_is_a_remark_and_no_damage():
    notes = [""] * RUN.time_s.size
    notes[5], notes[100], notes[400] = "in beams", "go", "lift"
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Note": notes, "TPS [%]": printed(100 * RUN.throttle, 1)})
    assert_reads(log, "engine_speed", "throttle")
    assert levels(log) == {"columns-of-words": "note"}


def test_a_scale_whose_word_stands_over_the_first_column():
    rows = ["Channel,Time,RPM,Coolant Temp", "Unit,s,rpm,°C", "Scale,0.001,0.25,1", "Offset,0,0,-40"]
    for at, second in enumerate(RUN.time_s):
        coolant = RUN.coolant_temperature[at] - 273.15 + 40.0
        rows.append(f"{at},{1000 * second:.0f},{4 * RUN.engine_speed[at]:.0f},{coolant:.0f}")
    log = read_one(("\n".join(rows) + "\n").encode())
    assert_reads(log, "engine_speed", "coolant_temperature")
    assert levels(log)["scales-stated"] == "note"  # no column has both, so their order is nothing


def test_names_under_groups_and_names_that_two_lines_give():
    cells = {f"Cyl {number}": printed(RUN.exhaust_temperature - 273.15 + number, 0) for number in (1, 2, 3)}
    head = ",Engine,Exhaust temperature,,\n"
    log = read_one(head.encode() + table({"Time [s]": STAMPS, "RPM": printed(RUN.engine_speed, 0), **cells}))
    assert {f"exhaust_temperature_{number}" for number in (1, 2, 3)} <= {channel.name for channel in log.channels}
    lines = [
        "         Engine  Manifold  Coolant",
        "   Time   Speed  Pressure     Temp",
        "  (sec)   (rpm)     (kPa)   (degC)",
    ]
    for at, second in enumerate(RUN.time_s):
        lines.append(f"{second:7.2f} {RUN.engine_speed[at]:7.0f}  {RUN.manifold_pressure[at] / 1e3:8.1f}"
                     f"  {RUN.coolant_temperature[at] - 273.15:7.1f}")  # fmt: skip
    assert_reads(read_one("\n".join(lines).encode()), "engine_speed", "manifold_pressure", "coolant_temperature")


def test_marks_of_direction_and_of_byte_order_stand_in_no_number():
    rows = table({"Time [s]": STAMPS, "RPM": printed(RUN.engine_speed, 0),
                  "Oil pressure [bar]": ["\u200e" + cell for cell in printed(RUN.oil_pressure / 1e5, 2)]})  # fmt: skip
    lines = rows.decode().splitlines()
    log = read_one("\n".join([*lines[:300], "\ufeff" + lines[300], *lines[301:]]).encode())
    assert_reads(log, "engine_speed", "oil_pressure")
    assert not levels(log)


def test_one_speed_printed_twice_by_a_program_that_numbers_copies():
    log = read_columns({**usual(RUN), "Speed [km/h]": printed(3.6 * RUN.ground_speed, 1),
                        "Speed.1 [km/h]": printed(3.6 * RUN.ground_speed, 0)})  # fmt: skip
    assert_reads(log, "wheel_speed_driven")


@pytest.mark.parametrize(
    ("begin", "cell", "row", "end"),
    [
        ("[table]\n", "[td]{}[/td]", "[tr]{}[/tr]\n", "[/table]"),
        ("{\\rtf1\\ansi{\\fonttbl{\\f0 Mono;}}\\f0 ", "{}\\tab ", "{}\\par\n", "}"),
    ],
)
def test_a_forums_table_and_a_word_processors_page(begin, cell, row, end):
    lines = table({"Time [s]": STAMPS, **usual(RUN)}).decode().splitlines()
    body = "".join(row.format("".join(cell.format(one) for one in line.split(","))) for line in lines)
    assert_reads(read_one((begin + body + end).encode()), "engine_speed", "throttle", "manifold_pressure")


def test_letters_that_lines_above_explain_with_a_comma_before_the_unit():
    legend = "N = engine speed, rpm\nP1 = oil pressure, bar\nT1 = coolant temperature, degC\n\n"
    cells = {"t": STAMPS, "N": printed(RUN.engine_speed, 0), "P1": printed(RUN.oil_pressure / 1e5, 2),
             "T1": printed(RUN.coolant_temperature - 273.15, 1)}  # fmt: skip
    assert_reads(read_one(legend.encode() + table(cells)), "engine_speed", "oil_pressure", "coolant_temperature")


def test_channels_in_sections_of_their_own_rates():
    def section(name: str, unit: str, cells: Cells, rate: int) -> str:
        return f"[{name}]\nunit={unit}\nrate={rate} Hz\nsamples={len(cells)}\n" + "\n".join(cells) + "\n\n"

    slow = printed(100 * RUN.throttle, 1)[::5]
    log = read_one(
        (section("Engine Speed", "rpm", printed(RUN.engine_speed, 0), 50) + section("TPS", "%", slow, 10)).encode()
    )
    assert_reads(log, "engine_speed")
    found = log.get("throttle")
    assert found is not None and found.time_s[-1] == pytest.approx(RUN.time_s[::5][-1], abs=0.01)


def test_a_table_that_stands_in_one_quoted_cell():
    data = b'pull,log\n7,"' + table({"Time [s]": STAMPS, **usual(RUN)}) + b'"\n'
    assert_reads(read_one(data), "engine_speed", "throttle", "manifold_pressure")


def test_target_over_a_name_is_not_the_measured_one():
    rpm, map_kpa = printed(RUN.engine_speed, 0), printed(RUN.manifold_pressure / 1e3, 1)
    head = ",Target,,Actual,,\nTime [s],RPM,MAP [kPa],RPM,MAP [kPa],TPS [%]\n"
    rows = [f"{at},9000,210.0,{one},{other},50" for at, one, other in zip(STAMPS, rpm, map_kpa, strict=True)]
    assert_reads(read_one((head + "\n".join(rows) + "\n").encode()), "engine_speed", "manifold_pressure")


def test_a_comma_and_a_blank_within_a_name_part_no_cells():
    head = "Time [s],Wheel speed, front left [km/h],RPM\n"
    rows = zip(STAMPS, printed(3.6 * RUN.ground_speed, 1), printed(RUN.engine_speed, 0), strict=True)
    log = read_one((head + "\n".join(map(",".join, rows)) + "\n").encode())
    assert_reads(log, "engine_speed")
    assert log.get("wheel_speed_fl") is not None and not levels(log)


def test_temperatures_in_tenths_of_no_told_degree_are_asked_about():  # the intake's alone would fit kelvin
    coolant, intake = (10 * (one - 273.15) for one in (RUN.coolant_temperature, RUN.intake_temperature))
    log = read_columns({**usual(RUN), "CLT": printed(coolant, 0), "IAT": printed(intake, 0)})
    assert log.get("intake_temperature") is None and log.get("coolant_temperature") is None
    assert levels(log)["unit-not-known"] == "caution"


def test_a_small_table_below_the_rows_is_none_of_them():
    below = b"\nEvents\nTime [s],Event,Value\n2.00,Launch,1\n4.10,Upshift,2\n10.50,Lift,0\n"
    log = read_one(table({"Time [s]": STAMPS, **usual(RUN)}) + below)
    assert_reads(log, "engine_speed", "throttle")
    assert levels(log) == {"lines-after-the-rows": "note"}


def test_axes_in_thousandths_of_g_share_them_where_one_fits_nothing_else():
    along, across = 1e3 * RUN.acceleration / G_MPS2, np.full(RUN.time_s.size, 12.0)
    up = 1000.0 + 5.0 * np.sin(RUN.time_s)
    log = read_columns(
        {**usual(RUN), "Accel X": printed(along, 0), "Accel Y": printed(across, 0), "Accel Z": printed(up, 0)}
    )
    found = {name: log.get(name) for name in ("acceleration", "acceleration_lateral", "acceleration_vertical")}
    assert found["acceleration"].values == pytest.approx(RUN.acceleration, abs=0.01)
    assert found["acceleration_lateral"].values == pytest.approx(0.012 * G_MPS2, abs=0.01)  # alone: 12 m/s2
    assert found["acceleration_vertical"].values == pytest.approx(1e-3 * up * G_MPS2, abs=0.01)
    assert levels(log)["unit-doubted"] == "caution"


@pytest.mark.parametrize("header", ["km/h", "KM/H", "mph"])
def test_a_speed_named_by_its_unit_alone_is_a_speed(header):
    per_mps = 3.6 if header.lower() == "km/h" else 3600.0 / 1609.344
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), header: printed(per_mps * RUN.ground_speed, 2)})
    speeds = [one for one in log.channels if one.header == header]
    assert speeds[0].unit == "m/s" and speeds[0].values == pytest.approx(RUN.ground_speed, abs=0.01)


@pytest.mark.parametrize(("unit", "reads"), [("C", "-40"), ("F", "-40.0"), ("C", "0"), ("C", "85"), ("C", "3")])
def test_a_coolant_that_reads_throughout_as_an_open_sensor_does_is_none(unit, reads):
    log = read_columns({**usual(RUN), f"Coolant [{unit}]": [reads] * RUN.time_s.size})
    coolant = log.get("coolant_temperature")
    assert bool(np.isfinite(coolant.values).any()) is (reads in ("85", "3"))
    assert ("flat-channel" in levels(log)) is (reads not in ("85", "3"))


def test_times_too_wide_for_their_column_are_no_remarks_and_the_advice_is_given():
    stamps = ["#####" if stamp > 9.0 else f"{stamp:.2f}" for stamp in RUN.time_s]
    stamps[200] = "####"
    text = table(
        {
            "Time": stamps,
            "RPM": printed(RUN.engine_speed, 0),
            "MAP [kPa]": printed(RUN.of("manifold_pressure") / 1e3, 1),
        }
    )
    log = read_one(text)
    assert levels(log)["rows-without-time"] == "caution" and "remarks-amid-the-rows" not in levels(log)
    assert any("make it wider there" in one.text for one in log.findings)
    placed = log.get("engine_speed")
    assert placed.time_s[200] == pytest.approx(RUN.time_s[200]) and placed.time_s[-1] == pytest.approx(9.0, abs=0.03)
