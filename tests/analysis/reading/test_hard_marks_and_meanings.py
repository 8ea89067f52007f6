"""Names one letter off, remarks and sums amid rows, columns without a delimiter, units that only the whole log refutes.

All *planted*: each log is one run (`hard_run`) written as somebody would.
"""

from __future__ import annotations

import functools
import json
import operator

import pytest

from passband.analysis.reading import doubts_of, read_log
from passband.analysis.reading.columns.answers import answer_text
from tests.analysis.reading.hard_logs import assert_holds_run, codes, read_one, read_table
from tests.analysis.reading.hard_run import hard_run, printed, table, usual

RUN = hard_run(rate_hz=50.0)
STAMPS = printed(RUN.time_s, 2)
read_columns = functools.partial(read_table, RUN, digits=2)
assert_reads = functools.partial(assert_holds_run, RUN)
PSI_PA, MPH_MPS = 6894.757293168, 0.44704


def rows_of(data: bytes) -> list[str]:
    return data.decode().splitlines()


@pytest.mark.parametrize(
    ("throttle", "coolant"),
    [
        ("Throtle [%]", "Colant Temp [C]"),
        ("Thorttle Pos [%]", "Coolent [C]"),
        ("Throttle Postion [%]", "Cooalnt T [C]"),
    ],
)
def test_names_one_letter_off_are_read_and_told(throttle, coolant):
    cells = {throttle: printed(100 * RUN.throttle, 1), coolant: printed(RUN.coolant_temperature - 273.15, 1)}
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), **cells})
    assert_reads(log, "throttle", "coolant_temperature")
    assert "name-completed" in codes(log)


def test_words_that_only_say_where_are_no_part_of_a_name():
    log = read_columns({"Rotação [rpm]": printed(RUN.engine_speed, 0),
                        "Pressão no coletor [kPa]": printed(RUN.manifold_pressure / 1e3, 1)})  # fmt: skip
    assert_reads(log, "engine_speed", "manifold_pressure")


def test_how_a_number_is_stored_stands_before_its_name():
    log = read_columns({"u16EngRpm": printed(RUN.engine_speed, 0), "fTpsPct": printed(100 * RUN.throttle, 1),
                        "i16EctDegC": printed(RUN.coolant_temperature - 273.15, 1)})  # fmt: skip
    assert_reads(log, "engine_speed", "throttle", "coolant_temperature")


def test_a_share_called_per_cent_is_read_as_a_share_and_confirmed_as_one():
    data = table({"Time [s]": STAMPS, "RPM": printed(RUN.engine_speed, 0), "tps_pct": printed(RUN.throttle, 3)})
    log = read_one(data)
    assert_reads(log, "throttle")
    (doubt,) = doubts_of([log])
    assert (doubt.unit, doubt.least, doubt.greatest) == ("0-1", 0.012, 0.992)
    right = {doubt.layout: {doubt.column: answer_text(doubt.taken_for, doubt.unit)}}
    (again,) = read_log(data, name="hard.csv", layouts=right)
    assert_reads(again, "throttle")
    assert not doubts_of([again])


def test_a_temperature_beside_one_in_doubt_is_in_doubt_too():
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "CLT [F]": printed(RUN.coolant_temperature - 273.15, 1),
                        "IAT [F]": printed(RUN.intake_temperature - 273.15, 1)})  # fmt: skip
    assert [doubt.column for doubt in doubts_of([log])] == ["CLT [F]", "IAT [F]"]


def test_a_fuel_pressure_that_rises_too_little_beside_the_manifold_is_in_psi():
    truth = 200e3 + RUN.manifold_pressure  # 300 kPa over the manifold's
    log = read_columns({**usual(RUN), "Fuel P [kPa]": printed(truth / PSI_PA, 1)})
    found = log.get("fuel_pressure")
    assert found is not None and found.values == pytest.approx(truth, abs=400.0)
    assert "unit-doubted" in codes(log)


def test_a_turbo_speed_in_thousands_is_no_turbo_that_hardly_turns():
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Turbo Speed": printed(RUN.engine_speed * 0.017, 1)})
    found = log.get("turbo_speed")
    assert found is not None and found.values.max() == pytest.approx(RUN.engine_speed.max() * 17.0, rel=0.01)
    assert "unit-assumed" in codes(log)


def test_a_letter_that_follows_a_letter_in_the_gears_steps_is_engine_speed():
    log = read_one(table({"t": STAMPS, "n": printed(RUN.engine_speed, 0), "v": printed(3.6 * RUN.ground_speed, 1)}))
    assert_reads(log, "engine_speed")
    assert "engine-speed-assumed" in codes(log)


def test_times_in_hundredths_are_no_milliseconds_of_a_car_quicker_than_any():
    log = read_one(table({"Time": printed(100 * RUN.time_s, 0), "RPM": printed(RUN.engine_speed, 0),
                      "MPH": printed(RUN.ground_speed / MPH_MPS, 1)}))  # fmt: skip
    assert log.channels[0].time_s[-1] == pytest.approx(RUN.time_s[-1], abs=0.02)


def test_remarks_amid_the_rows_are_no_rows_and_no_damage():
    lines = rows_of(table({"Time [s]": STAMPS, **usual(RUN)}))
    lines[101:101] = ["# mark, lane 2, deep, staged"]
    lines[301:301] = ["// lost 0 frames"]
    log = read_one("\n".join(lines).encode())
    assert_reads(log, "engine_speed", "throttle", "manifold_pressure")
    assert "remarks-amid-the-rows" in codes(log) and not {"damaged-lines", "rows-without-time"} & codes(log)


