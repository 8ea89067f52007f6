"""A run's table on disk: what a column is stays with it; no cell is run by a spreadsheet."""

from __future__ import annotations

import csv
import io

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passband.analysis.report import RunTable, TableColumn
from passband.service.reviewing.tables import as_csv, column_facts, read_table, safe_cell, write_table

TIME = TableColumn("time_s", "Time", "s", "s", "", "", None, None)
OIL = TableColumn("oil_pressure", "Oil pressure", "Pa", "kPa", "Öldruck [bar]", "bar", 0.93, 1)


@pytest.fixture
def table():
    values = pl.DataFrame({"time_s": [0.0, 0.1, 0.2], "oil_pressure": [1.0 / 3.0, None, 5e5]})
    return RunTable((TIME, OIL), values, 10.0)


@pytest.mark.parametrize(("exact", "third"), [(True, 1.0 / 3.0), (False, float(np.float32(1.0 / 3.0)))])
def test_a_table_reads_back_with_what_its_columns_are(table, tmp_path, exact, third):
    write_table(table, tmp_path / "run.parquet", exact=exact)
    with (tmp_path / "run.parquet").open("rb") as file:
        assert column_facts(file) == [TIME, OIL]
        assert read_table(file, ["oil_pressure", "boost"]).columns == ["oil_pressure"]
        assert read_table(file)["oil_pressure"].to_list() == [third, None, 5e5]


def test_csv_has_units_behind_names_and_nothing_where_nothing_is_known(table):
    assert as_csv(table.frame, table.columns) == (
        b"time_s [s],oil_pressure [Pa]\r\n0.0,0.3333333333333333\r\n0.1,\r\n0.2,500000.0\r\n"
    )


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "\0"])
def test_a_cell_that_would_be_run_gets_an_apostrophe(start):
    assert safe_cell(f"{start}cmd|' /C calc'!A0") == f"'{start}cmd|' /C calc'!A0"


@pytest.mark.parametrize("number", ["-3", "+4.5", "-1e-9", "-.5", "12"])
def test_a_number_stays_a_number(number):
    assert safe_cell(number) == number


@given(st.lists(st.text(min_size=1), min_size=1, max_size=4, unique=True))
def test_any_header_reads_back_by_the_rules_of_rfc_4180(names):
    # Published (RFC 4180, 2.5 to 2.7): quotes, delimiters and line ends inside a quoted cell
    columns = [TableColumn(name, name, "", "", name, "", 1.0, 0) for name in names]
    frame = pl.DataFrame({name: [1.5] for name in names})
    text = as_csv(frame, columns).decode()
    heads = next(csv.reader(io.StringIO(text, newline="")))
    assert heads == [safe_cell(name) for name in names]


def test_names_that_a_safe_cell_makes_alike_stay_two_columns():
    # Regression: such a log's table could not be exported
    columns = [TableColumn(name, name, "", "", name, "", 1.0, 0) for name in ("=1+1", "'=1+1")]
    text = as_csv(pl.DataFrame({"=1+1": [1.5], "'=1+1": [2.5]}), columns)
    assert text == b"'=1+1,'=1+1 (2)\r\n1.5,2.5\r\n"
