"""The runs of a list on one sheet, a row a run and a column a figure: for a spreadsheet, a page, or another program.

Public: `Noted`, `SheetColumn`, `CarOnSheet`, `SeasonSheet`, `make_season_sheet`.

Runs of several cars may stand on one sheet: best, differences and spread are each car's own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from passband.analysis.runs.cells import share_cells
from passband.analysis.runs.digest import RunDigest, Value
from passband.analysis.runs.faults import beyond_usual, faults_named, usual_faults
from passband.analysis.runs.own_air import learn_of_digests
from passband.analysis.runs.same_air import AirExponents, explain_air
from passband.analysis.runs.weekend import Spread, measure_spread

SPREAD_OVER = (
    "elapsed_time_s", "elapsed_same_air_s", "t60_s", "trap_1320_mps", "average_w", "share_in_band", "rpm_at_launch",
    "rpm_lowest", "clutch_locked_s", "clutch_heat_j", "least_margin_to_band_low_rpm",
)  # fmt: skip
"""Columns whose spread over the clean runs is shown."""


@dataclass(frozen=True, slots=True)
class Noted:
    """What the crew wrote of a run."""

    at: str = ""
    """Date and time, ISO; may be empty."""
    group: str = ""
    """Which side of a change; may be empty."""
    notes: str = ""
    """What was seen; may be empty."""
    changed: str = ""
    """What was changed before the run; may be empty."""


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One column."""

    name: str
    """With its unit: ``elapsed_time_s``."""
    is_text: bool
    """Words, not numbers."""


@dataclass(frozen=True, slots=True)
class CarOnSheet:
    """What one car's runs show together."""

    car: str
    """Its name; all runs that name none stand together."""
    best: str | None
    """Label of its quickest run to its usual finish without a fault found; None where there is none."""
    spreads: tuple[Spread, ...]
    """Mean, deviation and trend over its clean runs, faults apart."""
    usual_faults: tuple[str, ...] = ()
    """Faults that set none of its runs apart: none is without one, and most have these."""


@dataclass(frozen=True, slots=True)
class SeasonSheet:
    """The sheet."""

    columns: tuple[SheetColumn, ...]
    """In order; shifts as far as any run made them."""
    runs: tuple[Mapping[str, Value], ...]
    """A row a run, in the order given; None: not known, or not reached."""
    best: str | None
    """Label of the one car's best run; None where there is none, and where there are several cars."""
    spreads: tuple[Spread, ...]
    """Those of the one car; empty where there are several: no figure is the mean of two cars."""
    air_rules: tuple[str, ...] = ()
    """How elapsed times were brought into one air, a sentence a car."""
    cars: tuple[CarOnSheet, ...] = ()
    """A car each, in the order of their first runs."""


def make_season_sheet(
    runs: Sequence[RunDigest],
    noted: Sequence[Noted] | None = None,
    *,
    engine: Sequence[str] | None = None,
    learnt: Mapping[str, AirExponents | None] | None = None,
) -> SeasonSheet:
    """Lay runs on one sheet.

    Parameters
    ----------
    runs : sequence of RunDigest
        What was kept of each, in order of time.
    noted : sequence of Noted, optional
        What was written of each.
    engine : sequence of str, optional
        ``engine down 8 %`` where a run's engine was found weaker than in those before it, else empty: such a run counts
        as one with a fault, as long as one without is left.
    learnt : mapping, optional
        How engines' power goes with the air, by car, where more of their runs are known than these; else it is learnt
        of these, where they can show it.

    Returns
    -------
    SeasonSheet
        Elapsed time in the same air is that of the mean air of the car's clean runs, by power; where the air of one of
        them is unknown nothing is said of it. Differences, too, are to runs of the same car.
    """
    written = noted if noted is not None else [Noted()] * len(runs)
    names = sorted({gears for run in runs for gears in run.shifts})
    rows = [_row(run, said, names) for run, said in zip(runs, written, strict=True)]
    down = engine if engine is not None else [""] * len(rows)
    places_of = _by_car(rows)
    usual = {car: _usual_finish([rows[place] for place in places]) for car, places in places_of.items()}
    clean = [False] * len(rows)
    habits = {car: _habits([rows[place] for place in places], usual[car]) for car, places in places_of.items()}
    for car, places in places_of.items():
        counts = _clean([rows[place] for place in places], usual[car], habits[car], [down[place] for place in places])
        for place, one in zip(places, counts, strict=True):
            clean[place] = one
    rules = _add_same_air(runs, rows, clean, learnt)
    cars = tuple(
        replace(
            _on_sheet(car, [rows[place] for place in places], usual[car], [clean[place] for place in places]),
            usual_faults=habits[car],
        )
        for car, places in places_of.items()
    )
    columns = tuple(SheetColumn(name, name in _TEXTS) for name in (rows[0] if rows else ()))
    best, spreads = (cars[0].best, cars[0].spreads) if len(cars) == 1 else (None, ())
    return SeasonSheet(columns, tuple(rows), best, spreads, rules, cars)


