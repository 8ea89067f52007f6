"""An ignition cut by its name: of shifts, or of something else."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.reading.columns.cut_of_shifts import cut_of_shifts
from tests.analysis.reading.health.test_speed_scale import TIME, a_log

SHIFTS_S = (3.0, 5.0, 7.5)
RPM = 5000.0 + 1000.0 * (TIME - np.select([TIME > at + 0.04 for at in SHIFTS_S[::-1]], SHIFTS_S[::-1], 1.0))


def log_of(cuts_s, header="Ign Cut", confidence=0.7):
    flag = np.zeros(TIME.size)
    for at in cuts_s:
        flag[(at <= TIME) & (at + 0.06 > TIME)] = 1.0
    log = a_log(engine_speed=RPM)
    return replace(
        log, channels=(*log.channels, Channel("shift_cut", header, "", "", TIME, flag, 100.0, confidence, 0, 1.0))
    )


def test_cuts_at_which_the_engine_falls_are_shifts():
    # Planted: 7000 to 5000 rpm, 40 ms after each cut begins
    log = log_of(SHIFTS_S)
    assert cut_of_shifts(log) is log


@pytest.mark.parametrize("cuts_s", [(), (1.5, 2.0, 2.5), tuple(np.arange(1.0, 9.0, 0.2))], ids=["none", "pull", "many"])
def test_cuts_of_a_limiter_are_none(cuts_s):
    got = cut_of_shifts(log_of(cuts_s))
    assert got.get("shift_cut") is None and [one.code for one in got.findings] == ["ignition-cut-unclear"]


def test_a_name_that_says_what_is_cut_for_stands():
    log = log_of((), header="Shift Cut", confidence=0.95)
    assert cut_of_shifts(log) is log
