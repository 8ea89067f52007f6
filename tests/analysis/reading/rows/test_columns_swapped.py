"""Columns that change places amid the rows: told where the values prove it, and never where they do not."""

import numpy as np
import pytest

from passband.analysis.reading.rows.columns_swapped import tell_swapped_columns
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header

ROWS, SWAP = 600, 350
RNG = np.random.default_rng(5)
TIME = np.round(np.arange(ROWS) * 0.01, 2)
RPM = np.round(np.linspace(3000.0, 8000.0, ROWS) + RNG.normal(0.0, 20.0, ROWS))
PRESSURE = np.round(np.linspace(100.0, 250.0, ROWS) + RNG.normal(0.0, 0.5, ROWS), 1)


def told(*columns):
    names = tuple(f"C{at}" for at in range(len(columns)))
    header = Header(names, ("",) * len(names), names, 1, None, (), 0, len(names))
    return tell_swapped_columns(Table(tuple(Column(one, None) for one in columns), columns[0].size, ()), header)


def swapped(one, other, row):
    before = np.arange(one.size) < row
    return np.where(before, one, other), np.where(before, other, one)


@pytest.mark.parametrize("row", [20, SWAP, ROWS - 20])
def test_a_swap_is_told_once_with_its_row(row):
    # Planted
    (finding,) = told(TIME, *swapped(RPM, PRESSURE, row))
    assert (finding.code, finding.where) == ("columns-change-places", f"C1, row {row + 1}")


@pytest.mark.parametrize("row", [1, 19, ROWS - 19])
def test_a_swap_with_too_few_rows_beside_it_is_not_proven(row):
    assert told(TIME, *swapped(RPM, PRESSURE, row)) == []


def test_columns_that_stay_are_left_alone():
    assert told(TIME, RPM, PRESSURE) == []


def test_two_valves_that_change_over_at_one_row_are_no_swap():
    # Planted: they mirror each other, with one kind of digits
    on, off = (np.round(level + RNG.normal(0.0, 0.1, ROWS), 1) for level in (12.0, 0.4))
    assert told(TIME, *swapped(on, off, SWAP)) == []


def test_a_shift_moves_speed_and_pressure_at_one_row_and_is_no_swap():
    fall = np.arange(ROWS) >= SWAP
    assert told(TIME, RPM - 2000.0 * fall, np.round(PRESSURE - 30.0 * fall, 1)) == []


def test_columns_without_all_values_and_short_tables_are_passed_over():
    one, other = swapped(RPM, PRESSURE, SWAP)
    one[3] = np.nan
    assert told(TIME, one, other) == []
    assert told(TIME[:9], RPM[:9], PRESSURE[:9]) == []
