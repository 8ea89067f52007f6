"""Logs gathered onto the ECU's clock: early endings told, engine speeds of another scale mended. Truth is planted."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.clocks.gather import gather_logs, logs_of_run
from passband.analysis.clocks.match import ClocksDoNotMatch
from passband.analysis.review import review
from tests.analysis.two_loggers import CAR, between, dash_log, ecu_log, visit, without

RUN = visit(burnout=True)
ECU, DASH = ecu_log(RUN), dash_log(RUN, rate_ppm=0.0)
LAUNCH_S = RUN.launches_s[0]
OFFSET_S = 3.0


def scaled(log: Log, factor: float) -> Log:
    """The log with its engine speed in another scale."""
    return replace(
        log,
        channels=tuple(
            replace(one, values=one.values * factor) if one.name == "engine_speed" else one for one in log.channels
        ),
    )


def top(log: Log) -> float:
    return float(np.nanmax(log.get("engine_speed").values))


def early(before_s: float, **changes: object) -> Log:
    """A dash that ends so long before the launch."""
    return between(dash_log(RUN, rate_ppm=0.0, **changes), 0.0, LAUNCH_S - OFFSET_S - before_s)


@pytest.mark.parametrize("before_s", [0.5, 2.0, 6.0])
def test_a_dash_that_ends_before_the_launch_is_told_and_left_out(before_s):
    whole = review([ECU], CAR)[0]
    cut = review([ECU, early(before_s)], CAR)[0]
    told = [one for one in cut.findings if one.code == "log-misses-the-run"]
    assert len(told) == 1 and "before the launch" in told[0].text
    assert cut.clocks == ()
    assert cut.window.log_launch_s == pytest.approx(whole.window.log_launch_s, abs=0.02)
    assert cut.window.clock_start_plus_minus_s == pytest.approx(whole.window.clock_start_plus_minus_s, abs=0.005)
    # Hand: it ends that long before the clutch goes, which is found to some hundredths of a second
    assert f"{before_s:.1f} s" in told[0].text or f"{before_s - 0.1:.1f} s" in told[0].text


def test_a_dash_without_engine_speed_that_ends_before_the_launch_is_told_so():
    gathered = gather_logs(ECU, [[early(1.0, copy=False)]], CAR)
    assert gathered.others == ()
    assert [one.code for one in gathered.findings] == ["log-misses-the-run"]


def test_a_dash_that_shows_the_launch_is_kept():
    gathered = gather_logs(ECU, [[DASH]], CAR)
    found = logs_of_run(gathered.others, gathered.matches, launch_s=LAUNCH_S, stop_s=LAUNCH_S + 9.0)
    assert (found.places, found.findings) == ((0,), ())


def test_a_dash_that_begins_after_the_run_is_told():
    gathered = gather_logs(ECU, [[DASH]], CAR)
    found = logs_of_run(gathered.others, gathered.matches, launch_s=0.5, stop_s=1.0)
    assert found.places == ()
    assert "2.0 s after the run" in found.findings[0].text


@pytest.mark.parametrize("factor", [0.1, 0.01, 0.001, 1 / 60, 10.0])
@pytest.mark.parametrize("wrong", ["ecu", "dash"])
def test_an_engine_speed_in_another_scale_is_mended_by_the_other_log_and_not_taken_for_another_run(factor, wrong):
    ecu, dash = (scaled(ECU, factor), DASH) if wrong == "ecu" else (ECU, scaled(DASH, factor))
    gathered = gather_logs(ecu, [[dash]], CAR)
    assert [one.code for one in gathered.findings] == ["engine-speed-scale"]
    assert gathered.findings[0].where.startswith(wrong)
    assert top(gathered.ecu) == pytest.approx(top(ECU), rel=1e-9)
    assert top(gathered.others[0]) == pytest.approx(top(DASH), rel=1e-9)
    assert abs(gathered.matches[0].offset_s.value - OFFSET_S) < 0.015


def test_a_review_of_an_ecu_ten_times_too_small_is_that_of_the_right_one():
    right, wrong = review([ECU, DASH], CAR)[0], review([scaled(ECU, 0.1), DASH], CAR)[0]
    assert [one.code for one in wrong.findings].count("engine-speed-scale") == 1
    assert wrong.distance.splits[0].time_s.value == pytest.approx(right.distance.splits[0].time_s.value, abs=1e-5)


@pytest.mark.parametrize("factor, word", [(0.5, "half"), (2.0, "twice")])
def test_gears_tell_which_of_two_counts_of_pulses_is_right(factor, word):
    # Planted: the ECU's own driven tire turns in the gears with the dash's engine speed alone
    gathered = gather_logs(scaled(ECU, factor), [[DASH]], CAR)
    assert [one.code for one in gathered.findings] == ["engine-speed-scale"]
    assert word in gathered.findings[0].text
    assert gathered.matches[0].findings == ()  # what the clocks' match said of the pulses holds no longer
    assert top(gathered.ecu) == pytest.approx(top(ECU), rel=1e-9)


def test_without_gears_the_ecus_count_of_pulses_is_believed_and_told():
    bare = CAR.model_copy(update={"gear_ratios": None, "final_drive": None})
    gathered = gather_logs(scaled(ECU, 0.5), [[DASH]], bare)
    assert [one.code for one in gathered.findings] == ["engine-speed-counts-other-pulses"]


def test_the_dash_that_counts_other_pulses_leaves_the_ecu_as_it_is():
    gathered = gather_logs(ECU, [[scaled(DASH, 2.0)]], CAR)
    assert [one.code for one in gathered.findings] == ["engine-speed-counts-other-pulses"]
    assert gathered.findings == gathered.matches[0].findings
    assert gathered.ecu is ECU


def test_another_run_in_another_scale_is_still_another_run():
    other = dash_log(visit(burnout=True, idle_s=3.8, shift_rpm=8250.0))
    with pytest.raises(ClocksDoNotMatch, match="not of the same run"):
        gather_logs(scaled(ECU, 0.1), [[other]], CAR)


def test_a_further_log_without_engine_speed_says_nothing_of_scale():
    gathered = gather_logs(ECU, [[without(DASH, "engine_speed")]], CAR)
    assert [one.code for one in gathered.findings] == ["clock-matched-by-speed"]
