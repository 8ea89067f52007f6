"""Makes the table of widths: how much wider or narrower each plus-minus must be to hold 95 %, rule by rule.

python -m tests.benchmarks.calibrate --seeds 1000..1004 [--check 2000..2002] [--kind NAME ...]
    [--also KIND:FIRST..LAST ...] [--cache FILE] [--jobs 2] [--write]

Simulated runs of the named seeds are reviewed with their slip and without, before widths are calibrated: of our own
simulator, half of them on each of its models of the car, two thirds with sensors of the wide set; of the independent
one and of the paddock, whose beliefs it does not share. Facts are as an owner knows them, the wind untold. An answer's
score is its error over the half-width that sensors and method gave it; what it is seen to rest on goes with it
(`analysis/widths/evidence.py`). Rules and their factors are found from these (`width_trees.py`). Then other seeds are
held against the table: figure by figure, mode by mode and source by source the share covered and the width over the
median error. With `--write` the table takes the place of `analysis/widths/table.py`.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, astuple, replace
from itertools import chain
from pathlib import Path

import numpy as np

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from passband.analysis.review import FullReview
from passband.analysis.widths.calibrated import AS_FOUND, Widths
from passband.analysis.widths.evidence import FIGURES, POWERS, Seen, seen_of, seen_of_clock, seen_of_shift
from passband.analysis.widths.rules import rule
from passband.demo_logs.car_models import MODELS
from passband.demo_logs.proving import KINDS
from tests.benchmarks.width_trees import MODES, Row, RuleRow, make_rules
from tests.proving.cases import KINDS_OF, make_case, review_case
from tests.proving.scores import Asked, Score
from tests.proving.scoring import hold_case, pair_shifts

ASKED = {
    "clock start (": "clock_start",
    "splits (": "splits",
    "trap speeds (": "traps",
    "RPM at launch": "rpm_at_launch",
    "lowest RPM of the launch": "rpm_lowest",
    "shift start": "shift_start",
    "RPM before": "rpm_before",
    "RPM after": "rpm_after",
    "RPM drop": "rpm_drop",
    "average power at the flywheel": "average_w",
    "the same without shifts": "average_pulling_w",
    "average power to the ground": "average_wheel_w",
    "peak power": "peak_w",
    "dash clock offset but for": "clock_offset",
    "dash clock rate": "clock_rate",
}
"""How the proving ground's figures begin, and what they are to the table."""
AT_MARKS, AT_SHIFTS = ("splits", "traps"), ("shift_start", "rpm_before", "rpm_after", "rpm_drop")
"""Figures that a run has several of."""
LEFT_OUT: tuple[str, ...] = ()
"""Figures that are held against the check and get no rules."""
WRONG_FACTS = ("mass_wrong", "circumference_wrong", "wheel_scale_wrong", "driven_scale_wrong", "flag_other_run",
               "refuse_no_run", "ten_minutes")  # fmt: skip
"""Kinds left out: a fact given wrong is told by findings, no width stands for it; and what is long or no run."""
WIDE = 120
"""A line of code is no longer."""
TABLE = Path(__file__).parents[2] / "analysis" / "widths" / "table.py"
HEADER = '''"""The table of widths, made by `python -m tests.benchmarks.calibrate --write`; not written by hand.

Of one figure's rules the first that holds counts. A rule says: of this figure, where the run shows this (`Seen`), the
factor; and the cases and answers that it was found from.

Public: `CALIBRATED`, `MADE_OF`.
"""

from __future__ import annotations

from passband.analysis.widths.calibrated import Widths
from passband.analysis.widths.rules import rule

'''
Task = tuple[str, int, str, str]
"""Kind, seed, model, set of sensors."""