def _by_car(rows: Sequence[Mapping[str, Value]]) -> dict[str, list[int]]:
    """Places of the rows of each car, in the order of their first."""
    cars: dict[str, list[int]] = {}
    for place, row in enumerate(rows):
        cars.setdefault(str(row["car"] or ""), []).append(place)
    return cars


def _usual_finish(rows: Sequence[Mapping[str, Value]]) -> Value:
    finishes = [row["finish_ft"] for row in rows if row["finish_ft"] is not None]
    return max(set(finishes), key=finishes.count, default=None)


def _habits(rows: Sequence[Mapping[str, Value]], usual: Value) -> tuple[str, ...]:
    """Faults as a car has them in most of its runs to its usual finish, none of which is without one."""
    return usual_faults([faults_named(row["faults"]) for row in rows if row["finish_ft"] == usual is not None])


def _clean(rows: Sequence[dict[str, Value]], usual: Value, habits: Sequence[str], engine: Sequence[str]) -> list[bool]:
    """Which of a car's runs reached its usual finish without a fault, but for those it always has."""
    faults = [beyond_usual(faults_named(row["faults"]), habits) for row in rows]
    reached = [row["finish_ft"] == usual is not None for row in rows]
    return _tell_engine(rows, [one and not named for one, named in zip(reached, faults, strict=True)], engine)


def _on_sheet(car: str, rows: Sequence[dict[str, Value]], usual: Value, clean: Sequence[bool]) -> CarOnSheet:
    """One car's runs: differences added to their rows, and what they show together."""
    best = _add_differences(rows, usual, clean)
    spreads = (
        measure_spread(name, [_number(row[name]) for row, counts in zip(rows, clean, strict=True) if counts])
        for name in SPREAD_OVER
    )
    return CarOnSheet(car, best, tuple(one for one in spreads if one is not None))


_TEXTS = frozenset({
    "label", "event", "round", "at", "group", "car", "outcome", "faults", "worst_limit", "notes", "changed",
})  # fmt: skip


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None


def _row(run: RunDigest, said: Noted, shifts: Sequence[tuple[int, int]]) -> dict[str, Value]:
    """One run, its columns in order."""
    made: dict[str, Value] = {}
    for gears in shifts:
        name, (before, after) = f"shift_{gears[0]}_{gears[1]}", run.shifts.get(gears, (None, None))
        made |= {f"{name}_rpm_before": before, f"{name}_rpm_after": after}
    return {
        "label": run.label, "event": run.event, "round": run.round, "at": said.at, "group": said.group,
        **run.before_shifts, **made, **run.after_shifts, "notes": said.notes,
        "changed": said.changed,
    }  # fmt: skip


def _tell_engine(rows: Sequence[dict[str, Value]], clean: Sequence[bool], engine: Sequence[str]) -> list[bool]:
    """Tell of engines that were down among the faults; where all were, none of them is set apart from the others."""
    still = [counts and not down for counts, down in zip(clean, engine, strict=True)]
    if not any(still):
        return list(clean)
    for row, down in zip(rows, engine, strict=True):
        row["faults"] = "; ".join(filter(None, (str(row["faults"] or ""), down)))
    return still


def _add_same_air(
    runs: Sequence[RunDigest],
    rows: Sequence[dict[str, Value]],
    clean: Sequence[bool],
    learnt: Mapping[str, AirExponents | None] | None,
) -> tuple[str, ...]:
    """Elapsed time of each clean run in the mean air of its car's; by which rule, for each car."""
    rules = []
    for car, every in _by_car(rows).items():
        places = [place for place in every if clean[place]]
        if len(places) < 2:
            continue
        some = [runs[place] for place in places]
        sides = [(rows[place]["event"], rows[place]["group"]) for place in places]
        own = learnt.get(car) if learnt is not None else learn_of_digests(some, sides)
        rule = explain_air([run.air for run in some], share_cells([run.cells for run in some]), own)
        if rule is None:
            continue
        rules.append(f"{car}: {rule.rule}")
        for place, log_power in zip(places, rule.of_run.tolist(), strict=True):
            total = _number(rows[place]["elapsed_time_s"])
            if total is not None:
                rows[place]["elapsed_same_air_s"] = total + log_power * runs[place].elapsed_by_power_s
    return tuple(rules)


def _add_differences(rows: Sequence[dict[str, Value]], usual: Value, clean: Sequence[bool]) -> str | None:
    """To the best clean run, and to the run before to the same finish."""
    times = [_number(row["elapsed_time_s"]) if row["finish_ft"] == usual else None for row in rows]
    quick = [(time, place) for place, time in enumerate(times) if time is not None and clean[place]]
    best = min(quick, default=None)
    before: float | None = None
    for row, time in zip(rows, times, strict=True):
        if time is None:
            continue
        row["to_best_s"] = time - best[0] if best is not None else None
        row["to_run_before_s"] = time - before if before is not None else None
        before = time
    return str(rows[best[1]]["label"]) if best is not None else None
