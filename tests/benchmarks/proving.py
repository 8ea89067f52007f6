"""How near the truth every figure comes, over many simulated runs: two tables, with the slip and without.

python -m tests.benchmarks.proving [--seeds 1..5] [--kind NAME ...] [--sensors usual|wide] [--noise 1.0]
    [--facts exact|owner] [--model first|second|independent|paddock] [--jobs 2] [--misses]

Each kind of case of `demo_logs.proving` is driven once a seed, reviewed with its slip and again with the rollout
told in its place, and held against what truly happened (`tests/proving`). A figure that falls short is marked. The
marks are owed on the usual sensors; on the wide ones (`demo_logs/sensor_ranges.py`) many figures still fall short.
Two models have kinds, sensors and noise of their own: the independent one (`tests/proving/independent`), and the
paddock, whose owners fit what devices they please (`tests/proving/paddock`).
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import sys
import tempfile
import time
from itertools import chain
from pathlib import Path

from passband.demo_logs.car_models import MODELS
from passband.demo_logs.proving import FACTS, KINDS
from passband.demo_logs.sensor_ranges import SETS
from tests.proving.cases import KINDS_OF, make_case, review_case
from tests.proving.requirements import COVERED, WIDTH, too_many_misses
from tests.proving.scores import FigureLine, Score
from tests.proving.scoring import hold_case

Task = tuple[str, int, float, str, str, str]
"""Kind, seed, noise, set of sensors, how the facts are given, what moves the car."""


def score_task(task: Task) -> tuple[Score, Score]:
    """One case, with its slip and without."""
    kind, seed, noise, sensors, facts, model = task
    timed, untimed = Score(), Score()
    with tempfile.TemporaryDirectory() as folder:
        case = make_case(Path(folder), kind, seed, noise=noise, sensors=sensors, facts=facts, model=model)
    if case.slips:
        hold_case(timed, case, review_case(case))
    hold_case(untimed, case, review_case(case, with_slip=False))
    return timed, untimed


def _number(value: float, width: int) -> str:
    return f"{'-':>{width}}" if math.isnan(value) else f"{value:{width}.4g}"


def _marks(line: FigureLine) -> str:
    """What falls short: shares, cover, width."""
    return (
        ("!" if too_many_misses(line) else "")
        + ("c" if line.covered < COVERED else "")
        + ("w" if line.width > WIDTH else "")
    )


def print_table(title: str, score: Score) -> bool:
    """One line a figure; whether all that must be reached is."""
    print(f"\n{title}")
    print(
        f"{'figure':52} {'asked':>6} {'right':>7} {'median':>9} {'95 %':>9} {'covered':>8} {'+-':>9} {'+-/median':>9}"
    )
    short = False
    for line in score.lines().values():
        short |= too_many_misses(line)
        covered = f"{'-':>8}" if math.isnan(line.covered) else f"{line.covered:8.1%}"
        print(
            f"{line.figure[:52]:52} {line.asked:6} {line.share:7.1%} {_number(line.median, 9)} {_number(line.late, 9)}"
            f" {covered} {_number(line.plus_minus, 9)} {_number(line.width, 9)} {_marks(line)}"
        )
    if score.asked:
        print(f"of all plus-minuses {score.covered():.1%} hold the truth ({COVERED:.0%} must)")
        short |= score.covered() < COVERED
    return not short


def _told() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.proving", description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1..2", help="one, or first..last")
    parser.add_argument(
        "--kind",
        action="append",
        choices=sorted({*KINDS, *chain(*KINDS_OF.values())}),
        help="as often as wanted; all unless told",
    )
    parser.add_argument("--sensors", default="usual", choices=sorted(SETS), help="ranges that sensors are drawn from")
    parser.add_argument("--noise", type=float, default=1.0, help="all sensors' noise is so many times what it would be")
    parser.add_argument("--facts", default="exact", choices=FACTS, help="how the car's facts are given")
    parser.add_argument("--model", default="first", choices=[*sorted(MODELS), *KINDS_OF], help="what moves the car")
    parser.add_argument("--jobs", type=int, default=2, help="cases at a time")
    parser.add_argument("--misses", action="store_true", help="list every answer that missed")
    return parser.parse_args()


def main() -> int:
    """Print both tables; 1 where a figure falls short."""
    told = _told()
    first, _, last = told.seeds.partition("..")
    seeds, kinds = range(int(first), int(last or first) + 1), KINDS_OF.get(told.model, tuple(KINDS))
    tasks: list[Task] = [
        (kind, seed, told.noise, told.sensors, told.facts, told.model) for seed in seeds for kind in told.kind or kinds
    ]
    began = time.perf_counter()
    with multiprocessing.get_context("spawn").Pool(told.jobs) as pool:
        pairs = pool.map(score_task, tasks, chunksize=1)
    timed = Score().add(pair[0] for pair in pairs)
    untimed = Score().add(pair[1] for pair in pairs)
    good = print_table("With the timing slip", timed)
    good &= print_table("Without the slip, the rollout told", untimed)
    print(f"\n{len(tasks)} cases in {time.perf_counter() - began:.0f} s. !: too many misses; c: plus-minus covers")
    print("too few; w: plus-minus wider than five median errors.")
    if told.misses:
        print("\n".join(["", *timed.wrong(), *untimed.wrong()]))
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
