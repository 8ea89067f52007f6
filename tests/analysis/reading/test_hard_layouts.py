"""Hard layouts of one pass: every value in its channel at its time, to the last row, and what was done is told."""

import numpy as np
import pytest

from passband.analysis.reading import read_log
from tests.analysis.reading.hard_layouts import CASES

TIME_APART_S = 0.0006
"""Stamps are printed in hundredths or thousandths of a second. [s]"""


@pytest.mark.parametrize("name", CASES)
def test_every_value_is_read_to_the_last_row(name):
    case = CASES[name]
    logs = read_log(case.data, name="run.csv")
    assert len(logs) == len(case.recordings)
    for log, samples in zip(logs, case.recordings, strict=True):
        for channel, (times, values) in samples.items():
            found = log.get(channel)
            assert found is not None, (channel, [one.name for one in log.channels])
            found = found.known
            assert found.values.size == values.size, channel
            np.testing.assert_allclose(found.time_s, times, rtol=0, atol=TIME_APART_S, err_msg=channel)
            np.testing.assert_allclose(found.values, values, rtol=1e-6, atol=1e-6, err_msg=channel)


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.told])
def test_what_was_done_is_told_and_nothing_else(name):
    case = CASES[name]
    codes = {finding.code for log in read_log(case.data, name="run.csv") for finding in log.findings}
    assert (case.told.strip("!") in codes) != case.told.startswith("!"), codes


def test_a_change_is_told_with_its_line():
    (log,) = read_log(CASES["quotes begin"].data, name="run.csv")
    (told,) = [finding for finding in log.findings if finding.code == "layout-changes"]
    assert told.where == "line 2102"  # by hand: one line of names, 2100 rows before
