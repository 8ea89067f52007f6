"""Clocks that are hard to follow, damage of everyday life, and names that look like a channel's: the hard logs.

All *planted*: each log is one run (`hard_run`) written, and then spoilt, as somebody would.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_logs import assert_holds_run, read_one
from tests.analysis.reading.hard_run import Cells, hard_run, printed, table, usual

RUN = hard_run(rate_hz=50.0)
STAMPS = printed(RUN.time_s, 2)
USUAL = ("engine_speed", "throttle", "manifold_pressure")
NOON = dt.datetime(2026, 7, 11, 12, 59, 55, 40_000)
ROWS = RUN.time_s.size


def read(clock: dict[str, Cells], above: str = "", **others: Cells) -> Log:
    return read_one(above.encode() + table({**clock, **usual(RUN), **others}))


def assert_reads(log: Log, *channels: str) -> None:
    assert_holds_run(RUN, log, *channels or USUAL)
    kept = log.get("engine_speed")
    assert kept is not None
    np.testing.assert_allclose(kept.time_s - kept.time_s[0], RUN.time_s - RUN.time_s[0], atol=0.011)


def levels(log: Log) -> dict[str, str]:
    """But for the run's own leap of engine speed off the line."""
    return {one.code: one.level for one in log.findings if one.code != "engine-speed-leaps"}


def strftime(form: str) -> Cells:
    return [(NOON + dt.timedelta(seconds=float(at))).strftime(form) for at in RUN.time_s]


def test_a_clock_written_once_a_second():
    clock = [cell if at % 50 == 0 else "" for at, cell in enumerate(strftime("%H:%M:%S"))]
    log = read({"Time": clock})
    assert_reads(log)
    assert levels(log) == {"times-now-and-then": "note"}


@pytest.mark.parametrize(
    "form",
    ["%a %d %b %Y %I:%M:%S.%f %p GMT+2", "%a %d %b %Y %I:%M:%S.%f %p GMT+02:00", "3d %H:%M:%S.%f", "%Y-%j/%H:%M:%S.%f"],
)
def test_clocks_with_half_a_day_zones_and_days(form):
    log = read({"Timestamp" if "p" in form else "Uptime": strftime(form)})
    assert_reads(log)
    assert not levels(log)


def test_a_clock_in_four_columns_of_which_the_last_is_named_as_a_time():
    parts = {"HH": strftime("%H"), "MM": strftime("%M"), "SS": strftime("%S")}
    log = read({**parts, "ms": [cell[:3] for cell in strftime("%f")]})
    assert_reads(log)
    assert "clock-in-columns" in levels(log) and "caution" not in levels(log).values()


def test_a_frame_counter_of_eight_bits_at_a_rate_told_above():
    frames = [str((117 + at) % 256) for at in range(ROWS)]
    assert_reads(read({"Frame": frames}, "Frame rate: 50 Hz\n\n"))


@pytest.mark.parametrize("said", ["Sampling,50 S/s", "Sampling: 50 Sa/s", "Recording,0.05 kS/s", "Frames,50 fps"])
def test_samples_counted_at_a_rate_in_samples_a_second(said):
    log = read({"Sample": [str(40_000 + at) for at in range(ROWS)]}, f"Bench,7\n{said}\n\n")
    assert_reads(log)
    assert not levels(log)


def test_rows_strewn_about_go_in_the_order_of_their_times():
    order = np.argsort(RUN.engine_speed, kind="stable")  # as where somebody sorted the sheet by a column
    log = read_one(table({name: [cells[at] for at in order] for name, cells in
                          {"Time [s]": STAMPS, **usual(RUN)}.items()}))  # fmt: skip
    assert_reads(log)
    assert levels(log)["rows-out-of-order"] == "caution"


def test_rows_that_come_more_rarely_before_and_after_an_event_leave_no_gap():
    kept = [at for at in range(ROWS) if at % 10 == 0 or 1.5 < RUN.time_s[at] < 9.0]
    log = read_one(table({name: [cells[at] for at in kept] for name, cells in
                          {"Time [s]": STAMPS, **usual(RUN)}.items()}))  # fmt: skip
    assert levels(log) == {"rate-changes": "note"}


