"""Six simulated runs of one car on two days: what was truly the same, what was not, and what the reviews made of it.

Public: `Told`, `PLAIN_KINDS`, `CHANGES`, `rows_of_car`.
"""

from __future__ import annotations

import math
import tempfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from passband.analysis.quantities import FloatArray
from passband.analysis.report import as_table
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.review import FullReview
from passband.analysis.runs.change import compare_groups
from passband.analysis.runs.compared_run import ComparedRun, prepare_run
from passband.analysis.runs.cost import compare_costs
from passband.analysis.runs.digest import digest_run
from passband.analysis.runs.fair_pairs import apart_of
from passband.analysis.runs.same_engine import hold_all_against_own
from passband.analysis.widths.classes import Means, means_of
from passband.demo_logs.case_plans import CasePlan
from passband.demo_logs.proving import plan_case, write_case
from tests.proving.cases import Case, load_case, review_case

PLAIN_KINDS = (
    "plain_rear_lever", "plain_rear_natural", "plain_all_foot", "plain_converter", "plain_front_foot",
    "plain_front_lever", "gps_alone", "wheels_alone",
)  # fmt: skip
"""Cars of each kind of drive, without a trouble."""
CHANGES = ("none", "ballast", "power")
"""What is done between the days: nothing; mass that is told; engine torque."""
BALLAST_KG, MORE_TORQUE = 25.0, 0.02
RUNS, FIRST_DAY = 6, 3
PAIRS = ((0, 1), (2, 3), (4, 5))
"""Two of one day, two of two days, two of one day; no run twice, so that pairs are independent."""
DAY_WIND_MPS, RUN_WIND_MPS = 1.0, 0.4
"""One standard deviation: half of what the analysis takes as 95 % of an untold wind, and of a run's own."""
FINE_S = 0.0005
"""Step of what truly was, between the truth's own samples by their speed. [s]"""
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Told:
    """Which car, and how it is driven and logged."""

    kind: str
    """One of `PLAIN_KINDS`."""
    seed: int
    """Of car, devices, days and drivers."""
    model: str
    """Of the car's motion."""
    sensors: str
    """Set that they are drawn from."""
    change: str
    """One of `CHANGES`."""


def _plans(told: Told) -> list[CasePlan]:
    """The runs: each day its air and wind, each run its own wind, fuel, driver and surface."""
    plan = plan_case(told.kind, told.seed, sensors=told.sensors, model=told.model)
    rng = np.random.default_rng([told.seed, zlib.crc32(told.kind.encode()), 5])
    out = []
    for place in range(RUNS):
        if place in (0, FIRST_DAY):
            day = replace(
                plan.day,
                temperature_k=round(plan.day.temperature_k + float(rng.normal(0.0, 5.0)), 1),
                pressure_pa=round(plan.day.pressure_pa + float(rng.normal(0.0, 500.0)), -2),
            )
            wind = float(rng.normal(0.0, DAY_WIND_MPS))
        warmer = float(rng.normal(0.0, 0.7))
        air = replace(
            day, wind_mps=wind + float(rng.normal(0.0, RUN_WIND_MPS)), temperature_k=day.temperature_k + warmer
        )
        car, driver = plan.car, plan.runs[0]
        mass = car.mass_kg * (1.0 + float(rng.normal(0.0, 0.0005)))
        after = place >= FIRST_DAY
        torque = 1.0 + MORE_TORQUE * (after and told.change == "power")
        engine = replace(car.engine, torque_points=tuple((rpm, nm * torque) for rpm, nm in car.engine.torque_points))
        driven = replace(
            driver,
            reaction_s=float(rng.uniform(0.03, 0.3)),
            grip=driver.grip * float(rng.normal(1.0, 0.012)),
            bite=driver.bite * float(rng.normal(1.0, 0.015)),
            launch_rpm=car.launch_rpm * float(rng.normal(1.0, 0.01)),
            clutch_lead_s=float(rng.uniform(0.006, 0.024)),
            through_s=float(rng.uniform(0.02, 0.35)),
        )
        heavier = BALLAST_KG if after and told.change == "ballast" else 0.0
        out.append(
            replace(plan, car=replace(car, mass_kg=mass + heavier, engine=engine), day=air, runs=(driven,), slip=True)
        )
    return out


