"""The page of a car's parts: what each has seen, counted from the logs.

Public: `render_parts`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from passband.analysis.results.plain_values import JsonObject
from passband.analysis.runs.used_up import LaunchCount, UsedUp
from passband.web.pages.page import render
from passband.web.shown.car import CarShown
from passband.web.shown.parts import PartOfCar, PartTold, SheetOfCar
from passband.web.shown.run import NamedRun
from passband.web.wording.units import UnitSystem, unit_for

KINDS = ("head", "valve springs", "clutch", "tires", "crank", "pistons", "gearbox")
"""Offered beside the field; anything else may be written."""


@dataclass(frozen=True, slots=True)
class PartShown:
    """One part as the page shows it."""

    id: str
    """Its id."""
    name: str
    """As given."""
    kind: str
    """As given; may be empty."""
    span: str
    """From which run or day to which."""
    counts: tuple[tuple[str, str], ...]
    """What is counted, and how much."""
    launches: tuple[tuple[str, ...], ...]
    """Run by run: label, day, clutch locked, lowest engine speed, heat."""
    notes: tuple[str, ...]
    """What is not in the counts, and the crew's own words."""
    given: JsonObject
    """As given, for the form's script."""
    clutch: bool
    """Whether its launches are shown: it is a clutch, or of no kind that was given."""


def render_parts(
    car: CarShown,
    parts: Sequence[PartOfCar],
    runs: Sequence[NamedRun],
    *,
    sheets: Sequence[SheetOfCar] = (),
    units: UnitSystem = "us",
) -> str:
    """A car's parts and what each has seen.

    Parameters
    ----------
    car : CarShown
        Any.
    parts : sequence of PartOfCar
        In the order they were given.
    runs : sequence of NamedRun
        The car's runs to choose from, oldest first.
    sheets : sequence of SheetOfCar
        Bench sheets and a map kept with the car.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    titles = {run.id: run.title for run in runs}
    shown = [_shown(part, titles, units) for part in parts]
    heat = unit_for("energy", units).label
    return render(
        "parts.html", units, car=car, shown=shown, runs=runs, kinds=KINDS, sheets=sheets, heat_unit=heat, here="cars"
    )


def _shown(part: PartOfCar, titles: Mapping[str, str], units: UnitSystem) -> PartShown:
    used, told, clutch = part.used_up, part.told, _is_clutch(part.told)
    return PartShown(
        id=part.id,
        name=told.name,
        kind="" if told.kind.lower() in told.name.lower() else told.kind,
        span=_span(told, titles),
        counts=tuple(_counts(used, units, clutch=clutch)),
        launches=tuple(_launch(one, units, clutch=clutch) for one in used.launches),
        notes=tuple(filter(None, (_not_counted(used), _no_heat(used) if clutch else "", told.notes))),
        clutch=clutch,
        given=asdict(told),
    )


def _span(part: PartTold, titles: Mapping[str, str]) -> str:
    first, last = (titles.get(run, "") for run in (part.first_run, part.last_run))
    since = ", ".join(filter(None, (part.fitted_from, first)))
    until = ", ".join(filter(None, (part.fitted_to, last)))
    if not since and not until:
        return "in the car for all its runs"
    return f"from {since or 'the first run'} to {until or 'now'}"


def _is_clutch(part: PartTold) -> bool:
    return not part.kind or "clutch" in f"{part.kind} {part.name}".lower()


def _counts(used: UsedUp, units: UnitSystem, *, clutch: bool) -> list[tuple[str, str]]:
    days = [day[:10] for day in (used.first_at, used.last_at)]
    when = "" if not used.runs else f", {days[0]}" if days[0] == days[1] else f", {days[0]} to {days[1]}"
    counts = [
        ("Runs", f"{used.runs}{when}"),
        ("Revolutions", f"{used.revolutions:,.0f}, {used.run_revolutions:,.0f} of them in the runs"),
        ("Engine turning", _minutes(used.running_s)),
        *((f"At {one.rpm:.0f} rpm and above", f"{one.time_s:.2f} s") for one in used.above),
    ]
    if clutch and used.heat_j is not None:
        unit = unit_for("energy", units)
        text = f"{used.heat_j.value / unit.scale:,.0f} ±{used.heat_j.plus_minus / unit.scale:,.0f} {unit.label}"
        known = used.runs - len(used.heat_not_known)
        counts.append(("Heat into the clutch", f"{text}, of {known} of {used.runs} runs"))
    return counts


def _minutes(time_s: float) -> str:
    return f"{time_s:.0f} s" if time_s < 120 else f"{time_s / 60:.1f} min"


def _launch(one: LaunchCount, units: UnitSystem, *, clutch: bool) -> tuple[str, ...]:
    run = one.label, one.at.replace("T", " ")[:16] or "–"
    if not clutch:
        return run
    unit, heat = unit_for("energy", units), one.heat_j
    return (
        *run,
        _figure(one.clutch_locked_s, 2),
        _figure(one.rpm_lowest, 0),
        "–" if heat is None else f"{heat.value / unit.scale:.0f} ±{heat.plus_minus / unit.scale:.0f}",
    )


def _figure(value: float | None, digits: int) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def _not_counted(used: UsedUp) -> str:
    runs = used.not_counted
    return f"Without engine speed in their logs, so in no count but that of runs: {', '.join(runs)}." if runs else ""


def _no_heat(used: UsedUp) -> str:
    runs = used.heat_not_known
    if not runs or used.heat_j is None:
        return ""
    return f"Heat into the clutch is not known in {', '.join(runs)}; each run's page says why."