def test_a_second_logger_pasted_to_the_right_keeps_its_length():
    beside = {"Dash time [s]": printed(RUN.time_s[::5] + 33.1, 2), "GPS [km/h]": printed(RUN.ground_speed[::5] * 3.6)}
    padded = {name: [*cells, *[""] * (ROWS - len(cells))] for name, cells in beside.items()}
    log = read_one(table({"Time [s]": STAMPS, **usual(RUN), **padded}))
    speed = log.get("gps_speed")
    assert speed is not None
    assert speed.known.at(RUN.time_s[:-5:5]) == pytest.approx(RUN.ground_speed[:-5:5], abs=0.05)
    assert levels(log)["clocks-begun-together"] == "caution"


def test_two_exports_that_overlap_are_one_recording():
    head, *rows = table({"Time [s]": STAMPS, **usual(RUN)}).decode().splitlines()
    log = read_one("\n".join([head, *rows[:400], "", head, *rows[350:], ""]).encode())
    assert_reads(log)
    assert levels(log)["repeated-time-stamps"] == "caution"


def test_two_runs_that_begin_alike_are_no_overlap():
    head, *rows = table({"Time [s]": STAMPS, **usual(RUN)}).decode().splitlines()
    logs = read_log("\n".join([head, *rows[:400], "", head, *rows[:10], *rows[30:], ""]).encode(), name="hard.csv")
    assert len(logs) == 2


@pytest.mark.parametrize("times", [1, 2, 3])
def test_letters_saved_anew_in_western_ones(times):
    text = table(
        {
            "Zeit [s]": STAMPS,
            "Motordrehzahl [1/min]": printed(RUN.engine_speed, 0),
            "Öldruck [bar]": printed(RUN.oil_pressure / 1e5, 3),
            "Öltemperatur [°C]": printed(RUN.oil_temperature - 273.15),
            "λ": printed(RUN.lambda_, 3),
        }
    ).decode()
    for _ in range(times):
        text = text.encode().decode("latin-1")
    log = read_one(text.encode())
    assert_reads(log, "engine_speed", "oil_pressure", "oil_temperature", "lambda")


def test_a_chats_quotes_and_dashes():
    boost = [f"“{value:.3f}”".replace("-", "–") for value in RUN.of("boost") / 1e5]
    columns = {
        "“Time s”": [f"“{cell}”" for cell in STAMPS],
        "“Engine rpm”": printed(RUN.engine_speed, 0),
        "“Boost bar”": boost,
    }
    log = read_one(b"here is the pass\n\n" + table(columns))
    assert_reads(log, "engine_speed", "boost")
    assert not levels(log)


def test_a_table_copied_off_printed_pages():
    cells = list(zip(STAMPS, *usual(RUN).values(), strict=True))
    pages: list[str] = []
    for first in range(0, ROWS, 55):
        pages += ["third pass".center(40), "", "Time     RPM     TPS    MAP", " [s]   [rpm]     [%]  [kPa]"]
        pages += ["".join(cell.rjust(8) for cell in row) for row in cells[first : first + 55]]
        pages += ["", f"printed 24.08.2026       Page {first // 55 + 1}", "\f"]
    assert_reads(read_one("\n".join(pages).encode()))


def test_cells_that_stand_on_a_line_each():
    columns = {"Time [s]": STAMPS, **usual(RUN)}
    lines = [*columns, *(cell for row in zip(*columns.values(), strict=True) for cell in row)]
    assert_reads(read_one(("\n".join(lines) + "\n").encode()))


def test_rows_of_blanks_behind_the_last_are_none():
    data = table({"Time [s]": STAMPS, **usual(RUN)}, delimiter=";") + b";;;\n" * 3 * ROWS
    log = read_one(data)
    assert_reads(log)
    assert not levels(log)


def test_signs_of_a_column_too_narrow_say_what_to_do():
    narrow = ["#####" if value > 2e5 else cell for value, cell in
              zip(RUN.manifold_pressure, printed(RUN.manifold_pressure / 1e3, 1), strict=True)]  # fmt: skip
    log = read_one(table({"Time [s]": STAMPS, "RPM": printed(RUN.engine_speed, 0), "MAP [kPa]": narrow}))
    (told,) = [one.text for one in log.findings if one.code == "unreadable-cells"]
    assert "wider" in told