def _drive(told: Told, folder: Path) -> list[Case]:
    """All runs written and read; the car as its owner knows it is the same for all, but for what he put into it."""
    cases = []
    for place, plan in enumerate(_plans(told)):
        where = folder / f"{told.kind}_{told.seed}_{place}"
        if not (where / "truth.json").exists():
            write_case(where, plan, told.seed + 1000 * place, facts="owner", device_seed=told.seed)
        cases.append(load_case(where))
    car = cases[0].car
    heavier = car.model_copy(update={"mass": (car.mass or 0.0) + BALLAST_KG})
    cars = [heavier if told.change == "ballast" and place >= FIRST_DAY else car for place in range(RUNS)]
    return [replace(case, car=one) for case, one in zip(cases, cars, strict=True)]


def rows_of_car(told: Told, keep: Path | None = None) -> list[Row]:
    """Everything that is told of differences between these runs, each with its truth.

    Parameters
    ----------
    told : Told
        The car.
    keep : Path, optional
        Where its logs are kept, to be read again the next time; they go with the seed, not with what reads them.

    Returns
    -------
    list of dict
        ``figure``, ``error``, ``plus_minus``, ``size``, ``basis``, ``slip`` and what the car was.
    """
    if keep is None:
        with tempfile.TemporaryDirectory() as folder:
            cases = _drive(told, Path(folder))
    else:
        cases = _drive(told, keep)
    rows: list[Row] = []
    truths = [case.truth["runs"][0] for case in cases]
    for with_slip in (True, False):
        found = [review_case(case, with_slip=with_slip).reviews for case in cases]
        reviews = [one[0] if one else None for one in found]
        whence = {name.name: getattr(told, name.name) for name in fields(told)} | {"slip": with_slip}
        compared = [
            None if review is None else prepared(review, case, with_slip=with_slip, place=place)
            for place, (review, case) in enumerate(zip(reviews, cases, strict=True))
        ]
        rows += [whence | row for row in pair_rows(compared, reviews, truths)]
        sure = [one for one in compared if one is not None]
        if with_slip and len(sure) == RUNS:
            whole = whence | _basis(reviews[0])
            rows += [whole | row for row in _season(sure, told, cases)]
        if with_slip:
            rows += [whence | row for row in _alarms(reviews)]
    return rows


def pair_rows(
    compared: Sequence[ComparedRun | None], reviews: Sequence[Review | None], truths: Sequence[Row]
) -> Iterator[Row]:
    """What each of `PAIRS` differs by, with its truth."""
    for place, (first, second) in enumerate(PAIRS):
        a, b = compared[first], compared[second]
        if a is not None and b is not None:
            for row in _pair(a, b, truths[first], truths[second]):
                yield _basis(reviews[first]) | {"pair": place} | row


UNSEEN = Means("nothing", False, False, None, 0.0, "clutch")
"""Of a run whose motion nothing shows."""


def _basis(review: Review | None) -> Row:
    assert isinstance(review, FullReview)
    means = UNSEEN if review.seen is None else means_of(review.seen)
    return {"basis": means.basis, "drive": means.drive, "timed": means.timed, "means": asdict(means)}


def prepared(review: Review, case: Case, *, with_slip: bool, place: int) -> ComparedRun:
    """A run of one of the two days, made ready to be compared."""
    assert isinstance(review, FullReview)
    of_day = replace(review.run, event="first day" if place < FIRST_DAY else "second day")
    bare = Review(**{one.name: getattr(review, one.name) for one in fields(Review)} | {"run": of_day})
    motion = review.motion
    return prepare_run(
        bare,
        as_table(review).frame,
        label=f"run {place}",
        slip=case.slips[0] if with_slip else None,
        errors=(motion.time_s, motion.errors) if motion is not None else None,
        tire_circumference_m=case.car.tire_circumference,
    )


