"""Rows out of order and copies of rows. All *planted*."""

import numpy as np
import pytest

from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import hard_run, printed, table, usual

RUN = hard_run()
CELLS = {"Time [s]": printed(RUN.time_s, 3), **usual(RUN)}
ROWS = np.arange(RUN.time_s.size)
SWAPPED = ROWS.copy()
SWAPPED[100:900:40], SWAPPED[101:901:40] = ROWS[101:901:40], ROWS[100:900:40]
BLOCKS = np.concatenate([ROWS[600:800], ROWS[:300], ROWS[800:], ROWS[300:600]])


def read(rows):
    return read_log(table({name: [cells[row] for row in rows] for name, cells in CELLS.items()}), name="hard.csv")


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (SWAPPED, "rows-out-of-order"),
        (BLOCKS, "rows-out-of-order"),
        (np.repeat(ROWS, 2), "repeated-time-stamps"),
        (np.concatenate([ROWS[:700], ROWS[600:]]), "repeated-time-stamps"),
    ],
    ids=["neighbours", "blocks", "each twice", "a stretch twice"],
)
def test_every_value_is_at_its_time_once(rows, told):
    (log,) = read(rows)
    engine = log.get("engine_speed")
    assert engine is not None
    np.testing.assert_allclose(engine.time_s, RUN.time_s, atol=0.0006)
    np.testing.assert_allclose(engine.values, RUN.engine_speed, atol=0.51)
    assert told in {finding.code for finding in log.findings}


def test_rows_that_stand_right_are_not_touched():
    (log,) = read(ROWS)
    assert not {"rows-out-of-order", "repeated-time-stamps"} & {finding.code for finding in log.findings}


def test_another_recording_of_other_values_is_not_laid_into_the_first():
    again = {name: cells + cells[::-1] if "Time" not in name else cells + cells for name, cells in CELLS.items()}
    assert len(read_log(table(again), name="hard.csv")) == 2


def test_a_clock_over_midnight_is_not_put_in_order():
    stamps = [f"{int(x // 3600) % 24:02d}:{int(x // 60) % 60:02d}:{x % 60:06.3f}" for x in RUN.time_s + 86394.0]
    (log,) = read_log(table({"Time": stamps, **usual(RUN)}), name="hard.csv")
    engine = log.get("engine_speed")
    assert engine is not None
    np.testing.assert_allclose(engine.time_s, RUN.time_s, atol=0.001)
