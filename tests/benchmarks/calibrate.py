"""Makes the table of widths: how much wider or narrower each plus-minus must be to hold 95 %, class by class.

python -m tests.benchmarks.calibrate --seeds 1000..1004 [--check 2000..2002] [--kind NAME ...]
    [--also KIND:FIRST..LAST ...] [--cache FILE] [--jobs 2] [--write]

Simulated runs of the named seeds are reviewed with their slip and without, before widths are calibrated: of our own
simulator, half of them on each of its models of the car, two thirds with sensors of the wide set; and of the
independent one, whose beliefs it does not share. Facts are as an owner knows them, the wind untold. An
answer's score is its error over the half-width that sensors and method gave it. A class's factor is the split-conformal
quantile of its scores: of n, the ceil((n + 1) 0.95)-th. Answers of one case are not independent, so a class stands for
itself from 39 cases on, and nothing is narrowed. Then other seeds are held against the table: figure
by figure and mode by mode the share covered and the width over the median error. With `--write` the table takes the
place of `analysis/widths/table.py`.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from passband.analysis.review import FullReview
from passband.analysis.widths.calibrated import AS_FOUND
from passband.analysis.widths.classes import POWERS, classes_of, means_of_run
from passband.demo_logs.car_models import MODELS
from passband.demo_logs.proving import KINDS
from tests.proving.cases import INDEPENDENT, Answer, make_case, review_case
from tests.proving.independent.kinds import KINDS as OTHER_KINDS
from tests.proving.scores import Score
from tests.proving.scoring import hold_case

ASKED = {
    "clock start (": "clock_start",
    "splits (": "splits",
    "trap speeds (": "traps",
    "lowest RPM of the launch": "rpm_lowest",
    "average power at the flywheel": "average_w",
    "the same without shifts": "average_pulling_w",
    "average power to the ground": "average_wheel_w",
    "peak power": "peak_w",
}
"""How the proving ground's figures begin, and what they are to the table. Those that go with a pick-up's lag, and
clocks, are left out: no log tells which device a car has, and widths that hold for the worst are ten and more median
errors of the usual."""
WRONG_FACTS = ("mass_wrong", "circumference_wrong", "wheel_scale_wrong", "driven_scale_wrong", "flag_other_run",
               "refuse_no_run", "ten_minutes")  # fmt: skip
"""Kinds left out: a fact given wrong is told by findings, no width stands for it; and what is long or no run."""
LEVEL, LEAST_CASES = 0.95, 39
"""What a plus-minus says, and the fewest cases of which one wrong value sets no factor: (39 + 1) 0.95 is 38."""
WIDEST = 6.0
"""No width becomes more than six times what the method found: beyond that the value is wrong, and the table does not
stand for it. None is narrowed either: what our own simulator shows to be too wide need not be so elsewhere. [-]"""
TABLE = Path(__file__).parents[2] / "analysis" / "widths" / "table.py"
HEADER = '''"""The table of widths, made by `python -m tests.benchmarks.calibrate --write`; not written by hand.

By class: the factor, and the cases and answers that it was found from.

Public: `CALIBRATED`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

from passband.analysis.widths.calibrated import Widths

