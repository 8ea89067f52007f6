"""Counts of 16 bits that ran over, where a column holds what no float can."""

import numpy as np
import pytest

from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.rows.wrapped_counts import without_wraps
from passband.analysis.reading.text.header import Header


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("part", [1.0, 0.5])
def test_numbers_past_all_size_are_no_count_that_ran_over(part):
    # Planted: a damaged exponent (481e4005) in all cells, or in every other one
    cells = np.linspace(900.0, 7000.0, 200)
    cells[:: round(1.0 / part)] = np.inf
    table = Table((Column(cells, None),), cells.size, ())
    assert without_wraps(table, Header(("RPM",), ("",), ("RPM",), 1, None, (), 0, 1)) is table
