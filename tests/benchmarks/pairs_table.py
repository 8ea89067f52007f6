"""The factors of what is a run's own, found from pairs of runs of one car: split conformal, class by class.

An answer's score is how many times the own part of both runs must be taken for their difference to hold, by the same
functions that the analysis takes it by (`parted_anew`, `difference`). A class's factor is the ceil((n + 1) 0.95)-th of
its n scores, or what makes it five median errors wide. Nothing is narrowed.

Public: `make_factors`, `with_factors`, `without_the_car`, `write_factors`.
"""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from passband.analysis.results.estimate import Estimate, SharedPart, difference
from passband.analysis.widths.calibrated import parted_anew
from passband.analysis.widths.classes import Means, classes_of

Row = dict[str, Any]
OF_FIGURE = {"split": "splits", "trap": "traps"}
"""What the figures of pairs are to the classes, where it is not the same word."""
AT_SHIFTS = ("rpm_before", "rpm_after", "rpm_drop")
MEANS_OF_POWER = ("average_w", "average_pulling_w", "average_wheel_w")
"""Left out: the few pairs beyond their width are far beyond it, and a width that held them would be three times what
all the others need."""
LEVEL, LEAST_PAIRS, WIDEST = 0.95, 19, 6.0
"""What a plus-minus says; the fewest pairs that have such a quantile, ceil(20 x 0.95) being 19; and the widest that a
table may make, as of the table of whole widths. [-]"""
STEPS = tuple(round(1.0 + 0.05 * step, 2) for step in range(101))
"""Factors that are tried, to the widest. [-]"""
MOST_MEDIANS = 5.0
"""A class is not widened past so many of its median errors: where a few answers lie far beyond all others, a width that
held them too would say nothing of the rest. [-]"""
TABLE = Path(__file__).parents[2] / "analysis" / "widths" / "pairs_table.py"


def classes_of_row(row: Row) -> Sequence[str]:
    """The classes that an answer counts to; none where it is not for this table."""
    figure = OF_FIGURE.get(row["figure"], row["figure"])
    if "error" not in row or figure.startswith(("change", "same engine", "compare difference", "time in band")):
        return ()
    if figure in MEANS_OF_POWER:
        return ()
    if figure.startswith("compare"):
        return (figure,)
    twice = figure in AT_SHIFTS and not row["slip"]
    whole = any(parts["own"] is None for parts in row.get("runs", ()))  # a printed figure: nobody parted it
    return () if twice or whole else classes_of(figure, Means(**row["means"]))


def make_factors(rows: list[Row]) -> dict[str, tuple[float, int, int]]:
    """Factor, pairs and answers of every class that enough pairs fell into."""
    answers: defaultdict[str, list[Row]] = defaultdict(list)
    pairs: defaultdict[str, set[tuple[Any, ...]]] = defaultdict(set)
    for row in rows:
        for name in classes_of_row(row):
            answers[name].append(row)
            pairs[name].add((row["kind"], row["seed"], row["pair"]))
    return {
        name: (_factor(answers[name]), len(pairs[name]), len(answers[name]))
        for name in sorted(answers)
        if len(pairs[name]) >= LEAST_PAIRS
    }


def _score(row: Row) -> float:
    """The least of `STEPS` with which the difference holds; the widest where none does."""
    holds = (step for step in STEPS if abs(row["error"]) <= _taken(row, step)["plus_minus"])
    return next(holds, WIDEST)


def _taken(row: Row, factor: float) -> Row:
    """The answer as it is told with the runs' own parts taken so many times."""
    if "runs" in row:
        of, less = (parted_anew(_estimate(parts), factor) for parts in reversed(row["runs"]))
        return row | {"plus_minus": difference(of, less, apart=frozenset(row["apart"])).plus_minus}
    shared, own = math.sqrt(max(row["plus_minus"] ** 2 - row["own"] ** 2, 0.0)), row["own"] * factor
    return row | {"own": own, "plus_minus": math.hypot(shared, own)}


def _estimate(parts: Row) -> Estimate:
    shared = tuple(SharedPart(cause, effect) for cause, effect in parts["shared"].items())
    return Estimate(parts["value"], parts["plus_minus"], parts["own"], shared)


def _factor(answers: list[Row]) -> float:
    """What holds `LEVEL` of a class's answers, or the widest that is still `MOST_MEDIANS` of their median error."""
    place = min(math.ceil((len(answers) + 1) * LEVEL), len(answers)) - 1
    factor = sorted(map(_score, answers))[place]
    most = MOST_MEDIANS * statistics.median(abs(row["error"]) for row in answers)
    narrower = [step for step in STEPS if step <= factor]
    fits = (
        one for one in reversed(narrower) if statistics.median(_taken(r, one)["plus_minus"] for r in answers) <= most
    )
    return next(fits, 1.0)


def with_factors(rows: list[Row], table: Mapping[str, tuple[float, int, int]]) -> list[Row]:
    """The same answers as the table would have had them told."""
    out = []
    for row in rows:
        factor = next((table[name][0] for name in classes_of_row(row) if name in table), 1.0)
        out.append(row if factor == 1.0 else _taken(row, factor))
    return out


def without_the_car(rows: list[Row]) -> list[Row]:
    """Every car's answers as a table made of the other cars would have had them told."""
    cars = sorted({(row["kind"], row["seed"]) for row in rows})
    out = []
    for car in cars:
        others = make_factors([row for row in rows if (row["kind"], row["seed"]) != car])
        out += with_factors([row for row in rows if (row["kind"], row["seed"]) == car], others)
    return out


def write_factors(table: Mapping[str, tuple[float, int, int]], made_of: str, place: Path = TABLE) -> None:
    """The table as a module of the analysis: only its rows and what they are made of are new."""
    text = place.read_text(encoding="utf-8")
    begin, end = text.index("MADE_OF = "), text.index('"""Class: factor, pairs, answers."""')
    rows = "\n".join(f'    "{name}": {row},' for name, row in table.items())
    made = f'MADE_OF = "{made_of}"\n"""Seeds, cars and pairs."""\n'
    made += f"ROWS: Mapping[str, tuple[float, int, int]] = {{\n{rows}\n}}\n"
    place.write_text(text[:begin] + made + text[end:], encoding="utf-8")
