"""Habits of sheets, card writers and exporters: numbers, names and first rows as they come. All *planted*."""

from __future__ import annotations

import functools
import io
import zipfile

import numpy as np
import pytest

from passband.analysis.reading import read_log
from tests.analysis.reading.hard_logs import assert_holds, codes, read_beside_usual
from tests.analysis.reading.hard_run import hard_run, printed, table, usual

RUN = hard_run()
STAMPS = printed(RUN.time_s, 3)
read = functools.partial(read_beside_usual, RUN)
BOOST_PSI = RUN.of("boost") / 6894.757293168
MAP = RUN.manifold_pressure


def test_a_first_row_with_an_odd_cell_is_a_row():
    cells = printed(RUN.lambda_, 2)
    cells[0] = "04. Mai"  # what a sheet makes of 4.5
    log = read({"Lambda": cells}, without="Lambda")
    engine = log.get("engine_speed")
    assert engine is not None and engine.values.size == RUN.time_s.size
    assert "unreadable-cells" in codes(log)


def test_rows_of_extremes_above_the_data_are_no_rows():
    body = table({"Time [s]": STAMPS, **usual(RUN)}).decode().split("\n")
    width = body[0].count(",")
    body[1:1] = ["max" + ",9" * width, "min" + ",1" * width]
    (log,) = read_log("\n".join(body).encode(), name="hard.csv")
    assert log.text.rows == RUN.time_s.size


@pytest.mark.parametrize(
    "written",
    [
        lambda x: f"({-x:.2f})" if x < 0 else f"{x:.2f}",  # bookkeepers' negatives
        lambda x: f"{-x:.2f}-" if x < 0 else f"{x:.2f}",
        lambda x: f"'{x:.2f}",  # text by force
        lambda x: f"{x:.6E}".replace("E", "D"),  # Fortran's double precision, ISO/IEC 1539 ("D" edit descriptor)
    ],
)
def test_negatives_and_exponents_of_other_habits_are_the_same_numbers(written):
    log = read({"Boost [psi]": [written(x) for x in BOOST_PSI]}, without="MAP")
    assert_holds(log, "boost", RUN.of("boost"))


@pytest.mark.parametrize(
    "between", ["\u202f", "\u00a0", "\u2009", "'", "\u2019"], ids=["narrow", "blank", "thin", "tick", "apostrophe"]
)
def test_thousands_parted_by_what_stands_there(between):
    cells = [f"{x:,.1f}".replace(",", between) for x in RUN.engine_speed]
    log = read({"Engine Speed [rpm]": cells}, without="Engine", delimiter=";")
    assert_holds(log, "engine_speed", RUN.engine_speed)


def test_thousands_parted_as_in_india():
    turbo = RUN.engine_speed * 17.0  # past a lakh
    cells = [f'"{x // 100000:.0f},{x // 1000 % 100:02.0f},{x % 1000:03.0f}"' for x in np.floor(turbo + 100000)]
    log = read({"Turbo Speed [rpm]": cells})
    assert_holds(log, "turbo_speed", np.floor(turbo + 100000))


def test_german_words_of_switches_become_one_and_zero():
    on = np.arange(RUN.time_s.size) > 300
    log = read(
        {"Kupplung": ["WAHR" if one else "FALSCH" for one in on], "Bremse": ["Ja" if one else "Nein" for one in on]}
    )
    assert_holds(log, "clutch", on.astype(float))
    assert_holds(log, "brake", on.astype(float))


def test_a_mark_for_no_value_does_not_make_a_gauge_of_a_manifold():
    cells = printed(MAP / 1e3, 1)
    cells[::20] = ["-999"] * len(cells[::20])
    log = read({"MAP [kPa]": cells}, without="MAP")
    found = log.get("manifold_pressure")
    assert found is not None and np.nanmin(found.values) > 0 and "impossible-values" in codes(log)


@pytest.mark.parametrize(
    ("scale", "many"),
    [(1.0, 100.0), (1.0, 1000.0), (14.7, 10.0), (14.7, 100.0)],
    ids=["cλ", "mλ", "AFR x10", "AFR x100"],
)
def test_lambda_in_whole_numbers_is_mended_and_told(scale, many):
    log = read({"Lambda": printed(RUN.lambda_ * scale * many, 0)}, without="Lambda")
    found = log.get("lambda")
    assert found is not None
    np.testing.assert_allclose(found.values, RUN.lambda_, atol=0.006)
    assert "unit-doubted" in codes(log)