'''
Row = dict[str, Any]
"""Figure, classes, mode, error, plus-minus, its part of facts."""
Task = tuple[str, int, str, str]
"""Kind, seed, model, set of sensors."""


def rows_of(task: Task) -> list[Row]:
    """All answers of one case, with its slip and without."""
    kind, seed, model, sensors = task
    with tempfile.TemporaryDirectory() as folder:
        case = make_case(Path(folder), kind, seed, sensors=sensors, facts="owner", model=model)
    rows: list[Row] = []
    for with_slip in (True, False) if case.slips else (False,):
        score, answer = Score(), review_case(case, with_slip=with_slip, widths=AS_FOUND)
        hold_case(score, case, answer)
        if answer.reviews:
            rows += _rows(score, answer, {"case": case.name, "model": model, "sensors": sensors})
    return rows


def _rows(score: Score, answer: Answer, whence: Row) -> list[Row]:
    first = answer.reviews[0]
    assert isinstance(first, FullReview)
    basis = None if first.motion is None else first.motion.basis
    means = means_of_run(
        first.traces, first.shifts, basis, timed=_timed(first), converter=first.setup.car.transmission == "converter"
    )
    clock = next((match for match in first.clocks if match.log == "dash.csv"), None)
    rows = []
    for asked in score.asked:
        figure = next((ours for begins, ours in ASKED.items() if asked.figure.startswith(begins)), None)
        if figure is None or asked.error is None or asked.plus_minus is None:
            continue
        row = {"figure": figure, "classes": list(classes_of(figure, means, clock)), "means": asdict(means)}
        row |= {"error": abs(asked.error), "plus_minus": asked.plus_minus, "facts": asked.facts, "timed": answer.timed}
        rows.append(whence | row | {"at": asked.case})
    return rows


def _timed(review: FullReview) -> bool:
    """Whether a slip was laid on the speed."""
    return review.motion is not None and review.motion.scale is not None


def tasks_of(seeds: Iterable[int], kinds: Iterable[str]) -> list[Task]:
    """Every kind once a seed; models and sets take turns, so that no case is another's twin."""
    turns = [(model, sensors) for sensors in ("wide", "wide", "usual") for model in sorted(MODELS)]
    tasks: list[Task] = []
    for seed in seeds:
        tasks += [
            (kind, seed, *turns[(place + 5 * seed) % len(turns)]) for place, kind in enumerate(kinds) if kind in KINDS
        ]
        tasks += [(kind, seed, INDEPENDENT, "its own") for kind in kinds if kind in OTHER_KINDS]
    return tasks


def gather(tasks: list[Task], cache: Path | None, jobs: int) -> list[Row]:
    """The answers of all tasks; those that the cache holds are not asked again."""
    kept = {} if cache is None or not cache.exists() else _read(cache)
    missing = [task for task in tasks if "/".join(map(str, task)) not in kept]
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        for task, rows in zip(missing, pool.imap(rows_of, missing), strict=True):
            kept["/".join(map(str, task))] = rows
            if cache is not None:
                with cache.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(["/".join(map(str, task)), rows]) + "\n")
    return [row for task in tasks for row in kept["/".join(map(str, task))]]


def _read(cache: Path) -> dict[str, list[Row]]:
    return dict(json.loads(line) for line in cache.read_text(encoding="utf-8").splitlines())


def _seeds(text: str) -> range:
    first, _, last = text.partition("..")
    return range(int(first), int(last or first) + 1)


@dataclass(frozen=True, slots=True)
class ClassRow:
    """What was found of one class."""

    factor: float
    """To multiply by. [-]"""
    cases: int
    """Simulated cases that it rests on."""
    answers: int
    """Answers of theirs."""


def make_table(rows: list[Row]) -> dict[str, ClassRow]:
    """The factor of every class that enough cases fell into."""
    scores: defaultdict[str, list[float]] = defaultdict(list)
    cases: defaultdict[str, set[str]] = defaultdict(set)
    for row in rows:
        for name in row["classes"]:
            scores[name].append(_score(row))
            cases[name].add(row["case"])
    return {
        name: ClassRow(_factor(scores[name]), len(cases[name]), len(scores[name]))
        for name in sorted(scores)
        if len(cases[name]) >= LEAST_CASES
    }


def _score(row: Row) -> float:
    """How often its own half-width of sensors and method an error is, over what facts explain; of a power the whole."""
    facts = 0.0 if row["figure"] in POWERS else row["facts"]
    of_method = math.sqrt(max(row["plus_minus"] ** 2 - facts**2, 0.0))
    unexplained = math.sqrt(max(row["error"] ** 2 - facts**2, 0.0))
    return unexplained / of_method if of_method > 0.0 else float(unexplained > 0.0) * WIDEST


def _factor(scores: list[float]) -> float:
    level = min(math.ceil((len(scores) + 1) * LEVEL) / len(scores), 1.0)
    found = float(np.quantile(scores, level, method="inverted_cdf"))
    return round(min(max(found, 1.0), WIDEST), 2)


def print_check(rows: list[Row], table: Mapping[str, ClassRow]) -> None:
    """Figure by figure and mode by mode: covered and width over median error, before and by the table."""
    print(f"{'figure':18} {'mode':28} {'sensors':7} {'asked':>5} {'median':>9} {'covered':>15} {'+-/median':>15}")
    groups: defaultdict[tuple[str, str, str], list[Row]] = defaultdict(list)
    for row in rows:
        mode = ("slip, " if row["timed"] else "no slip, ") + row["means"]["basis"]
        groups[row["figure"], mode, row["sensors"]].append(row)
    for (figure, mode, sensors), group in sorted(groups.items()):
        errors = np.array([row["error"] for row in group])
        before = np.array([row["plus_minus"] for row in group])
        after = np.array([_by_table(row, table) for row in group])
        median = float(np.median(errors))
        held = " ->".join(f"{np.mean(errors <= widths + 1e-9):6.0%}" for widths in (before, after))
        over = " ->".join(f"{np.median(widths) / median if median else math.nan:6.1f}" for widths in (before, after))
        print(f"{figure:18} {mode:28} {sensors:7} {len(group):5} {median:9.4g} {held:>15} {over:>15}")


def _by_table(row: Row, table: Mapping[str, ClassRow]) -> float:
    factor = next((table[name].factor for name in row["classes"] if name in table), 1.0)
    if row["figure"] in POWERS:
        return factor * float(row["plus_minus"])
    return math.hypot(row["facts"], factor * math.sqrt(max(row["plus_minus"] ** 2 - row["facts"] ** 2, 0.0)))


def write_table(table: Mapping[str, ClassRow], made_of: str, place: Path = TABLE) -> None:
    """The table as a module of the analysis."""
    lines = [f'    "{name}": ({row.factor}, {row.cases}, {row.answers}),' for name, row in table.items()]
    parts = "\n".join(f'    "{part} "' for part in made_of.split(" "))
    text = HEADER + f'MADE_OF = (\n{parts}\n).strip()\n"""Seeds, kinds and settings."""\n'
    text += "ROWS: Mapping[str, tuple[float, int, int]] = {\n" + "\n".join(lines) + "\n}\n"
    text += '"""Class: factor, cases, answers."""\n\n'
    text += "CALIBRATED = Widths(MADE_OF, {name: row[0] for name, row in ROWS.items()})\n"
    text += '"""What reviews are made with."""\n'
    place.write_text(text, encoding="utf-8")


def main() -> None:
    """Gather, make the table, hold other seeds against it."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.calibrate", description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="1000..1004", help="seeds that the table is made of")
    parser.add_argument("--check", default="", help="other seeds, held against it")
    parser.add_argument(
        "--kind", action="append", choices=sorted({*KINDS, *OTHER_KINDS}), help="as often as wanted; all unless told"
    )
    parser.add_argument("--also", action="append", default=[], help="KIND:FIRST..LAST: more seeds of a rare kind")
    parser.add_argument("--cache", type=Path, help="file that answers are kept in")
    parser.add_argument("--jobs", type=int, default=2, help="cases at a time")
    parser.add_argument("--write", action="store_true", help="write the table")
    told = parser.parse_args()
    kinds = told.kind or [kind for kind in (*KINDS, *OTHER_KINDS) if kind not in WRONG_FACTS]
    tasks = tasks_of(_seeds(told.seeds), kinds)
    for more in told.also:
        kind, _, seeds = more.partition(":")
        tasks += tasks_of(_seeds(seeds), [kind])
    rows = gather(tasks, told.cache, told.jobs)
    known = [row for row in rows if row["means"]["basis"] != "nothing"]
    table = make_table(known)
    for name, row in table.items():
        print(f"{name:72} {row.factor:6.2f} {row.cases:5} {row.answers:6}")
    if told.write:
        write_table(table, f"seeds {', '.join([told.seeds, *told.also])}, {len({row['case'] for row in rows})} cases")
    if told.check:
        print_check(gather(tasks_of(_seeds(told.check), kinds), told.cache, told.jobs), table)


if __name__ == "__main__":
    main()
