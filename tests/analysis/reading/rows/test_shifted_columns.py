"""Rows that lack a cell: left out at the end by habit, or lost before it."""

import numpy as np
import pytest

from passband.analysis.reading import read_log
from tests.analysis.reading.dialects import Dialect, a_run, write

SHEET = a_run(400)
LINES = write(SHEET, Dialect()).data.decode().splitlines()
TRUTH = SHEET.column("Engine Speed")


def codes(log):
    return [finding.code for finding in log.findings]


def without_cell(line: str, at: int) -> str:
    cells = line.split(",")
    return ",".join(cells[:at] + cells[at + 1 :])


def with_cell(line: str, at: int) -> str:
    cells = line.split(",")
    return ",".join([*cells[:at], "0", *cells[at:]])


@pytest.mark.parametrize("change", [without_cell, with_cell])
@pytest.mark.parametrize("first", [12, 150, 330])
@pytest.mark.parametrize("cell", [0, 1, 2])
def test_rows_whose_columns_shift_from_some_line_on_go_on_under_their_names_or_are_set_aside(change, first, cell):
    lines = [*LINES[:first], *(change(line, cell) for line in LINES[first:])]
    (log,) = read_log("\n".join(lines).encode(), name="x")
    engine = log.get("engine_speed")
    assert engine.values.size >= first - 1
    np.testing.assert_array_equal(engine.values, TRUTH[: engine.values.size])
    assert {"shifted-columns", "damaged-lines", "layout-changes"} & set(codes(log))


@pytest.mark.parametrize("every", [2, 40])
def test_blanks_left_out_at_the_end_are_no_damage(every):
    lines = [line if at % every == 0 else without_cell(line, 6) for at, line in enumerate(LINES[1:])]
    (log,) = read_log("\n".join([LINES[0], *lines]).encode(), name="x")
    np.testing.assert_array_equal(log.get("engine_speed").values, TRUTH)
    assert codes(log) == [] and log.channels[-1].values.size == 400 // every


def test_a_last_column_that_ends_early_is_no_damage():
    lines = [*LINES[:200], *(without_cell(line, 6) for line in LINES[200:])]
    (log,) = read_log("\n".join(lines).encode(), name="x")
    np.testing.assert_array_equal(log.get("engine_speed").values, TRUTH)
    assert "shifted-columns" not in codes(log)


@pytest.mark.parametrize(
    "header",
    [
        LINES[0].rpartition(",")[0],
        LINES[0] + ",Spare",
        without_cell(LINES[0], 2),
    ],
)
def test_a_header_of_more_or_fewer_names_than_cells_is_told(header):
    (log,) = read_log("\n".join([header, *LINES[1:]]).encode(), name="x")
    assert "names-and-cells-disagree" in codes(log)


def test_a_trailing_delimiter_is_no_disagreement():
    for trailing in (LINES[:1] + [line + "," for line in LINES[1:]], [LINES[0] + ",", *LINES[1:]]):
        (log,) = read_log("\n".join(trailing).encode(), name="x")
        assert "names-and-cells-disagree" not in codes(log)
