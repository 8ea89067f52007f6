"""Runs of one car with an owner's facts: whether the plus-minus of what they differ by holds, and how narrow it is.

python -m tests.benchmarks.pairs [--seeds 1..6] [--kind NAME ...] [--by sensors,model,basis,drive,change,pair]
    [--cache FILE] [--keep FOLDER] [--check 7..8] [--write] [--jobs 2]

Each kind's car is driven six times (`runs_of_one_car.py`): three runs on each of two days, every run with its own wind,
fuel, driver and surface; logged by the same devices; between the days nothing is changed, or mass that is told, or the
engine. Facts are off by what a careful owner's are, for all runs alike, and no wind is given. For each figure: how
many differences were asked, their median error, the share that the plus-minus covers, its median, over the figure and
in median errors, and a lone run's own plus-minus beside its coverage. Then the alarms that were raised by runs in
which nothing was wrong.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import statistics
from collections import defaultdict
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Any

from passband.analysis.widths.pairs_table import ROWS
from passband.demo_logs.car_models import MODELS
from tests.benchmarks.pairs_table import make_factors, with_factors, without_the_car, write_factors
from tests.benchmarks.runs_of_one_car import CHANGES, PLAIN_KINDS, Told, rows_of_car

Row = dict[str, Any]
ALARMS_OF_CHANGE = ("change: power by engine speed", "change: top over rest", "same engine, two days")
"""Figures that must say nothing where nothing was changed in the engine."""


def cars_of(seeds: Iterable[int], kinds: Iterable[str]) -> list[Told]:
    """Every kind once a seed; models, sets of sensors and changes take turns."""
    turns = [(model, sensors) for sensors in ("usual", "wide") for model in sorted(MODELS)]
    return [
        Told(kind, seed, *turns[(seed + place) % len(turns)], CHANGES[max((seed + place) % 5 - 2, 0)])
        for seed in seeds
        for place, kind in enumerate(kinds)
    ]


def gather(cars: list[Told], cache: Path | None, jobs: int, keep: Path | None = None) -> list[Row]:
    """What was asked of all cars; those that the cache holds are not asked again."""
    lines = cache.read_text(encoding="utf-8").splitlines() if cache is not None and cache.exists() else []
    kept: dict[str, list[Row]] = dict(json.loads(line) for line in lines)
    missing = [car for car in cars if str(car) not in kept]
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        for car, rows in zip(missing, pool.imap(partial(rows_of_car, keep=keep), missing), strict=True):
            kept[str(car)] = rows
            if cache is not None:
                with cache.open("a", encoding="utf-8") as file:
                    file.write(json.dumps([str(car), rows]) + "\n")
    return [row for car in cars for row in kept[str(car)]]


def print_figures(rows: list[Row], by: tuple[str, ...]) -> None:
    """One line a figure, with the slip and without; and as `by` parts them."""
    print(
        f"{'figure':58} {'asked':>5} {'median':>9} {'covered':>8} {'+-':>9} {'of value':>8} {'in medians':>10}"
        f" {'lone +-':>9} {'covered':>8}"
    )
    groups: defaultdict[str, list[Row]] = defaultdict(list)
    for row in rows:
        if "error" in row:
            words = [row["figure"], "slip" if row["slip"] else "no slip", *(str(row[name]) for name in by)]
            groups[", ".join(words)].append(row)
    for name, group in sorted(groups.items()):
        errors, widths = [abs(row["error"]) for row in group], [row["plus_minus"] for row in group]
        median, width = statistics.median(errors), statistics.median(widths)
        lone = [row for row in group if "lone" in row]
        alone = f"{statistics.median(row['lone'] for row in lone):9.4g} {_covered(lone, 'lone'):8.1%}" if lone else ""
        relative = statistics.median(row["plus_minus"] / max(row["size"], 1e-9) for row in group)
        print(
            f"{name:58} {len(group):5} {median:9.4g} {_covered(group, 'plus_minus'):8.1%} {width:9.4g} {relative:8.2%}"
            f" {width / median if median else 0.0:10.1f} {alone}"
        )


def _covered(rows: list[Row], width: str) -> float:
    error = "lone_error" if width == "lone" else "error"
    return sum(abs(row[error]) <= row[width] + 1e-12 for row in rows) / len(rows)


def print_alarms(rows: list[Row]) -> None:
    """How often something was told of runs in which nothing was wrong."""
    groups: defaultdict[str, list[bool]] = defaultdict(list)
    for row in rows:
        if "alarm" in row and (row["figure"] != "same engine, two days" or row["change"] != "power"):
            groups[f"{row['figure']}, {row['sensors']}"].append(row["alarm"])
        elif row["figure"] in ALARMS_OF_CHANGE and row["change"] != "power":
            groups[f"{row['figure']}, {row['sensors']}"].append(abs(row["error"]) > row["plus_minus"])
    print(f"\n{'alarm without a cause':58} {'asked':>5} {'raised':>8}")
    for name, raised in sorted(groups.items()):
        print(f"{name:58} {len(raised):5} {sum(raised) / len(raised):8.1%}")


def main() -> None:
    """Print one line a figure, then the alarms."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.pairs", description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1..6", help="one, or first..last; several by commas")
    parser.add_argument("--kind", action="append", choices=PLAIN_KINDS, help="as often as wanted")
    parser.add_argument("--by", default="", help="what parts the lines further, by commas")
    parser.add_argument("--cache", type=Path, help="file that answers are kept in")
    parser.add_argument("--keep", type=Path, help="folder that simulated logs are kept in")
    parser.add_argument("--check", default="", help="other seeds, held against the table that these make")
    parser.add_argument("--write", action="store_true", help="write the table; asked of reviews that know none")
    parser.add_argument("--jobs", type=int, default=2, help="cars at a time")
    told = parser.parse_args()
    if told.write and ROWS:
        parser.error("empty ROWS in analysis/widths/pairs_table.py first: factors are found on reviews without them")
    kinds, by = told.kind or PLAIN_KINDS, tuple(filter(None, told.by.split(",")))
    rows = gather(cars_of(_seeds(told.seeds), kinds), told.cache, told.jobs, told.keep)
    print_figures(rows, by)
    print_alarms(rows)
    table = make_factors(rows)
    for name, row in table.items():
        print(f"{name:72} {row[0]:6.2f} {row[1]:5} {row[2]:6}")
    if told.write:
        write_factors(table, f"seeds {told.seeds}, {len({(row['kind'], row['seed']) for row in rows})} cars")
    print("\neach car by a table of the others:")
    print_figures(without_the_car(rows), by)
    if told.check:
        print_figures(
            with_factors(gather(cars_of(_seeds(told.check), kinds), told.cache, told.jobs, told.keep), table), by
        )


def _seeds(text: str) -> list[int]:
    ends = [part.partition("..") for part in text.split(",")]
    return [seed for first, _, last in ends for seed in range(int(first), int(last or first) + 1)]


if __name__ == "__main__":
    main()
