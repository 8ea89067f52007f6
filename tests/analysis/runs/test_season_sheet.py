"""The sheet of a season: best among clean runs, differences, faults set apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.results.air import AirState
from passband.analysis.results.distance import Wheelspin
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.shifts import ShiftKind
from passband.analysis.runs.digest import digest_run
from passband.analysis.runs.faults import faults_of
from passband.analysis.runs.season_sheet import Noted, SeasonSheet, make_season_sheet
from tests.analysis.runs.planted_engine import engine_run
from tests.analysis.runs.planted_pair import planted_run


def sheet_of(runs, noted=None) -> SeasonSheet:
    return make_season_sheet([digest_run(run) for run in runs], noted)


def missed(run):
    (shift,) = run.review.shifts
    return replace(run, review=replace(run.review, shifts=(replace(shift, kind=ShiftKind.MISSED),)))


def test_the_best_is_the_quickest_without_a_fault():
    quick = planted_run("quick", shifts=((1, 40.0, 0.01),))
    slow = planted_run("slow", shifts=((1, 40.0, 0.20),))
    sheet = sheet_of([missed(quick), slow, planted_run("short", stop_m=200.0)])
    assert sheet.best == "slow"
    first, second, third = sheet.runs
    assert first["to_best_s"] < 0 and second["to_best_s"] == 0.0 and third["to_best_s"] is None
    assert second["to_run_before_s"] == pytest.approx(second["elapsed_time_s"] - first["elapsed_time_s"])
    assert (first["faults"], third["faults"]) == ("missed shift 1-2", "aborted")


def spun(run):
    distance = replace(run.review.distance, wheelspin=(Wheelspin(0.2, 0.9, 0.3),))
    return replace(run, review=replace(run.review, distance=distance))


def test_a_car_that_spins_in_every_run_has_a_best_one_nonetheless():
    # Hand: the quickest also missed a shift; a run without a fault would be the only one to count.
    quick, slow = spun(planted_run("quick", shifts=((1, 40.0, 0.01),))), spun(planted_run("slow"))
    sheet = sheet_of([missed(quick), slow, spun(planted_run("slower", shifts=((1, 40.0, 0.40),)))])
    assert (sheet.best, sheet.cars[0].usual_faults) == ("slow", ("spun the tires",))
    assert sheet.runs[0]["faults"] == "spun the tires; missed shift 1-2" and sheet.runs[1]["to_best_s"] == 0.0
    among_clean = sheet_of([quick, slow, planted_run("clean", shifts=((1, 40.0, 0.40),))])
    assert (among_clean.best, among_clean.cars[0].usual_faults) == ("clean", ())
    assert sheet_of([missed(quick), missed(quick)]).best is None


def test_a_row_holds_times_shifts_and_what_was_noted():
    (row,) = sheet_of([planted_run("Q1")], [Noted("2031-05-04", "stock", "new springs")]).runs
    assert (row["at"], row["group"], row["notes"]) == ("2031-05-04", "stock", "new springs")
    assert row["shift_1_2_rpm_before"] == 8000.0 and row["shift_1_2_rpm_after"] is None
    assert row["t60_s"] < row["t330_s"] < row["t1320_s"] == row["elapsed_time_s"]


def test_the_same_air_takes_the_days_apart():
    # Planted: the same time in air 20 K warmer is the better run
    rng = np.random.default_rng(3)
    cool, warm = engine_run("cool", rng), engine_run("warm", rng, temperature_k=313.15)
    first, second = sheet_of([cool, warm]).runs
    assert first["elapsed_time_s"] == second["elapsed_time_s"]
    assert second["elapsed_same_air_s"] < first["elapsed_same_air_s"]


def test_no_runs_make_an_empty_sheet():
    sheet = sheet_of([])
    assert (sheet.columns, sheet.runs, sheet.best, sheet.spreads) == ((), (), None, ())


def test_a_clean_run_has_no_faults():
    assert faults_of(planted_run().review) == ()


def test_tires_that_no_sensor_shows_may_be_a_clutch_and_are_no_fault():
    plain = planted_run().review
    spun = replace(plain, distance=replace(plain.distance, wheelspin=(Wheelspin(0.2, 0.9, 0.3),)))
    told = Finding("wheelspin-or-clutch", "note", "A slipping clutch looks alike.")
    assert faults_of(spun) == ("spun the tires",)
    assert faults_of(replace(spun, findings=(*spun.findings, told))) == ()


def test_several_cars_on_a_sheet_have_each_its_own_best_differences_and_spread():
    # Planted: a quicker car between two runs of a slower one
    slow = [of_car(planted_run(name, shifts=((1, 40.0, cost),)), "Wren") for name, cost in (("a", 0.2), ("b", 0.25))]
    quick = of_car(planted_run("q", shifts=((1, 40.0, 0.01),)), "Rail")
    sheet = sheet_of([slow[0], quick, slow[1]])
    assert [(one.car, one.best) for one in sheet.cars] == [("Wren", "a"), ("Rail", "q")]
    assert (sheet.best, sheet.spreads) == (None, ())
    first, other, last = sheet.runs
    assert (first["to_best_s"], other["to_best_s"]) == (0.0, 0.0)
    assert (first["to_run_before_s"], other["to_run_before_s"]) == (None, None)
    assert last["to_run_before_s"] == pytest.approx(last["elapsed_time_s"] - first["elapsed_time_s"])
    wren, rail = sheet.cars
    runs = {one.figure: one.runs for one in wren.spreads}
    assert runs["elapsed_time_s"] == 2
    assert {one.figure: one.runs for one in rail.spreads}["elapsed_time_s"] == 1


def of_car(run, name):
    return replace(run, review=replace(run.review, car=replace(run.review.car, name=name)))


@pytest.mark.parametrize(("open_by", "there"), [(0.005, True), (0.08, False)])
def test_air_that_was_taken_for_want_of_better_has_no_density_altitude_on_the_sheet(open_by, there):
    # Planted: a day told, and one that nobody told
    run = planted_run("Q1")
    density = Estimate(1.2, open_by * 1.2)
    air = AirState(293.15, 101325.0, 1170.0, density, 220.0, None, "as given")
    (row,) = sheet_of([replace(run, review=replace(run.review, air=air))]).runs
    assert (row["density_altitude_m"] is not None) == there and row["density_kgpm3"] == 1.2