def rows_of(task: Task) -> list[Row]:
    """All answers of one case, with its slip and without."""
    kind, seed, model, sensors = task
    with tempfile.TemporaryDirectory() as folder:
        case = make_case(Path(folder), kind, seed, sensors=sensors, facts="owner", model=model)
    source = model if model in KINDS_OF else sensors
    rows: list[Row] = []
    for with_slip in (True, False) if case.slips else (False,):
        score, answer = Score(), review_case(case, with_slip=with_slip, widths=AS_FOUND)
        hold_case(score, case, answer)
        if len(answer.reviews) == 1 == len(case.truth.get("runs", ())):
            review = answer.reviews[0]
            assert isinstance(review, FullReview)
            rows += rows_of_answers(review, score.asked, pair_shifts(review, case.truth["runs"][0]))
    return [{"case": f"{case.name} {model}", "source": source} | row for row in rows]


def rows_of_answers(review: FullReview, asked: Iterable[Asked], pairs: Sequence[tuple[Shift, Row]]) -> list[Row]:
    """The answers of one run, each with what it rests on; none where nothing shows the car's motion."""
    if review.seen is None:
        return []
    told = {
        (figure, place): seen_of(seen, figure, one) for figure, place, seen, one in _told(review, review.seen, pairs)
    }
    rows = []
    for one in asked:
        figure = next((ours for begins, ours in ASKED.items() if one.figure.startswith(begins)), "")
        place = one.case.rpartition(" ")[2] if figure in (*AT_MARKS, *AT_SHIFTS) else ""
        if one.error is None or one.plus_minus is None or (figure, place) not in told:
            continue
        row = {"figure": figure, "error": abs(one.error), "plus_minus": one.plus_minus, "facts": one.facts}
        rows.append(row | {"seen": asdict(told[figure, place]), "at": one.case})
    return rows


def _told(
    review: FullReview, seen: Seen, pairs: Sequence[tuple[Shift, Row]]
) -> Iterator[tuple[str, str, Seen, Estimate]]:
    """Every figure that the table may know, where in the run it is, and what it rests on."""
    start, launch, power, distance = review.window, known(review.launch), known(review.power), known(review.distance)
    yield "clock_start", "", seen, Estimate(start.log_clock_start_s, start.clock_start_plus_minus_s)
    for split in distance.splits if distance else ():
        yield "splits", f"{split.at_ft}ft", replace(seen, mark_ft=float(split.at_ft)), split.time_s
    for trap in distance.traps if distance else ():
        yield "traps", f"{trap.at_ft}ft", replace(seen, mark_ft=float(trap.at_ft)), trap.speed_mps
    for part, names in ((launch, ("rpm_at_launch", "rpm_lowest")), (power, POWERS)):
        for name in names if part else ():
            if isinstance(one := getattr(part, name), Estimate):
                yield name, "", seen, one
    for match in review.clocks:
        if match.log == "dash.csv":
            yield "clock_offset", "", seen_of_clock(seen, match), match.offset_s
            yield "clock_rate", "", seen_of_clock(seen, match), match.rate_ppm
    for shift, true in pairs:
        of_shift = seen_of_shift(seen, shift)
        yield "shift_start", _place(true), of_shift, Estimate(shift.time_s, shift.time_plus_minus_s)
        for name in AT_SHIFTS[1:]:
            if isinstance(one := getattr(shift, name), Estimate):
                yield name, _place(true), of_shift, one


def _place(true: Row) -> str:
    return f"{true['from']}-{true['to']}"


def tasks_of(seeds: Iterable[int], kinds: Iterable[str]) -> list[Task]:
    """Every kind once a seed; models and sets take turns, so that no case is another's twin."""
    turns = [(model, sensors) for sensors in ("wide", "wide", "usual") for model in sorted(MODELS)]
    tasks: list[Task] = []
    for seed in seeds:
        tasks += [
            (kind, seed, *turns[(place + 5 * seed) % len(turns)]) for place, kind in enumerate(kinds) if kind in KINDS
        ]
        for model, own in KINDS_OF.items():
            tasks += [(kind, seed, model, "its own") for kind in kinds if kind in own]
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


