"""Logs that a logger wrote into several files: later parts without a header, or with a clock that begins anew.

Evidence: planted parts of a made-up run, whose values the whole must hold; runs of other days as counterparts.
"""

from __future__ import annotations

import functools
import gzip

import numpy as np
import pytest

from passband.analysis.reading import read_as_whole, read_log
from passband.analysis.review import review
from tests.analysis.reading.hard_logs import assert_holds_run
from tests.analysis.reading.hard_run import CAR, hard_run, printed, table, usual

RATE_HZ = 50.0
RUN = hard_run(rate_hz=RATE_HZ)
PULLING, SHORT_BEFORE_THE_LIFT, IDLING = 200, 380, 60
"""Rows where the car pulls, where it still does, and where it waits in staging."""
assert_reads = functools.partial(assert_holds_run, RUN)


def rows_of(first: int, last: int | None, *, anew: bool = False, run=RUN) -> bytes:
    rows = slice(first, last)
    time_s = run.time_s[rows] - (run.time_s[first] if anew else 0.0)
    columns = {name: cells[rows] for name, cells in usual(run).items() if not name.startswith("Time")}
    columns["Boost [kPa]"] = printed((run.manifold_pressure[rows] - 101.3e3) / 1e3, 1)
    return table({"Time [s]": printed(time_s, 2), **columns})


def without_header(data: bytes) -> bytes:
    return data.split(b"\n", 1)[1]


def whole(*files: bytes):
    logs = [read_log(data, name=f"part{at}.csv", index=at) for at, data in enumerate(files)]
    return read_as_whole(logs, lambda at: files[at])


def told(log) -> dict[str, str]:
    return {one.code: one.level for one in log.findings}


@pytest.mark.parametrize("anew", [False, True])
@pytest.mark.parametrize("bare", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_parts_are_read_as_the_whole_was(anew, bare, turned):
    # Planted: cut twice while the car pulls; given in either order
    cuts = [(0, PULLING), (PULLING, SHORT_BEFORE_THE_LIFT), (SHORT_BEFORE_THE_LIFT, None)]
    parts = [rows_of(first, last, anew=anew) for first, last in cuts]
    if bare:
        parts[1:] = [without_header(part) for part in parts[1:]]
    (recordings,) = whole(*(parts[::-1] if turned else parts))
    (log,) = recordings
    assert_reads(log, "engine_speed", "throttle", "boost")
    assert log.get("manifold_pressure") is None or "Boost" not in log.get("manifold_pressure").header
    assert set(log.files) == {"part0.csv", "part1.csv", "part2.csv"}
    assert told(log)["log-goes-on"] == "note"
    assert ("header-lent" in told(log)) == bare
    assert bool({"clock-begins-anew", "clock-set-back"} & told(log).keys()) == anew
    assert {channel.log for channel in log.channels} == {0}


def test_packed_parts_are_parts_too():
    parts = [rows_of(0, PULLING), without_header(rows_of(PULLING, None))]
    (recordings,) = whole(*(gzip.compress(part) for part in parts))
    assert_reads(recordings[0], "engine_speed")


def test_a_file_that_goes_on_from_none_keeps_its_own_reading():
    # Planted: rows without a header of another day's run, one column fewer, another delimiter
    other = without_header(rows_of(PULLING, None, run=hard_run(rate_hz=RATE_HZ, seed=8)))
    for bare in (
        other.replace(b",", b";"),
        b"\n".join(line.rsplit(b",", 1)[0] for line in other.splitlines()),
        without_header(rows_of(PULLING + 100, None)),
    ):
        assert len(whole(rows_of(0, PULLING), bare)) == 2


def test_parts_that_meet_at_idle_are_recordings_of_one_logger():
    # Planted: nothing moves where the clock begins anew, so that nothing shows that the rows go on
    files = [rows_of(0, IDLING, anew=True), rows_of(IDLING, None, anew=True)]
    (of_whole,) = review(whole(rows_of(0, None)), CAR)
    launch_s = of_whole.window.log_launch_s - IDLING / RATE_HZ
    for given in (files, files[::-1]):
        logs = whole(*given)
        assert len(logs) == 2
        (one,) = review(logs, CAR)
        assert one.window.log_launch_s == pytest.approx(launch_s, abs=1e-6)
        assert one.run.log_names == ("part0.csv", "part1.csv")


def test_two_runs_of_one_logger_are_two_recordings():
    # Planted: logs of the same columns, each with a run of its own, of other lengths in each gear
    other = hard_run(rate_hz=RATE_HZ, seed=8, lasts_s=11.0)
    logs = whole(rows_of(0, None), rows_of(0, None, run=other))
    assert len(logs) == 2
    assert len(review(logs, CAR)) == 2


def test_a_part_without_rows_enough_is_left_as_it_is():
    logs = whole(rows_of(0, PULLING), rows_of(PULLING, PULLING + 6, anew=True))
    assert len(logs) in (1, 2)
    assert sum(recordings[0].text.rows for recordings in logs) >= PULLING
    assert np.isfinite(logs[0][0].get("engine_speed").values).all()
