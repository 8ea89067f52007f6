"""Two runs of one car with an owner's facts: whether the plus-minus of their difference holds, and how narrow it is.

python -m tests.benchmarks.pairs [--seeds 1..6] [--kind NAME ...] [--sensors usual|wide] [--jobs 2]

Each kind's car is driven twice on one day with the same sensors and other noise; the car's believed facts are the same
for both and off by what a careful owner's are. For each figure: how many differences were asked, their median error,
the share that the difference's plus-minus covers, its median, and the same had nothing been known to be shared.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import statistics
import tempfile
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Any

from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown, known
from passband.demo_logs.proving import plan_case, write_case
from passband.demo_logs.sensor_ranges import SETS
from tests.proving.cases import load_case, review_case

KINDS = ("plain_rear_lever", "plain_rear_natural", "plain_all_foot", "plain_converter", "plain_front_foot")
"""Cars of each kind of drive, without a trouble."""
OTHER = 1000
"""What is added to a seed for the second run's noise."""
Row = tuple[str, float, float, float, float]
"""Figure, error, plus-minus of the difference, the same without what is shared, size of the figure."""


def figures_of(review: Review, truth: dict[str, Any]) -> dict[str, tuple[Estimate, float]]:
    """What is held between runs: the review's figure and what it truly was."""
    out: dict[str, tuple[Estimate, float]] = {}
    if not isinstance(review.power, Unknown):
        for ours, theirs in (("average_w", "flywheel_brake"), ("average_wheel_w", "tractive")):
            got = getattr(review.power, ours)
            if not isinstance(got, Unknown):
                out[ours] = (got, truth["power"][theirs]["avg_w"])
    for shift, true in zip(review.shifts, truth["shifts"], strict=False):
        if known(shift.rpm_after) is not None and shift.to_gear == true["to"]:
            out[f"rpm_after {true['to']}"] = (shift.rpm_after, true["rpm_after"])
            out[f"rpm_before {true['to']}"] = (shift.rpm_before, true["rpm_before_max"])
    if review.distance is not None and not isinstance(review.distance, Unknown):
        for split in review.distance.splits:
            out[f"split {split.at_ft}"] = (split.time_s, truth["splits"][f"{split.at_ft}ft"])
    return out


def pair_rows(task: tuple[str, int, str]) -> list[Row]:
    """Both runs of one car, held against each other."""
    kind, seed, sensors = task
    plan = replace(plan_case(kind, seed, sensors=sensors), runs=plan_case(kind, seed, sensors=sensors).runs[:1])
    with tempfile.TemporaryDirectory() as folder:
        places = [Path(folder) / f"{kind}_{seed}_{which}" for which in "ab"]
        write_case(places[0], plan, seed, facts="owner", device_seed=seed)
        write_case(places[1], plan, seed + OTHER, facts="owner", device_seed=seed)
        first, second = (load_case(place) for place in places)
    second = replace(second, car=first.car)
    reviews = [review_case(case, with_slip=True).reviews for case in (first, second)]
    if not all(reviews):
        return []
    a, b = (figures_of(found[0], case.truth["runs"][0]) for found, case in zip(reviews, (first, second), strict=True))
    rows = []
    for name in a.keys() & b.keys():
        (got_a, true_a), (got_b, true_b) = a[name], b[name]
        apart = difference(got_b, got_a)
        error = apart.value - (true_b - true_a)
        rows.append((name.split()[0], error, apart.plus_minus, math.hypot(got_a.plus_minus, got_b.plus_minus), true_a))
    return rows


def main() -> None:
    """Print one line a figure."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.pairs", description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1..6", help="one, or first..last")
    parser.add_argument("--kind", action="append", help="as often as wanted")
    parser.add_argument("--sensors", default="usual", choices=sorted(SETS), help="ranges that sensors are drawn from")
    parser.add_argument("--jobs", type=int, default=2, help="pairs at a time")
    told = parser.parse_args()
    first, _, last = told.seeds.partition("..")
    tasks = [(k, s, told.sensors) for s in range(int(first), int(last or first) + 1) for k in told.kind or KINDS]
    by_figure: defaultdict[str, list[Row]] = defaultdict(list)
    with multiprocessing.get_context("spawn").Pool(told.jobs) as pool:
        for rows in pool.map(pair_rows, tasks, chunksize=1):
            for row in rows:
                by_figure[row[0]].append(row)
    print(
        f"{'figure':16} {'pairs':>6} {'median error':>13} {'covered':>8} {'+-':>9} {'+-/value':>9} {'unshared +-':>12}"
    )
    for name, rows in sorted(by_figure.items()):
        errors, widths, whole = ([abs(row[k]) for row in rows] for k in (1, 2, 3))
        covered = sum(e <= w for e, w in zip(errors, widths, strict=True)) / len(rows)
        relative = statistics.median(w / abs(row[4]) for w, row in zip(widths, rows, strict=True))
        print(
            f"{name:16} {len(rows):6} {statistics.median(errors):13.4g} {covered:8.1%} {statistics.median(widths):9.4g}"
            f" {relative:9.2%} {statistics.median(whole):12.4g}"
        )


if __name__ == "__main__":
    main()
