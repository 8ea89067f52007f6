"""Counts whose key stands elsewhere, names explained below or above, rows that name their values, times now and then.

All *planted*: each log is one run (`hard_run`) written as somebody would.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading import read_log
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from tests.analysis.reading.hard_logs import codes
from tests.analysis.reading.hard_run import Cells, hard_run, printed, table, usual

RUN = hard_run(rate_hz=50.0)
STAMPS = printed(RUN.time_s, 2)
COUNTS = {
    "rpm": printed(4 * RUN.engine_speed, 0),
    "pm": printed(RUN.manifold_pressure / 50.0, 0),
    "te": printed(RUN.coolant_temperature - 233.15, 0),
    "vs": printed(100 * RUN.ground_speed, 0),
}
"""Quarters of a revolution, twentieths of a kPa, degrees above -40, hundredths of a metre a second."""


def read(text: str | bytes) -> Log:
    (log,) = read_log(text.encode() if isinstance(text, str) else text, name="hard.csv")
    return log


def assert_reads(log: Log, *channels: str, within: float = 0.006) -> None:
    for channel in channels:
        found, truth = log.get(channel), RUN.of(channel)
        assert found is not None, [one.name for one in log.channels]
        at = np.round(found.time_s * 50.0).astype(int)
        np.testing.assert_allclose(found.values, truth[at], atol=within * float(np.abs(truth).max()))


def values(log: Log, channel: str) -> np.ndarray:
    found = log.get(channel)
    assert found is not None, [one.name for one in log.channels]
    return found.values


def in_rows(columns: dict[str, Cells], delimiter: str = ";") -> str:
    return table({"t": printed(100 * RUN.time_s, 0), **columns}, delimiter=delimiter).decode()


def test_formulas_in_remarks_name_the_columns_and_turn_their_counts():
    above = (
        "// t   : tick of 1/100 s\n// rpm : engine speed = raw / 4 [rpm]\n"
        "// pm  : manifold pressure = raw * 0.05 [kPa]\n"
        "// te  : water temperature = raw - 40 [degC]\n// vs  : vehicle speed = raw * 0.01 [m/s]\n"
    )
    log = read(above + in_rows(COUNTS))
    assert_reads(log, "engine_speed", "manifold_pressure", "coolant_temperature", "wheel_speed_driven")
    assert log.time.last_s == pytest.approx(11.98)


def test_factors_and_offsets_in_words_above_are_used_and_told():
    above = (
        "; rpm   scale 0.25   offset 0    [rev/min]\n; pm    scale 0.05   offset 0    [kPa]\n"
        "; te    scale 1      offset -40  [degC]\n; vs    scale 0.036  offset 0    [km/h]\n"
    )
    named = {"rpm": COUNTS["rpm"], "MAP": COUNTS["pm"], "ECT": COUNTS["te"], "VSS": COUNTS["vs"]}
    log = read(above.replace("; pm ", "; MAP").replace("; te ", "; ECT").replace("; vs ", "; VSS") + in_rows(named))
    assert_reads(log, "engine_speed", "manifold_pressure", "coolant_temperature", "wheel_speed_driven")
    assert "scales-stated" in codes(log)


def test_numbers_of_channels_are_explained_by_a_table_with_factors():
    key = (
        "[signals]\nid;name;factor;offset;unit\n16;Engine speed;0.25;0;rpm\n17;Manifold pressure;0.05;0;kPa\n"
        "18;Coolant temperature;1;-40;degC\n\n[data]\nms;id;raw\n"
    )
    rows = [
        f"{1000 * t:.0f};{number};{cells[at]}"
        for at, t in enumerate(RUN.time_s)
        for number, cells in ((16, COUNTS["rpm"]), (17, COUNTS["pm"]), (18, COUNTS["te"]))
    ]
    log = read(key + "\n".join(rows) + "\n")
    assert_reads(log, "engine_speed", "manifold_pressure", "coolant_temperature")
    assert {"long-form", "scales-stated"} <= codes(log)


def test_headers_say_what_the_ends_of_their_counts_stand_for():
    cells = {
        "RPM": printed(RUN.engine_speed, 0),
        "Throttle (0..4095 = 0..100 %)": printed(4095 * RUN.throttle, 0),
        "MAP (0-1023 = 0-300 kPa)": printed(RUN.manifold_pressure / 300e3 * 1023, 0),
    }
    assert_reads(read(table({"Time [s]": STAMPS, **cells})), "engine_speed", "throttle", "manifold_pressure")


def test_values_within_values_keep_what_they_are_in_and_a_unit_beside_them():
    rows = [
        json.dumps(
            {
                "ts": round(1000 * t),
                "engine": {"speed_rpm": round(n), "oil": {"pressure_kPa": round(p / 1e3, 1)}},
                "wheels": {"fl": round(3.6 * v, 2), "fr": round(3.6 * v, 2)},
                "wheels_unit": "km/h",
            }
        )
        for t, n, p, v in np.column_stack((RUN.time_s, RUN.engine_speed, RUN.oil_pressure, RUN.ground_speed)).tolist()
    ]
    log = read("\n".join(rows) + "\n")
    assert_reads(log, "engine_speed", "oil_pressure")
    np.testing.assert_allclose(values(log, "wheel_speed_fl"), RUN.ground_speed, atol=0.01)


def test_gears_and_pedals_in_words_are_read_among_decimal_commas():
    words = ("Neutro", "Primera", "Segunda", "Tercera", "Cuarta", "Quinta")
    pressed = RUN.time_s < 2.0
    cells = {
        "Régimen (rpm)": printed(RUN.engine_speed, 0),
        "Marcha": [words[int(gear)] for gear in RUN.gear],
        "Embrague": ["pisado" if one else "suelto" for one in pressed],
        "Velocidad (km/h)": printed(3.6 * RUN.ground_speed, 1, decimal=","),
    }
    log = read(table({"Tiempo": printed(RUN.time_s, 2, decimal=","), **cells}, delimiter=";"))
    assert_reads(log, "engine_speed", "gear", "ground_speed")
    np.testing.assert_array_equal(values(log, "clutch"), pressed)


def test_rows_between_those_with_a_time_are_spread_evenly_where_the_values_go_on():
    stamps = [stamp if at % 5 == 0 else "" for at, stamp in enumerate(STAMPS)]
    log = read(table({"Time [s]": stamps, **usual(RUN)}))
    assert_reads(log, "engine_speed", "throttle", "manifold_pressure")
    assert "times-now-and-then" in codes(log) and values(log, "engine_speed").size == RUN.time_s.size


def test_rows_without_a_time_that_only_hold_on_are_not_spread():
    stamps = [stamp if at % 5 == 0 else "" for at, stamp in enumerate(STAMPS)]
    held = usual(hard_run(rate_hz=10.0))
    log = read(
        table({"Time [s]": stamps, **{name: [one for one in cells for _ in range(5)] for name, cells in held.items()}})
    )
    assert "times-now-and-then" not in codes(log)


def test_lines_above_each_table_say_whose_values_they_are():
    text = "RUN 7\n"
    for name, unit, values, step in (
        ("Engine speed", "rpm", RUN.engine_speed, 1),
        ("Throttle", "%", 100 * RUN.throttle, 2),
        ("Oil temperature", "degC", RUN.oil_temperature - 273.15, 25),
    ):
        text += f"\nCHANNEL;{name}\nUNIT;{unit}\nRATE;{50 // step} Hz\nTime;Value\n"
        text += "".join(f"{RUN.time_s[at]:.2f};{values[at]:.1f}\n" for at in range(0, RUN.time_s.size, step))
    assert_reads(read(text), "engine_speed", "throttle", "oil_temperature")


@pytest.mark.parametrize("form", ["{t:.2f},RPM,{n:.0f},TPS,{a:.1f}", "[ {t:8.3f}] RPM {n:.0f} TPS {a:.1f}"])
def test_rows_hold_names_and_numbers_by_turns(form):
    rows = [
        form.format(t=t, n=n, a=100 * a) for t, n, a in zip(RUN.time_s, RUN.engine_speed, RUN.throttle, strict=True)
    ]
    assert_reads(read("\n".join(rows) + "\n"), "engine_speed", "throttle")


def test_digits_without_a_delimiter_stand_where_a_remark_says():
    above = "; record: 1-6 time [ms], 7-11 engine speed [rpm], 12-15 throttle [0.1 %]\n"
    rows = [
        f"{1000 * t:06.0f}{n:05.0f}{1000 * a:04.0f}"
        for t, n, a in zip(RUN.time_s, RUN.engine_speed, RUN.throttle, strict=True)
    ]
    assert_reads(read(above + "\n".join(rows) + "\n"), "engine_speed", "throttle")


def test_columns_of_one_name_are_told_apart_by_their_groups_or_their_order():
    names = "Time,Speed,Lambda,Lambda,Speed"
    cells = zip(STAMPS, printed(RUN.engine_speed, 0), printed(RUN.lambda_, 3), printed(RUN.lambda_ + 0.02, 3),
                printed(3.6 * RUN.ground_speed, 1), strict=True)  # fmt: skip
    log = read(f"General,Engine,,,Chassis\n{names}\ns,rpm,,,km/h\n" + "".join(",".join(row) + "\n" for row in cells))
    assert_reads(log, "engine_speed", "ground_speed")
    np.testing.assert_allclose(
        values(log, "lambda_2") - values(log, "lambda_1"), 0.02, atol=1.1e-3
    )  # printed to thousandths
    assert "numbered-in-order" in codes(log)


def test_thousands_parted_by_a_raised_mark_are_numbers_to_the_last_row():
    cells = {"Motordrehzahl (U/min)": printed(RUN.engine_speed, 1, grouped="’")}
    log = read(table({"Zeit (ms)": printed(1000 * RUN.time_s, 0, grouped="’"), **cells}, delimiter=";"))
    assert_reads(log, "engine_speed")
    assert values(log, "engine_speed").size == RUN.time_s.size


def test_a_line_of_words_where_numbers_stand_is_a_remark_and_its_time_no_row():
    rows = table({"Time [s]": STAMPS, **usual(RUN)}).decode().splitlines()
    rows.insert(150, "3.07,SHIFT LIGHT,,")
    log = read("\n".join(rows) + "\n")
    assert_reads(log, "engine_speed", "throttle", "manifold_pressure")
    assert "remarks-amid-the-rows" in codes(log) and not codes(log) & {"clock-set-back", "unreadable-cells"}


def test_the_one_frequency_above_rows_without_a_time_is_their_rate_and_told():
    log = read("Kasi ya kumbukumbu: 50 Hz\n\n" + table(usual(RUN)).decode())
    assert_reads(log, "engine_speed", "throttle")
    assert "rate-assumed" in codes(log)


def test_an_air_to_fuel_ratio_is_divided_by_what_its_header_says():
    cells = {"RPM": printed(RUN.engine_speed, 0), "AFR (stoich 9.77)": printed(9.77 * RUN.lambda_, 2)}
    assert_reads(read(table({"Time [s]": STAMPS, **cells})), "lambda", within=0.01)


def test_thousands_of_revolutions_that_no_engine_turns_are_single_ones():
    log = read(table({"Time [s]": STAMPS, "RPM (x1000)": printed(RUN.engine_speed, 0)}))
    assert_reads(log, "engine_speed")
    assert "engine-speed-scale" in codes(log)


def test_two_points_of_each_channel_draw_its_line():
    above = "Calibration:\nChannel;raw1;value1;raw2;value2;unit\nMAP;0;0;1023;300;kPa\nECT;0;-40;1023;150;degC\n\n"
    cells = {
        "RPM": printed(RUN.engine_speed, 0),
        "MAP": printed(RUN.manifold_pressure / 300e3 * 1023, 0),
        "ECT": printed((RUN.coolant_temperature - 233.15) / 190 * 1023, 0),
    }
    log = read(above + table({"Time (s)": STAMPS, **cells}, delimiter=";").decode())
    assert_reads(log, "engine_speed", "manifold_pressure", "coolant_temperature")


def test_units_of_all_columns_stand_below_the_rows():
    cells = {"engine speed": printed(RUN.engine_speed, 0), "oil temp": printed(RUN.oil_temperature - 273.15, 1),
             "ground speed": printed(3.6 * RUN.ground_speed, 1)}  # fmt: skip
    below = "\nUnits: time = s, engine speed = rpm, oil temp = degC, ground speed = km/h\n"
    log = read(table({"time": STAMPS, **cells}).decode() + below)
    assert_reads(log, "engine_speed", "oil_temperature", "ground_speed")
    assert "speed-unit-assumed" not in codes(log)


def test_values_three_deep_in_one_object_of_json_are_kept_with_their_units():
    moments = np.column_stack((RUN.time_s, RUN.engine_speed, RUN.oil_temperature)).tolist()
    rows = [
        {
            "tempo": t,
            "motor": {"rotação": round(n), "óleo": {"temperatura": {"valor": round(k - 273.15, 1), "unidade": "°C"}}},
        }
        for t, n, k in moments
    ]
    assert_reads(read(json.dumps({"registros": rows}, ensure_ascii=False)), "engine_speed", "oil_temperature")


def test_records_of_a_name_a_line_stand_under_titles():
    text = "".join(
        f"[sample {at}]\ntime = {t:.2f}\nrpm = {n:.0f}\ntps = {100 * a:.1f}\n\n"
        for at, (t, n, a) in enumerate(zip(RUN.time_s, RUN.engine_speed, RUN.throttle, strict=True))
    )
    assert_reads(read(text), "engine_speed", "throttle")


@pytest.mark.parametrize(
    ("header", "channel"),
    [("УОЗ, град", "ignition_advance"), ("Зюйд (м/с)", None), ("Sonde lambda droite", "lambda_2"),
     ("Hjulhastighed HB [km/t]", "wheel_speed_rr"), ("Engin Sped (rpm)", "engine_speed"), ("Turn Speed", None),
     ("Bil.Hastighet", "ground_speed"), ("Oil Temp \ufffdF", "oil_temperature"), ("Boot Temp", None)],
)  # fmt: skip
def test_names_in_other_words_are_known_and_chance_is_not(header, channel):
    found = recognise_name(split_name_and_unit(header)[0])
    assert (found[0].channel if found else None) == channel