@pytest.mark.parametrize("header", ["Engine Speed [rpm]", "Engine Speed", "Engine Speed [1/min]"])
@pytest.mark.parametrize("digits", [2, 3], ids=["7.20", "7.204, as a point parts thousands"])
def test_engine_speed_in_thousands_is_mended_and_told(header, digits):
    cells = printed(RUN.engine_speed / 1e3, digits)
    log = read({header: cells}, without="Engine Speed")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert {"engine-speed-scale", "unit-assumed"} & codes(log)
    confirmed = table({"Time [s]": STAMPS, header: cells})
    (log,) = read_log(confirmed, name="hard.csv", mapping={header: "engine_speed [krpm]"})
    assert_holds(log, "engine_speed", RUN.engine_speed)


def test_points_that_part_only_some_thousands_are_told_and_not_taken():
    cells = printed(RUN.engine_speed - 400.0, 0, grouped=".")
    assert any("." not in cell for cell in cells)  # an idle of three digits
    log = read({"Engine Speed [rpm]": cells}, without="Engine Speed")
    assert log.get("engine_speed") is None and "engine-speed-unclear" in codes(log)


@pytest.mark.parametrize("cells", [["0.0"], ["0", "3", "8"], ["0.5", "0.25"]], ids=["dead", "whole", "cranking noise"])
def test_an_engine_that_does_not_run_is_not_in_thousands(cells):
    log = read({"Engine Speed [rpm]": (cells * RUN.time_s.size)[: RUN.time_s.size]}, without="Engine Speed")
    assert not {"engine-speed-scale", "engine-speed-unclear"} & codes(log)


@pytest.mark.parametrize(
    "header",
    [
        "\u200bOil\u00a0Pressure\u2060 (\u200bkPa)",
        "Oil&nbsp;Pressure &#40;kPa&#41;",
        "Engine/Lubrication/Oil.Pressure [kPa]",
    ],
)
def test_names_with_letters_of_no_width_entities_and_paths(header):
    log = read({header: printed(RUN.oil_pressure / 1e3, 1)}, without="Oil Pressure")
    assert_holds(log, "oil_pressure", RUN.oil_pressure)


def test_what_a_path_says_of_a_channel_stands():
    log = read({"Target/Oil Pressure [kPa]": printed(RUN.oil_pressure / 1e3, 1)}, without="Oil Pressure")
    assert log.get("oil_pressure") is None


def test_oxygen_sensors_by_bank_and_place():
    cells = printed(RUN.lambda_, 3)
    log = read({"O2 B1S1 [lambda]": cells, "O2 S1 B2 [lambda]": cells, "O2 B1S2 [lambda]": cells}, without="Lambda")
    assert_holds(log, "lambda_1", RUN.lambda_)
    assert_holds(log, "lambda_2", RUN.lambda_)
    assert len([one for one in log.channels if one.name.startswith("lambda")]) == 2


def test_a_known_name_in_a_unit_of_something_else_is_told():
    log = read({"Throttle [V]": printed(0.5 + 4 * RUN.throttle, 3)}, without="Throttle")
    assert log.get("throttle") is None and "unit-not-known" in codes(log)


def test_a_name_of_known_words_that_together_mean_nothing_is_asked_about():
    log = read({"Manifold": printed(MAP / 1e3, 1)}, without="MAP")
    assert "manifold-pressure-unclear" in codes(log)


def test_hundredths_of_a_second_in_words_of_a_fraction():
    cells = {"Time (1/100 s)": printed(RUN.time_s * 100, 0), **usual(RUN)}
    (log,) = read_log(table(cells), name="hard.csv")
    found = log.get("engine_speed")
    assert found is not None and found.time_s[-1] == pytest.approx(RUN.time_s[-1], abs=0.001)


@pytest.mark.parametrize("encoding", ["utf-32", "utf-32-be"])
def test_four_bytes_a_letter(encoding):
    mark = "\ufeff" if encoding == "utf-32-be" else ""
    body = (mark + table({"Time [s]": STAMPS, **usual(RUN)}).decode()).encode(encoding)
    (log,) = read_log(body, name="hard.csv")
    assert_holds(log, "engine_speed", RUN.engine_speed)


def test_a_zip_with_words_beside_the_log():
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("readme.txt", "The run of the afternoon")
        archive.writestr("run.csv", table({"Time [s]": STAMPS, **usual(RUN)}))
    (log,) = read_log(packed.getvalue(), name="run.zip")
    assert_holds(log, "engine_speed", RUN.engine_speed)


