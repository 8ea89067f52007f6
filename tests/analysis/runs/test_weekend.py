"""The sheet of a meeting: rows from reviews, spread and trend by hand, shifts over all runs."""

import pytest

from passband.analysis.runs.weekend import find_best, make_sheet, measure_spread
from tests.analysis.sparse_review import read


def shift(before, after, margin):
    return {
        "from_gear": 1, "to_gear": 2, "duration_s": 0.06, "rpm_before": {"value": before, "plus_minus": 10.0},
        "rpm_after": {"value": after, "plus_minus": 30.0}, "margin_to_band_low_rpm": margin,
    }  # fmt: skip


def run(label="", outcome="quarter", seconds=9.5, watts=400e3, after=6200.0):
    told = lambda value, doubt: {"value": value, "plus_minus": doubt}  # noqa: E731
    feet = {"quarter": 1320, "eighth": 660}.get(outcome, 330)
    return {
        "run": {"label": label, "round": "Q1", "event": "Meet", "log_names": ["a.csv"]},
        "window": {"outcome": outcome},
        "distance": {
            "splits": [{"at_ft": 60, "time_s": told(1.4, 0.004)}, {"at_ft": feet, "time_s": told(seconds, 0.004)}],
            "traps": [{"at_ft": feet, "speed_mps": told(65.0, 0.05)}],
        },
        "air": {"temperature_k": 297.0, "pressure_pa": 101e3, "density_altitude_m": 500.0, "wind_mps": None},
        "band": {"share_in": 0.8}, "boost": {"share_above": 0.7, "at_clock_start_pa": 90e3},
        "launch": {"rpm_at_launch": told(6500.0, 30.0)},
        "power": {"average_w": told(watts, 4e3), "corrected_average_w": None} if watts else None,
        "shifts": [shift(8500.0, after, after - 6000.0)],
        "limits": [
            {"name": "oil", "verdict": "inside", "margin_share": 0.4},
            {"name": "lambda", "verdict": "outside", "margin_share": -0.1},
            {"name": "fuel", "verdict": "no data", "margin_share": None},
        ],
    }  # fmt: skip


def make_sheet_of(runs):
    return make_sheet([read(run) for run in runs])


def find_best_of(runs):
    return find_best([read(run) for run in runs])


def spread(sheet, name):
    return next((one for one in sheet.spreads if one.figure == name), None)


def test_a_row_holds_what_the_review_says():
    (row,) = make_sheet_of([run("first")]).rows
    assert (row.label, row.finish_ft, row.elapsed_time_s.value, row.sixty_ft_s.value) == ("first", 1320, 9.5, 1.4)
    assert (row.nearest_limit, row.nearest_margin_share) == ("lambda", -0.1)
    assert (row.limits_outside, row.limits_without_data) == (1, 1)
    assert row.least_margin_to_band_low_rpm == 200.0 and row.corrected_average_w is None


def test_a_bare_review_gives_a_row_of_nones():
    bare = {"run": {"label": "", "round": ""}, "window": {"outcome": "aborted"}}
    (row,) = make_sheet_of([bare]).rows
    assert row.elapsed_time_s is None and row.average_w is None and row.nearest_limit is None
    assert make_sheet_of([bare]).best is None


def test_spread_counts_only_runs_with_a_figure():
    got = measure_spread("x", [1.0, None, 3.0])
    assert (got.runs, got.mean, got.least, got.greatest) == (2, 2.0, 1.0, 3.0)
    assert got.standard_deviation == pytest.approx(2**0.5) and got.per_run is None
    assert measure_spread("x", [2.0]).standard_deviation is None
    assert measure_spread("x", [None, None]) is None


def test_a_straight_trend_is_found_exactly():
    got = measure_spread("x", [1.0, 1.5, 2.0, 2.5, 3.0]).per_run
    assert got.value == pytest.approx(0.5) and got.plus_minus == pytest.approx(0.0, abs=1e-12)


def test_a_trends_doubt_holds_all_slopes_of_five_runs():
    # Hand: 0, 1, 0, 1, 0 over 0..4: ten slopes from -1 to 1, median 0
    got = measure_spread("x", [0.0, 1.0, 0.0, 1.0, 0.0]).per_run
    assert (got.value, got.plus_minus) == (0.0, 1.0)


def test_four_runs_tell_no_trend():
    assert measure_spread("x", [1.0, 1.5, 2.0, 2.5]).per_run is None


def test_one_odd_run_bends_no_trend():
    # Planted: a hundredth a run, and one run half a second slow
    values = [10.0 + 0.01 * n + (0.5 if n == 6 else 0.0) for n in range(8)]
    assert measure_spread("x", values).per_run.value == pytest.approx(0.01, abs=1e-9)


def test_other_finishes_do_not_mix():
    sheet = make_sheet_of(
        [run(seconds=9.5), run(seconds=9.7), run(outcome="eighth", seconds=6.1), run(outcome="aborted")]
    )
    assert spread(sheet, "elapsed_time_s").runs == 2 and spread(sheet, "elapsed_time_s").greatest == 9.7
    assert spread(sheet, "sixty_ft_s").runs == 4


def test_shifts_over_all_runs():
    (got,) = make_sheet_of([run(after=6200.0), run(after=5900.0)]).shifts
    assert (got.from_gear, got.to_gear, got.runs, got.below_band) == (1, 2, 2, 1)
    assert got.lowest_rpm_after == 5900.0 and got.rpm_after == 6050.0
    assert got.step == pytest.approx(0.5 * (6200 / 8500 + 5900 / 8500))


def test_the_best_is_the_strongest_that_finished():
    runs = [run(watts=400e3), run(watts=420e3), run(watts=430e3, outcome="aborted"), run(watts=None)]
    assert find_best_of(runs) == 1 and make_sheet_of(runs).best == 1
    assert find_best_of([]) is None


def test_no_runs_is_an_empty_sheet():
    sheet = make_sheet_of([])
    assert sheet.rows == () and sheet.spreads == () and sheet.shifts == ()