def test_what_stands_before_the_gears_or_feeds_a_sensor_is_no_channel():
    log = read({"Time [s]": STAMPS}, **{"Input shaft [rpm]": printed(RUN.engine_speed - 30.0, 0),
                                        "Sensor supply [V]": printed(0.0 * RUN.time_s + 5.01)})  # fmt: skip
    assert log.get("driveshaft_speed") is None and log.get("battery") is None
    assert not log.doubts


def test_an_engine_speed_goes_before_its_copy_on_the_dash():
    late = printed(np.round(np.roll(RUN.engine_speed, 3), -2), 0)
    log = read_one(table({"Time [s]": STAMPS, "Dash rpm": late, "ECU rpm": printed(RUN.engine_speed, 0)}))
    assert_reads(log, "engine_speed")


def test_two_propeller_shafts_are_of_the_driveshafts():
    turns = {f"Prop shaft {axle} [rpm]": printed(RUN.ground_speed * 120.0, 0) for axle in ("front", "rear")}
    log = read({"Time [s]": STAMPS}, **turns)
    found = log.get("driveshaft_speed")
    assert found is not None and found.values == pytest.approx(RUN.ground_speed * 120.0, abs=0.6)


@pytest.mark.parametrize("lost", ["\ufffd", "?"])
def test_letters_that_a_program_had_none_for(lost):
    names = {f"{lost}ldruck [bar]": printed(RUN.oil_pressure / 1e5, 3),
             f"K{lost}hlwasser [{lost}C]": printed(RUN.coolant_temperature - 273.15)}  # fmt: skip
    log = read({"Time [s]": STAMPS}, **names)
    assert_reads(log, *USUAL, "oil_pressure", "coolant_temperature")
    assert levels(log) == {"name-completed": "note"}


def test_a_list_that_a_word_processor_numbered():
    head, *rows = table({"Time [s]": STAMPS, **usual(RUN)}, delimiter=";").decode().splitlines()
    assert_reads(read_one("\n".join(f"{at}. {line}" for at, line in enumerate([head, *rows], start=1)).encode()))


def test_a_gearboxs_output_in_german_and_the_air_behind_its_cooler():
    named = {"n_Abtrieb [1/min]": printed(RUN.ground_speed * 120.0, 0),
             "IAT pre IC [C]": printed(RUN.intake_temperature - 213.15),
             "IAT post IC [C]": printed(RUN.intake_temperature - 273.15)}  # fmt: skip
    log = read({"Time [s]": STAMPS}, **named)
    assert_reads(log, *USUAL, "intake_temperature")
    assert log.get("driveshaft_speed") is not None


@pytest.mark.parametrize("gap_k", [0.0, 4.0])
def test_a_clock_that_counts_from_the_launch_goes_on(gap_k):
    launch = int(np.flatnonzero(RUN.ground_speed > 0.0)[0])
    noise = np.random.default_rng(5).normal(0.0, 0.1, (2, ROWS))
    clock = [f"{at - launch if at >= launch else at}" for at in range(ROWS)]
    before = gap_k * (np.arange(ROWS) < launch)  # of another recording, long before
    heat = {"Coolant [C]": printed(RUN.coolant_temperature - 273.15 - before + noise[0]),
            "Oil Temp [C]": printed(RUN.oil_temperature - 273.15 - before + noise[1])}  # fmt: skip
    stamps = [f"{int(at) * 0.02:.2f}" for at in clock]
    data = table({"Time [s]": stamps, **usual(RUN), "GPS Speed [km/h]": printed(RUN.ground_speed * 3.6, 1), **heat})
    logs = read_log(data, name="hard.csv")
    assert len(logs) == (2 if gap_k else 1)
    if not gap_k:
        assert_reads(logs[0])


def test_coolant_that_leaves_the_engine_goes_before_what_enters_it():
    heat = {f"Water temp {way} [C]": printed(RUN.coolant_temperature - 273.15 - less) for way, less in (
        ("in", 9.0), ("out", 0.0))}  # fmt: skip
    assert_reads(read({"Time [s]": STAMPS}, **heat), *USUAL, "coolant_temperature")


@pytest.mark.parametrize("form", ["T{:+.2f}", "T {:+.2f} s", "T{}00:{:05.2f}"])
def test_a_clock_that_counts_down_to_the_launch_and_up_from_it(form):
    from_launch = RUN.time_s - 2.0
    clock = [form.format("-" if at < 0 else "+", abs(at)) if "{}" in form else form.format(at) for at in from_launch]
    assert_reads(read({"Time": clock}))
