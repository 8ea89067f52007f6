"""A run in one line, stored and read back. Evidence: hand, and the writer as a slow twin."""

from dataclasses import replace

from passband.analysis.results.codec import plain
from passband.analysis.results.estimate import Estimate, SharedPart
from passband.analysis.results.window import Outcome
from passband.analysis.runs.summary import FindingCounts, LimitCounts, RunSummary, summary_from_json

SHARED = Estimate(300e3, 4e3, 1e3, (SharedPart("car: mass", 3e3),))
RUN = RunSummary(
    ("ecu.csv",), "Kestrel", Outcome.QUARTER, 1320, Estimate(10.8, 0.01, 0.008), Estimate(62.4, 0.02), None, SHARED,
    0.78, None, 4, LimitCounts(2, 1, 0), FindingCounts(0, 2, 1),
)  # fmt: skip


def test_what_was_written_is_read_back_without_what_other_runs_share():
    # Hand: of each figure the value, its plus-minus and the run's own stay
    assert summary_from_json(plain(RUN)) == replace(RUN, average_w=Estimate(300e3, 4e3, 1e3))


def test_a_run_put_in_short_before_power_at_the_wheels_was_kept_is_read_back():
    kept = plain(replace(RUN, average_wheel_w=Estimate(250e3, 4e3)))
    assert summary_from_json(kept).average_wheel_w == Estimate(250e3, 4e3)
    del kept["average_wheel_w"]
    assert summary_from_json(kept).average_wheel_w is None


def test_a_run_that_reached_nothing_is_read_back_whole():
    # Slow twin
    bare = replace(
        RUN, outcome=Outcome.ABORTED, at_ft=None, elapsed_time_s=None, trap_speed_mps=None, average_w=None,
        share_in_band=None,
    )  # fmt: skip
    assert summary_from_json(plain(bare)) == bare