def print_check(rows: Sequence[Row], rules: Sequence[RuleRow]) -> None:
    """Figure by figure, mode by mode and source by source: covered and width over median error, before and after."""
    widths = Widths("to be checked", [rule(*astuple(one)) for one in rules])
    print(f"{'figure':18} {'mode':28} {'source':11} {'asked':>5} {'median':>9} {'covered':>15} {'+-/median':>15}")
    groups: defaultdict[tuple[str, str, str], list[Row]] = defaultdict(list)
    for row in rows:
        for source in (row["source"], "all"):
            groups[row["figure"], " ".join(row["seen"][name] for name in MODES[row["figure"]]), source].append(row)
    for (figure, mode, source), group in sorted(groups.items()):
        errors = np.array([row["error"] for row in group])
        before = np.array([row["plus_minus"] for row in group])
        after = np.array([_by_table(row, widths) for row in group])
        median = float(np.median(errors))
        held = " ->".join(f"{np.mean(errors <= half + 1e-9):6.0%}" for half in (before, after))
        over = " ->".join(f"{np.median(half) / median if median else math.nan:6.1f}" for half in (before, after))
        print(f"{figure:18} {mode:28} {source:11} {len(group):5} {median:9.4g} {held:>15} {over:>15}")


def _by_table(row: Row, widths: Widths) -> float:
    factor = widths.factor(row["figure"], Seen(**row["seen"]))
    if row["figure"] in POWERS:
        return factor * float(row["plus_minus"])
    return math.hypot(row["facts"], factor * math.sqrt(max(row["plus_minus"] ** 2 - row["facts"] ** 2, 0.0)))


def write_table(rules: Sequence[RuleRow], made_of: str, place: Path = TABLE) -> None:
    """The table as a module of the analysis."""
    parts = "\n".join(f'    "{part} "' for part in made_of.split(" "))
    text = HEADER + f'MADE_OF = (\n{parts}\n).strip()  # fmt: skip\n"""Seeds, kinds and settings."""\n\n'
    text += "CALIBRATED = Widths(MADE_OF, (\n" + "\n".join(map(_written, rules)) + "\n))  # fmt: skip\n"
    text += '"""What reviews are made with."""\n'
    place.write_text(text, encoding="utf-8")


def _written(one: RuleRow) -> str:
    """A rule on as few lines as it takes."""
    where = [f'"{text}"' for text in one.where] or [""]
    where[0] = f"({where[0]}"
    where[-1] += ",)" if len(one.where) == 1 else ")"
    lines = [f'    rule("{one.figure}",']
    for part in (*where, one.factor, one.cases, f"{one.answers})"):
        if len(lines[-1]) + len(f" {part},") > WIDE:
            lines.append("       ")
        lines[-1] += f" {part},"
    return "\n".join(lines)


def main() -> None:
    """Gather, make the table, hold other seeds against it."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.calibrate", description=__doc__.splitlines()[0])
    every_kind = [*KINDS, *chain(*KINDS_OF.values())]
    parser.add_argument("--seeds", default="1000..1004", help="seeds that the table is made of")
    parser.add_argument("--check", default="", help="other seeds, held against it")
    parser.add_argument(
        "--kind", action="append", choices=sorted(every_kind), help="as often as wanted; all unless told"
    )
    parser.add_argument("--also", action="append", default=[], help="KIND:FIRST..LAST: more seeds of a rare kind")
    parser.add_argument("--cache", type=Path, help="file that answers are kept in")
    parser.add_argument("--jobs", type=int, default=2, help="cases at a time")
    parser.add_argument("--write", action="store_true", help="write the table")
    told = parser.parse_args()
    kinds = told.kind or [kind for kind in every_kind if kind not in WRONG_FACTS]
    tasks = tasks_of(_seeds(told.seeds), kinds)
    for more in told.also:
        kind, _, seeds = more.partition(":")
        tasks += tasks_of(_seeds(seeds), [kind])
    rows = gather(tasks, told.cache, told.jobs)
    rules = make_rules(rows, [figure for figure in FIGURES if figure not in LEFT_OUT])
    for one in rules:
        print(rule(*astuple(one)))
    if told.write:
        write_table(rules, f"seeds {', '.join([told.seeds, *told.also])}, {len({row['case'] for row in rows})} cases")
    if told.check:
        print_check(gather(tasks_of(_seeds(told.check), kinds), told.cache, told.jobs), rules)


if __name__ == "__main__":
    main()
