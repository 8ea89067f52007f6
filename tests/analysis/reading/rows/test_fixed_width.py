"""Columns parted by runs of blanks."""

import numpy as np
import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading import read_log
from tests.analysis.reading.dialects import Dialect, Sheet, a_run, write

SHEET = a_run(120)
NAMES = ("Time", *SHEET.names)
UNITS = ("s", *SHEET.units)


def page(names: tuple[str, ...], units: tuple[str, ...] = (), *, decimal: str = ".", sheet: Sheet = SHEET) -> str:
    rows = [(f"{at / 100:.3f}", *cells) for at, cells in enumerate(sheet.cells)]
    lines = [names, units, *(tuple(cell.replace(".", decimal) for cell in row) for row in rows)]
    return "".join("".join(f"{cell:>20}" for cell in line) + "\n" for line in lines if line)


@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_a_page_reads_as_the_same_table_with_tabs(decimal, line_end):
    above = "Afternoon session\nTrack temperature 31 degC, wind none\n\n"
    text = (above + page(NAMES, UNITS, decimal=decimal)).replace("\n", line_end)
    (log,) = read_log(text.encode("latin-1"), name="run.csv")
    (same,) = read_log(write(SHEET, Dialect(delimiter="\t", units="row")).data, name="run.csv")
    assert [channel.name for channel in log.channels] == [channel.name for channel in same.channels]
    for one, other in zip(log.channels, same.channels, strict=True):
        np.testing.assert_array_equal(one.values, other.values)
    assert (log.text.delimiter, log.text.decimal, log.text.rows) == (" ", decimal, 120)


def test_names_of_one_word_each_may_stand_close():
    names = ("Time[s]", "RPM", "TPS[%]", "MAP[kPa]", "CLT[C]", "Speed[km/h]", "Bottle[bar]")
    text = "\n".join(" ".join(line.split()) for line in page(names).splitlines())
    (log,) = read_log(text.encode(), name="run.csv")
    np.testing.assert_array_equal(log.get("engine_speed").values, SHEET.column("Engine Speed"))


def test_a_line_of_dashes_under_the_names_is_no_row():
    text = page(NAMES, tuple("-" * 12 for _ in NAMES))
    (log,) = read_log(text.encode(), name="run.csv")
    np.testing.assert_array_equal(log.get("engine_speed").values, SHEET.column("Engine Speed"))


@pytest.mark.parametrize("aligned", [">", "<"])
def test_a_blank_cell_among_columns_that_have_their_places_shifts_nothing(aligned):
    lines = page(NAMES, UNITS).splitlines()
    if aligned == "<":
        lines = ["".join(f"{line[at : at + 20].strip():<20}" for at in range(0, len(line), 20)) for line in lines]
    lines[40] = lines[40][:20] + " " * 20 + lines[40][40:]
    (log,) = read_log("\n".join([*lines, ""]).encode(), name="run.csv")
    engine, map_ = log.get("engine_speed"), log.get("manifold_pressure")
    np.testing.assert_array_equal(engine.values, np.delete(SHEET.column("Engine Speed"), 38))
    assert map_.values.size == SHEET.column("Manifold Pressure").size


def test_a_blank_cell_among_columns_without_places_is_refused_and_not_shifted():
    lines = [" ".join(line.split()) for line in page(("Time", "RPM", "TPS", "MAP", "CLT", "V", "P")).splitlines()]
    lines[40] = " ".join(lines[40].split()[:1] + lines[40].split()[2:])
    with pytest.raises(NotALog, match=r"parted by blanks.*Export with a comma, a semicolon or a tab"):
        read_log("\n".join([*lines, ""]).encode(), name="run.csv")


def test_a_row_that_lost_a_cell_is_not_taken_for_one_with_a_blank():
    # All numbers are as wide: without its second, 42.4 would stand where the third was
    rows = [f"{10 + at / 50:05.2f} {1100 + at} {at % 90 / 10:.1f} {40 + at % 50 + 0.4:.1f}" for at in range(100)]
    rows[50] = "11.00 5.0 90.4"
    with pytest.raises(NotALog, match="parted by blanks"):
        read_log("\n".join(["Time   RPM TPS  MAP", *rows, ""]).encode(), name="run.csv")


@pytest.mark.parametrize("names", [(), ("Time", "Engine Speed", "Throttle")])
def test_names_that_do_not_agree_with_the_rows_are_refused(names):
    with pytest.raises(NotALog, match="parted by blanks"):
        read_log(page(names).encode(), name="run.csv")


def test_a_last_line_cut_short_is_set_aside():
    (log,) = read_log(page(NAMES, UNITS)[:-60].encode(), name="run.csv")
    assert log.text.rows == 119
    assert "cut-last-line" in [finding.code for finding in log.findings]


def test_blanks_before_the_delimiter_part_nothing():
    text = "Time (ms) ,RPM ,Load\n" + "".join(f"{10 * at} ,{1000 + 7 * at} ,{at % 90}\n" for at in range(80))
    (log,) = read_log(text.encode(), name="run.csv")
    np.testing.assert_array_equal(log.get("engine_speed").values, 1000 + 7.0 * np.arange(80))
