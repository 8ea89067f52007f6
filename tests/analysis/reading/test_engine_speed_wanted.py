"""Columns offered where no log has an engine speed. All *planted*."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import NoRunInLog
from passband.analysis.given.car import Car
from passband.analysis.reading import read_log
from passband.analysis.reading.engine_speed_wanted import may_be_engine_speed
from passband.analysis.review import review

TIME_S = np.arange(0.0, 12.0, 0.02)
TURNS = 3000.0 + np.clip(TIME_S - 4.0, 0.0, None) * 700.0 % 3500.0


def log_of(**columns):
    cells = {"Time [s]": TIME_S, **columns}
    rows = [",".join(f"{column[at]:.3f}" for column in cells.values()) for at in range(TIME_S.size)]
    return read_log("\n".join([",".join(cells), *rows]).encode(), name="box.csv")


def test_columns_of_no_channel_are_offered_and_known_still_and_negative_ones_are_not():
    logs = log_of(Kvk=TURNS, TPS=np.where(TIME_S > 4.0, 100.0, 15.0), Xq=np.full(TIME_S.size, 7.0), Ypp=-1.0 - TIME_S)
    (offered,) = may_be_engine_speed([logs])
    assert (offered.column, offered.log, offered.layout) == ("Kvk", "box.csv", logs[0].layout)
    assert (offered.least, offered.greatest) == pytest.approx((TURNS.min(), TURNS.max()), abs=0.01)


def test_a_column_that_goes_as_an_engine_does_comes_first():
    logs = log_of(Aaq=0.1 * TIME_S, Kvk=TURNS)
    assert [(one.column, one.likely) for one in may_be_engine_speed([logs])] == [("Kvk", True), ("Aaq", False)]


def test_no_more_are_offered_than_fit_an_answer():
    logs = log_of(**{f"Q{at}z": TIME_S + at for at in range(105)})
    assert len(may_be_engine_speed([logs])) == 100  # planted: five more than an answer holds


def test_the_refusal_of_logs_without_engine_speed_carries_them():
    with pytest.raises(NoRunInLog, match="No engine speed was found in") as refused:
        review([log_of(Aaq=0.1 * TIME_S, Bbq=50.0 + TIME_S)], Car(name="Kestrel"))
    assert [one.column for one in refused.value.columns] == ["Aaq", "Bbq"]
