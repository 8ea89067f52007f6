"""What a crew chief asks of two days' runs, on simulated cars: whether `change` says what is true, and no more.

python -m tests.benchmarks.season_changes [--model independent|paddock] [--seeds 1..2] [--kind NAME ...]
    [--what NAME ...] [--cache FILE] [--keep FOLDER] [--by what,model,kind]

Each car is driven six times, three runs on each of two days of their own air and wind, by the same devices; between the
days something is done to it (`WHATS`), told or not. Facts are an owner's. Held against the truth: power after over
before by engine speed, top over rest, and the differences of RPM after, average power, elapsed time and time in the
band. Then what was told of each, in words.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.change import GroupChange, compare_groups
from passband.analysis.runs.compared_run import ComparedRun
from tests.benchmarks.pairs import print_figures
from tests.benchmarks.runs_of_one_car import FIRST_DAY, RUNS, Row, pair_rows, prepared
from tests.benchmarks.season_drives import WHATS, write_season
from tests.proving.cases import INDEPENDENT, KINDS_OF, PADDOCK, Case, load_case, review_case


def rows_of_season(model: str, kind: str, seed: int, name: str, keep: Path | None) -> list[Row]:
    """All that is told of one season, each with its truth."""
    with tempfile.TemporaryDirectory() as passing:
        folder = (keep or Path(passing)) / f"{model}_{kind}_{seed}_{name.replace(' ', '_')}"
        if not (folder / str(RUNS - 1) / "truth.json").exists():
            write_season(model, kind, seed, WHATS[name], folder)
        cases = [load_case(folder / str(place)) for place in range(RUNS)]
    whence = {"model": model, "kind": kind, "seed": seed, "what": name}
    return [whence | row for row in _rows(cases)]


def _rows(cases: list[Case]) -> Iterator[Row]:
    reviews = [one[0] if one else None for one in (review_case(case).reviews for case in cases)]
    runs = [
        None if review is None else prepared(review, case, with_slip=True, place=place)
        for place, (review, case) in enumerate(zip(reviews, cases, strict=True))
    ]
    truths = [case.truth["runs"][0] for case in cases]
    yield from pair_rows(runs, reviews, truths)
    if None in runs:
        yield {"figure": "season", "said": [f"runs not read: {[p for p, one in enumerate(runs) if one is None]}"]}
        return
    sure = [one for one in runs if one is not None]
    found = compare_groups(sure[:FIRST_DAY], sure[FIRST_DAY:])
    yield from _of_power(found, _gain(cases))
    yield from _of_runs(found, sure, truths)
    said = [f"{one.code}: {one.text}" for one in found.findings]
    yield {"figure": "season", "said": said, "clean": [len(found.before.clean), len(found.after.clean)]}


def _of_power(found: GroupChange, gain: Callable[[FloatArray], FloatArray]) -> Iterator[Row]:
    """Power by engine speed, and the top's against the rest."""
    trues = [float(np.mean(gain(np.linspace(one.low_rpm, one.high_rpm, 20)))) for one in found.power_ratio]
    for one, true in zip(found.power_ratio, trues, strict=True):
        yield _row("power by engine speed", one.ratio, true, at=f"{one.low_rpm:.0f}")
    from_rpm = found.top_from_rpm
    if found.top_over_rest is None or from_rpm is None:
        return
    both = list(zip(found.power_ratio, trues, strict=True))
    above = [true for one, true in both if one.low_rpm >= from_rpm]
    below = [true for one, true in both if one.low_rpm < from_rpm - 1.5 * (one.high_rpm - one.low_rpm)]
    if above and below:
        true = float(np.mean(above) / np.mean(below))
        yield _row("top over rest", found.top_over_rest, true, at=f"{from_rpm:.0f}")


def _of_runs(found: GroupChange, runs: list[ComparedRun], truths: list[Row]) -> Iterator[Row]:
    """What clean runs differ by, and engine speeds after shifts."""
    clean = [found.before.clean, found.after.clean]
    side_of = [[t for r, t in zip(runs, truths, strict=True) if r.label in names] for names in clean]
    for name, got, of in (
        ("average power", found.average_w.raw, lambda run: run["power"]["flywheel_brake"]["avg_w"]),
        ("time in band", found.time_in_band_s.raw, lambda run: run["rpm_band"]["in_s"]),
        ("elapsed time", found.elapsed_time_s.raw, lambda run: run["splits"]["1320ft"]),
    ):
        if got is not None and all(side_of):
            true = float(np.mean([of(t) for t in side_of[1]]) - np.mean([of(t) for t in side_of[0]]))
            yield _row(name, got, true, size=of(truths[0]))
    for shift in found.rpm_after:
        rpm = [[s["rpm_after"] for s in run["shifts"] if f"{s['from']}-{s['to']}" == shift.shift] for run in truths]
        if all(rpm):
            mean = [float(np.mean([one[0] for one in side])) for side in (rpm[:FIRST_DAY], rpm[FIRST_DAY:])]
            yield _row("RPM after", shift.difference, mean[1] - mean[0], at=shift.shift)


def _row(figure: str, got: Estimate, true: float, **more: Any) -> Row:
    row = {"figure": figure, "got": got.value, "true": true, "error": got.value - true, "plus_minus": got.plus_minus}
    shared = {part.cause: part.effect for part in got.shared}
    return row | {"size": 1.0, "own": got.own, "shared": shared} | more


def _gain(cases: list[Case]) -> Callable[[FloatArray], FloatArray]:
    """Torque of the second day's engine over the first's in one air, by engine speed."""
    first, last = cases[0].truth, cases[-1].truth
    return lambda rpm: np.interp(rpm, last["rpm"], last["nm"]) / np.interp(rpm, first["rpm"], first["nm"])


def main() -> None:
    """Print one line a figure, then what was said."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.season_changes", description=__doc__)
    parser.add_argument("--model", choices=(INDEPENDENT, PADDOCK), default=INDEPENDENT)
    parser.add_argument("--seeds", default="1", help="one, or first..last")
    parser.add_argument("--kind", action="append", help="as often as wanted; all of the model's unless told")
    parser.add_argument("--what", action="append", choices=tuple(WHATS))
    parser.add_argument("--cache", type=Path, help="file that answers are kept in")
    parser.add_argument("--keep", type=Path, help="folder that simulated logs are kept in")
    parser.add_argument("--by", default="", help="what parts the lines further, by commas")
    told = parser.parse_args()
    first, _, last = told.seeds.partition("..")
    rows: list[Row] = []
    for seed, kind, what in product(
        range(int(first), int(last or first) + 1), told.kind or KINDS_OF[told.model], told.what or WHATS
    ):
        found = rows_of_season(told.model, kind, seed, what, told.keep)
        rows += found
        if told.cache is not None:
            with told.cache.open("a", encoding="utf-8") as file:
                file.write(json.dumps([f"{told.model} {kind} {seed} {what}", found]) + "\n")
    print_figures([row | {"slip": True} for row in rows], tuple(filter(None, told.by.split(","))))
    for row in rows:
        if row["figure"] == "season":
            print("\n", row["model"], row["kind"], row["seed"], row["what"], row.get("clean"), *row["said"], sep="\n  ")


if __name__ == "__main__":
    main()