def clock(pattern, start: float = 43200.0 - 5.0) -> list[str]:
    """The stamps as a clock's, by a function of hours, minutes, seconds and thousandths."""
    moments = np.round((RUN.time_s + start) * 1000).astype(int).tolist()
    return [pattern(at // 3_600_000, at // 60_000 % 60, at // 1000 % 60, at % 1000) for at in moments]


@pytest.mark.parametrize(
    "pattern",
    [
        lambda h, m, s, f: f"{(h - 1) % 12 + 1}:{m:02d}:{s:02d}.{f:03d} {'a. m.' if h < 12 else 'p. m.'}",
        lambda h, m, s, f: f"{'午前' if h < 12 else '午後'}{(h - 1) % 12 + 1}:{m:02d}:{s:02d}.{f:03d}",
        lambda h, m, s, f: f"{h}h {m:02d}min {s:02d}.{f:03d}s",
        lambda h, m, s, f: f"{m}'{s:02d}\u2033{f // 10:02d}",
        lambda h, m, s, f: f"19990611T{h:02d}{m:02d}{s:02d}.{f:03d}Z",
        lambda h, m, s, f: f"Fri 11 Jun 1999 {h:02d}:{m:02d}:{s:02d}.{f:03d}",
        lambda h, m, s, f: f"{h}:{m}:{s}.{f}",  # a count of thousandths behind the point
    ],
    ids=["Spanish", "Japanese", "letters", "primes", "basic of ISO 8601", "a month's name", "thousandths counted"],
)
def test_clocks_as_people_write_them(pattern):
    (log,) = read_log(table({"Clock": clock(pattern), **usual(RUN)}), name="hard.csv")
    engine = log.get("engine_speed")
    assert engine is not None
    np.testing.assert_allclose(engine.time_s, RUN.time_s, atol=0.001)


def test_a_clock_of_whole_seconds_with_its_thousandths_beside_it():
    cells = {
        "Clock": clock(lambda h, m, s, f: f"{h:02d}:{m:02d}:{s:02d}"),
        "Rest": clock(lambda h, m, s, f: str(f)),
    }
    (log,) = read_log(table({**cells, **usual(RUN)}), name="hard.csv")
    engine = log.get("engine_speed")
    assert engine is not None
    np.testing.assert_allclose(engine.time_s, RUN.time_s, atol=0.001)


def test_cells_in_several_units_are_each_read_in_their_own():
    cells = [f"{x / 1e3:.1f} kPa" if x < 1e5 else f"{x / 1e5:.3f} bar" for x in MAP]
    log = read({"MAP": cells}, without="MAP")
    assert_holds(log, "manifold_pressure", MAP)
    assert "layout-changes" in codes(log)


def test_a_pressure_is_read_in_the_unit_that_another_was_found_to_be_in():
    psi = 6894.757293168
    cells = {"Oil Pressure [bar]": RUN.oil_pressure / psi, "Fuel Pressure [bar]": RUN.fuel_pressure / psi}
    log = read({name: printed(values, 1) for name, values in cells.items()})
    assert_holds(log, "fuel_pressure", RUN.fuel_pressure)
    told = [one for one in log.findings if one.code == "unit-doubted"]
    assert {one.where for one in told} == set(cells)


def test_a_rail_of_direct_injection_stays_as_written():
    cells = {"Oil Pressure [bar]": RUN.oil_pressure / 1e5, "Fuel Pressure [bar]": RUN.fuel_pressure / 6894.757293168}
    log = read({name: printed(values, 1) for name, values in cells.items()})
    found = log.get("fuel_pressure")
    assert found is not None and float(np.median(found.values)) > 3e6 and "unit-doubted" not in codes(log)


def test_engine_speed_in_hz_is_told_since_a_pick_up_may_count_pulses():
    log = read({"Engine Speed [Hz]": printed(RUN.engine_speed / 60.0, 2)}, without="Engine")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert "unit-unusual" in codes(log)


def test_each_column_with_its_own_time():
    slow = np.arange(0, RUN.time_s.size, 4)
    blanks = [""] * (RUN.time_s.size - slow.size)
    cells = {
        "t Engine [s]": STAMPS,
        "Engine Speed [rpm]": printed(RUN.engine_speed, 0),
        "t Oil [s]": printed(RUN.time_s[slow] + 0.003, 3) + blanks,
        "Oil Pressure [kPa]": printed(RUN.oil_pressure[slow] / 1e3, 1) + blanks,
    }
    (log,) = read_log(table(cells), name="hard.csv")
    found = log.get("oil_pressure")
    assert found is not None
    np.testing.assert_allclose(found.time_s, RUN.time_s[slow] + 0.003, atol=0.001)
    np.testing.assert_allclose(found.values, RUN.oil_pressure[slow], atol=60.0)


@pytest.mark.parametrize("above", ["1 tick = 4 ms\n", "Tick: 4000 us\n"])
def test_a_stated_length_of_a_tick(above):
    cells = {"Ticks": [f"{9000 + 5 * row // 2}" for row in range(RUN.time_s.size)], **usual(RUN)}
    (log,) = read_log(above.encode() + table(cells), name="hard.csv")
    found = log.get("engine_speed")
    assert found is not None and found.time_s[-1] == pytest.approx(RUN.time_s[-1], abs=0.005)


def test_names_that_a_list_above_gives_by_place():
    cells = {"Time [s]": STAMPS, **usual(RUN)}
    listed = "".join(f"Column {at}: {name}\n" for at, name in enumerate(cells, start=1))
    body = table(cells).split(b"\n", 1)[1]
    (log,) = read_log(listed.encode() + b"\n" + body, name="hard.csv")
    assert_holds(log, "manifold_pressure", MAP)


def test_names_parted_otherwise_than_the_rows():
    header, body = table({"Time [s]": STAMPS, **usual(RUN)}).split(b"\n", 1)
    (log,) = read_log(header.replace(b",", b";") + b"\n" + body, name="hard.csv")
    assert_holds(log, "manifold_pressure", MAP)


@pytest.mark.parametrize(
    "name", [lambda g: ("N", "1st", "2nd", "3rd", "4th", "5th")[g], lambda g: f"D{g}" if g else "P"], ids=["1st", "D1"]
)
def test_gears_by_their_names(name):
    gears = RUN.gear.astype(int)
    log = read({"Gear": [name(gear) for gear in gears.tolist()]})
    assert_holds(log, "gear", gears.astype(float))


def test_the_gear_that_is_shown_is_the_first_of_the_log():
    gears = RUN.gear.astype(int).tolist()
    log = read({"Gear": [f"Gear {gear}" if gear else "N" for gear in gears]})
    told = [finding.text for finding in log.findings if finding.code == "numbers-written-otherwise"]
    first = next(gear for gear in gears if gear)
    assert told == [f'Gear holds gears by their number ("Gear {first}") and was read so.']


def test_what_is_asked_for_is_not_what_is():
    is_, wanted = printed(RUN.of("boost") / 1e2, 0), printed(np.full(MAP.size, 1400.0), 0)
    log = read({"Ladedruck Soll [mbar]": wanted, "Ladedruck Ist [mbar]": is_}, without="MAP")
    assert_holds(log, "boost", RUN.of("boost"))


def test_a_lone_quotation_mark_takes_no_other_cell_with_it():
    cells = printed(RUN.oil_pressure / 1e3, 1)
    cells[50::10] = ['"'] * len(cells[50::10])
    log = read({"Oil Pressure [kPa]": cells, "Coolant Temp [C]": printed(RUN.coolant_temperature - 273.15, 1)})
    assert_holds(log, "coolant_temperature", RUN.coolant_temperature)
    found = log.get("oil_pressure")
    assert found is not None and found.known.values.size == RUN.time_s.size - len(cells[50::10])


@pytest.mark.parametrize("first", ["sep=;", "Pass 7;"])
@pytest.mark.parametrize("stray", ["Time;s", "Time;[s]"])
def test_a_time_and_its_unit_alone_above_the_names_are_no_list_of_them(first, stray):
    cells = {"Time": STAMPS, "RPM": usual(RUN)["Engine Speed [rpm]"], "MAP [kPa]": usual(RUN)["MAP [kPa]"]}
    (log,) = read_log(f"{first}\n{stray}\n".encode() + table(cells, delimiter=";"), name="hard.csv")
    assert_holds(log, "engine_speed", RUN.of("engine_speed"))
    assert_holds(log, "manifold_pressure", MAP)


@pytest.mark.parametrize("line", ["Column {}: {}", "{}: {}", "Ch{} = {}", "# {} {}"])
@pytest.mark.parametrize("header", ["", "C1,C2,C3,C4\n"])
@pytest.mark.parametrize("times", [1, 60])
def test_names_that_a_list_below_gives_by_place(line, header, times):
    cells = {"Time [s]": printed(np.arange(times * RUN.time_s.size) * 0.02, 3)}
    cells |= {name: column * times for name, column in usual(RUN).items()}
    listed = "".join(line.format(at, name) + "\n" for at, name in enumerate(cells, start=1))
    body = table(cells).split(b"\n", 1)[1]
    (log,) = read_log(header.encode() + body.rstrip() + b"\n\n" + listed.encode(), name="hard.csv")
    found = log.get("manifold_pressure")
    assert found is not None and found.values.size == times * RUN.time_s.size
    np.testing.assert_allclose(found.values, np.tile(MAP, times), atol=0.006 * MAP.max())
    assert log.get("engine_speed") is not None and "marks-taken-off" in codes(log)