def test_statistics_below_the_rows_are_no_rows():
    data = table({"Time [s]": STAMPS, **usual(RUN)}) + b"\nMinimum,1100,1.0,33\nMaximum,8200,99,211\nMean,4000,70,90\n"
    log = read_one(data)
    assert log.text.rows == RUN.time_s.size and "rows-without-time" not in codes(log)


def test_one_last_row_whose_time_is_damaged_is_no_footer():
    log = read_one(table({"Time [s]": [*STAMPS[:-1], "Err"], **usual(RUN)}))
    assert "rows-without-time" in codes(log)


def test_a_remark_of_several_lines_in_a_cell_takes_no_row_with_it():
    remarks = [""] * RUN.time_s.size
    remarks[60] = '"lane 2,\nwind from the left\nstaged deep"'
    log = read_columns({"Remark": remarks, **usual(RUN)})
    assert_reads(log, "engine_speed", "manifold_pressure")


def test_a_quote_that_nothing_closes_takes_one_row_with_it():
    remarks = [""] * RUN.time_s.size
    remarks[60], remarks[90] = '"wide', '"late"'
    log = read_columns({"Remark": remarks, **usual(RUN)})
    assert log.text.rows == RUN.time_s.size - 1 and "damaged-lines" in codes(log)


def test_a_sum_behind_each_row_is_taken_off():
    lines = rows_of(table({"Time [s]": STAMPS, **usual(RUN)}))
    summed = [f"{row}*{functools.reduce(operator.xor, row.encode()):02X}" for row in lines[1:]]
    assert_reads(read_one("\n".join([lines[0], *summed]).encode()), "engine_speed", "throttle", "manifold_pressure")


@pytest.mark.parametrize("delimiter", [":", "\x1f"])
def test_cells_parted_by_what_hardly_parts_any(delimiter):
    data = table({"Time [s]": STAMPS, **usual(RUN)}, delimiter=delimiter)
    assert_reads(read_one(data), "engine_speed", "throttle", "manifold_pressure")


def test_records_end_in_the_separator_made_for_them():
    data = table({"Time [s]": STAMPS, **usual(RUN)}, delimiter="\x1f").replace(b"\n", b"\x1e")
    assert_reads(read_one(data), "engine_speed", "throttle", "manifold_pressure")


def test_tabs_between_quoted_cells_beside_the_delimiter_are_no_part_of_them():
    quoted = {f'"{name}"': [f'"{cell}"' for cell in cells] for name, cells in usual(RUN).items()}
    log = read_one(table({'"Time [s]"': [f'"{stamp}"' for stamp in STAMPS], **quoted}, delimiter=" ;\t"))
    assert_reads(log, "engine_speed", "throttle", "manifold_pressure")


def test_digits_at_fixed_places_are_parted_under_their_names():
    cells = zip(RUN.time_s, RUN.engine_speed, RUN.manifold_pressure / 1e3, 100 * RUN.throttle, strict=True)
    rows = [f"{t:06.2f}{rpm:05.0f}{kpa:06.1f}{share:05.1f}" for t, rpm, kpa, share in cells]
    log = read_one("\n".join(["TIME  RPM  MAP   TPS  ", *rows, ""]).encode())
    assert_reads(log, "engine_speed", "throttle", "manifold_pressure")


@pytest.mark.parametrize("written", ["{}: {}", "{} = [{}];"])
def test_channels_from_left_to_right_behind_their_names(written):
    columns = {"Time": STAMPS, **{name.split(" [")[0]: cells for name, cells in usual(RUN).items()}}
    lines = [written.format(name, (", " if "[" in written else " ").join(cells)) for name, cells in columns.items()]
    assert_reads(read_one("\n".join(lines).encode()), "engine_speed", "throttle", "manifold_pressure")


def test_values_within_values_of_a_line_of_json_are_read():
    rows = zip(RUN.time_s, RUN.engine_speed, RUN.manifold_pressure, strict=True)
    made = [
        {"ts": round(t, 3), "rpm": round(rpm), "sensors": {"map_kpa": round(pa / 1e3, 1), "egt": [500, 501]}}
        for t, rpm, pa in rows
    ]
    log = read_one("\n".join(map(json.dumps, made)).encode())
    assert_reads(log, "engine_speed", "manifold_pressure")
    assert log.get("exhaust_temperature_2") is not None


def test_a_compact_stamp_with_a_zone_of_hours():
    stamps = [f"20260601T1200{t:06.3f}".replace(".", ",") + "+02" for t in RUN.time_s]
    log = read_one(table({"Zeitpunkt": stamps, "Drehzahl": printed(RUN.engine_speed, 1, decimal=",")}, delimiter=";"))
    assert_reads(log, "engine_speed")
    assert log.channels[0].time_s[-1] == pytest.approx(RUN.time_s[-1], abs=1e-6)


@pytest.mark.parametrize(("of_fuel", "level"), [(14.7, "note"), (9.0, "caution")])
def test_a_ratio_too_rich_for_petrol_is_asked_about(of_fuel, level):
    log = read_columns({**usual(RUN), "AFR": printed(of_fuel * RUN.lambda_, 2)})
    assert [found.level for found in log.findings if found.code == "afr-taken-as-lambda"] == [level]