def _figures(review: Review, truth: Row) -> Iterator[tuple[str, Estimate, float]]:
    """What is held between runs: the review's figure and what it truly was."""
    power, distance = known(review.power), known(review.distance)
    for ours, theirs, which in (
        ("average_w", "flywheel_brake", "avg_w"),
        ("average_wheel_w", "tractive", "avg_w"),
        ("average_pulling_w", "flywheel_brake", "avg_excl_shifts_w"),
        ("peak_w", "flywheel_brake", "peak_50ms_w"),
    ):
        got = None if power is None else known(getattr(power, ours))
        if got is not None:
            yield ours, got, truth["power"][theirs][which]
    for shift in review.shifts:
        true = next((one for one in truth["shifts"] if one["to"] == shift.to_gear and not one["missed"]), None)
        for ours, theirs in (("rpm_before", "rpm_before"), ("rpm_after", "rpm_after"), ("rpm_drop", "rpm_drop")):
            got = getattr(shift, ours)
            if true is not None and got is not None:
                converter = "_max" if shift.kind == "converter" and ours == "rpm_before" else ""
                converter = "_from_max" if shift.kind == "converter" and ours == "rpm_drop" else converter
                yield f"{ours} {shift.to_gear}", got, true[theirs + converter]
    for split in () if distance is None else distance.splits:
        if truth["splits"][f"{split.at_ft}ft"] is not None:
            yield f"split {split.at_ft}", split.time_s, truth["splits"][f"{split.at_ft}ft"]
    for trap in () if distance is None else distance.traps:
        if truth["trap_speeds"].get(f"{trap.at_ft}ft") is not None:
            yield f"trap {trap.at_ft}", trap.speed_mps, truth["trap_speeds"][f"{trap.at_ft}ft"]


def _pair(a: ComparedRun, b: ComparedRun, true_a: Row, true_b: Row) -> Iterator[Row]:
    first, second = (
        {name: (e, t) for name, e, t in _figures(*one)} for one in ((a.review, true_a), (b.review, true_b))
    )
    apart = apart_of((a, b))
    for name in first.keys() & second.keys():
        (got_a, was_a), (got_b, was_b) = first[name], second[name]
        off = difference(got_b, got_a, apart=apart)
        more = {"lone": got_a.plus_minus, "at": name, "lone_error": got_a.value - was_a}
        more |= {"own": math.hypot(got_a.own, got_b.own)}  # what two days do not share is no run's own
        more |= {"runs": [_parts(got_a), _parts(got_b)], "apart": sorted(apart)}
        yield _row(name.split()[0], off, was_b - was_a, was_a, **more)
    in_band = compare_groups([a], [b]).time_in_band_s.raw
    if in_band is not None:
        inside = [true["rpm_band"]["in_s"] for true in (true_a, true_b)]
        yield _row("time in band", in_band, inside[1] - inside[0], inside[0])
    yield from _costs(a, b, true_a, true_b)


def _parts(got: Estimate) -> Row:
    shared = {part.cause: part.effect for part in got.shared}
    return {"value": got.value, "plus_minus": got.plus_minus, "own": got.run_plus_minus, "shared": shared}


def _row(figure: str, got: Estimate, true: float, size: float, **more: Any) -> Row:
    row = {"figure": figure, "error": got.value - true, "plus_minus": got.plus_minus, "size": abs(size), "own": got.own}
    return row | more


def _costs(a: ComparedRun, b: ComparedRun, true_a: Row, true_b: Row) -> Iterator[Row]:
    found = compare_costs(a, b)
    if found is None:
        return
    ways = [_by_place(true) for true in (true_a, true_b)]
    ends = np.array([0.0, *(part.to_m for part in found.parts)])
    late = np.diff(np.interp(ends, *ways[1][:2]) - np.interp(ends, *ways[0][:2]))
    cost = late + _carried(ways, ends)
    yield _row("compare difference", found.difference_s, float(late.sum()), 1.0)
    for place, part in enumerate(found.parts):
        yield _row(f"compare elapsed, {part.kind}", part.elapsed_s, float(late[place]), 1.0)
        yield _row(f"compare cost, {part.kind}", part.cost_s, float(cost[place]), 1.0)


