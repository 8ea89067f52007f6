"""Logs as other programs hand them on: dumps, lists, two languages, clocks that were set by an hour. All *planted*."""

from __future__ import annotations

import datetime
import json

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import hard_run, printed, table

RUN = hard_run(seed=11)
TIME, RPM = printed(RUN.time_s, 2), printed(RUN.engine_speed, 0)
TPS, MAP = printed(100.0 * RUN.throttle, 1), printed(RUN.manifold_pressure / 1e3, 1)
ROWS = list(zip(TIME, RPM, TPS, MAP, strict=True))
NAMED = (("Time", "s", TIME), ("Engine Speed", "rpm", RPM), ("Throttle", "%", TPS), ("MAP", "kPa", MAP))
PLAIN = {"Time [s]": TIME, "Engine Speed [rpm]": RPM, "Throttle [%]": TPS, "MAP [kPa]": MAP}


def assert_whole(text: str | bytes) -> Log:
    (log,) = read_log(text if isinstance(text, bytes) else text.encode(), name="hard.log")
    for channel in ("engine_speed", "throttle", "manifold_pressure"):
        found = log.get(channel)
        assert found is not None, [one.name for one in log.channels]
        truth = np.interp(found.time_s, RUN.time_s, RUN.of(channel))
        np.testing.assert_allclose(found.values, truth, atol=0.006 * float(np.abs(truth).max()))
        assert found.values.size >= RUN.time_s.size // 5
    return log


def objects() -> str:
    return json.dumps({t: {"rpm": float(n), "tps": float(o), "map": float(p)} for t, n, o, p in ROWS})


def measured() -> str:
    units = ("s", "rpm", "%", "kPa")
    names = ("t", "engineSpeed", "throttle", "manifoldPressure")
    rows = [{n: {"v": float(x), "u": u} for n, x, u in zip(names, row, units, strict=True)} for row in ROWS]
    return json.dumps({"samples": rows})


def points() -> str:
    every = (1, 2, 5)
    return json.dumps(
        [
            {
                "channel": name,
                "unit": unit,
                "points": [[float(t), float(x)] for t, x in zip(TIME, cells, strict=True)][::step],
            }
            for (name, unit, cells), step in zip(NAMED[1:], every, strict=True)
        ]
    )


def lists() -> str:
    held = "".join(f'<channel name="{name}" unit="{unit}">{" ".join(cells)}</channel>' for name, unit, cells in NAMED)
    return f"<log>{held}</log>"


def lists_of_elements() -> str:
    held = "".join(
        f"<channel><name>{name}</name><unit>{unit}</unit><values>{''.join(f'<v>{x}</v>' for x in cells)}</values>"
        "</channel>"
        for name, unit, cells in NAMED
    )
    return f"<log>{held}</log>"


def dump() -> str:
    made = "CREATE TABLE log (time_s REAL, rpm REAL, tps_pct REAL, map_kpa REAL);\n"
    return made + "".join(f"INSERT INTO log VALUES ({', '.join(row)});\n" for row in ROWS)


def dump_of_many_rows() -> str:
    begin = "INSERT INTO `log` (`time_s`, `rpm`, `tps_pct`, `map_kpa`) VALUES\n"
    return begin + ",\n".join(f"({','.join(row)})" for row in ROWS) + ";\n"


def printed_by_a_program() -> str:
    return "\n".join(f"{{'time': {t}, 'rpm': {n}, 'tps': {o}, 'map': {p}}}" for t, n, o, p in ROWS)


def sentences_under_their_names() -> str:
    return "\r\n".join(["# $LOG,time s,rpm,tps %,map kPa", *(f"$LOG,{','.join(row)}*4A" for row in ROWS)])


def grouped_by_underscores() -> str:
    return table({**PLAIN, "Engine Speed [rpm]": [f"{x:_.0f}" for x in RUN.engine_speed]}).decode()


@pytest.mark.parametrize(
    "write",
    [objects, measured, points, lists, lists_of_elements, dump, dump_of_many_rows, printed_by_a_program,
     sentences_under_their_names, grouped_by_underscores],
)  # fmt: skip
def test_what_other_programs_hand_on_is_read(write):
    assert_whole(write())


def test_names_in_two_languages():
    names = (
        "Zeit / Time [s]",
        "Motordrehzahl / Engine Speed [1/min]",
        "Drosselklappe / Throttle [%]",
        "Ladedruck abs. / Manifold Pressure [kPa]",
    )
    log = assert_whole(table(dict(zip(names, PLAIN.values(), strict=True))))
    assert "time-column-assumed" not in {finding.code for finding in log.findings}


@pytest.mark.parametrize("hours", [1, -1])
def test_a_clock_set_for_summer_or_winter_amid_a_run_is_one_recording(hours):
    begin, change = datetime.datetime(2024, 3, 31, 2, 59, 55), datetime.datetime(2024, 3, 31, 3)

    def stamp(at: float) -> str:
        shown = begin + datetime.timedelta(seconds=float(at))
        return str(shown + datetime.timedelta(hours=hours) if shown >= change else shown)

    log = assert_whole(table({"Timestamp": [stamp(at) for at in RUN.time_s], **dict(list(PLAIN.items())[1:])}))
    assert {"clock-jumped-ahead", "clock-set-back"} & {finding.code for finding in log.findings}


def test_letters_of_formulas_in_units_of_turning():
    columns = {"t (s)": TIME, "n (krpm)": printed(RUN.engine_speed / 1e3, 3), **dict(list(PLAIN.items())[2:])}
    log = assert_whole(table(columns))
    assert "engine-speed-assumed" in {finding.code for finding in log.findings}
    rest = {name: cells for name, cells in PLAIN.items() if not name.startswith("Engine")}
    assert_whole(table({**rest, "omega_engine/(rad/s)": printed(RUN.engine_speed * np.pi / 30, 2)}))


def test_thousands_parted_by_points_before_a_unit():
    cells = [f"{x:,.0f}".replace(",", ".") + " U/min" for x in RUN.engine_speed]
    rest = {name: [cell.replace(".", ",") for cell in column] for name, column in PLAIN.items()}
    log = assert_whole(table({**rest, "Engine Speed [rpm]": cells}, delimiter=";"))
    engine = log.get("engine_speed")
    assert engine is not None and engine.values.max() > 8000.0


def test_channels_of_json_by_their_names():
    held = {name: {"unit": unit, "values": [float(cell) for cell in cells]} for name, unit, cells in NAMED}
    assert_whole(json.dumps({"meta": {"car": "12"}, "channels": held}))


def test_gears_with_the_word_before_their_number():
    log = assert_whole(table({**PLAIN, "Gear": [f"Gear {at:.0f}" if at else "N" for at in RUN.gear]}))
    gear = log.get("gear")
    assert gear is not None
    np.testing.assert_array_equal(gear.values, RUN.gear)


def test_a_dump_without_rows_of_numbers_is_no_log():
    with pytest.raises(ValueError, match="looked for"):
        read_log(b"CREATE TABLE log (a TEXT);\nINSERT INTO log VALUES ('x');\n", name="hard.log")