def _by_place(truth: Row) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Place, elapsed time there, speed there; as it was."""
    coarse_s, pace = np.array(truth["arrays"]["time"]) - truth["clock_start"], np.array(truth["arrays"]["speed_mps"])
    gone = np.concatenate([[0.0], np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(coarse_s))])
    along = np.array(truth["arrays"].get("distance_m", gone))
    course = CubicHermiteSpline(coarse_s, along, pace)
    time_s = np.arange(coarse_s[0], coarse_s[-1], FINE_S)
    place, speed = course(time_s), course(time_s, 1)
    place = place - np.interp(0.0, time_s, place)
    forward = np.concatenate(([True], np.diff(np.maximum.accumulate(place)) > 0))
    return place[forward], time_s[forward], speed[forward]


def _carried(ways: list[tuple[FloatArray, FloatArray, FloatArray]], ends_m: FloatArray) -> FloatArray:
    """What each part's speed made of the time behind it: the analysis' definition, on the true motion."""
    at = np.linspace(0.0, ends_m[-1], 4000)
    slow, fast = (np.maximum(np.interp(at, place, speed), 0.5) for place, _, speed in ways)
    weight = 3.0 / (slow * fast * (slow**2 + slow * fast + fast**2))
    behind = np.concatenate(([0.0], np.cumsum(0.5 * (weight[1:] + weight[:-1]) * np.diff(at))))
    left = np.interp(ends_m, at, (fast**3 - slow**3) / 3.0) * (behind[-1] - np.interp(ends_m, at, behind))
    left[0] = left[-1] = 0.0
    return np.asarray(left[:-1] - left[1:])


def _season(compared: list[ComparedRun], told: Told, cases: list[Case]) -> Iterator[Row]:
    """Both days as the sides of a change, and whether the engine was the same."""
    found = compare_groups(compared[:FIRST_DAY], compared[FIRST_DAY:])
    ratio = 1.0 + MORE_TORQUE * (told.change == "power")
    for one in found.power_ratio:
        yield _row("change: power by engine speed", one.ratio, ratio, 1.0)
    if found.top_over_rest is not None:
        yield _row("change: top over rest", found.top_over_rest, 1.0, 1.0)
    truths = [case.truth["runs"][0] for case in cases]
    for name, got, of in (
        ("change: average power", found.average_w.raw, lambda run: run["power"]["flywheel_brake"]["avg_w"]),
        ("change: elapsed time", found.elapsed_time_s.raw, lambda run: run["splits"][_finish(run)]),
        ("change: time in band", found.time_in_band_s.raw, lambda run: run["rpm_band"]["in_s"]),
    ):
        if got is not None and len(found.before.clean) == FIRST_DAY == len(found.after.clean):
            true = [of(run) for run in truths]
            yield _row(name, got, float(np.mean(true[FIRST_DAY:]) - np.mean(true[:FIRST_DAY])), true[0])
    for shift in found.rpm_after:
        rpm = [[s["rpm_after"] for s in run["shifts"] if f"{s['from']}-{s['to']}" == shift.shift] for run in truths]
        if all(rpm):
            mean = [float(np.mean([one[0] for one in side])) for side in (rpm[:FIRST_DAY], rpm[FIRST_DAY:])]
            yield _row("change: RPM after", shift.difference, mean[1] - mean[0], mean[0])
    for one in hold_all_against_own([digest_run(run) for run in compared], ["before"] * 3 + ["after"] * 3):
        if one is not None:
            yield _row("same engine, same day", one.power, 1.0, 1.0, alarm=not one.as_before)
    for one in hold_all_against_own([digest_run(run) for run in compared])[FIRST_DAY:]:
        if one is not None:
            yield _row("same engine, two days", one.power, ratio, 1.0, alarm=not one.as_before)


def _finish(run: Row) -> str:
    return max((name for name, at in run["splits"].items() if at is not None), key=lambda name: int(name[:-2]))


def _alarms(reviews: list[Any]) -> Iterator[Row]:
    """Whether a sound slip was told to be against the logs."""
    for review in reviews:
        if review is not None:
            told = any(one.code == "slip-against-logs" for one in review.findings)
            yield {"figure": "slip against logs", "alarm": told}
